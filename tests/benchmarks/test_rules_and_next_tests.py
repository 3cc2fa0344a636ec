"""What each rule changes for a person at the bench: the order of stages, and the test that is asked next.

Every eighth rule by default; BACKPORCH_EVERY=1 takes all away, one after the other.
"""

from __future__ import annotations

import os

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.cli.setup import make_workbench
from backporch.engine.facts import Answer, Symptom, Traced, Trait
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.planning.choose import next_step
from backporch.engine.rule_study import example_of, left_without
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.evidence import chassis_facts
from backporch.engine.session.interview import Interview
from backporch.engine.session.workbench import Workbench
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = rule_shapes(BOOKS)
EVERY = int(os.environ.get("BACKPORCH_EVERY", "8"))
COMPANY = [Entry("symptom", name) for name in list(LIBRARY.symptoms)[::5]]
"""Symptoms that are seen beside an example where it changes nothing by itself."""
RECEIVERS = ("plover-17", "teal-14", "dunlin-24", "curlew-19")


class _Without:
    """A rule base that leaves out what rests on one rule."""

    def __init__(self, inference, rule):
        self._inference, self._rule = inference, rule

    def run(self, facts):
        return left_without(self._inference.run(facts), self._rule)


def _entries(facts, workbench):
    """Give what a person would have said for these facts; what no person can say is left out."""
    yield Entry("circumstance", "supply-aid", "full-mains")
    for fact in facts:
        if isinstance(fact, Trait) and fact["name"] in LIBRARY.opening:
            yield Entry("circumstance", fact["name"], fact["value"])
        elif isinstance(fact, Symptom):
            yield Entry("symptom", fact["name"])
        elif isinstance(fact, Answer) and fact["measurement"] in workbench.faults.offers:
            yield Entry("answer", fact["measurement"], fact["outcome"])
        elif isinstance(fact, Traced):
            yield Entry("trace", f"{fact['stage']}.{fact['port']}", fact["state"])


def _seen(workbench, interview, entries):
    """Return the order of stages and what is proposed next."""
    assessment = assess(workbench, entries)
    step = next_step(interview.problem, interview.position(assessment))
    return [stage for stage, _ in assessment.ranking.stages], f"{step.kind} {step.key}"


def _order_differs(workbench, poorer, entries):
    orders = [[stage for stage, _ in assess(bench, entries).ranking.stages] for bench in (workbench, poorer)]
    return orders[0] != orders[1]


@pytest.mark.benchmark
def test_rules_taken_away_change_order_or_next_test():
    """Counts the rules without which the order of stages, or the next test, is another in their own example."""
    inference = Inference(BOOKS, LIBRARY.usual_suspects)
    benches = {}
    order, asked, company, none, left = [], [], [], [], []
    shapes = [s for s in SHAPES if s.concludes.kind == "Finding"][::EVERY]
    for shape in shapes:
        for name in RECEIVERS:
            circumstances = list(chassis_facts(LIBRARY, load_chassis(name, LIBRARY)))
            example = example_of(shape, SHAPES, inference, circumstances)
            if example is not None:
                break
        else:
            left.append(shape.name)
            continue
        if name not in benches:
            workbench = make_workbench(name)
            benches[name] = workbench, Interview(workbench)
        workbench, interview = benches[name]
        entries = list(_entries(example.facts, workbench))
        poorer = Workbench(
            LIBRARY,
            workbench.chassis,
            workbench.bench,
            lambda rule=shape.name: _Without(inference, rule),
            lambda bench=workbench: bench.faults,
        )
        with_it, without = _seen(workbench, interview, entries), _seen(poorer, interview, entries)
        order += [shape.name] if with_it[0] != without[0] else []
        asked += [shape.name] if with_it[1] != without[1] else []
        if with_it == without:
            found = any(_order_differs(workbench, poorer, [*entries, more]) for more in COMPANY)
            (company if found else none).append(shape.name)
    print(f"{len(shapes)} rules taken away: the order of stages differs for {len(order)}, the next test for")
    print(f"{len(asked)}; beside one more symptom for {len(company)} others; for none of these {len(none)}:")
    print(f"{none}; no example that a person could type: {left}")
    assert len(none) < len(shapes) / 4
