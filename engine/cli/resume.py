# SPDX-License-Identifier: MIT
"""The diagnose command up to where a set comes in: what was asked for, and which session goes on.

The saved sessions are listed before anything heavy is loaded.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from backporch.engine.cli.console import make_console
from backporch.engine.cli.sessions import pick_session
from backporch.engine.cli.source import AnswerSource, answer_source
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.session.journal import JOURNAL, session_folder, session_name
from backporch.engine.session.shelf import on_the_shelf

__all__ = ["DiagnoseOptions", "Given", "is_begun", "run_diagnose"]


@dataclass(frozen=True)
class Given:
    """What the command line says of a session."""

    chassis: str | None = None
    """Name or file; None for that of the session, or the usual one."""
    order: str | None = None
    """quickest or cheapest; None for that of the session."""
    careful: bool = False
    without: tuple[str, ...] = ()
    owned: tuple[str, ...] = ()
    rig: str = ""
    """Name or file of the substitute tube and yoke."""
    recapped: bool = False
    """Whether paper capacitors and electrolytics of the set are new."""
    new: tuple[str, ...] = ()
    """Other parts, tubes and kinds of part that are new."""
    bench: str = ""
    """The person's bench file, by its full path."""


@dataclass(frozen=True)
class DiagnoseOptions:
    """The options of the command line."""

    given: Given
    answers: Path | None
    session: str | None
    resume: bool
    as_json: bool


def run_diagnose(options: DiagnoseOptions) -> int:
    """Run one diagnosis; return 0, or 2 where the answers end before the diagnosis does.

    Raises:
        BackporchError: something given is wrong; what was answered before is on the disk.
    """
    if options.given.order not in (None, "quickest", "cheapest"):
        raise BadInput(f"There is no order {options.given.order!r}; write quickest or cheapest.")
    source = answer_source(options.answers)
    console = make_console(error=options.as_json)
    if options.as_json and not source.interactive:
        console = Console(quiet=True)
    name = options.session
    if options.resume:
        name = _resumed_name(name, source, console)
        if name is None:
            return 0
    from backporch.engine.cli.diagnose import diagnose_session

    return diagnose_session(options, name, source, console)


def _resumed_name(name: str | None, source: AnswerSource, console: Console) -> str | None:
    """Return the session to go on with, or None where nobody chooses one."""
    if name is None:
        return pick_session(source, console)
    if not is_begun(name):
        raise UnknownWord("session", name, [s.name for s in on_the_shelf(session_folder())])
    return name


def is_begun(name: str) -> bool:
    """Tell whether a session of that name was begun."""
    return (session_folder() / session_name(name) / JOURNAL).exists()
