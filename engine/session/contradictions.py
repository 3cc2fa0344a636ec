# SPDX-License-Identifier: MIT
"""Answers that cannot both be true: noticed, named, and left out of the reckoning until one is taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.library import Library
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE
from backporch.engine.session.reading import read_reading
from backporch.engine.session.workbench import Workbench

__all__ = ["Clash", "clashes", "clashing_entries", "sign_in_words"]

_NOTHING = 0.15
"""Below this share of the healthy band a reading counts as none; as in signal tracing."""


@dataclass(frozen=True, order=True)
class Clash:
    """Two answers that do not go together."""

    one: str
    """A sign, as in kb/contradictions."""
    other: str
    says: str
    """Why they do not."""


def clashes(workbench: Workbench, entries: Sequence[Entry]) -> tuple[Clash, ...]:
    """Return the answers that do not go together, in the order of the table; a pair is named once."""
    signs = {sign for entry in entries for sign in _signs(workbench, entry)}
    found: dict[frozenset[str], Clash] = {}
    for row in workbench.library.contradictions.values():
        if signs & set(row.unless):
            continue
        for one in row.one:
            for other in row.other:
                if one in signs and other in signs and frozenset((one, other)) not in found:
                    found[frozenset((one, other))] = Clash(one, other, row.says)
    return tuple(found.values())


def clashing_entries(workbench: Workbench, entries: Sequence[Entry], found: Iterable[Clash]) -> frozenset[Entry]:
    """Return the entries that take part in a clash; none of them counts."""
    signs = {sign for clash in found for sign in (clash.one, clash.other)}
    return frozenset(e for e in entries if signs & set(_signs(workbench, e)))


def sign_in_words(library: Library, sign: str) -> str:
    """Return a sign as it is said to a person.

    Example:
        >>> from backporch.engine.knowledge.library import shipped
        >>> sign_in_words(shipped(), "no-raster"), sign_in_words(shipped(), "turn-contrast=normal")
        ('No raster', 'Turn contrast: From pale to full')
    """
    name, _, outcome = sign.partition("=")
    if not outcome:
        return library.symptoms[name].title
    measurement = library.measurements[name]
    return f"{measurement.title}: {measurement.outcomes.get(outcome, {'none': 'nothing'}.get(outcome, outcome))}"


def _signs(workbench: Workbench, entry: Entry) -> Iterator[str]:
    if entry.value == UNSURE:
        return
    if entry.kind == "symptom" and entry.value != "no":
        yield entry.key
    elif entry.kind == "answer":
        offer = workbench.faults.offers.get(entry.key)
        if offer is None or offer.measurement.reading is None:
            yield f"{entry.key}={entry.value}"
            return
        try:
            reading = read_reading(entry.value, offer.measurement.reading.unit)
        except BackporchError:
            return
        band = workbench.faults.bins(entry.key)
        least = min(abs(band.low), abs(band.high))
        if reading.shape in ("value", "range", "none") and abs(reading.middle) < _NOTHING * least:
            yield f"{entry.key}=none"
