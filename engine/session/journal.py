# SPDX-License-Identifier: MIT
"""A session on disk: an append-only journal, on the disk before the next question is asked.

Each entry is one JSON line, flushed and synchronised before :meth:`Journal.append` returns.  A line
torn by a crash is noticed and dropped when the journal is opened again.  Beside it stands the same
session as a scenario file that a person can read and change (``session.yaml``): replaced in one step
after every entry, and taken over where it was changed by hand.  A lock keeps two programs from
writing one session.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import stat
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout
from platformdirs import user_data_path

from backporch.engine.errors import BackporchError, BadFile, BadInput
from backporch.engine.knowledge.yaml_file import read_text
from backporch.engine.session.atomic import replace_file, sync_folder
from backporch.engine.session.entry import Entry, entry_from, live
from backporch.engine.session.migrations import SCHEMA
from backporch.engine.session.recorded import entries_of, scenario_of
from backporch.engine.session.scenario import load_session
from backporch.engine.session.scenario_text import as_yaml

__all__ = ["FILE", "JOURNAL", "Journal", "session_folder", "session_name"]

FILE, JOURNAL = "session.yaml", "journal.jsonl"
"""Names of the readable file and of the journal in the folder of a session."""

_APPEND = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
_NAME = re.compile(r"^[a-z0-9][a-z0-9._-]{0,79}$")
_RESERVED = re.compile(r"^(?:con|prn|aux|nul|com\d|lpt\d)(?:\.|$)")
_LARGEST_BYTES = 50_000_000
_BEHIND = 3
"""By how many entries a crash may have left the readable file behind the journal."""


def session_folder() -> Path:
    """Return the folder of all sessions: $BACKPORCH_HOME, or the platform's place for user data."""
    home = os.environ.get("BACKPORCH_HOME")
    return (Path(home) if home else user_data_path("backporch", appauthor=False)) / "sessions"


def session_name(text: str) -> str:
    """Return ``text`` as the name of a session.

    Raises:
        BadInput: it would not make a plain file name on every system.

    Example:
        >>> session_name("Farm set 2")
        'farm-set-2'
    """
    name = "-".join(text.strip().lower().split())
    if not _NAME.match(name) or name.endswith(".") or _RESERVED.match(name):
        raise BadInput(
            f"{text[:100]!r} cannot name a session. Use letters, digits, dots and hyphens, at most 80, "
            "beginning with a letter or digit."
        )
    return name


