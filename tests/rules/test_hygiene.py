"""The rule base is sound: names, words, sources, counts, reach, and nothing said twice."""

from __future__ import annotations

import math
from collections import Counter
from itertools import combinations

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.facts import (
    DIRECTIONS,
    FALLBACK,
    STRENGTHS,
    Answer,
    Condition,
    Finding,
    Member,
    Symptom,
    Traced,
    Trait,
)
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.ranking import weigh_findings
from backporch.engine.rulebook import ANY, literals_apart, reached_stages, rule_shapes
from backporch.engine.session.evidence import chassis_facts
from backporch.rules import BOOKS

LIBRARY = shipped()
RULES = Inference(BOOKS, LIBRARY.usual_suspects)
SHAPES = rule_shapes(BOOKS)
USUAL = LIBRARY.usual_suspects
CHASSIS = {name: load_chassis(name, LIBRARY) for name in LIBRARY.chassis_names()}
SESSION_TRAITS = {
    "rig",
    "rig-yoke",
    "rig-adapter",
    "rig-coating",
    "rig-lead",
    "rig-heater",
    "rig-magnet",
    "rig-angle",
    "condition",
    *LIBRARY.opening,
    "loop-agc-opened",
    "loop-afc-opened",
}
GROUPS: dict[str, set[str]] = {}
for _chassis in CHASSIS.values():
    for _fact in chassis_facts(LIBRARY, _chassis):
        if isinstance(_fact, Member):
            GROUPS.setdefault(_fact["group"], set()).add(_fact["stage"])
REACHED = reached_stages(SHAPES, USUAL, {name: sorted(stages) for name, stages in GROUPS.items()})


def _statements(kind):
    """Give every pattern of a kind of fact with the name of its rule, and whether it is denied."""
    for shape in SHAPES:
        for clause in shape.clauses:
            for pattern in clause.one_of:
                if pattern.kind == kind.__name__:
                    yield shape, dict(pattern.fields), clause.negated


class TestWords:
    def test_names_are_unique_over_all_books_and_rows(self):
        """No rule overrides another of the same name, and no row has the name of a rule."""
        counts = Counter(shape.name for shape in SHAPES) + Counter(name.replace("-", "_") for name in USUAL)

        assert [name for name, count in counts.items() if count > 1] == []

    @pytest.mark.parametrize("name", RULES.rules)
    def test_claim_reason_and_source_are_there(self, name):
        """Every rule has a claim, a reason and a source."""
        claim, reason, source = RULES.rules[name]

        assert claim.endswith(".")
        assert reason.endswith(".")
        assert source

    @pytest.mark.parametrize("name", USUAL)
    def test_rows_have_claim_reason_and_source(self, name):
        """Every row has a claim, a reason and a source, and names either a stage or a group."""
        row = USUAL[name]

        assert row.claim.endswith(".")
        assert row.because.endswith(".")
        assert row.source
        assert (row.stage is None) != (row.group is None)

    def test_every_literal_is_in_the_vocabulary(self):
        """Symptoms, measurements with their outcomes, traits, stages and groups in rules are all known."""
        wrong = [(s.name, f) for s, f, _ in _statements(Symptom) if f["name"] not in LIBRARY.symptoms]
        for shape, fixed, _ in _statements(Answer):
            measurement = LIBRARY.measurements.get(fixed["measurement"])
            if measurement is None or fixed["outcome"] not in measurement.outcomes:
                wrong.append((shape.name, fixed))
        for shape, fixed, _ in _statements(Trait):
            if not hasattr(CHASSIS["plover-17"], fixed["name"]) and fixed["name"] not in SESSION_TRAITS:
                wrong.append((shape.name, fixed))
        known = {*LIBRARY.stages, ANY}
        wrong += [(s.name, f) for s, f, _ in _statements(Traced) if f.get("stage", ANY) not in known]
        wrong += [(s.name, f) for s, f, _ in _statements(Member) if f["group"] not in GROUPS]

        assert wrong == []

    def test_every_row_is_in_the_vocabulary(self):
        """Signs, stages, groups and strengths of the usual suspects are all known."""
        conditions = {s.concludes.get("name") for s in SHAPES if s.concludes.kind == Condition.__name__}
        wrong = [
            name
            for name, row in USUAL.items()
            if row.sign not in {*LIBRARY.symptoms, *conditions}
            or (row.stage or "tuner") not in LIBRARY.stages
            or (row.group or "signal") not in GROUPS
            or row.strength not in STRENGTHS
        ]

        assert wrong == []
        assert set(LIBRARY.symptoms) & conditions == set()


