# SPDX-License-Identifier: MIT
"""The ladder with progress, the check of a teacher's lessons, and the table of a class."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.train import course_of, ladder_of
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.library import shipped
from backporch.engine.knowledge.yaml_file import read_yaml
from backporch.engine.training.check import Checked, check_course
from backporch.engine.training.lesson import LEVELS, Ladder, load_lessons, shipped_ladder
from backporch.engine.training.notebook import Kept
from backporch.engine.training.progress import as_csv, finished_runs, mastered_lessons, training_folder

__all__ = ["run_check", "run_csv", "run_list"]


def run_list(learner: str, file: Path | None, *, as_json: bool) -> None:
    """Print the ladder with what a learner has mastered.

    Raises:
        BackporchError: a file is wrong.
    """
    ladder = ladder_of(shipped(), file)
    folder = training_folder(learner)
    runs = finished_runs([folder]) if folder.is_dir() else []
    done = mastered_lessons(ladder, runs)
    if as_json:
        print(json.dumps(_ladder_document(ladder, done, runs), indent=2, ensure_ascii=False))
        return
    console = make_console()
    for level, title in LEVELS.items():
        names = ladder.level(level)
        if not names:
            continue
        mastered = sum(name in done for name in names)
        console.print(Text(f"\nLevel {level}: {title}", style="bold cyan"), Text(f"{mastered} of {len(names)}"))
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False, expand=True)
        table.add_column(no_wrap=True)
        table.add_column(ratio=1)
        table.add_column(justify="right", no_wrap=True)
        for name in names:
            table.add_row(Text(name), Text(ladder.lessons[name].aim), _state(ladder, name, done, runs))
        console.print(Padding(table, (0, 0, 0, 2)))
    console.print(
        "\nLater: other lessons prepare for it; you may take any lesson by its name all the same.", style="dim"
    )
    console.print(f"Go on with: backporch train{' --learner ' + harmless(learner) if learner != 'me' else ''}")


def _state(ladder: Ladder, name: str, done: set[str], runs: Sequence[Kept]) -> Text:
    if name in done:
        return Text("mastered", style="green")
    results = [kept.result for kept in runs if kept.lesson == name and kept.result is not None]
    if results:
        stopped = sum(result.ending == "unsafe" for result in results)
        unsafe = f", unsafe {stopped} times" if stopped > 1 else ", unsafe once" if stopped else ""
        return Text(f"best {max(result.score for result in results)} %{unsafe}")
    return Text("later", style="dim") if ladder.missing(name, done) else Text("ready")


def _ladder_document(ladder: Ladder, done: set[str], runs: Sequence[Kept]) -> dict[str, Any]:
    lessons = [
        {
            "lesson": name,
            "level": lesson.level,
            "title": lesson.title,
            "aim": lesson.aim,
            "chassis": lesson.chassis,
            "prerequisites": list(lesson.prerequisites),
            "mastery": lesson.mastery.model_dump(),
            "mastered": name in done,
            "missing": ladder.missing(name, done),
            "scores": [k.result.score for k in runs if k.lesson == name and k.result is not None],
        }
        for name, lesson in ladder.lessons.items()
    ]
    return {"schema": 1, "kind": "ladder", "lessons": lessons}


def run_check(file: Path, *, as_json: bool) -> int:
    """Check the lessons of a file; return 1 where one cannot be used as it is.

    Raises:
        BackporchError: the file is wrong; every mistake is named with its line.
    """
    library = shipped()
    lessons = load_lessons(file, library, known=shipped_ladder(library).lessons)
    places = read_yaml(file)
    found: list[tuple[str, int, Checked]] = []
    wrong: list[str] = []
    for name, lesson in lessons.items():
        for seed in range(1, len(lesson.variants) + 1):
            try:
                found.append((name, seed, check_course(course_of(lesson, seed))))
            except BackporchError as error:
                wrong.append(f"{file}:{places.line(('lessons', name, 'variants', seed - 1))}: {name}: {error}")
            if not as_json and found and found[-1][:2] == (name, seed):
                _print_checked(name, seed, found[-1][2])
    if as_json:
        listed = [{"lesson": name, "seed": seed, **asdict(checked)} for name, seed, checked in found]
        print(json.dumps({"schema": 1, "kind": "lesson-check", "lessons": listed, "wrong": wrong}, indent=2))
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong or any(checked.problems for _, _, checked in found) else 0


def _print_checked(name: str, seed: int, checked: Checked) -> None:
    console = make_console()
    state = "must be changed" if checked.problems else "can be used"
    console.print(Text(f"{name}, seed {seed} ({', '.join(checked.faults)}): {state}.", style="bold"))
    if checked.best:
        console.print(
            f"  {checked.best_minutes:.1f} min by the best plan ({checked.best}), {checked.tool_minutes:.1f} by "
            "the tool's advice."
        )
    for line in (*checked.problems, *checked.notes):
        console.print(f"  {harmless(line)}")


def run_csv(learner: str, folders: Sequence[Path]) -> None:
    """Print all finished runs as CSV: those of a learner, or all below the folders given.

    Raises:
        BackporchError: a folder does not exist, or a run is damaged.
    """
    mine = training_folder(learner)
    where = list(folders) or ([mine] if mine.is_dir() else [])
    print(as_csv(finished_runs(where)), end="")
