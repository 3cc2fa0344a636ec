# SPDX-License-Identifier: MIT
"""What a fault dictionary can and cannot tell: silent faults, twins, and the tests that reveal a fault.

Limits: two faults count as twins where no single test on the whole set tells them apart; a test of the part
itself always does and is left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.chassis.offers import Offer
from backporch.engine.errors import UnknownWord

__all__ = ["Revealing", "revealing", "silent_faults", "twins"]

Floats = NDArray[np.float64]

_SHOWS = 0.5
_ALIKE = 0.2
_TELLS = 0.3


class _Model(Protocol):
    """What a fault dictionary says."""

    @property
    def hypotheses(self) -> Sequence[Hypothesis]:
        """All single faults."""

    @property
    def offers(self) -> Mapping[str, Offer]:
        """All measurements."""

    def prior(self, condition: str, last_event: str, renewed: frozenset[str]) -> Floats:
        """Return the probability of each hypothesis before anything is seen."""

    def outcome_table(self, offer: str) -> tuple[Sequence[str], Floats]:
        """Return the outcomes of an offer and their probability."""

    def symptom_table(self) -> tuple[Sequence[str], Floats]:
        """Return symptoms and how often each fault shows them."""


@dataclass(frozen=True)
class Revealing:
    """A test that shows a fault: its outcome then, and how likely that is with and without the fault."""

    offer: str
    outcome: str
    with_fault: float
    without: float
    minutes: float


def silent_faults(model: _Model) -> tuple[str, ...]:
    """Return the faults that no symptom betrays in most of their draws."""
    names, table = model.symptom_table()
    seen = np.array([name != "sound-good" for name in names])
    loudest = table[seen].max(axis=0)
    return tuple(h.id for h, share in zip(model.hypotheses, loudest, strict=True) if h.part and share < _SHOWS)


def twins(model: _Model) -> tuple[tuple[str, ...], ...]:
    """Return groups of faults that no test on the whole set tells apart."""
    listed = [n for n, h in enumerate(model.hypotheses) if h.part]
    offers = [o.id for o in model.offers.values() if o.kind != "target"]
    stack = np.concatenate([model.outcome_table(offer)[1][:, listed] for offer in offers])
    starts = np.cumsum([0, *(model.outcome_table(offer)[1].shape[0] for offer in offers)])
    groups: list[list[int]] = []
    for n in range(len(listed)):
        home = next((g for g in groups if _alike(stack, starts, g[0], n)), None)
        if home is None:
            groups.append([n])
        else:
            home.append(n)
    return tuple(tuple(model.hypotheses[listed[n]].id for n in group) for group in groups if len(group) > 1)


def _alike(stack: Floats, starts: NDArray[np.intp], first: int, second: int) -> bool:
    """Tell whether the outcome tables of two faults differ by little in every test."""
    apart = np.add.reduceat(np.abs(stack[:, first] - stack[:, second]), starts[:-1]) / 2
    return bool(apart.max() < _ALIKE)


def revealing(model: _Model, hypothesis: str, most: int = 8) -> tuple[Revealing, ...]:
    """Return the tests on the whole set that show a fault, cheapest first.

    Raises:
        UnknownWord: there is no such hypothesis.
    """
    ids = [h.id for h in model.hypotheses]
    if hypothesis not in ids:
        raise UnknownWord("hypothesis", hypothesis, ids)
    index = ids.index(hypothesis)
    prior = model.prior("", "unknown", frozenset())
    found = []
    for offer in model.offers.values():
        if offer.kind == "target":
            continue
        labels, table = model.outcome_table(offer.id)
        usual = table @ prior
        best = int(np.argmax(table[:, index] - usual))
        if table[best, index] - usual[best] > _TELLS:
            minutes = offer.measurement.minutes
            found.append(Revealing(offer.id, labels[best], float(table[best, index]), float(usual[best]), minutes))
    return tuple(sorted(found, key=lambda r: (r.minutes, -r.with_fault, r.offer))[:most])