class TestCounts:
    def test_there_are_enough_rules(self):
        """There are at least 150 rules, each with one conclusion."""
        assert len(SHAPES) >= 150

    def test_many_rules_join_three_or_more_things(self):
        """At least 40 rules need three or more things at once; traits and groups alone do not make them up."""
        witnesses = (Symptom.__name__, Answer.__name__, Traced.__name__, Condition.__name__)
        joined = [s for s in SHAPES if len(s.clauses) >= 3]
        seen = [s for s in joined if sum(c.one_of[0].kind in witnesses for c in s.clauses) >= 2]

        assert len(joined) >= 40
        assert len(seen) >= 40

    def test_many_rules_speak_for_innocence(self):
        """At least 25 rules speak for the innocence of a stage, not counting the rows of the usual suspects."""
        against = [s for s in SHAPES if dict(s.concludes.fields).get("direction") == "against"]

        assert len(against) >= 25

    def test_chains_of_three_steps_are_common(self):
        """At least 40 rules stand at the end of a chain of three or more steps."""
        depth: dict[str, int] = {}
        for _ in range(12):
            for shape in SHAPES:
                if shape.concludes.kind == Condition.__name__:
                    steps = 1 + max((depth.get(c, 0) for c in shape.needs), default=0)
                    name = shape.concludes.get("name")
                    depth[name] = max(depth.get(name, 0), steps)
        ends = [
            s
            for s in SHAPES
            if s.concludes.kind == Finding.__name__ and max((depth.get(c, 0) for c in s.needs), default=0) >= 2
        ]

        assert max(depth.values()) < 12
        assert len(ends) >= 40

    def test_no_two_rules_differ_in_one_word_only(self):
        """No two rules are the same but for a single word."""
        alike = [(a.name, b.name) for a, b in combinations(SHAPES, 2) if (literals_apart(a, b) or 2) < 2]
        same = [(a.name, b.name) for a, b in combinations(SHAPES, 2) if literals_apart(a, b) == 0]

        assert alike == []
        assert same == []


class TestDerivation:
    def test_conditions_are_declared_and_read(self):
        """Every condition that is read is declared by some rule, and the other way round."""
        declared = {s.concludes.get("name") for s in SHAPES if s.concludes.kind == Condition.__name__}
        read = {f["name"] for _, f, _ in _statements(Condition)} | {r.sign for r in USUAL.values()}

        assert {f["name"] for _, f, _ in _statements(Condition)} - declared == set()
        assert declared - read == set()

    def test_not_over_a_derived_fact_waits(self):
        """A rule that denies a condition has the salience that lets all others go first."""
        hasty = [s.name for s, _, negated in _statements(Condition) if negated and s.salience != FALLBACK]

        assert hasty == []

    def test_what_is_denied_is_never_derived_by_a_waiting_rule(self):
        """A condition that some rule denies is derived before the waiting rules, so that none comes too late."""
        denied = {f["name"] for _, f, negated in _statements(Condition) if negated}
        derived = [s for s in SHAPES if s.concludes.kind == Condition.__name__]
        waiting = {s.concludes.get("name") for s in derived if s.salience == FALLBACK}
        late, grown = set(), waiting
        while grown - late:
            late |= grown
            grown = {s.concludes.get("name") for s in derived if s.needs & late and s.salience != FALLBACK}

        assert denied & late == set()

    def test_derivations_do_not_go_in_circles(self):
        """No condition rests on itself, however many steps away."""
        reads: dict[str, set[str]] = {}
        for shape in SHAPES:
            if shape.concludes.kind == Condition.__name__:
                reads.setdefault(shape.concludes.get("name"), set()).update(shape.needs)

        def reach(start):
            seen, queue = set(), list(reads.get(start, ()))
            while queue:
                name = queue.pop()
                if name not in seen:
                    seen.add(name)
                    queue += reads.get(name, ())
            return seen

        assert [name for name in reads if name in reach(name)] == []

    def test_no_two_rules_always_fire_together_with_the_same_finding(self):
        """Where two rules conclude the same, neither needs just what the other needs, however it is derived."""
        doubles = [
            (a.name, b.name)
            for a, b in combinations(SHAPES, 2)
            if a.concludes == b.concludes and _ways(a) == _ways(b)
        ]

        assert doubles == []


