# SPDX-License-Identifier: MIT
"""What a fault dictionary can and cannot tell: silent faults, twins, and the tests that reveal a fault.

Limits: two faults count as twins where no single test on the whole set tells them apart; a test of the part
itself always does and is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.dictionary import Dictionary
from backporch.engine.errors import UnknownWord

__all__ = ["Revealing", "revealing", "silent_faults", "twins"]

Floats = NDArray[np.float64]

_SHOWS = 0.5
_ALIKE = 0.2


@dataclass(frozen=True)
class Revealing:
    """A test that shows a fault: its outcome then, and how likely that is with and without the fault."""

    offer: str
    outcome: str
    with_fault: float
    without: float
    minutes: float


def silent_faults(dictionary: Dictionary) -> tuple[str, ...]:
    """Return the faults that no symptom betrays in most of their draws."""
    names, table = dictionary.symptom_table()
    seen = np.array([name != "sound-good" for name in names])
    loudest = table[seen].max(axis=0)
    return tuple(
        h.id for h, share in zip(dictionary.hypotheses, loudest, strict=True) if h.part and share < _SHOWS
    )


def twins(dictionary: Dictionary) -> tuple[tuple[str, ...], ...]:
    """Return groups of faults that no test on the whole set tells apart."""
    listed = [n for n, h in enumerate(dictionary.hypotheses) if h.part]
    offers = [o.id for o in dictionary.offers.values() if o.kind != "target"]
    stack = np.concatenate([dictionary.outcome_table(offer)[1][:, listed] for offer in offers])
    starts = np.cumsum([0, *(dictionary.outcome_table(offer)[1].shape[0] for offer in offers)])
    groups: list[list[int]] = []
    for n in range(len(listed)):
        home = next((g for g in groups if _alike(stack, starts, g[0], n)), None)
        if home is None:
            groups.append([n])
        else:
            home.append(n)
    return tuple(tuple(dictionary.hypotheses[listed[n]].id for n in group) for group in groups if len(group) > 1)


def _alike(stack: Floats, starts: NDArray[np.intp], first: int, second: int) -> bool:
    """Tell whether the outcome tables of two faults differ by little in every test."""
    apart = np.add.reduceat(np.abs(stack[:, first] - stack[:, second]), starts[:-1]) / 2
    return bool(apart.max() < _ALIKE)


def revealing(dictionary: Dictionary, hypothesis: str, most: int = 8) -> tuple[Revealing, ...]:
    """Return the tests that show a fault, cheapest first.

    Raises:
        UnknownWord: the dictionary has no such hypothesis.
    """
    ids = [h.id for h in dictionary.hypotheses]
    if hypothesis not in ids:
        raise UnknownWord("hypothesis", hypothesis, ids)
    index = ids.index(hypothesis)
    prior = dictionary.prior("", "unknown")
    found = []
    for offer in dictionary.offers.values():
        labels, table = dictionary.outcome_table(offer.id)
        usual = table @ prior
        best = int(np.argmax(table[:, index] - usual))
        if table[best, index] - usual[best] > 0.3:
            minutes = offer.measurement.minutes
            found.append(Revealing(offer.id, labels[best], table[best, index], usual[best], minutes))
    return tuple(sorted(found, key=lambda r: (r.minutes, -r.with_fault, r.offer))[:most])
