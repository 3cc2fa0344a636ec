# SPDX-License-Identifier: MIT
"""The options of the train command."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["train"]


def train(
    lesson: Annotated[str | None, typer.Argument(help="Name of a lesson; the next one by default.")] = None,
    level: Annotated[
        int | None, typer.Option("--level", help="Take the next lesson of this level, 1 to 6.")
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", help="Seed of the hidden fault; a new one by default.")
    ] = None,
    chassis: Annotated[
        str | None,
        typer.Option("--chassis", "-c", help="Practice on this chassis with a fault drawn by the seed."),
    ] = None,
    file: Annotated[Path | None, typer.Option("--file", help="Take the lessons of this file.")] = None,
    learner: Annotated[str, typer.Option("--learner", help="Whose progress it is.")] = "me",
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Read the answers from this file, one a line.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")] = False,
) -> None:
    """Learn on a set with a hidden fault: look, measure, name the part; then see how it could have gone.

    Example: backporch train --level 1
    """
    from backporch.engine.cli.train import TrainOptions, run_train

    options = TrainOptions(lesson, level, seed, chassis, file, learner, answers, as_json)
    raise typer.Exit(run_train(options))
