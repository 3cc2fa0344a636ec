# SPDX-License-Identifier: MIT
"""Where rigs are found: a file, one saved by its owner, or an example that comes with the program."""

from __future__ import annotations

import re
from pathlib import Path

import yaml

from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.rigs import Rig, read_rig
from backporch.engine.session.journal import session_folder

__all__ = ["find_rig", "rig_place", "save_rig"]

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,60}")


def _folder() -> Path:
    return session_folder().parent / "rigs"


def find_rig(name: str, library: Library) -> Rig:
    """Return the rig of a name or a file.

    Raises:
        UnknownWord: there is none of that name.
        BackporchError: its file is wrong.
    """
    saved = _folder() / f"{name}.yaml"
    if _NAME.fullmatch(name) and saved.is_file():
        return read_rig(saved)
    if name in library.rigs:
        return library.rigs[name]
    if Path(name).is_file():
        return read_rig(Path(name))
    own = sorted(p.stem for p in _folder().glob("*.yaml")) if _folder().is_dir() else []
    raise UnknownWord("rig", name, [*own, *library.rigs])


def rig_place(name: str) -> str:
    """Return a rig as a session keeps it: a file by its whole path, a name as it is."""
    return str(Path(name).resolve()) if name and Path(name).is_file() else name


def save_rig(name: str, rig: Rig) -> Path:
    """Save a rig under a name, so that ``diagnose --rig NAME`` finds it; return the file.

    Raises:
        BadInput: it is no name for a file.
    """
    if not _NAME.fullmatch(name):
        raise BadInput(f"{name!r} is no name for a rig: use letters, digits and hyphens.")
    data = rig.model_dump(mode="json", by_alias=True, exclude_none=True)
    for field, unit in (
        ("horizontal_yoke", "H"),
        ("vertical_yoke", "H"),
        ("lead", "m"),
        ("glass", "m"),
        ("foil", "m2"),
    ):
        if field in data:
            data[field] = f"{data[field]:g} {unit}"
    path = _folder() / f"{name}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(yaml.safe_dump(data, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return path
