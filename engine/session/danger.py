# SPDX-License-Identifier: MIT
"""What the entries of a session say to the safety gate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from backporch.engine.knowledge.library import Library
from backporch.engine.safety.set_facts import state_of_set
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.alarms import ALARM_ANSWERS, ALARM_READINGS, ALARM_SYMPTOMS, alarm_of_reading
from backporch.engine.session.cold_check import checks_after, passes_all
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE
from backporch.engine.session.reading import read_reading
from backporch.engine.session.workbench import Offer, Workbench

__all__ = [
    "DRIVE_PROOFS",
    "RESUMED_ANEW",
    "safety_state",
]

RESUMED_ANEW = frozenset({"isolation", "supply-aid", "lamp-power", "variable-volts", "company"})
"""What is unknown again when a session is resumed: it may have changed while the set stood."""

DRIVE_PROOFS = (
    "read-line-output-grid",
    "drive-at-line-output",
    "bias-with-screen-lifted",
    "drive-with-screen-lifted",
)
"""Readings that prove the drive of the horizontal output tube where they are healthy."""


def safety_state(workbench: Workbench, entries: Sequence[Entry]) -> SafetyState:
    """Return the state of the bench that follows from the chassis and the standing entries."""
    start = state_of_set(workbench.chassis, rig=bool(workbench.bench.rig))
    return after(start, _events(workbench, entries))


def _events(workbench: Workbench, entries: Iterable[Entry]) -> Iterator[Event]:
    library = workbench.library
    said: dict[str, str] = {}
    for entry in entries:
        if entry.kind == "circumstance" and entry.key == "condition":
            due = entry.value not in library.conditions or library.conditions[entry.value].cold_check
            yield Event("said", "condition", "cold-check" if due else "")
        elif entry.kind == "circumstance" and entry.key == "alarm-cause":
            yield Event("repaired")
        elif entry.kind == "circumstance":
            value = "unknown" if entry.value == UNSURE else entry.value
            yield Event("said", entry.key, value)
        elif entry.kind == "check":
            yield from _of_check(library, entry)
            said = checks_after(library, said, entry)
            passed = passes_all(library, workbench.chassis, said)
            yield Event("cold-check", value="passed" if passed else "stopped")
        elif entry.kind == "symptom" and entry.key in ALARM_SYMPTOMS and entry.value != "no":
            yield Event("alarm", ALARM_SYMPTOMS[entry.key])
        elif entry.kind == "answer":
            yield from _of_answer(workbench, entry)
        elif entry.kind == "act":
            yield from _ACTS.get(entry.key, ())
        elif entry.kind == "alarm":
            said = checks_after(library, said, entry)
            yield Event("alarm", ALARM_SYMPTOMS.get(entry.key, "smoke"))
        elif entry.kind == "resumed":
            said = checks_after(library, said, entry)
            yield Event("power", "unknown")
            yield from (Event("said", key, "unknown") for key in sorted(RESUMED_ANEW))
        elif entry.kind == "repair":
            yield Event("power", "off")
            yield Event("repaired", value="not-cured" if entry.value in ("open", "partly") else entry.value)
            yield Event("power", "on")


_ACTS = {
    "plug-out": (Event("power", "off"),),
    "discharge": (Event("discharged"),),
    "switch-on": (Event("power", "on"),),
}
"""What is done at the bench by itself, outside any test."""


def _of_check(library: Library, entry: Entry) -> Iterator[Event]:
    """Give what an answer to a cold check changes: a sign of danger, its cause mended, who is near, the lamp."""
    check = library.cold_checks.get(entry.key)
    option, _, reading = entry.value.partition(" = ")
    answer = check.options.get(option) if check else None
    if check is None or answer is None:
        return
    if answer.alarm:
        yield Event("alarm", "smoke")
    if check.after_alarm and answer.stop is None:
        yield Event("repaired")
    if check.circumstance:
        yield Event("said", check.circumstance, reading or option)
    if check.powered:
        yield Event("power", "on")
        yield Event("power", "off")


def _of_answer(workbench: Workbench, entry: Entry) -> Iterator[Event]:
    offer = workbench.faults.offers.get(entry.key)
    if offer is None:
        return
    if offer.measurement.power != "either":
        yield Event("power", offer.measurement.power, "seen")
    if offer.measurement.kind == "exchange":
        yield Event("power", "on", "seen")
    if "set-off-discharged" in offer.measurement.access:
        yield Event("discharged")
    alarm = ALARM_ANSWERS.get((entry.key, entry.value)) or _alarm_of_reading(offer, entry.value)
    if alarm:
        yield Event("alarm", alarm)
    if entry.key in DRIVE_PROOFS and entry.value != UNSURE:
        yield Event("proved", "horizontal-drive", "good" if _reads_healthy(workbench, entry) else "bad")


def _alarm_of_reading(offer: Offer, text: str) -> str:
    """Return the alarm that a reading is, or ""; one over range is none, since the range is not known."""
    if offer.id not in ALARM_READINGS or offer.measurement.reading is None or text == UNSURE:
        return ""
    reading = read_reading(text, offer.measurement.reading.unit)
    return alarm_of_reading(offer.id, reading.low) if reading.shape in ("value", "range", "above") else ""


def _reads_healthy(workbench: Workbench, entry: Entry) -> bool:
    from backporch.engine.session.assess import read_answer

    reading = read_answer(workbench.faults.offers[entry.key], entry.value)
    band = workbench.faults.bins(entry.key)
    return not isinstance(reading, str) and band.low <= reading.low <= reading.high <= band.high
