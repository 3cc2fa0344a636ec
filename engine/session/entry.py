# SPDX-License-Identifier: MIT
"""The entries of a session's journal, and what is left of them after every undo."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from backporch.engine.errors import BadInput

__all__ = ["CHANGING", "Entry", "EntryKind", "entry_from", "live"]

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
    "note",
    "caution",
    "resumed",
    "undo",
]
_KINDS = get_args(EntryKind)
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
    "note",
)
_LONGEST = 4000
CHANGING = frozenset({"isolation", "supply-aid", "company", "source"})
"""Circumstances that may change while a session goes on."""


@dataclass(frozen=True)
class Entry:
    """One thing that was said or done: what kind, about what, what value, when."""

    kind: EntryKind
    key: str
    value: str = ""
    at: str = ""
    """ISO 8601 time, UTC; empty in scenarios written by hand."""

    def plain(self) -> dict[str, str]:
        """Return the entry as a mapping without empty fields."""
        return {name: text for name, text in asdict(self).items() if text}


def entry_from(data: Any) -> Entry:
    """Return the entry that a mapping from a file stands for.

    Raises:
        BadInput: it is no entry.
    """
    if not isinstance(data, Mapping) or data.get("kind") not in _KINDS:
        raise BadInput(f"expected an entry with a kind out of {', '.join(_KINDS)}; got {str(data)[:60]!r}")
    unknown = set(data) - {"kind", "key", "value", "at"}
    if unknown:
        raise BadInput(f"unknown field {sorted(map(str, unknown))[0]!r} in an entry")
    texts = {name: str(data.get(name) or "") for name in ("key", "value", "at")}
    if any(len(text) > _LONGEST for text in texts.values()):
        raise BadInput(f"a text in an entry is longer than {_LONGEST} characters")
    return Entry(data["kind"], **texts)


def live(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries that stand after every undo has taken back the last one that can be taken back.

    A second answer to the same question replaces the first.  What may change on the bench while the session
    goes on is kept in its order, since an answer counts by what held when it was given.

    Example:
        >>> one, two = Entry("symptom", "no-raster"), Entry("symptom", "no-sound")
        >>> [entry.key for entry in live([one, two, Entry("undo", "")])]
        ['no-raster']
    """
    standing: list[Entry] = []
    for entry in entries:
        if entry.kind == "undo":
            last = next((n for n in range(len(standing) - 1, -1, -1) if standing[n].kind in _UNDOABLE), None)
            if last is not None:
                del standing[last]
        else:
            standing.append(entry)
    latest = {(e.kind, e.key): n for n, e in enumerate(standing)}
    return tuple(
        e
        for n, e in enumerate(standing)
        if e.kind in ("note", "repair", "check") or e.key in CHANGING or latest[e.kind, e.key] == n
    )
