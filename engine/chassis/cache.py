# SPDX-License-Identifier: MIT
"""Keeps the tables of a fault dictionary on disk under the hash of all that they follow from.

A damaged or unwritable file is never an error: the tables are then computed again.  Two builders at once
each write a file of their own and move it into place.
"""

from __future__ import annotations

import hashlib
import io
import os
import time
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.tables import DRAWS, SEED, Tables, Watch, build_tables
from backporch.engine.knowledge.kept import cache_folder, kept_data, put_in_cache
from backporch.engine.knowledge.library import Library

__all__ = ["cached_tables", "content_key", "healthy_values"]

KEPT_DAYS = 90


def cached_tables(chassis: Chassis, library: Library, watch: Watch = iter) -> Tables:
    """Return the tables of a chassis from the disk, or compute and keep them."""
    path = cache_folder() / f"faults-{content_key(chassis, library)[:32]}.npz"
    found = _read(path)
    if found is None:
        found = build_tables(chassis, library, watch=watch)
        _write(path, found)
        _clear_out(path.parent)
    return found


def healthy_values(chassis: Chassis) -> Mapping[str, float]:
    """Return the values of a healthy set with nominal parts by "point.quantity", kept on disk."""
    text = chassis.model_dump_json().encode()
    place = cache_folder() / f"healthy-{hashlib.sha256(text).hexdigest()[:32]}.json"
    values: Mapping[str, float] = kept_data(place, _code_hash() + text, lambda: _simulated(chassis))
    return values


def _simulated(chassis: Chassis) -> dict[str, float]:
    from backporch.engine.chassis.parts import healthy_batch
    from backporch.engine.chassis.simulator import simulate

    values = simulate(chassis, healthy_batch(chassis)).values
    return {key: float(value.ravel()[0]) for key, value in values.items()}


def _clear_out(folder: Path) -> None:
    """Remove what nothing has read for :data:`KEPT_DAYS`: each dictionary takes some 13 MB."""
    with suppress(OSError):
        for path in (*folder.glob("faults-*.npz"), *folder.glob("healthy-*.json")):
            if path.stat().st_mtime < time.time() - 86_400 * KEPT_DAYS:
                path.unlink(missing_ok=True)


def content_key(chassis: Chassis, library: Library) -> str:
    """Return a hash of the chassis, the kinds of parts and the code of the simulator."""
    digest = hashlib.sha256(_code_hash())
    digest.update(chassis.model_dump_json().encode())
    for name in sorted(library.part_kinds):
        digest.update(f"{name}{library.part_kinds[name].model_dump_json()}".encode())
    for table in (library.tube_fits, library.picture_tubes):
        for name in sorted(table):
            digest.update(f"{name}{table[name].model_dump_json()}".encode())
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
        with suppress(OSError):
            os.utime(path)
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            tables = Tables(**{field.name: _apart(archive, field.name) for field in fields(Tables)})
            return tables if all(getattr(tables, field.name) for field in fields(Tables)) else None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def _write(path: Path, tables: Tables) -> None:
    content = io.BytesIO()
    pieces: dict[str, Any] = {k: v for f in fields(Tables) for k, v in _joined(f.name, getattr(tables, f.name))}
    np.savez(content, **pieces)
    put_in_cache(path, content.getvalue())


def _joined(name: str, table: Mapping[str, NDArray[np.float32]]) -> Iterator[tuple[str, NDArray[Any]]]:
    """Give the arrays of one table joined to one, with their keys and lengths: many small ones load slowly."""
    yield name, np.concatenate(list(table.values()))
    yield f"{name}-keys", np.array(list(table))
    yield f"{name}-ends", np.cumsum([len(values) for values in table.values()])


def _apart(archive: Mapping[str, NDArray[Any]], name: str) -> dict[str, NDArray[np.float32]]:
    keys, ends = archive[f"{name}-keys"], archive[f"{name}-ends"]
    pieces = np.split(archive[name], ends[:-1])
    return {str(key): piece for key, piece in zip(keys, pieces, strict=True)}
