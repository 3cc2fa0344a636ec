# SPDX-License-Identifier: MIT
"""Keeps the tables of a fault dictionary on disk under the hash of all that they follow from.

A damaged or unwritable file is never an error: the tables are then computed again.  Two builders at once
each write a file of their own and move it into place.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import zipfile
from contextlib import suppress
from dataclasses import fields
from functools import cache
from pathlib import Path

import numpy as np

from backporch.engine.chassis.dictionary import DRAWS, SEED, Tables, Watch, build_tables
from backporch.engine.chassis.model import Chassis
from backporch.engine.knowledge.library import Library

__all__ = ["cache_folder", "cached_tables", "content_key"]


def cache_folder() -> Path:
    """Return the folder of cached dictionaries: BACKPORCH_CACHE, or the user's cache folder."""
    chosen = os.environ.get("BACKPORCH_CACHE")
    if chosen:
        return Path(chosen)
    from platformdirs import user_cache_path

    return user_cache_path("backporch")


def cached_tables(chassis: Chassis, library: Library, watch: Watch = iter) -> Tables:
    """Return the tables of a chassis from the disk, or compute and keep them."""
    path = cache_folder() / f"faults-{content_key(chassis, library)[:32]}.npz"
    found = _read(path)
    if found is None:
        found = build_tables(chassis, library, watch=watch)
        _write(path, found)
    return found


def content_key(chassis: Chassis, library: Library) -> str:
    """Return a hash of the chassis, the kinds of parts and the code of the simulator."""
    digest = hashlib.sha256(_code_hash())
    digest.update(chassis.model_dump_json().encode())
    for name in sorted(library.part_kinds):
        digest.update(f"{name}{library.part_kinds[name].model_dump_json()}".encode())
    digest.update(f"{DRAWS},{SEED},{np.__version__}".encode())
    return digest.hexdigest()


@cache
def _code_hash() -> bytes:
    """Return a hash of the code of chassis and circuits, which does not change while we run."""
    here = Path(__file__).resolve().parent
    digest = hashlib.sha256()
    for folder in (here, here.parent / "circuits"):
        for path in sorted(folder.rglob("*.py")):
            digest.update(path.name.encode() + path.read_bytes())
    return digest.digest()


def _read(path: Path) -> Tables | None:
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            tables: dict[str, dict[str, np.ndarray]] = {field.name: {} for field in fields(Tables)}
            for name in archive.files:
                table, _, key = name.partition("|")
                tables[table][key] = archive[name]
            return Tables(**tables) if all(tables.values()) else None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def _write(path: Path, tables: Tables) -> None:
    flat = {
        f"{field.name}|{key}": values
        for field in fields(Tables)
        for key, values in getattr(tables, field.name).items()
    }
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as file:
            try:
                np.savez(file, **flat)
            except OSError:
                Path(file.name).unlink(missing_ok=True)
                raise
        os.replace(file.name, path)
