# SPDX-License-Identifier: MIT
"""Replaces a file in one step, so that a crash leaves the old one or the new one and nothing in between."""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path

__all__ = ["replace_file", "sync_folder"]

_NEW = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
_PRIVATE = stat.S_IRUSR | stat.S_IWUSR


def replace_file(path: Path, text: str) -> None:
    """Put ``text`` in place of the file at ``path``; it is on the disk when this returns.

    Only the owner may read or write a file that is new.

    Raises:
        OSError: it cannot be written; the file that was there is untouched.

    Example:
        >>> from tempfile import TemporaryDirectory
        >>> with TemporaryDirectory() as folder:
        ...     replace_file(Path(folder) / "a.yaml", "schema: 2")
        ...     (Path(folder) / "a.yaml").read_text()
        'schema: 2'
    """
    fresh = path.with_name(path.name + ".new")
    mode = stat.S_IMODE(path.stat().st_mode) if path.is_file() else _PRIVATE
    try:
        handle = os.open(fresh, _NEW, mode)
        try:
            data = text.encode()
            written = 0
            while written < len(data):
                written += os.write(handle, data[written:])
            os.fsync(handle)
        finally:
            os.close(handle)
        os.replace(fresh, path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Put the folder's own entry on the disk, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
