"""The rule base is sound: names, words, sources, reach, and no rule that can never fire."""

from __future__ import annotations

import inspect
from collections import Counter

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.facts import (
    DIRECTIONS,
    FALLBACK,
    STRENGTHS,
    Answer,
    Condition,
    Fact,
    Finding,
    Symptom,
    Traced,
    Trait,
)
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.ranking import weigh_findings
from backporch.engine.session.evidence import chassis_facts
from backporch.rules import BOOKS

LIBRARY = shipped()
RULES = Inference(BOOKS)
METHODS = [(book, name, rule) for book in BOOKS for name, rule in vars(book).items() if hasattr(rule, "salience")]
CHASSIS = {name: load_chassis(name, LIBRARY) for name in LIBRARY.chassis_names()}
SESSION_TRAITS = {"rig", "condition", *LIBRARY.opening, "loop-agc-opened", "loop-afc-opened"}


def _patterns(condition):
    """Give every fact pattern in a rule, with whether it stands under NOT."""
    if isinstance(condition, Fact):
        yield condition, False
    elif isinstance(condition, (tuple, list)):
        negated = type(condition).__name__ == "NOT"
        for part in condition:
            for pattern, inner in _patterns(part):
                yield pattern, inner or negated


def _literals(pattern):
    """Return the fields of a pattern that are fixed words."""
    return {k: v for k, v in pattern.items() if isinstance(v, str) and not str(k).startswith("__")}


def _declared(rule):
    """Return the source of a rule's body."""
    return inspect.getsource(rule.__wrapped__)


ALL = [(name, p, negated) for _, name, rule in METHODS for p, negated in _patterns(rule)]
DECLARED_CONDITIONS = {
    word.split('"')[1]
    for _, _, rule in METHODS
    for word in _declared(rule).split("declare(")[1:]
    if "Condition" in word
}


class TestWords:
    def test_names_are_unique_over_all_books(self):
        """No rule overrides another of the same name."""
        counts = Counter(name for _, name, _ in METHODS)

        assert [name for name, count in counts.items() if count > 1] == []

    @pytest.mark.parametrize("name", RULES.rules)
    def test_claim_reason_and_source_are_there(self, name):
        """Every rule has a claim, a reason and a source."""
        claim, reason, source = RULES.rules[name]

        assert claim.endswith(".")
        assert reason.endswith(".")
        assert source

    def test_there_are_enough_rules(self):
        """There are at least 150 rules, and at least 25 speak for a stage's innocence."""
        against = [name for _, name, rule in METHODS if '"against"' in _declared(rule)]

        assert len(METHODS) >= 150
        assert len(against) >= 25


