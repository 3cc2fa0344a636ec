# SPDX-License-Identifier: MIT
"""Faults that come and go: whether one is there at the moment, and which answers count because of it.

A test made while all is well says nothing against a stage: the fault was asleep.  Only a reading that is
wrong even then counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from backporch.engine.errors import BackporchError
from backporch.engine.session.entry import Entry
from backporch.engine.session.reading import read_reading
from backporch.engine.session.workbench import Workbench

__all__ = ["COMES_AND_GOES", "awake", "comes_and_goes", "moment_of", "strays", "waits"]

COMES_AND_GOES = frozenset(
    {"picture-intermittent", "changes-when-tapped", "worse-when-warm", "better-when-warm", "loses-lock-when-warm"}
)
"""Symptoms of a fault that is not always there."""


def comes_and_goes(entries: Iterable[Entry]) -> bool:
    """Tell whether the fault is one that is not always there."""
    return any(
        (e.kind == "symptom" and e.key in COMES_AND_GOES and e.value != "no")
        or e.kind == "watch"
        or (e.kind == "circumstance" and e.key == "moment")
        for e in entries
    )


def moment_of(entries: Sequence[Entry]) -> str:
    """Return "happening", "quiet", or "" where nobody has said.

    Example:
        >>> moment_of([Entry("circumstance", "moment", "quiet"), Entry("circumstance", "moment", "happening")])
        'happening'
    """
    said = (e.value for e in reversed(entries) if e.kind == "circumstance" and e.key == "moment")
    return next(said, "")


def waits(entries: Sequence[Entry]) -> bool:
    """Tell whether the fault is asleep and the person has not chosen to test on all the same."""
    last = max((n for n, e in enumerate(entries) if e.kind == "circumstance" and e.key == "moment"), default=-1)
    if last < 0 or entries[last].value != "quiet":
        return False
    return not any(e.kind == "skip" and e.key == "watch" for e in entries[last:])


def awake(workbench: Workbench, entries: Iterable[Entry]) -> Iterator[Entry]:
    """Give the entries that count: not what was tested, or traced as good, while the fault was asleep."""
    moment = ""
    for entry in entries:
        if entry.kind == "circumstance" and entry.key == "moment":
            moment = entry.value
        if moment == "quiet" and entry.kind == "answer" and not strays(workbench, entry):
            continue
        if moment == "quiet" and entry.kind == "trace" and entry.value == "good":
            continue
        yield entry


def strays(workbench: Workbench, entry: Entry) -> bool:
    """Tell whether an answer is a reading outside the band of healthy sets."""
    offer = workbench.faults.offers.get(entry.key)
    if offer is None or offer.measurement.reading is None:
        return False
    try:
        reading = read_reading(entry.value, offer.measurement.reading.unit)
    except BackporchError:
        return False
    band = workbench.faults.bins(entry.key)
    return reading.shape != "unsure" and (reading.high < band.low or reading.low > band.high)
