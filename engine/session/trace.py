# SPDX-License-Identifier: MIT
"""Signal tracing: what a tracer, scope or meter shows at a port of a stage, typed or read off a measurement."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from backporch.engine.errors import BackporchError, BadInput, UnknownWord
from backporch.engine.facts import Traced
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import plain_words
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.workbench import Band, Workbench

__all__ = ["read_trace", "traced_readings"]

_PORTS = ("in", "out", "supply")
_STATES = ("good", "weak", "absent")
_ABSENT_SHARE = 0.15


def read_trace(text: str, stages: Collection[str]) -> Entry:
    """Return the entry that a typed trace stands for.

    Example:
        >>> read_trace("sync separator out good", ["sync-separator"])
        Entry(kind='trace', key='sync-separator.out', value='good', at='')

    Raises:
        BadInput: a word is missing.
        UnknownWord: the stage, the port or the state is unknown.
    """
    words = plain_words(text).split()
    if len(words) < 3:
        raise BadInput("Write stage, port and what is there: trace sync-separator out good.")
    stage, port, state = "-".join(words[:-2]), words[-2], words[-1]
    for kind, word, known in (
        ("stage on this chassis", stage, stages),
        ("port", port, _PORTS),
        ("state", state, _STATES),
    ):
        if word not in known:
            raise UnknownWord(kind, word, known)
    return Entry("trace", f"{stage}.{port}", state)


def traced_readings(workbench: Workbench, entries: Iterable[Entry]) -> Iterator[Traced]:
    """Give what numeric readings say of the ports of stages; they explain, the arithmetic weighs them."""
    for entry in entries:
        offer = workbench.faults.offers.get(entry.key) if entry.kind == "answer" else None
        if offer is None or offer.measurement.port is None or offer.measurement.reading is None:
            continue
        try:
            reading = read_reading(entry.value, offer.measurement.reading.unit)
        except BackporchError:
            continue
        state = _state(reading, workbench.faults.bins(entry.key))
        if state:
            yield Traced(stage=offer.measurement.stage or "", port=offer.measurement.port, state=state)


def _state(reading: TypedReading, band: Band) -> str:
    if reading.shape not in ("value", "range", "none"):
        return ""
    size, least = abs(reading.middle), min(abs(band.low), abs(band.high))
    if band.low <= reading.middle <= band.high:
        return "good"
    if size < _ABSENT_SHARE * least:
        return "absent"
    return "weak" if size < least else ""
