"""Taking any rule away changes the order of stages, or the next test, in an opening that a bench would meet."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from pathlib import Path

import pytest
import yaml

from backporch.engine.cli.setup import make_workbench
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.rule_study import without_rule
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.rule_trials import Change, rig_trials, trial_of
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = {shape.name: shape for shape in rule_shapes(BOOKS)}
OPENINGS = Path(__file__).parents[1] / "reference" / "rule_openings.yaml"
KEPT = {
    name: Change(name, row["receiver"], row.get("rig", ""), tuple(row["said"]), row.get("beside", ""), row["what"])
    for name, row in yaml.safe_load(OPENINGS.read_text(encoding="utf-8"))["rules"].items()
}
DENIED = {p for s in SHAPES.values() for c in s.clauses if c.negated for p in c.one_of}


@pytest.fixture(scope="module")
def trials():
    """Give a trial for each receiver, and for each rig that an opening stands on."""
    found = {}
    for name in ("plover-17", "dunlin-24", "curlew-19", "teal-14"):
        own = trial_of(make_workbench(name))
        found[name, ""] = own
        if rigs := {c.rig for c in KEPT.values() if c.receiver == name and c.rig}:
            found |= {(name, t.workbench.bench.rig): t for t in rig_trials(own.workbench, rigs)}
    return found


def _changes(shape, trials):
    """Tell whether a rule still changes something in its opening, or else in another one of its own conditions."""
    built, change = None, KEPT.get(shape.name)
    if shape.concludes in DENIED:
        built = Inference(without_rule(BOOKS, shape.name), LIBRARY.usual_suspects)
    if change and trials[change.receiver, change.rig].still(change, built):
        return True
    shapes = tuple(SHAPES.values())
    asked = {v for c in shape.clauses for p in c.one_of for _, v in p.fields}
    on_rig = any(f"{v}-".startswith("rig-") for v in asked)
    among = [t for (_, rig), t in trials.items() if bool(rig) == on_rig]
    return any(t.change(shape, shapes, built) for t in among) or any(
        t.change(shape, shapes, built, beside) for t in among for beside in t.company(shape, shapes) if beside
    )


def test_openings_are_of_rules_that_stand():
    """No opening is kept for a rule that is gone; a rule without one is tried in those of its own conditions."""
    assert set(KEPT) - set(SHAPES) == set()
    assert len(KEPT) >= 0.95 * len(SHAPES)


@pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.__name__)
def test_no_rule_is_idle(book, trials):
    """Of every rule of the book: without it the stages stand in another order, or another test is asked next."""
    shapes = [shape for shape in SHAPES.values() if shape.book == book.__name__]

    assert [shape.name for shape in shapes if not _changes(shape, trials)] == []


def test_no_two_always_fire_together_with_the_same_finding(trials):
    """Of any two rules or rows that say the same, one fires without the other in some opening or part of one."""
    whole = [(c.receiver, c.rig, c.opening) for c in KEPT.values()]
    twins = _twins(whole, trials)
    rules = {rule for pair in twins for rule in pair}
    where = {p for p in whole if any(rule in rules for rule, _ in trials[p[:2]].fired(p[2]))}
    others = {(name, "", said) for _, _, said in where for name, rig in trials if not rig}
    parts = {(*p[:2], tuple(s for s in p[2] if s != left_out)) for p in where for left_out in p[2][1:]}

    assert twins & _twins([*whole, *others, *parts], trials) == set()


def _twins(openings, trials):
    """Return the pairs that say the same of the same stages wherever one of them speaks."""
    says = defaultdict(set)
    for receiver, rig, said in openings:
        for rule, told in trials[receiver, rig].fired(said):
            says[rule].add((receiver, rig, said, told))
    return {pair for pair in combinations(sorted(says), 2) if says[pair[0]] == says[pair[1]]}
