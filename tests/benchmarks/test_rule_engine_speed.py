"""Speed of the rule base, beside a rule engine written in C that runs the same rules on the same facts."""

from __future__ import annotations

import inspect
import time
from pathlib import Path

import pytest
import yaml

from backporch.engine.chassis.load import load_chassis
from backporch.engine.deduction import statement
from backporch.engine.facts import Answer, Fact, Symptom, Trait
from backporch.engine.facts.vocabulary import CIRCUMSTANCES, DERIVED, OBSERVATIONS
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.entry import Entry
from backporch.engine.session.evidence import chassis_facts, session_facts
from backporch.rules import BOOKS

LIBRARY = shipped()
OPENINGS = Path(__file__).parents[1] / "reference" / "rule_openings.yaml"
SYMPTOMS = (
    "both-sync-lost lines-tear sound-good picture-weaves hold-at-end loses-lock-with-contrast retrace-lines "
    "smeared hum-bar-one picture-weak picture-snowy height-too-small top-stretched worse-when-warm "
    "brightness-follows-contrast fine-pattern changes-when-tapped came-after-work varies-with-mains "
    "sound-buzz width-too-small slow-start"
).split()
ANSWERS = {
    "look-at-the-blanking-bar": "sync-darker",
    "turn-vertical-hold": "stops-but-slips",
    "clamp-the-agc": "same",
}
RUNS = 15
TESTS = {
    ("stage", "other"): "(< (str-compare ?stage ?other) 0)",
    ("good", "between"): "(neq ?good ?between)",
}
"""What the rules ask of two or three values, by the names of these, as the other engine writes it."""


def _evidence():
    chassis = list(chassis_facts(LIBRARY, load_chassis("plover-17", LIBRARY)))
    seen = [Symptom(name=name) for name in SYMPTOMS]
    return [*chassis, *seen, *(Answer(measurement=m, outcome=o) for m, o in ANSWERS.items())]


def _least(work):
    """Return the least processor time of several runs [s]; other work on the machine does not count."""
    times = []
    for _ in range(RUNS):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


def _pattern(condition):
    """Return a condition of a rule as the other engine writes it."""
    kind = type(condition).__name__
    if isinstance(condition, Fact):
        fields = ((k, v) for k, v in condition.items() if not str(k).startswith("__"))
        return f"({kind} {' '.join(f'({k} {_value(v)})' for k, v in fields)})"
    if kind == "TEST":
        return f"(test {TESTS[tuple(inspect.signature(condition[0]).parameters)]})"
    word = {"OR": "or", "NOT": "not", "AND": "and"}[kind]
    return f"({word} {' '.join(_pattern(part) for part in condition)})"


def _value(value):
    return f'"{value}"' if isinstance(value, str) else f"?{value.__bind__}"


def _rule(name, rule):
    told = []
    listener = type("Listener", (), {"declare": lambda self, *facts: told.extend(facts)})()  # noqa: ARG005
    names = list(inspect.signature(rule.__wrapped__).parameters)[1:]
    rule.__wrapped__(listener, **{n: f"?{n}" for n in names})
    fields = statement(told[0]).fields
    slots = " ".join(f"({k} {v if v.startswith('?') else _value(v)})" for k, v in fields)
    left = " ".join(_pattern(part) for part in rule)
    right = f"(assert ({type(told[0]).__name__} {slots}))"
    return f"(defrule {name} (declare (salience {rule.salience})) {left} => {right})"


@pytest.mark.benchmark
def test_built_once_and_chained():
    """The engine is built in under 200 ms, and a chain on 25 facts takes under 50 ms of processor time."""
    inference, evidence = Inference(BOOKS, LIBRARY.usual_suspects), _evidence()

    build = _least(lambda: Inference(BOOKS, LIBRARY.usual_suspects))
    chain = _least(lambda: inference.run(evidence))

    observed = sum(isinstance(f, OBSERVATIONS) for f in evidence)
    print(
        f"built in {1e3 * build:.0f} ms; {observed} observations on {len(evidence)} facts in {1e3 * chain:.1f} ms"
    )
    print(f"{len(inference.run(evidence).deductions)} deductions")


def _translated(clips):
    """Return the engine in C with every rule of the books; as many rules as there are here."""
    environment = clips.Environment()
    for kind in (*OBSERVATIONS, *CIRCUMSTANCES, *DERIVED):
        slots = " ".join(f"(slot {name} (type STRING))" for name in kind.__fields__)
        environment.build(f"(deftemplate {kind.__name__} {slots})")
    for book in BOOKS:
        for name, rule in vars(book).items():
            if hasattr(rule, "salience"):
                environment.build(_rule(name, rule))
    return environment


def _run_in_c(environment, texts):
    environment.reset()
    for text in texts:
        environment.assert_string(text)
    environment.run()


def _texts(evidence):
    return [f"({s.kind} {' '.join(f'({k} {_value(v)})' for k, v in s.fields)})" for s in map(statement, evidence)]


def _derived(environment):
    names = {kind.__name__ for kind in DERIVED}
    facts = (fact for fact in environment.facts() if fact.template.name in names)
    return {(fact.template.name, tuple(sorted((k, str(v)) for k, v in fact))) for fact in facts}


def _openings():
    """Give the facts of an opening of every rule on its receiver, with what its rig says."""
    rows = yaml.safe_load(OPENINGS.read_text(encoding="utf-8"))["rules"]
    chassis = {name: load_chassis(name, LIBRARY) for name in LIBRARY.chassis_names()}
    shapes = {shape.name: shape for shape in rule_shapes(BOOKS)}
    for name, row in rows.items():
        asked = (
            dict(s.fields) for c in shapes[name].clauses if not c.negated for s in c.one_of if s.kind == "Trait"
        )
        rig = [Trait(name=t["name"], value=t["value"]) for t in asked if f"{t['name']}-".startswith("rig-")]
        said = (line.split(" ") for line in row["said"])
        entries = [Entry(kind, key, " ".join(value)) for kind, key, *value in said]
        traced = {e.key.partition(".")[0] for e in entries if e.kind == "trace"}
        circumstances = chassis_facts(LIBRARY, chassis[row["receiver"]], traced)
        yield [*circumstances, *session_facts(LIBRARY, entries), *rig]


@pytest.mark.benchmark
def test_beside_an_engine_in_c():
    """All rules conclude the same in an engine written in C, on 25 signs and on an opening for every rule."""
    clips = pytest.importorskip("clips", reason="the engine in C is not installed: pip install clipspy")
    environment, inference, evidence = _translated(clips), Inference(BOOKS), _evidence()
    assert len(list(environment.rules())) == len(inference.rules)

    differ, fired = [], set()
    for facts in (evidence, *_openings()):
        deductions = inference.run(facts).deductions
        _run_in_c(environment, _texts(facts))
        fired |= {d.rule for d in deductions}
        if {(d.concluded.kind, d.concluded.fields) for d in deductions} != _derived(environment):
            differ.append(facts)
    texts = _texts(evidence)
    here, there = _least(lambda: inference.run(evidence)), _least(lambda: _run_in_c(environment, texts))
    built = _least(lambda: Inference(BOOKS)), _least(lambda: _translated(clips))
    print(f"{len(inference.rules)} rules, {len(fired)} of them fired in one comparison or another")
    print(f"here {1e3 * here:.1f} ms, in C {1e3 * there:.1f} ms: {here / there:.1f} times as long;")
    print(f"built in {1e3 * built[0]:.0f} ms, in C in {1e3 * built[1]:.0f} ms")

    assert differ == []
