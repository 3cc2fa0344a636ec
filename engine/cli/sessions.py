# SPDX-License-Identifier: MIT
"""The sessions on the shelf: lists them, and lets one be chosen by number, name or words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.console import as_json as as_json_text
from backporch.engine.cli.console import clean, make_console
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.session.journal import session_folder
from backporch.engine.session.shelf import Shelved, choose_session, matching, on_the_shelf

__all__ = ["pick_session", "run_sessions", "sessions_document"]

_SHOWN = 20
_MOST_LISTED = 200
_MOST_WRONG = 20


def run_sessions(words: Sequence[str], *, as_json: bool) -> None:
    """List the sessions that have all ``words``, the one touched last first."""
    found = matching(on_the_shelf(session_folder()), " ".join(words))
    if as_json:
        print(as_json_text(sessions_document(found)))
        return
    console = make_console()
    _show(console, found, most=_MOST_LISTED)
    if found:
        console.print("Go on with one: backporch diagnose --session NAME", style="dim")


def pick_session(source: AnswerSource, console: Console) -> str | None:
    """Show the sessions and return the name of the one chosen, or None where nobody chooses.

    Raises:
        BadInput: there is no session, or what was typed picks none.
    """
    every = on_the_shelf(session_folder())
    if not every:
        raise BadInput("No session is saved yet. Begin one: backporch diagnose --session NAME.")
    listed, wrong = every, 0
    _show(console, listed)
    while True:
        line = source.ask("Number, name, or words to look for: ")
        if line is None or line.strip().lower() in ("q", "quit", "exit"):
            return None
        if not line.strip():
            listed = every
            _show(console, listed)
            continue
        try:
            chosen = choose_session(listed, line)
        except BadInput as error:
            wrong += 1
            if not source.interactive or wrong >= _MOST_WRONG:
                raise
            console.print(Text(str(error)))
            continue
        if chosen is not None:
            return chosen.name
        listed = matching(listed, line)
        if len(listed) == 1:
            return listed[0].name
        _show(console, listed)


def sessions_document(found: Sequence[Shelved]) -> dict[str, Any]:
    """Return the list as plain data; the format is described in DEVELOPERS.md."""
    rows = [
        {"name": s.name, "chassis": s.chassis, "complaint": s.complaint, "changed": s.changed.isoformat()}
        for s in found
    ]
    return {"schema": 1, "kind": "sessions", "sessions": rows}


def _show(console: Console, found: Sequence[Shelved], most: int = _SHOWN) -> None:
    if not found:
        console.print("No session fits.")
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name, options in _COLUMNS.items():
        table.add_column(name, **options)
    for number, session in enumerate(found[:most], 1):
        changed = session.changed.astimezone()
        table.add_row(
            str(number),
            Text(clean(session.name)),
            Text(clean(session.chassis)),
            Text(clean(session.complaint)),
            f"{changed:%Y-%m-%d %H:%M}",
        )
    console.print(table)
    if len(found) > most:
        console.print(f"and {len(found) - most} older ones; type words to find them.", style="dim")


_COLUMNS: dict[str, dict[str, Any]] = {
    "": {"justify": "right"},
    "name": {"overflow": "fold"},
    "set": {"overflow": "fold"},
    "complaint": {"ratio": 1, "overflow": "fold"},
    "last touched": {"no_wrap": True},
}
