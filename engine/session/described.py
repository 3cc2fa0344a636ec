# SPDX-License-Identifier: MIT
"""What was said, in words: for lists of answers, remarks in session files, and lessons."""

from __future__ import annotations

from dataclasses import dataclass

from backporch.engine.knowledge.library import Library
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE
from backporch.engine.session.search_entry import found_by_hand, parts_tested
from backporch.engine.session.watch import ACTS

__all__ = ["ANSWERS", "Described", "describe", "remark"]

ANSWERS = ("circumstance", "check", "symptom", "answer", "trace", "skip", "cannot", "repair")
"""Kinds of entries that answer something and can be corrected."""

_REPAIRS = {
    "cured": "changed, and the fault is gone",
    "not-cured": "changed, and the fault is as before",
    "partly": "was bad and is changed; something else is wrong too",
    "renewed": "renewed",
}
_PLAIN = {
    "note": "note to yourself",
    "photo": "photo",
    "resumed": "the session was taken up again",
    "caution": "caution shown",
    "symptoms-done": "all that is seen was said",
}


@dataclass(frozen=True)
class Described:
    """One entry in words: what it is about, and what was said."""

    about: str
    said: str = ""

    def __str__(self) -> str:
        """Return both in one line.

        Example:
            >>> str(Described("Is it there?", "yes")), str(Described("Boost", "310 V"))
            ('Is it there? yes', 'Boost: 310 V')
        """
        if not self.about or not self.said:
            return self.about or self.said
        return f"{self.about}{'' if self.about.endswith('?') else ':'} {self.said}"


def describe(library: Library, entry: Entry) -> Described:
    """Return an entry in words; what the knowledge base does not know is given as it stands.

    Example:
        >>> from backporch.engine.knowledge.library import shipped
        >>> found = describe(shipped(), Entry("answer", "look-at-the-blanking-bar", "sync-darker"))
        >>> found.about
        'Look at the blanking bar'
    """
    if entry.kind == "answer":
        return _answer(library, entry)
    if entry.kind in ("skip", "cannot"):
        left = "left out" if entry.kind == "skip" else "cannot be done here"
        return Described(_title(library, entry.key), left)
    if entry.kind == "circumstance":
        return _circumstance(library, entry)
    if entry.kind == "check" and entry.key in library.cold_checks:
        check = library.cold_checks[entry.key]
        option = check.options.get(entry.value)
        return Described(check.ask, option.say if option else entry.value)
    if entry.kind == "symptom":
        symptom = library.symptoms.get(entry.key)
        return Described(symptom.title if symptom else entry.key, "not there" if entry.value == "no" else "seen")
    if entry.kind == "trace":
        stage, _, port = entry.key.partition(".")
        title = library.stages[stage].title if stage in library.stages else stage
        return Described(f"{title}, {port}", entry.value)
    if entry.kind == "repair":
        return Described(entry.key, _REPAIRS.get(entry.value, entry.value))
    if entry.kind == "search":
        return Described("parts tested by hand", _tested(entry))
    if entry.kind == "found":
        title = library.stages[entry.key].title if entry.key in library.stages else entry.key
        return Described("likeliest now", f"{title} {entry.value}".strip())
    if entry.kind == "watch":
        minutes = " min before" if entry.key == "on" and entry.value else ""
        return Described("while waiting", f"{ACTS.get(entry.key, entry.key)} {entry.value}{minutes}".strip())
    return Described(_PLAIN.get(entry.kind, entry.kind), entry.value)


def _tested(entry: Entry) -> str:
    bad, tested = found_by_hand(entry), parts_tested(entry)
    good = ", ".join(part for part in tested if part != bad)
    return "; ".join(filter(None, (bad and f"{bad} bad", good and f"{good} good")))


def remark(library: Library, entry: Entry) -> str:
    """Return the remark that stands behind an entry in a session file, or "" where it needs none."""
    if entry.kind in ("note", "photo", "symptoms-done"):
        return ""
    words = describe(library, entry)
    if entry.kind in ("caution", "resumed"):
        return words.about
    return str(words)


def _answer(library: Library, entry: Entry) -> Described:
    measurement = library.measurements.get(entry.key.partition("@")[0])
    said = "not sure" if entry.value == UNSURE else entry.value
    if measurement is not None:
        said = measurement.outcomes.get(entry.value, said)
    return Described(_title(library, entry.key), said)


def _title(library: Library, key: str) -> str:
    name, _, target = key.partition("@")
    if name in library.measurements:
        return f"{library.measurements[name].title} {target}".strip()
    if name in library.opening:
        return library.opening[name].ask
    return key


def _circumstance(library: Library, entry: Entry) -> Described:
    if entry.key == "condition":
        condition = library.conditions.get(entry.value)
        return Described("Condition of the set", condition.title if condition else entry.value)
    if entry.key == "moment":
        return Described(
            "The fault", {"happening": "is there now", "quiet": "is not there now"}.get(entry.value, "")
        )
    opening = library.opening.get(entry.key)
    if opening is None:
        return Described(entry.key, entry.value)
    said = "not sure" if entry.value == UNSURE else opening.options.get(entry.value, entry.value)
    return Described(opening.ask, said)
