# SPDX-License-Identifier: MIT
"""The bench of one person as a file: which instruments are at hand, and what takes longer or shorter there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from backporch.engine.errors import nearest
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.validation import Frozen, Minutes, checked, fail_together
from backporch.engine.knowledge.yaml_file import Document, read_yaml

__all__ = ["BenchFile", "load_bench_file"]

_Minutes = Annotated[Minutes, Field(le=600)]


class BenchFile(Frozen):
    """What a bench file may say; everything but the schema may be left out."""

    schema_: Literal[1] = Field(alias="schema")
    has: tuple[str, ...] = Field((), description="Instruments beside the common ones.")
    lacks: tuple[str, ...] = Field((), description="Common instruments that are not there.")
    minutes: dict[str, _Minutes] = Field(
        default_factory=dict, description="Minutes of measurements and bench states by name."
    )
    replace_minutes: dict[str, _Minutes] = Field(
        default_factory=dict, description="Minutes of changing a part, by kind of part."
    )
    search_minutes: _Minutes | None = Field(
        None, description="Minutes to find by other means what nothing on the list explains."
    )


def load_bench_file(path: Path, library: Library) -> BenchFile:
    """Read and check a bench file.

    Raises:
        BadFile: it is not one; every mistake is named with its line and the nearest right word.
    """
    document = read_yaml(path)
    bench = checked(BenchFile, document)
    fail_together(_unknown_words(bench, document, library))
    return bench


def _unknown_words(bench: BenchFile, document: Document, library: Library) -> Iterator[str]:
    timed = {**library.measurements, **library.bench_states}
    fields: tuple[tuple[str, tuple[str, ...], Mapping[str, object], str], ...] = (
        ("has", bench.has, library.instruments, "instrument"),
        ("lacks", bench.lacks, library.instruments, "instrument"),
        ("minutes", tuple(bench.minutes), timed, "measurement or bench state"),
        ("replace_minutes", tuple(bench.replace_minutes), library.part_kinds, "kind of part"),
    )
    for field, words, known, what in fields:
        for n, word in enumerate(words):
            if word not in known:
                near = nearest(word, known)
                hint = f" Did you mean {near[0]!r}?" if near else ""
                place = (field, n) if field in ("has", "lacks") else (field, word)
                yield f"{document.name}:{document.line(place)}: {field}: unknown {what} {word!r}.{hint}"
