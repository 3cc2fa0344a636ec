"""Each rule is exercised by some simulated fault, or says why none does."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.observations import OBSERVATIONS, observe
from backporch.engine.chassis.offers import all_offers
from backporch.engine.chassis.parts import healthy_batch, with_fault_draws
from backporch.engine.chassis.simulator import simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.rulebook import RuleShape, rule_shapes
from backporch.engine.session.entry import Entry
from backporch.engine.session.evidence import chassis_facts, session_facts
from backporch.rules import BOOKS

REASONS = Path(__file__).parents[1] / "reference" / "rules_without_a_fault.yaml"
SAID = {"source": "generator", "source-proved": "proved", "hearing": "hears", "last-event": "parts-replaced"}
SEEDS = (5, 11)


def evidence(library: Library, name: str) -> Iterator[frozenset[Entry]]:
    """Give for each fault of a receiver, at two severities, what it shows and answers."""
    chassis = load_chassis(name, library)
    faults = [h.fault for h in all_hypotheses(chassis, library) if h.part]
    offers = {key: o for key, o in all_offers(chassis, library).items() if o.kind == "outcome"}
    for seed in SEEDS:
        result = simulate(chassis, with_fault_draws(healthy_batch(chassis), faults, seed=seed))
        told = {key: observe(str(o.measurement.observe), result) for key, o in offers.items()}
        for n in range(len(faults)):
            words = symptoms_of(result.picture, library.picture_words, n)
            answers = {k: OBSERVATIONS[str(offers[k].measurement.observe)][int(v[n])] for k, v in told.items()}
            yield frozenset(
                [
                    *(Entry("symptom", word, "yes") for word in words),
                    *(Entry("answer", *a) for a in answers.items()),
                ]
            )


def plain_reason(shape: RuleShape, library: Library) -> str:
    """Return why no simulated fault can exercise a rule, where what it reads tells; else ""."""
    for clause in shape.clauses:
        if clause.negated:
            continue
        read = [(pattern.kind, dict(pattern.fields).get("name", "")) for pattern in clause.one_of]
        if all(kind == "Symptom" and name not in library.picture_words for kind, name in read):
            return "asks for what a simulated set does not show"
        if all(kind == "Traced" for kind, _ in read):
            return "asks for a signal traced by hand"
        if all(kind == "Trait" and str(name).startswith(("rig", "loop-")) for kind, name in read):
            return "asks for something of the bench"
    return ""


@pytest.mark.benchmark
def test_each_rule_is_exercised_or_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    """No rule stands idle without a reason, and no reason stands for a rule that is exercised."""
    library = shipped()
    inference = Inference(BOOKS, library.usual_suspects)
    said = [Entry("circumstance", key, value) for key, value in SAID.items()]
    fired: set[str] = set()
    for name in library.chassis_names():
        circumstances = list(chassis_facts(library, load_chassis(name, library)))
        for entries in set(evidence(library, name)):
            conclusion = inference.run(
                [*circumstances, *session_facts(library, [*said, *sorted(entries, key=str)])]
            )
            fired |= {deduction.rule for deduction in conclusion.deductions}
    reasons = yaml.safe_load(REASONS.read_text(encoding="utf-8"))["rules"]
    idle = set(inference.rules) - fired
    shapes = {shape.name: shape for shape in rule_shapes(BOOKS)}
    unexplained = {r for r in idle if r not in reasons and not (r in shapes and plain_reason(shapes[r], library))}
    with capsys.disabled():
        print(
            f"\n{len(inference.rules) - len(idle)} of {len(inference.rules)} rules exercised by simulated faults"
        )
        print("without a reason:", sorted(unexplained), "exercised all the same:", sorted(set(reasons) - idle))

    assert unexplained == set()
