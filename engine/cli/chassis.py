# SPDX-License-Identifier: MIT
"""The chassis commands: make a file of one's own, check, show, compare, and ask about a tube."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["chassis_app"]

chassis_app = typer.Typer(
    help="Make, check, show and compare chassis files.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Name = Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]


@chassis_app.command()
def new(
    file: Annotated[Path, typer.Argument(help="The file to write, such as hall-console.yaml.")],
    like: Annotated[str, typer.Option("--like", help="The shipped chassis that your set is most like.")],
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Read the answers from this file, one a line.")
    ] = None,
) -> None:
    """Write a chassis file of your own, from a shipped one and ten values read from your set.

    Example: backporch chassis new hall-console.yaml --like dunlin-24
    """
    from backporch.engine.cli.chassis_new import run_new

    raise typer.Exit(run_new(file, like, answers))


@chassis_app.command()
def check(chassis: Name, as_json: AsJson = False) -> None:
    """Say what in a chassis file is implausible and what was expected; exit code 1 when something is.

    Example: backporch chassis check hall-console.yaml
    """
    from backporch.engine.cli.chassis_pages import run_check

    raise typer.Exit(run_check(chassis, as_json=as_json))


@chassis_app.command()
def show(chassis: Name, as_json: AsJson = False) -> None:
    """Show a chassis: how it is built, its tubes, stages and parts.

    Example: backporch chassis show plover-17
    """
    from backporch.engine.cli.chassis_pages import run_show

    run_show(chassis, as_json=as_json)


@chassis_app.command()
def diff(first: Name, second: Name, as_json: AsJson = False) -> None:
    """Show how two chassis differ in build, parts and tubes, and at which points they read differently.

    Example: backporch chassis diff dunlin-24 hall-console.yaml
    """
    from backporch.engine.cli.chassis_pages import run_diff

    run_diff(first, second, as_json=as_json)


@chassis_app.command("stand-in")
def stand_in(
    chassis: Name,
    tube: Annotated[str, typer.Argument(help="The tube in the set, such as V7.")],
    by: Annotated[str, typer.Argument(help="The registered type at hand, such as 12AX7.")],
    as_json: AsJson = False,
) -> None:
    """Say whether another tube type may stand in for a tube of the set, and if not, why; exit code 1 when not.

    Example: backporch chassis stand-in plover-17 V11 12AX7
    """
    from backporch.engine.cli.chassis_pages import run_stand_in

    raise typer.Exit(run_stand_in(chassis, tube, by, as_json=as_json))