class Journal:
    """One open session; use it as a context manager."""

    def __init__(self, folder: Path) -> None:
        """Open the session in ``folder``, which is made where it does not exist.

        Raises:
            BadFile: the folder cannot be written, or another program has the session open.
        """
        self.folder = folder
        self.path = folder / JOURNAL
        self.readable = folder / FILE
        self.explain: Callable[[Entry], str] | None = None
        """Gives the remark behind an entry in the readable file."""
        self.edited = False
        """Whether the readable file had been changed by hand, and was taken over."""
        self._lock = _locked(folder)
        try:
            self.entries = list(self._read())
            self._file = os.open(self.path, _APPEND, stat.S_IRUSR | stat.S_IWUSR)
        except BackporchError:
            self._lock.release()
            raise
        except OSError as error:
            self._lock.release()
            raise BadFile(f"{self.path}: cannot be written ({error.strerror}).") from error
        try:
            sync_folder(folder)
            self._take_over()
        except BackporchError:
            self.close()
            raise

    def append(self, *entries: Entry) -> None:
        """Write entries; they are on the disk when this returns, and the readable file has them.

        Raises:
            BadFile: the disk is full or went away; what was written before is kept.
        """
        self._write(entries)
        self.entries.extend(entries)
        self.write_readable()

    def write_readable(self) -> None:
        """Replace the readable file by what stands now.

        Raises:
            BadFile: it cannot be written; the journal has every answer all the same.
        """
        standing = live(self.entries)
        if not standing:
            return
        try:
            replace_file(self.readable, as_yaml(scenario_of(standing), self.explain))
        except OSError as error:
            raise BadFile(
                f"{self.readable}: cannot be written ({error.strerror}). Every answer is kept; make room on the "
                "disk and resume."
            ) from error

    def _write(self, entries: Iterable[Entry]) -> None:
        lines = b"".join(json.dumps(e.plain(), ensure_ascii=False).encode() + b"\n" for e in entries)
        try:
            end = os.fstat(self._file).st_size
            try:
                written = 0
                while written < len(lines):
                    written += os.write(self._file, lines[written:])
                os.fsync(self._file)
            except OSError:
                with contextlib.suppress(OSError):
                    os.ftruncate(self._file, end)
                raise
        except OSError as error:
            raise BadFile(
                f"{self.path}: the answer could not be saved ({error.strerror}). Everything before it "
                "is kept; make room on the disk and resume."
            ) from error

    def close(self) -> None:
        """Close the file and let others open the session."""
        with contextlib.suppress(OSError):
            os.close(self._file)
        self._lock.release()

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _read(self) -> Iterator[Entry]:
        if not self.path.exists():
            return
        if not self.path.is_file() or self.path.stat().st_size > _LARGEST_BYTES:
            raise BadFile(f"{self.path}: is no journal of a session. Begin another with --session NAME.")
        raw = self.path.read_bytes()
        written = raw.rstrip(b"\0")
        whole = written[: written.rfind(b"\n") + 1]
        if len(whole) < len(raw):
            with self.path.open("r+b") as file:
                file.truncate(len(whole))
        for number, line in enumerate(whole.split(b"\n"), 1):
            if not line.strip():
                continue
            try:
                entry = entry_from(json.loads(line))
                _known_schema(entry)
                yield entry
            except (ValueError, RecursionError, BackporchError) as error:
                raise BadFile(
                    f"{self.path}:{number}: this line is damaged ({error}). Remove it to go on without."
                ) from error

    def _take_over(self) -> None:
        """Take over what was changed in the readable file by hand, and write it where a crash left it behind."""
        if self.readable.is_symlink():
            raise BadFile(f"{self.readable}: is a link. Put the file itself there, or remove the link.")
        if not self.readable.exists():
            return
        if self._untouched():
            return
        try:
            said = entries_of(load_session(self.readable)) if self.entries else ()
        except BadFile as error:
            raise BadFile(f"{error}\nMend the file, or remove it: {JOURNAL} beside it has every answer.") from None
        if not self.entries or any(said == _normal(self.entries[:end]) for end in self._ends()):
            return
        self.edited = True
        self.append(Entry("edited", ""), *said)

    def _untouched(self) -> bool:
        """Tell whether the readable file is what was written last, whatever remarks stand behind its lines."""
        standing = live(self.entries)
        try:
            lines = read_text(self.readable).split("\n") if standing else []
        except BadFile:
            return False
        written = as_yaml(scenario_of(standing)).split("\n") if standing else [""]
        return len(lines) == len(written) and all(
            line == own or (own.endswith("}") and line.startswith(f"{own}  # "))
            for line, own in zip(lines, written, strict=True)
        )

    def _ends(self) -> range:
        count = len(self.entries)
        return range(count, max(count - _BEHIND, 0) - 1, -1)


def _normal(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    standing = live(entries)
    return entries_of(scenario_of(standing)) if standing else ()


def _known_schema(entry: Entry) -> None:
    if entry.kind == "start" and entry.key == "schema" and entry.value.isdigit() and int(entry.value) > SCHEMA:
        raise BadFile(f"schema {entry.value} was written by a newer backporch; bring this one up to date")


def _locked(folder: Path) -> FileLock:
    """Return the lock of a session, taken; the folder is made where it does not exist, for its owner alone."""
    if folder.is_symlink():
        raise BadFile(f"{folder}: is a link and no session. Begin another with --session NAME.")
    try:
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        lock = FileLock(folder / "lock", timeout=0, mode=0o600)
        lock.acquire()
    except Timeout:
        raise BadFile(
            f"{folder.name}: this session is open in another program. Close it there, or begin another "
            "with --session NAME."
        ) from None
    except OSError as error:
        raise BadFile(
            f"{folder}: the session cannot be saved here ({error.strerror}). Set BACKPORCH_HOME to a "
            "folder that you can write to."
        ) from error
    return lock
