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


def _changes(change, trials):
    """Tell whether a rule still changes something in its opening, or else in another one of its own conditions."""
    shape, built = SHAPES[change.rule], None
    if shape.concludes in DENIED:
        built = Inference(without_rule(BOOKS, change.rule), LIBRARY.usual_suspects)
    own = trials[change.receiver, change.rig]
    if own.still(change, built):
        return True
    among = [t for (name, rig), t in trials.items() if bool(rig) == bool(change.rig)]
    return any(t.change(shape, tuple(SHAPES.values()), built) for t in among) or any(
        t.change(shape, tuple(SHAPES.values()), built, signs)
        for t in among
        for signs in t.company(shape, tuple(SHAPES.values()))
        if signs
    )


def test_every_rule_has_an_opening():
    """For every rule an opening is known, and for nothing else."""
    assert set(KEPT) == set(SHAPES)


@pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.__name__)
def test_no_rule_is_idle(book, trials):
    """Of every rule of the book: without it the stages stand in another order, or another test is asked next."""
    names = [name for name, shape in SHAPES.items() if shape.book == book.__name__ and name in KEPT]

    assert [name for name in names if not _changes(KEPT[name], trials)] == []


def test_no_two_always_fire_together_with_the_same_finding(trials):
    """Of any two rules or rows that say the same, one fires without the other in some opening or part of one."""
    whole = [(c, c.opening) for c in KEPT.values()]
    twins = _twins(whole, trials)
    where = [c for c in KEPT.values() if any(_told(c, c.opening, rule, trials) for pair in twins for rule in pair)]
    parts = [(c, tuple(s for s in c.opening if s != left_out)) for c in where for left_out in c.opening[1:]]

    assert twins & _twins([*whole, *parts], trials) == set()


def _told(change, opening, rule, trials):
    return {told for name, told in trials[change.receiver, change.rig].fired(opening) if name == rule}


def _twins(openings, trials):
    """Return the pairs that say the same of the same stages wherever one of them speaks."""
    says = defaultdict(set)
    for change, opening in openings:
        for rule, told in trials[change.receiver, change.rig].fired(opening):
            says[rule].add((change.rule, opening, told))
    return {pair for pair in combinations(sorted(says), 2) if says[pair[0]] == says[pair[1]]}