def _ways(shape, depth=0):
    """Return the sets of facts that make a rule fire, each condition traced back to what makes it."""
    ways = {frozenset()}
    for clause in shape.clauses:
        options = set()
        for pattern in clause.one_of:
            mark = f"{'no ' if clause.negated else ''}{pattern}"
            if pattern.kind == Condition.__name__ and not clause.negated and depth < 8:
                makers = [s for s in SHAPES if s.concludes == pattern]
                options |= {way for maker in makers for way in _ways(maker, depth + 1)}
            else:
                options.add(frozenset({mark}))
        ways = {way | option for way in ways for option in options}
    return ways


class TestReach:
    @pytest.mark.parametrize("stage", LIBRARY.stages)
    def test_each_stage_can_be_suspected_and_cleared(self, stage):
        """From some sign a finding speaks for every stage, and from some sign one against it."""
        directions = {d for stages in REACHED.values() for d in stages.get(stage, ())}

        assert directions == set(DIRECTIONS)

    @pytest.mark.parametrize("symptom", LIBRARY.symptoms)
    def test_each_symptom_moves_some_stage(self, symptom):
        """Every symptom moves the odds of some stage by 1.5 or more, on its own, on some chassis."""
        assert any(moved >= math.log(1.5) for moved in _moves(symptom))

    def test_no_sound_rule_fires_without_the_take_off(self):
        """What good sound says of the signal path is read only with the take-off point of the sound."""
        path = {stage for stage in LIBRARY.stages if LIBRARY.stages[stage].section == "signal"}
        loose = []
        for shape in SHAPES:
            about = dict(shape.concludes.fields).get("stage", "")
            signal = about in path or any(
                p.get("group", "").startswith(("signal", "loop-agc")) for p in map(dict, _fields(shape))
            )
            if shape.reads(Symptom, "sound-good") and signal and not shape.reads(Trait, "sound_takeoff"):
                loose.append(shape.name)

        assert set(loose) <= HUM_WITNESSES

    def test_the_whistle_counts_for_those_who_hear_it(self):
        """No rule believes an ear about the whistle unless the person can hear it."""
        ears = [
            s.name
            for s in SHAPES
            if any(s.reads(Symptom, w) for w in ("whistle-missing", "whistle-present"))
            and s.concludes.kind == Condition.__name__
            and not s.reads(Trait, "hearing")
        ]

        assert ears == []


HUM_WITNESSES = {
    "one_bar_with_clean_sound_is_a_leaky_heater",
    "weaving_without_hum_in_the_sound_is_a_leaky_heater",
}
"""Here clean sound speaks of the B+ that it lives from, and not of the signal path."""


def _fields(shape):
    return (pattern.fields for clause in shape.clauses for pattern in clause.one_of)


def _moves(symptom):
    """Give the log odds by which a symptom moves stages, chassis by chassis."""
    for chassis in CHASSIS.values():
        facts = [*chassis_facts(LIBRARY, chassis), Trait(name="hearing", value="hears")]
        yield max(map(abs, _weights([*facts, Symptom(name=symptom)]).values()), default=0.0)


def _weights(facts):
    weights: dict[str, float] = {}
    for finding in weigh_findings(RULES.run(facts), LIBRARY.strengths):
        if finding.counted:
            weights[finding.stage] = weights.get(finding.stage, 0.0) + finding.log_ratio
    return weights
