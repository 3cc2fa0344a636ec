# SPDX-License-Identifier: MIT
"""Writes files that a person asked for, and says in a sentence when that does not work."""

from __future__ import annotations

from pathlib import Path

from backporch.engine.errors import BadFile

__all__ = ["write_file"]


def write_file(path: Path, data: bytes) -> None:
    """Write a file, with the folders above it; a file of that name is replaced.

    Raises:
        BadFile: it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as error:
        why = error.strerror or "it cannot be written"
        raise BadFile(f"{path}: {why}. Choose another place.") from error
