# SPDX-License-Identifier: MIT
"""The bench sheet: as text in the terminal, or as a page to print."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.chassis.bench_sheet import BenchSheet, SheetRow, SheetTube
from backporch.engine.cli.console import clean, make_console
from backporch.engine.errors import BadInput
from backporch.engine.picture.sheet_page import sheet_page
from backporch.engine.picture.socket import BASES, socket_drawing

__all__ = ["print_sheet", "write_sheet"]

_BOX = "[        ]"


def write_sheet(sheet: BenchSheet, path: Path) -> None:
    """Write the page that prints on A4 and Letter.

    Raises:
        BadInput: the file cannot be written.
    """
    try:
        path.write_text(sheet_page(sheet), encoding="utf-8")
    except OSError as error:
        raise BadInput(f"{path} cannot be written ({error.strerror}). Name another file.") from error


def print_sheet(sheet: BenchSheet) -> None:
    """Print the sheet as text."""
    console = make_console()
    console.print(Text(clean(sheet.title), style="bold cyan"))
    console.print(Text(f"For {clean(sheet.conditions)}. Against B- unless said otherwise."))
    console.print(Text("In brackets: an estimate of what healthy sets show."))
    for caution in sheet.cautions:
        console.print(Text(f"! {clean(caution)}", style="bold"))
    if sheet.tubes:
        console.print(Text("\nSockets are drawn from the soldering side.", style="bold"))
    for tube in sheet.tubes:
        _print_tube(console, tube)
    if sheet.others:
        console.print(Text("\nOther points", style="bold"))
        console.print(Padding(_lines(sheet.others), (0, 0, 0, 2)))


def _print_tube(console: Console, tube: SheetTube) -> None:
    console.print(Text(f"\n{tube.name} {tube.type}, {tube.work}", style="bold"))
    grid = Table.grid(padding=(0, 2, 0, 0))
    drawing = Text(socket_drawing(tube.base) if tube.base in BASES else "")
    if tube.base in BASES:
        grid.add_column(width=max(len(line) for line in drawing.plain.splitlines()))
        grid.add_column(ratio=1)
        grid.add_row(drawing, _lines(tube.rows))
        console.print(grid)
    else:
        console.print(Padding(_lines(tube.rows), (0, 0, 0, 2)))


def _lines(rows: Iterable[SheetRow]) -> Table:
    """Return the rows as lines: a box, place, what it should read, the healthy band, what to mind."""
    lines = Table.grid(padding=(0, 1, 0, 0))
    lines.add_column(no_wrap=True)
    lines.add_column(ratio=1, overflow="fold")
    before = ""
    for row in rows:
        place = f"{row.pin or ''} {clean(row.place)}".strip()
        line = Text("  and " if place == before and not row.never else f"{place}: ")
        before = place
        line.append(clean(row.reads), style="bold")
        if row.never:
            lines.add_row("", line.append(f". {clean(row.note)}"))
            continue
        line.append(f" ({row.band})" if row.band else "")
        line.append(f", no signal {row.no_signal}" if row.no_signal else "")
        line.append(f"; {clean(row.note)}" if row.note else "")
        lines.add_row(Text(_BOX), line)
    return lines
