# SPDX-License-Identifier: MIT
"""Lessons on disk: each run is a journal beside the sessions; progress is what the finished ones say."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from backporch.engine.errors import BackporchError, BadFile
from backporch.engine.session.entry import Entry, entry_from
from backporch.engine.session.journal import session_folder, session_name
from backporch.engine.training.lesson import Ladder
from backporch.engine.training.score import Result, mastered

__all__ = [
    "Record",
    "as_csv",
    "kept_result",
    "mastered_lessons",
    "open_run",
    "records",
    "result_entry",
    "training_folder",
]

_RESULT = "result"
_FIELDS = {f.name: f.type for f in fields(Result)}


@dataclass(frozen=True)
class Record:
    """One finished run of somebody."""

    learner: str
    at: str
    """When it ended, ISO 8601, UTC."""
    result: Result


def training_folder(learner: str) -> Path:
    """Return the folder of all runs of one learner, beside the sessions."""
    return session_folder().parent / "training" / session_name(learner)


def result_entry(result: Result, at: str) -> Entry:
    """Return the entry that ends the journal of a run."""
    return Entry("note", _RESULT, json.dumps(asdict(result)), at)


def kept_result(entries: Iterable[Entry], name: str = "journal") -> Result | None:
    """Return the result that a journal ends with, or None where the run goes on.

    Raises:
        BadFile: the entry is damaged.
    """
    last = next((e for e in entries if e.kind == "note" and e.key == _RESULT), None)
    if last is None:
        return None
    try:
        data = json.loads(last.value)
        if set(data) != set(_FIELDS):
            raise ValueError("other fields than a result has")
        return Result(**data)
    except (ValueError, TypeError) as error:
        raise BadFile(f"{name}: the result of this run is damaged ({error}). Remove the run to go on.") from error


def open_run(learner: str, lesson: str, seed: int) -> Path:
    """Return the folder of the run that goes on, or of a new one where all earlier ones have ended."""
    base, number = f"{session_name(lesson)}.{seed}", 1
    while True:
        folder = training_folder(learner) / f"{base}.{number}"
        journal = folder / "journal.jsonl"
        if not journal.exists() or kept_result(_entries(journal), str(journal)) is None:
            return folder
        number += 1


def records(folders: Sequence[Path]) -> list[Record]:
    """Return all finished runs below the folders of learners, oldest first.

    Raises:
        BadFile: a folder does not exist, or a journal is damaged.
    """
    found: list[Record] = []
    for folder in folders:
        if not folder.is_dir():
            raise BadFile(f"{folder}: is no folder. Give the folder of one learner, or of several.")
        for path in sorted(folder.rglob("journal.jsonl")):
            entries = list(_entries(path))
            result = kept_result(entries, str(path))
            if result is not None:
                at = next(e.at for e in entries if e.key == _RESULT)
                found.append(Record(path.parent.parent.name, at, result))
    return sorted(found, key=lambda r: (r.at, r.learner, r.result.lesson, r.result.seed))


def mastered_lessons(ladder: Ladder, kept: Iterable[Record]) -> set[str]:
    """Return the lessons of a ladder that are mastered by the runs of one learner."""
    by_lesson: dict[str, list[Result]] = {}
    for record in kept:
        by_lesson.setdefault(record.result.lesson, []).append(record.result)
    return {n for n, results in by_lesson.items() if n in ladder.lessons and mastered(ladder.lessons[n], results)}


def as_csv(kept: Iterable[Record]) -> str:
    """Return runs as a table, one a line, so that a class can compare."""
    out = io.StringIO()
    names = ["learner", "at", *_FIELDS]
    writer = csv.DictWriter(out, names, lineterminator="\n")
    writer.writeheader()
    for record in kept:
        row: Mapping[str, object] = {"learner": record.learner, "at": record.at, **asdict(record.result)}
        writer.writerow(row)
    return out.getvalue()


def _entries(path: Path) -> Iterator[Entry]:
    """Give the whole entries of a journal that may still be written; a torn last line is left out."""
    try:
        lines = path.read_bytes().split(b"\n")[:-1]
    except OSError as error:
        raise BadFile(f"{path}: cannot be read ({error.strerror}).") from error
    for number, line in enumerate(lines, 1):
        try:
            if line.strip():
                yield entry_from(json.loads(line))
        except (ValueError, RecursionError, BackporchError) as error:
            raise BadFile(
                f"{path}:{number}: this line is damaged ({error}). Remove it to go on without."
            ) from error
