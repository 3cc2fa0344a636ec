# SPDX-License-Identifier: MIT
"""Draws cases for trials: a hidden fault, the symptoms it shows, and what every test would answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from backporch.engine.chassis.audit import twins
from backporch.engine.chassis.dictionary import UNMODELLED
from backporch.engine.planning.trials import Case, drawn_answers
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview

__all__ = ["drawn_case", "expected_faults", "likely_faults", "showing_faults", "twins_of"]

_USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "isolation": "isolated",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
    "hearing": "hears",
}
_SHOWS = 0.5
_ALIKE = 0.2
"""Two faults look alike where no symptom is more often shown by one than by the other by this much."""


def showing_faults(interview: Interview) -> tuple[int, ...]:
    """Return the listed faults that show themselves in most sets; the others are silent."""
    visible = interview.workbench.visibility
    return tuple(n for n, h in enumerate(interview.workbench.faults.hypotheses) if h.part and visible[n] >= _SHOWS)


def twins_of(interview: Interview) -> Mapping[int, frozenset[int]]:
    """Return, for each fault with twins, all faults that neither sign nor test on the whole set tells from it."""
    model = interview.workbench.faults
    table = model.symptom_table()[1]
    place = {h.id: n for n, h in enumerate(model.hypotheses)}
    found: dict[int, frozenset[int]] = {}
    for group in twins(model):
        left = [place[name] for name in group]
        while left:
            alike = frozenset(n for n in left if np.abs(table[:, n] - table[:, left[0]]).max() < _ALIKE)
            found.update({n: alike for n in alike if len(alike) > 1})
            left = [n for n in left if n not in alike]
    return found


def likely_faults(interview: Interview, count: int, seed: int, off: float = 1.0) -> tuple[int, ...]:
    """Return faults drawn as often as they are expected among those that show.

    Args:
        interview: Over the chassis and bench.
        count: How many.
        seed: Seed of the draw.
        off: Factor by which the true frequencies differ from those expected, up or down (log-normal).
    """
    shown = list(showing_faults(interview))
    prior = interview.workbench.faults.prior(_USUAL["condition"], _USUAL["last-event"], frozenset())[shown]
    random = np.random.default_rng(seed)
    prior = prior * np.exp(np.log(off) * random.standard_normal(len(prior)))
    return tuple(int(n) for n in random.choice(shown, count, p=prior / prior.sum()))


def expected_faults(interview: Interview, count: int, seed: int, off: float = 1.0) -> tuple[int, ...]:
    """Return faults drawn as the model expects them once something is seen: hardly visible and unlisted ones too.

    Args:
        interview: Over the chassis and bench.
        count: How many.
        seed: Seed of the draw.
        off: Factor by which the true frequencies differ from those expected, up or down (log-normal).
    """
    random = np.random.default_rng(seed)
    prior = interview.workbench.faults.prior(_USUAL["condition"], _USUAL["last-event"], frozenset())
    weight = prior * interview.workbench.visibility * np.exp(np.log(off) * random.standard_normal(len(prior)))
    return tuple(int(n) for n in random.choice(len(weight), count, p=weight / weight.sum()))


def drawn_case(
    interview: Interview,
    truth: int,
    seed: Sequence[int],
    wrong: float = 0.0,
    shared: float = 0.0,
    as_modelled: bool = False,
) -> Case:
    """Return the case of one fault; the same fault and seed give the same case.

    Args:
        interview: Over the chassis and bench.
        truth: Index of the fault.
        seed: Seed of symptoms and answers.
        wrong: Share of wrong answers.
        shared: Share of stages at which all answers of one instrument or observer are wrong together.
        as_modelled: Whether answers err as often as the ranking allows for; else as the knowledge base says, and
            the margin for what no simulation knows is caution alone.
    """
    random = np.random.default_rng([*seed, truth])
    names, table = interview.workbench.faults.symptom_table()
    shows = [name for n, name in enumerate(names) if random.random() < 0.85 * table[n, truth]]
    if not shows:
        shows = [names[int(table[:, truth].argmax())]]
    entries = [Entry("circumstance", key, value) for key, value in _USUAL.items()]
    entries += [Entry("symptom", name) for name in shows]
    position = interview.position(assess(interview.workbench, entries))
    spared = 0.0 if as_modelled else UNMODELLED
    answers = drawn_answers(interview.problem, truth, random, wrong, shared, spared)
    return Case(truth, answers, replace(position, power="on"))
