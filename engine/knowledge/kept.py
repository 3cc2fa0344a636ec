# SPDX-License-Identifier: MIT
"""Keeps plain data in the user's cache folder, such as that of the shipped YAML files: a start need not read YAML.

A kept copy counts only where its first line is the hash of all that the data follow from (for YAML the reader's
code and the file's text) and of the copy itself: one that is damaged, old or another's is never believed, and
the data are made again.  YAML that is believed is checked against the models like any other.  Writers each make
a file of their own and move it into place, so two programs at once do no harm; a folder that cannot be written
is no error.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from backporch.engine.knowledge import yaml_file
from backporch.engine.knowledge.yaml_file import Document, Place, read_text, yaml_from_text

__all__ = ["cache_folder", "kept_data", "kept_yaml", "put_in_cache"]

_LARGEST_BYTES = 16_000_000


def cache_folder() -> Path:
    """Return the folder of what may be computed again: BACKPORCH_CACHE, or the user's cache folder."""
    chosen = os.environ.get("BACKPORCH_CACHE")
    if chosen:
        return Path(chosen)
    from platformdirs import user_cache_path

    return user_cache_path("backporch")


def kept_yaml(path: Path) -> Document:
    """Return a YAML file, from its kept copy where there is one, and keep one where there is none.

    Raises:
        BadFile: the file cannot be read or is not plain YAML.
    """
    text = read_text(path)
    place = cache_folder() / "yaml" / f"{path.stem}-{hashlib.sha256(str(path).encode()).hexdigest()[:16]}.json"
    of = _reader_hash() + text.encode("utf-8", "surrogatepass")
    return Document(
        str(path), kept_data(place, of, lambda: yaml_from_text(text, str(path)).data), _LaterLines(path)
    )


def kept_data(place: Path, of: bytes, compute: Callable[[], Any]) -> Any:
    """Return plain data from its copy at ``place``, or compute and keep it.

    Args:
        place: Where the copy stands.
        of: All that the data follow from; a copy that was made of anything else is not believed.
        compute: Gives the data, as JSON can hold them.
    """
    found, data = _read(place, of)
    if found:
        return data
    data = compute()
    body = json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")
    put_in_cache(place, _seal(of, body) + b"\n" + body)
    return data


def put_in_cache(place: Path, content: bytes) -> None:
    """Put ``content`` at ``place`` in one step, or leave it where the disk does not want it."""
    with suppress(OSError):
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=place.parent, suffix=".part", delete=False) as file:
            try:
                file.write(content)
            except OSError:
                Path(file.name).unlink(missing_ok=True)
                raise
        os.replace(file.name, place)


def _read(place: Path, of: bytes) -> tuple[bool, Any]:
    """Return whether there is a copy to be believed, and its data."""
    try:
        if place.stat().st_size > _LARGEST_BYTES:
            return False, None
        seal, _, body = place.read_bytes().partition(b"\n")
        return (True, json.loads(body)) if seal == _seal(of, body) else (False, None)
    except (OSError, ValueError, RecursionError):
        return False, None


def _seal(of: bytes, body: bytes) -> bytes:
    digest = hashlib.sha256()
    for piece in (of, body):
        digest.update(len(piece).to_bytes(8, "big") + piece)
    return digest.hexdigest().encode()


@cache
def _reader_hash() -> bytes:
    """Return a hash of the code that makes plain data of YAML; where it cannot be read no copy is believed."""
    try:
        return hashlib.sha256(Path(yaml_file.__file__).read_bytes()).digest()
    except OSError:
        return os.urandom(32)


class _LaterLines(Mapping[Place, int]):
    """The lines of a file, read only when a mistake has to be told."""

    def __init__(self, path: Path) -> None:
        self._path = path

    @cached_property
    def _lines(self) -> Mapping[Place, int]:
        return yaml_from_text(read_text(self._path), str(self._path)).lines

    def __getitem__(self, place: Place) -> int:
        return self._lines[place]

    def __iter__(self) -> Iterator[Place]:
        return iter(self._lines)

    def __len__(self) -> int:
        return len(self._lines)