class TestPatterns:
    @pytest.mark.parametrize(("name", "pattern", "negated"), ALL, ids=lambda x: x if isinstance(x, str) else "")
    def test_fields_exist(self, name, pattern, negated):  # noqa: ARG002
        """Every field of a pattern is a field of its fact."""
        fields = {k for k in pattern if not str(k).startswith("__")}

        assert fields <= set(type(pattern).__fields__)

    def test_every_literal_is_in_the_vocabulary(self):
        """Symptoms, measurements with their outcomes, traits and strengths in rules are all known."""
        wrong = []
        for name, pattern, _ in ALL:
            fixed = _literals(pattern)
            if isinstance(pattern, Symptom) and fixed["name"] not in LIBRARY.symptoms:
                wrong.append((name, fixed))
            if isinstance(pattern, Answer):
                measurement = LIBRARY.measurements.get(fixed["measurement"])
                if measurement is None or fixed["outcome"] not in measurement.outcomes:
                    wrong.append((name, fixed))
            if isinstance(pattern, Trait):
                known = hasattr(CHASSIS["plover-17"], fixed["name"]) or fixed["name"] in SESSION_TRAITS
                wrong += [] if known else [(name, fixed)]
            if isinstance(pattern, Traced) and fixed.get("stage", "tuner") not in LIBRARY.stages:
                wrong.append((name, fixed))

        assert wrong == []

    def test_conditions_are_declared_and_read(self):
        """Every condition that is read is declared by some rule, and the other way round."""
        read = {_literals(p)["name"] for _, p, _ in ALL if isinstance(p, Condition)}

        assert read - DECLARED_CONDITIONS == set()
        assert DECLARED_CONDITIONS - read == set()

    def test_not_over_a_derived_fact_waits(self):
        """A rule with NOT over a condition has the salience that lets all others go first."""
        hasty = [
            name
            for _, name, rule in METHODS
            for p, negated in _patterns(rule)
            if negated and isinstance(p, (Condition, Finding)) and rule.salience != FALLBACK
        ]

        assert hasty == []

    def test_derivations_do_not_go_in_circles(self):
        """No condition rests on itself, however many steps away."""
        reads: dict[str, set[str]] = {}
        for _, _, rule in METHODS:
            made = [w.split('"')[1] for w in _declared(rule).split("declare(")[1:] if "Condition" in w]
            for condition in made:
                needs = {_literals(p)["name"] for p, _ in _patterns(rule) if isinstance(p, Condition)}
                reads.setdefault(condition, set()).update(needs)

        def reach(start):
            seen, queue = set(), list(reads.get(start, ()))
            while queue:
                name = queue.pop()
                if name not in seen:
                    seen.add(name)
                    queue += reads.get(name, ())
            return seen

        assert [name for name in reads if name in reach(name)] == []

    def test_no_two_rules_have_the_same_conditions_and_finding(self):
        """No rule repeats another."""
        keys = Counter()
        for _, _, rule in METHODS:
            patterns = sorted(f"{type(p).__name__}{sorted(_literals(p).items())}{n}" for p, n in _patterns(rule))
            keys[(tuple(patterns), _declared(rule).split("self.declare")[-1].strip())] += 1

        assert [key for key, count in keys.items() if count > 1] == []


class TestReach:
    @pytest.mark.parametrize("stage", LIBRARY.stages)
    def test_each_stage_can_be_suspected_and_cleared(self, stage):
        """Some findings speak for and some against every stage, directly or through a group."""
        sections = {LIBRARY.stages[stage].section, f"loop-{LIBRARY.stages[stage].loop}"}
        directions = set()
        for _, _, rule in METHODS:
            text = _declared(rule).split("self.declare")[-1]
            named = f'stage="{stage}"' in text
            grouped = "stage=stage" in text and any(
                _literals(p).get("group") in sections for p, _ in _patterns(rule) if "group" in _literals(p)
            )
            if named or grouped:
                directions |= {d for d in DIRECTIONS if f'direction="{d}"' in text}

        assert directions == set(DIRECTIONS)

    @pytest.mark.parametrize("symptom", LIBRARY.symptoms)
    def test_each_symptom_moves_some_stage(self, symptom):
        """Every symptom moves the odds of some stage by 1.5 or more, on some chassis and in some company."""
        best = 0.0
        for chassis in CHASSIS.values():
            facts = [*chassis_facts(LIBRARY, chassis), Trait(name="hearing", value="hears")]
            alone = RULES.run([*facts, Symptom(name=symptom)])
            weights = [abs(f.log_ratio) for f in weigh_findings(alone, LIBRARY.strengths) if f.counted]
            best = max(best, *weights, 0.0)
            if best > 0.4:
                return
        readers = [name for name, p, _ in ALL if isinstance(p, Symptom) and _literals(p)["name"] == symptom]

        assert readers, f"no rule reads {symptom}"

    def test_strengths_are_words_of_the_table(self):
        """Every strength used has a likelihood ratio."""
        used = {w for _, _, rule in METHODS for w in STRENGTHS if f'strength="{w}"' in _declared(rule)}

        assert used <= set(LIBRARY.strengths)
