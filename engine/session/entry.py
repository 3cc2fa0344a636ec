# SPDX-License-Identifier: MIT
"""The entries of a session's journal, and what is left of them after every undo."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal, get_args

from backporch.engine.errors import BadInput

__all__ = ["CHANGING", "KINDS", "Entry", "EntryKind", "entry_from", "live"]

EntryKind = Literal[
    "start",
    "circumstance",
    "symptom",
    "symptoms-done",
    "answer",
    "trace",
    "check",
    "skip",
    "cannot",
    "repair",
    "search",
    "note",
    "photo",
    "watch",
    "caution",
    "resumed",
    "found",
    "edited",
    "act",
    "alarm",
    "undo",
]
KINDS: tuple[str, ...] = get_args(EntryKind)
"""Every kind of entry."""
_UNDOABLE = (
    "circumstance",
    "symptom",
    "symptoms-done",
    "answer",
    "trace",
    "check",
    "skip",
    "cannot",
    "repair",
    "search",
    "note",
    "photo",
    "watch",
)
_MANY = ("note", "photo", "watch", "repair", "search", "check", "alarm", "resumed")
"""Kinds of which a second entry with the same key does not replace the first."""
_LONGEST = 4000
_LONGEST_START = 100_000
CHANGING = frozenset(
    {"isolation", "supply-aid", "lamp-power", "variable-volts", "company", "source", "moment", "alarm-cause"}
)
"""Circumstances that may change while a session goes on."""


@dataclass(frozen=True)
class Entry:
    """One thing that was said or done: what kind, about what, what value, when."""

    kind: EntryKind
    key: str
    value: str = ""
    at: str = ""
    """ISO 8601 time, UTC; empty in scenarios written by hand."""
    of: str = field(default="", repr=False)
    """"kind key" of the standing entry that this one corrects, in whose place it then stands."""

    def plain(self) -> dict[str, str]:
        """Return the entry as a mapping without empty fields."""
        return {name: text for name, text in asdict(self).items() if text}

    @property
    def name(self) -> str:
        """What a correction calls the entry: "kind key"."""
        return f"{self.kind} {self.key}"


def entry_from(data: Any) -> Entry:
    """Return the entry that a mapping from a file stands for.

    Raises:
        BadInput: it is no entry.
    """
    if not isinstance(data, Mapping) or data.get("kind") not in KINDS:
        raise BadInput(f"expected an entry with a kind out of {', '.join(KINDS)}; got {str(data)[:60]!r}")
    unknown = set(data) - {"kind", "key", "value", "at", "of"}
    if unknown:
        raise BadInput(f"unknown field {sorted(map(str, unknown))[0][:60]!r} in an entry")
    texts = {name: str(data.get(name) or "") for name in ("key", "value", "at", "of")}
    longest = _LONGEST_START if data["kind"] == "start" else _LONGEST
    if any(len(text) > longest for text in texts.values()):
        raise BadInput(f"a text in an entry is longer than {longest} characters")
    return Entry(data["kind"], **texts)


def live(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries that stand after every undo has taken back the last one that can be taken back.

    A sign of danger that was reported is never taken back nor edited away: it stands until its cause is said to
    be mended.

    A second answer to the same question replaces the first; a correction stands where the corrected one
    stood, and undo brings that one back.  What may change on the bench while the session goes on is kept in
    its order, since an answer counts by what held when it was given.  After a session file was edited by
    hand, what the file said stands in place of everything before.

    Example:
        >>> one, two = Entry("symptom", "no-raster"), Entry("symptom", "no-sound")
        >>> [entry.key for entry in live([one, two, Entry("undo", "")])]
        ['no-raster']
        >>> right = Entry("symptom", "no-light", of="symptom no-raster")
        >>> [entry.key for entry in live([one, two, right])]
        ['no-light', 'no-sound']
    """
    places: list[Entry | None] = []
    done: list[tuple[int, Entry | None]] = []
    for entry in entries:
        if entry.kind == "undo":
            if done:
                place, before = done.pop()
                places[place] = before
        elif entry.kind == "edited":
            places, done = [e for e in places if e is not None and _of_alarm(e)], []
        else:
            _take(entry, places, done)
    standing = [entry for entry in places if entry is not None]
    latest = {_slot(e): n for n, e in enumerate(standing)}
    return tuple(
        e for n, e in enumerate(standing) if e.kind in _MANY or e.key in CHANGING or latest[_slot(e)] == n
    )


def _slot(entry: Entry) -> tuple[str, str]:
    """Return what only one standing entry may be about; a session comes to one end."""
    return (entry.kind, "" if entry.kind == "found" else entry.key)


def _take(entry: Entry, places: list[Entry | None], done: list[tuple[int, Entry | None]]) -> None:
    """Put an entry in its place, and note how it is taken back."""
    place = len(places)
    if entry.of:
        found = (n for n in range(len(places) - 1, -1, -1) if _is(places[n], entry.of))
        place = next(found, place)
        entry = replace(entry, of="")
    if place == len(places):
        places.append(None)
    if entry.kind in _UNDOABLE:
        done.append((place, places[place]))
    places[place] = entry


def _of_alarm(entry: Entry) -> bool:
    """Tell whether an entry reports a sign of danger, or that its cause was mended."""
    return entry.kind == "alarm" or (entry.kind == "circumstance" and entry.key == "alarm-cause")


def _is(entry: Entry | None, name: str) -> bool:
    return entry is not None and entry.kind != "alarm" and entry.name == name
