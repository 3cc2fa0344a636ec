"""How much each rule matters: simulated faults with their looks and controls, and each rule's own example."""

from __future__ import annotations

from collections import defaultdict

import pytest

from backporch.engine.chassis.hypotheses import all_hypotheses, priors
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.observations import OBSERVATIONS, observe
from backporch.engine.chassis.parts import healthy_batch, with_fault_draws
from backporch.engine.chassis.simulator import simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.facts import Answer, Symptom, Trait
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.ranking import rank, weigh_findings
from backporch.engine.rule_study import example_of, left_without
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.evidence import chassis_facts
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = rule_shapes(BOOKS)
SESSION = [
    Trait(name=name, value=value)
    for name, value in (("hearing", "hears"), ("source", "generator"), ("source-proved", "proved"))
]


def _simulated(chassis, circumstances):
    """Give the facts of each fault that shows something: its words, and its words with every look and control."""
    listed = [h for h in all_hypotheses(chassis, LIBRARY) if h.part]
    result = simulate(chassis, with_fault_draws(healthy_batch(chassis), [h.fault for h in listed], seed=5))
    looks = {name: observe(name, result) for name in OBSERVATIONS}
    traits = {f["name"]: f["value"] for f in [*circumstances, *SESSION] if isinstance(f, Trait)}
    known = set()
    for n in range(len(listed)):
        words = symptoms_of(result.picture, LIBRARY.picture_words, n)
        if not words or words in known:
            continue
        known.add(words)
        answers = [
            Answer(measurement=name, outcome=OBSERVATIONS[m.observe][int(looks[m.observe][n])])
            for name, m in LIBRARY.measurements.items()
            if m.observe in OBSERVATIONS
            and m.kind in ("look", "listen", "control")
            and (not m.needs_any or set(m.needs_any) & set(words))
            and all(traits.get(trait) in allowed for trait, allowed in m.traits.items())
        ]
        seen = [*circumstances, *SESSION, *(Symptom(name=w) for w in words)]
        yield seen
        yield [*seen, *answers]


@pytest.mark.benchmark
def test_each_rule_taken_away():
    """Counts the rules without which the order of stages changes in a simulated set, or in an example."""
    inference = Inference(BOOKS, LIBRARY.usual_suspects)
    simulated, orders = defaultdict(int), {}
    tried = 0
    examples, named = [], set()
    for name in ("plover-17", "dunlin-24", "curlew-19", "teal-14"):
        chassis = load_chassis(name, LIBRARY)
        hypotheses = all_hypotheses(chassis, LIBRARY)
        orders[name] = (priors(hypotheses, LIBRARY), [h.stage for h in hypotheses])
        circumstances = list(chassis_facts(LIBRARY, chassis))
        for facts in _simulated(chassis, circumstances):
            tried += 1
            conclusion = inference.run(facts)
            for rule in {d.rule for d in conclusion.deductions}:
                simulated[rule] += _changes(conclusion, rule, orders[name])
        for shape in SHAPES:
            example = example_of(shape, SHAPES, inference, circumstances)
            if example is not None:
                examples.append((name, example))
                named.add(shape.name)
    in_examples = defaultdict(int)
    for name, example in examples:
        for extra in ((), *((Symptom(name=s),) for s in list(LIBRARY.symptoms)[::9])):
            conclusion = inference.run([*example.facts, *extra])
            for rule in {d.rule for d in conclusion.deductions if simulated[d.rule] + in_examples[d.rule] == 0}:
                in_examples[rule] += _changes(conclusion, rule, orders[name])
    rules = [s.name for s in SHAPES]
    idle = [rule for rule in rules if simulated[rule] + in_examples[rule] == 0]
    print(f"{len(rules)} rules, {len(named)} with an example; {tried} fact sets of simulated faults")
    print(f"{sum(simulated[r] > 0 for r in rules)} change the order of stages in a simulated set,")
    print(f"{len(rules) - len(idle)} there or in an example, alone or beside one more sign; idle: {idle}")
    rows = LIBRARY.usual_suspects
    print(f"usual suspects: {sum(simulated[r] > 0 for r in rows)} of {len(rows)} change it in a simulated set")


def _changes(conclusion, rule, order):
    prior, stages = order
    before, after = (
        rank(prior, stages, weigh_findings(c, LIBRARY.strengths), []).stages
        for c in (conclusion, left_without(conclusion, rule))
    )
    return [s for s, _ in before] != [s for s, _ in after]
