# SPDX-License-Identifier: MIT
"""The options of the train command."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["train"]


def train(
    lesson: Annotated[str | None, typer.Argument(help="A lesson; the next one by default.")] = None,
    level: Annotated[int | None, typer.Option("--level", help="The next lesson of this level, 1 to 6.")] = None,
    seed: Annotated[int | None, typer.Option("--seed", help="Seed of the fault; a new one by default.")] = None,
    chassis: Annotated[
        str | None, typer.Option("--chassis", "-c", help="Practice on this chassis; the seed draws the fault.")
    ] = None,
    ladder: Annotated[bool, typer.Option("--list", help="Show the lessons and what is mastered.")] = False,
    quiz: Annotated[bool, typer.Option("--quiz", help="Questions on the arithmetic instead of a lesson.")] = False,
    questions: Annotated[
        int | None, typer.Option("--questions", min=1, help="How many questions of a quiz; endless by default.")
    ] = None,
    check: Annotated[Path | None, typer.Option("--check", help="Check the lessons of this file.")] = None,
    file: Annotated[Path | None, typer.Option("--file", help="Take the lessons of this file.")] = None,
    learner: Annotated[str, typer.Option("--learner", help="Whose progress it is.")] = "me",
    csv: Annotated[bool, typer.Option("--csv", help="Print the finished runs as a table, to compare.")] = False,
    folders: Annotated[
        list[Path] | None, typer.Option("--from", help="Folder of runs for --csv; repeatable.")
    ] = None,
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Read the answers from this file, one a line.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")] = False,
) -> None:
    """Learn on a set with a hidden fault: look, measure, name the part; then see how it could have gone.

    Example: backporch train --level 1
    """
    from backporch.engine.cli import train_ladder
    from backporch.engine.cli.train import TrainOptions, run_train
    from backporch.engine.cli.train_quiz import run_quiz

    code = 0
    if check is not None:
        code = train_ladder.run_check(check, as_json=as_json)
    elif csv:
        train_ladder.run_csv(learner, folders or [])
    elif ladder:
        train_ladder.run_list(learner, file, as_json=as_json)
    elif quiz:
        code = run_quiz(chassis, seed, questions, answers, as_json=as_json)
    else:
        code = run_train(TrainOptions(lesson, level, seed, chassis, file, learner, answers, as_json))
    raise typer.Exit(code)
