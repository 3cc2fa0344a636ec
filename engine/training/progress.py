# SPDX-License-Identifier: MIT
"""Progress: what the finished runs of a learner say, and the runs of a class in one table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import asdict, fields
from itertools import count
from pathlib import Path

from backporch.engine.errors import BadFile
from backporch.engine.session.journal import session_folder, session_name
from backporch.engine.training.lesson import Ladder
from backporch.engine.training.notebook import FILE, Kept, read_run
from backporch.engine.training.score import Result, mastered

__all__ = ["as_csv", "finished_runs", "folder_of_run", "mastered_lessons", "training_folder"]


def training_folder(learner: str) -> Path:
    """Return the folder of all runs of one learner, beside the sessions."""
    return session_folder().parent / "training" / session_name(learner)


def folder_of_run(learner: str, lesson: str, seed: int) -> Path:
    """Return the folder of the run that goes on, or of a new one where all earlier ones have ended."""
    base = f"{session_name(lesson)}.{seed}"
    for number in count(1):
        folder = training_folder(learner) / f"{base}.{number}"
        if not (folder / FILE).exists() or read_run(folder / FILE).result is None:
            return folder
    raise AssertionError


def finished_runs(folders: Sequence[Path]) -> list[Kept]:
    """Return all runs below the folders that have ended, oldest first.

    Raises:
        BadFile: a folder does not exist, or a run is damaged.
    """
    found: list[Kept] = []
    for folder in folders:
        if not folder.is_dir():
            raise BadFile(f"{folder}: is no folder. Give the folder of one learner, or of several.")
        found += [kept for kept in map(read_run, sorted(folder.rglob(FILE))) if kept.result is not None]
    return sorted(found, key=lambda k: (k.ended, k.learner, k.lesson, k.seed))


def mastered_lessons(ladder: Ladder, runs: Iterable[Kept]) -> set[str]:
    """Return the lessons of a ladder that are mastered by the runs of one learner."""
    by_lesson: dict[str, list[Result]] = {}
    for kept in runs:
        if kept.result is not None:
            by_lesson.setdefault(kept.lesson, []).append(kept.result)
    return {n for n, results in by_lesson.items() if n in ladder.lessons and mastered(ladder.lessons[n], results)}


def as_csv(runs: Iterable[Kept]) -> str:
    """Return finished runs as a table, one a line, so that a class can compare.

    Example:
        >>> as_csv([]).startswith("learner,ended,lesson,seed")
        True
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, ["learner", "ended", *(f.name for f in fields(Result))], lineterminator="\n")
    writer.writeheader()
    for kept in runs:
        if kept.result is not None:
            row = {**asdict(kept.result), "learner": kept.learner, "ended": kept.ended}
            writer.writerow({name: _harmless(value) for name, value in row.items()})
    return out.getvalue()


def _harmless(value: object) -> object:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@\t" and value else value
