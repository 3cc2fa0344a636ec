# SPDX-License-Identifier: MIT
"""A session on disk: an append-only journal, on the disk before the next question is asked.

Each entry is one JSON line, flushed and synchronised before :meth:`Journal.append` returns.  A line
torn by a crash is noticed and dropped when the journal is opened again.  A lock keeps two programs
from writing one session.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout
from platformdirs import user_data_path

from backporch.engine.errors import BackporchError, BadFile, BadInput
from backporch.engine.session.entry import Entry, entry_from

__all__ = ["Journal", "session_folder", "session_name"]

_APPEND = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
_NAME = re.compile(r"^[a-z0-9][a-z0-9._-]{0,79}$")


def session_folder() -> Path:
    """Return the folder of all sessions: $BACKPORCH_HOME, or the platform's place for user data."""
    home = os.environ.get("BACKPORCH_HOME")
    return (Path(home) if home else user_data_path("backporch", appauthor=False)) / "sessions"


def session_name(text: str) -> str:
    """Return ``text`` as the name of a session.

    Raises:
        BadInput: it would not make a plain file name on every system.
    """
    name = text.strip().lower().replace(" ", "-")
    if not _NAME.match(name) or name.endswith("."):
        raise BadInput(
            f"{text!r} cannot name a session. Use letters, digits, dots and hyphens, at most 80, "
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
        self.path = folder / "journal.jsonl"
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._lock = FileLock(folder / "lock", timeout=0)
            self._lock.acquire()
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
        try:
            self.entries = list(self._read())
            self._file = os.open(self.path, _APPEND, stat.S_IRUSR | stat.S_IWUSR)
            _sync_folder(folder)
        except BackporchError:
            self._lock.release()
            raise
        except OSError as error:
            self._lock.release()
            raise BadFile(f"{self.path}: cannot be written ({error.strerror}).") from error

    def append(self, entry: Entry) -> None:
        """Write one entry; it is on the disk when this returns.

        Raises:
            BadFile: the disk is full or went away; what was written before is kept.
        """
        line = json.dumps(entry.plain(), ensure_ascii=False).encode() + b"\n"
        try:
            end = os.fstat(self._file).st_size
            try:
                written = 0
                while written < len(line):
                    written += os.write(self._file, line[written:])
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
        self.entries.append(entry)

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
        raw = self.path.read_bytes()
        whole, torn = raw.rpartition(b"\n")[::2]
        if torn:
            with self.path.open("r+b") as file:
                file.truncate(len(raw) - len(torn))
        for number, line in enumerate(whole.split(b"\n"), 1):
            if not line.strip():
                continue
            try:
                yield entry_from(json.loads(line))
            except (ValueError, RecursionError, BackporchError) as error:
                raise BadFile(
                    f"{self.path}:{number}: this line is damaged ({error}). Remove it to go on without."
                ) from error


def _sync_folder(folder: Path) -> None:
    """Put the folder's own entry on the disk, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
