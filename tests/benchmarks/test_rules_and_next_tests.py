"""What each rule changes for a person at the bench: the order of stages, or the test that is asked next.

Every eighth rule by default; BACKPORCH_EVERY=1 takes all away, one after the other (minutes).  With
BACKPORCH_KEEP=1 the openings that are found are kept in tests/reference/rule_openings.yaml, from which
tests/rules/test_rules_matter.py tries every rule in seconds.
"""

from __future__ import annotations

import os
from collections import Counter
from itertools import chain
from pathlib import Path

import pytest
import yaml

from backporch.engine.cli.setup import make_workbench
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.rule_study import without_rule
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.rule_trials import rig_trials, trial_of
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = rule_shapes(BOOKS)
SORTS = ("after what happened last", "beside a sign of one fault", "beside a sign of a second fault")
EVERY = int(os.environ.get("BACKPORCH_EVERY", "8"))
RECEIVERS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")
KEPT = Path(__file__).parents[1] / "reference" / "rule_openings.yaml"
DENIED = {p for s in SHAPES for c in s.clauses if c.negated for p in c.one_of}
HEAD = """# For each rule an opening, as a person would type it, in which the order of stages or the next test is
# another without that rule.  Found by tests/benchmarks/test_rules_and_next_tests.py; `beside` is what was said
# beside the rule's own signs.
"""


def _found(shape, trials):
    """Return a change by the rule's own signs, else beside something else, with its sort."""
    built = None
    if shape.concludes in DENIED:
        built = Inference(without_rule(BOOKS, shape.name), LIBRARY.usual_suspects)
    for trial in trials:
        if change := trial.change(shape, SHAPES, built):
            return change, change.what
    for n, sort in enumerate(SORTS):
        for trial in trials:
            beside = trial.company(shape, SHAPES)[n]
            if beside and (change := trial.change(shape, SHAPES, built, beside)):
                return change, sort
    return None, "nothing"


def _keep(changes):
    rows = {
        c.rule: {
            "receiver": c.receiver,
            **({"rig": c.rig} if c.rig else {}),
            "said": list(c.opening),
            **({"beside": c.beside} if c.beside else {}),
            "what": c.what,
        }
        for c in sorted(changes, key=lambda c: c.rule)
    }
    text = yaml.safe_dump({"schema": 1, "rules": rows}, sort_keys=False, width=115)
    KEPT.write_text(HEAD + text, encoding="utf-8")


@pytest.mark.benchmark
def test_rules_taken_away_change_order_or_next_test():
    """Every rule changes the order of stages or the next test in an opening on a shipped receiver or a rig."""
    trials = [trial_of(make_workbench(name)) for name in RECEIVERS]
    rigs = list(chain.from_iterable(rig_trials(t.workbench) for t in trials))
    sorts, changes, idle = Counter(), [], []
    for shape in SHAPES[::EVERY]:
        on_rig = any(f"{v}-".startswith("rig-") for c in shape.clauses for p in c.one_of for _, v in p.fields)
        change, sort = _found(shape, rigs if on_rig else trials)
        sorts[sort] += 1
        if change is None:
            idle.append(shape.name)
        else:
            changes.append(change)
            print(f"{sort:40} {shape.name}: {change.rig or change.receiver}; {'; '.join(change.opening[1:])}")
    print(f"\n{len(SHAPES[::EVERY])} rules taken away: {dict(sorts)}; idle: {idle}")
    if os.environ.get("BACKPORCH_KEEP"):
        _keep(changes)

    assert idle == []
