# SPDX-License-Identifier: MIT
"""The cold check as a pure function of the entries: which check comes next, and what its readings tell.

A check that stops, was skipped or is not sure is asked again until it passes.  A check whose answer is a
reading is saved as "answer = reading", and the reading counts in the diagnosis, since it was made without power.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from backporch.engine.chassis.model import Chassis
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import ColdCheck
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE, Option, Question, choose
from backporch.engine.session.reading import read_reading
from backporch.engine.units import parse

__all__ = [
    "check_question",
    "check_value",
    "checks_after",
    "cold_checks_for",
    "cold_readings",
    "next_check",
    "passes",
    "passes_all",
    "with_cold_readings",
]

_SIGN = " = "
_AGAIN = ("burnt", "b-plus-ohms", "b-plus-ohms-reversed")
"""Cold checks that are made again after power through the lamp showed a fault, or a sign of danger was seen."""


def cold_checks_for(library: Library, chassis: Chassis) -> list[str]:
    """Return the names of the cold checks that concern a chassis, in their order."""
    return [
        name
        for name, check in library.cold_checks.items()
        if all(str(getattr(chassis, trait)) in values for trait, values in check.traits.items())
    ]


def checks_after(library: Library, said: Mapping[str, str], entry: Entry) -> dict[str, str]:
    """Return the standing answers to the cold checks after one more entry.

    A bad sign under power arms some checks again, and the question after the cause where it was one of danger.
    """
    if entry.kind == "alarm":
        return _armed(library, said, alarmed=True)
    if entry.kind == "resumed":
        return _resumed(library, said)
    if entry.kind != "check":
        return dict(said)
    now = {**said, entry.key: entry.value}
    check = library.cold_checks.get(entry.key)
    if check is not None and check.powered and not passes(library, entry.key, entry.value):
        answer = check.options.get(_option(entry.value))
        return _armed(library, now, alarmed=answer is not None and answer.alarm)
    return now


def _resumed(library: Library, said: Mapping[str, str]) -> dict[str, str]:
    """Return ``said`` after a pause: before the first power, who is near and which lamp it is are asked anew."""
    checks = library.cold_checks
    if any(
        checks[name].powered and passes(library, name, value) for name, value in said.items() if name in checks
    ):
        return dict(said)
    return {name: value for name, value in said.items() if name not in checks or not checks[name].circumstance}


def _armed(library: Library, said: Mapping[str, str], *, alarmed: bool) -> dict[str, str]:
    """Return ``said`` without what must be answered anew; the cause of an alarm is asked for from now on."""
    powered = {name for name, check in library.cold_checks.items() if check.powered}
    asked_again = {*_AGAIN, *powered} if alarmed else set(_AGAIN)
    now = {name: answer for name, answer in said.items() if name not in asked_again}
    if alarmed:
        now |= {name: "" for name, check in library.cold_checks.items() if check.after_alarm}
    return now


def passes(library: Library, check: str, value: str) -> bool:
    """Tell whether an answer to a check lets things go on."""
    answer = library.cold_checks[check].options.get(_option(value)) if check in library.cold_checks else None
    return answer is not None and answer.stop is None


def passes_all(library: Library, chassis: Chassis, said: Mapping[str, str]) -> bool:
    """Tell whether every check that concerns the chassis, and was armed, passes."""
    return all(passes(library, name, said.get(name, "")) for name in _wanted(library, chassis, said))


def _wanted(library: Library, chassis: Chassis, said: Mapping[str, str]) -> Iterator[str]:
    for name in cold_checks_for(library, chassis):
        if not library.cold_checks[name].after_alarm or name in said:
            yield name


def next_check(library: Library, chassis: Chassis, entries: Sequence[Entry]) -> Question | None:
    """Return the next cold check, or None where the condition of the set asks for none or all pass."""
    condition = next((e.value for e in reversed(entries) if e.kind == "circumstance" and e.key == "condition"), "")
    if condition in library.conditions and not library.conditions[condition].cold_check:
        return None
    said: dict[str, str] = {}
    for entry in entries:
        said = checks_after(library, said, entry)
    for name in _wanted(library, chassis, said):
        if not passes(library, name, said.get(name, "")):
            return check_question(library, name, said.get(name, ""))
    return None


def check_question(library: Library, name: str, value: str = "") -> Question:
    """Return the question of one cold check, with what must be mended where ``value`` stops."""
    check = library.cold_checks[name]
    answer = check.options.get(_option(value))
    options = tuple(Option(key, a.say) for key, a in check.options.items())
    return Question(
        name,
        "check",
        check.ask,
        options,
        unit=check.unit,
        help=check.do,
        stop=answer.stop if answer is not None and answer.stop else "",
    )


def check_value(library: Library, question: Question, text: str) -> str:
    """Return what is saved for an answer to a check: an option, or "option = reading" where it is a reading.

    Raises:
        BadInput: it is neither, or not sure.
    """
    check = library.cold_checks[question.id]
    try:
        key = "" if check.reading_only or _bare_number(check, text) else choose(question, text)
    except BadInput:
        if not check.unit:
            raise
        key = ""
    if key == UNSURE:
        raise BadInput("Not sure counts as not passed: find out first, or quit; all is saved.")
    if key:
        return key
    reading = read_reading(text, check.unit)
    if reading.shape in ("unsure", "none"):
        raise BadInput(f"A reading in {check.unit} is wanted, such as 47k, OL or <5; or quit; all is saved.")
    found = next(name for name, answer in check.options.items() if _within(answer.least, check.unit, reading.low))
    return f"{found}{_SIGN}{text.strip()}"


def _bare_number(check: ColdCheck, text: str) -> bool:
    """Tell whether ``text`` is a figure that would be taken for the number of an option."""
    return bool(check.unit) and text.strip().isdigit()


def _within(least: str | None, unit: str, value: float) -> bool:
    return least is None or value >= parse(least, unit)


def _option(value: str) -> str:
    return value.partition(_SIGN)[0]


def cold_readings(entries: Iterable[Entry]) -> dict[str, str]:
    """Return the readings saved with the cold checks, by check."""
    return {e.key: e.value.partition(_SIGN)[2] for e in entries if e.kind == "check" and _SIGN in e.value}


def with_cold_readings(library: Library, entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the entries with the readings of cold checks also as answers, where nobody answered since."""
    answered = {e.key for e in entries if e.kind == "answer"}
    found: list[Entry] = []
    last = {e.key: n for n, e in enumerate(entries) if e.kind == "check"}
    for n, entry in enumerate(entries):
        found.append(entry)
        check = library.cold_checks.get(entry.key) if entry.kind == "check" and last[entry.key] == n else None
        reading = entry.value.partition(_SIGN)[2]
        if check is not None and check.answers and reading and check.answers not in answered:
            found.append(Entry("answer", check.answers, reading, entry.at))
    return tuple(found)
