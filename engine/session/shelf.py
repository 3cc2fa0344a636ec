# SPDX-License-Identifier: MIT
"""All sessions on the shelf: which set, which complaint, when it was last touched.

Only the first lines of each file are read, so that thousands of sessions are listed at once.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from backporch.engine.errors import BackporchError, BadInput, UnknownWord
from backporch.engine.session.entry import Entry, entry_from, live
from backporch.engine.session.journal import FILE, JOURNAL
from backporch.engine.session.recorded import short_name, title_of

__all__ = ["Shelved", "choose_session", "matching", "on_the_shelf"]

_HEAD_BYTES = 4096
_TITLE = re.compile(r"^title: (.*)$", re.M)
_CHASSIS = re.compile(r"^chassis: (.*)$", re.M)


@dataclass(frozen=True)
class Shelved:
    """One session as the list shows it."""

    name: str
    chassis: str
    complaint: str
    """What is seen, and what cured it, in words."""
    changed: datetime
    """When it was last written, UTC."""


def on_the_shelf(folder: Path) -> tuple[Shelved, ...]:
    """Return every session in ``folder``, the one touched last first; a damaged one is listed all the same."""
    try:
        names = [entry.name for entry in os.scandir(folder) if entry.is_dir(follow_symlinks=False)]
    except OSError:
        return ()
    found = [shelved for name in names if (shelved := _shelved(folder, name)) is not None]
    return tuple(sorted(found, key=lambda s: (-s.changed.timestamp(), s.name)))


def matching(sessions: Sequence[Shelved], words: str) -> tuple[Shelved, ...]:
    """Return the sessions that have every one of ``words`` in name, set, complaint or date."""
    wanted = words.lower().split()
    return tuple(s for s in sessions if all(word in _searched(s) for word in wanted))


def choose_session(sessions: Sequence[Shelved], text: str) -> Shelved | None:
    """Return the session that a number or name picks, or None where ``text`` is words to look for.

    Args:
        sessions: As they are shown, the first is number 1.
        text: What was typed.
    Raises:
        BadInput: the number is none of the list.
        UnknownWord: no session has such a name, and none fits the words.
    """
    word = "-".join(text.lower().split())
    named = next((s for s in sessions if s.name == word), None)
    if named is not None:
        return named
    if word.isascii() and word.isdigit() and len(word) < 6:
        if not 1 <= int(word) <= len(sessions):
            raise BadInput(f"There is no session {word}; the numbers go from 1 to {len(sessions)}.")
        return sessions[int(word) - 1]
    if not matching(sessions, text):
        raise UnknownWord("session", text.strip()[:60], [s.name for s in sessions])
    return None


def _searched(session: Shelved) -> str:
    return f"{session.name} {session.chassis} {session.complaint} {session.changed:%Y-%m-%d}".lower()


def _shelved(folder: Path, name: str) -> Shelved | None:
    path = os.path.join(folder, name, FILE)
    try:
        with open(path, "rb") as file:
            head = file.read(_HEAD_BYTES).decode("utf-8", "replace")
            changed = os.fstat(file.fileno()).st_mtime
    except OSError:
        return _from_journal(folder / name)
    title, chassis = _TITLE.search(head), _CHASSIS.search(head)
    set_name = short_name(_bare(chassis.group(1)) if chassis else "")
    complaint = (_bare(title.group(1)) if title else "cannot be read").removeprefix(f"{set_name}: ")
    return Shelved(name, set_name, complaint, datetime.fromtimestamp(changed, UTC))


def _from_journal(folder: Path) -> Shelved | None:
    """Return a session that has no readable file yet, or None for a folder that is no session."""
    try:
        with (folder / JOURNAL).open("rb") as file:
            entries = live(_readable_entries(file.read(_HEAD_BYTES * 4)))
            changed = os.fstat(file.fileno()).st_mtime
    except OSError:
        return None
    if not entries:
        return None
    chassis = next((e.value for e in entries if e.kind == "start" and e.key == "chassis"), "")
    complaint = title_of(chassis, entries).removeprefix(f"{short_name(chassis)}: ")
    return Shelved(folder.name, short_name(chassis), complaint, datetime.fromtimestamp(changed, UTC))


def _readable_entries(raw: bytes) -> Iterator[Entry]:
    for line in raw.split(b"\n"):
        try:
            yield entry_from(json.loads(line))
        except (ValueError, RecursionError, BackporchError):
            continue


def _bare(text: str) -> str:
    """Return a YAML value of one line without its quotes."""
    text = text.strip()
    if len(text) > 1 and text[0] == text[-1] == '"':
        try:
            return str(json.loads(re.sub(r"\\x([0-9a-f]{2})", r"\\u00\1", text)))
        except ValueError:
            return text[1:-1]
    return text
