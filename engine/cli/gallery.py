# SPDX-License-Identifier: MIT
"""The gallery command: how each symptom looks, drawn in the terminal; sounds and smells are said in words."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.console import drawing_depth, harmless, light_background, make_console
from backporch.engine.cli.files import write_file
from backporch.engine.cli.progress import watched
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.knowledge.models import Shot
from backporch.engine.picture.shots import shot_lines

__all__ = ["chosen_symptoms", "print_symptom", "run_gallery", "show_pictures"]

_WIDEST_SHOT, _ROOMY = 44, 64
_GAP = 2
_MOST_AT_ONCE = 5


def run_gallery(
    asked: Sequence[str], *, family: str | None, as_json: bool, html: Path | None, png: Path | None
) -> None:
    """Show the symptoms asked for, or all of them by family, or write them to files.

    Raises:
        BackporchError: there is no such symptom or family, or a file cannot be written.
    """
    library = shipped()
    names = chosen_symptoms(library, asked, family)
    if as_json:
        print(json.dumps(_document(library, names), indent=2, ensure_ascii=False))
    elif html is not None or png is not None:
        if html is not None:
            _write_page(library, names, html)
        if png is not None:
            _write_sheets(library, names, png)
    else:
        _print_all(library, names)


def _print_all(library: Library, names: Sequence[str]) -> None:
    console = make_console()
    shown = ""
    for name in names:
        symptom = library.symptoms[name]
        if symptom.family != shown:
            shown = symptom.family
            console.rule(f"[bold cyan]{shown}[/]", align="left", style="dim")
        print_symptom(console, library, name, roomy=len(names) == 1)
        console.print()


def _write_page(library: Library, names: Sequence[str], path: Path) -> None:
    from backporch.engine.report.gallery_page import gallery_page, symptom_entry

    page = gallery_page([symptom_entry(library, name) for name in watched(names, "Drawing")])
    write_file(path, page.encode("utf-8"))
    print(f"Written: {path}")


def _write_sheets(library: Library, names: Sequence[str], folder: Path) -> None:
    from backporch.engine.picture.sheet import film_file, png_bytes, strip
    from backporch.engine.report.gallery_page import sheet_of

    drawn = [name for name in names if name in library.gallery]
    if not drawn:
        raise BadInput("None of these symptoms is seen on the screen; there is nothing to draw.")
    strips = {}
    for name in watched(drawn, "Drawing"):
        strips[name] = strip(library.gallery[name], 300)
        write_file(folder / f"{name}.png", png_bytes(strips[name]))
        film = film_file(library.gallery[name], 320, "PNG")
        if film:
            write_file(folder / f"{name}-moving.png", film)
    for family in dict.fromkeys(library.symptoms[name].family for name in drawn):
        its = [name for name in drawn if library.symptoms[name].family == family]
        sheet = sheet_of(family, [library.symptoms[n].title for n in its], [strips[n] for n in its])
        write_file(folder / f"sheet-{family}.png", png_bytes(sheet))
    print(f"Written: {len(drawn)} pictures and a sheet of each family in {folder}")


def chosen_symptoms(library: Library, asked: Sequence[str], family: str | None = None) -> list[str]:
    """Return the names of the symptoms asked for, by name or in everyday words, family by family.

    Raises:
        UnknownWord: nothing is found for a word, or there is no such family.
    """
    families = list(dict.fromkeys(s.family for s in library.symptoms.values()))
    if family is not None and family not in families:
        raise UnknownWord("family of symptoms", family, families)
    found = [name for word in asked for name in _found(library, word)] if asked else list(library.symptoms)
    wanted = [n for n in dict.fromkeys(found) if family in (None, library.symptoms[n].family)]
    order = [f for f in ("raster", "sync", "video") if f in families] + families
    return sorted(wanted, key=lambda n: order.index(library.symptoms[n].family))


def _found(library: Library, word: str) -> list[str]:
    from backporch.engine.knowledge.finder import find_symptoms

    if word in library.symptoms:
        return [word]
    hits = list(find_symptoms(library, word))[:3]
    if not hits:
        raise UnknownWord("symptom", word, library.symptoms)
    return hits


def show_pictures(console: Console, library: Library, names: Sequence[str], *, pick: bool) -> None:
    """Draw the symptoms that somebody looks for, each with its number.

    Args:
        console: Where they are drawn.
        library: The knowledge base.
        names: Names of the symptoms, in the order of their numbers.
        pick: Whether the numbers may be typed to choose.
    """
    if not names:
        console.print("  Say in a few words what you see, or write: pictures rolling. All: backporch gallery.")
        return
    for number, name in enumerate(names[:_MOST_AT_ONCE], start=1):
        console.print()
        print_symptom(console, library, name, number if pick else 0)
    if len(names) > _MOST_AT_ONCE:
        console.print(f"  These are the first {_MOST_AT_ONCE} of {len(names)}.", style="dim")
    if pick:
        console.print("  Type the numbers that fit, or other words.", style="dim")


def print_symptom(console: Console, library: Library, name: str, number: int = 0, *, roomy: bool = False) -> None:
    """Print a symptom with its drawings side by side, or in words alone where it is not seen on the screen.

    Args:
        console: Where it is printed.
        library: The knowledge base.
        name: Name of the symptom.
        number: The number that picks it, or 0.
        roomy: Whether at most two drawings stand side by side, and these are larger.
    """
    symptom = library.symptoms[name]
    before = f"[bold cyan]{number}[/] " if number else ""
    console.print(f"{before}[bold]{harmless(symptom.title)}[/]" + ("" if number else f"  [dim]{name}[/]"))
    console.print(harmless(symptom.seen))
    drawn = library.gallery.get(name)
    if drawn is None:
        console.print("[dim]Not on the screen: no picture.[/]")
        return
    together = min(len(drawn.shots), 2 if roomy else 3)
    for begin in range(0, len(drawn.shots), together):
        _print_shots(console, drawn.shots[begin : begin + together], together, _ROOMY if roomy else _WIDEST_SHOT)


def _print_shots(console: Console, shots: Sequence[Shot], together: int, widest: int) -> None:
    """Print some shots side by side, with their captions below."""
    columns = max(16, min((console.width - _GAP * (together - 1)) // together, widest))
    depth = drawing_depth(console)
    grid = Table.grid(padding=(0, _GAP, 0, 0))
    for _ in shots:
        grid.add_column(width=columns, no_wrap=True)
    light = light_background()
    grid.add_row(*(Text("\n").join(shot_lines(s, columns, depth, dense_is_dark=light)) for s in shots))
    if any(shot.caption for shot in shots):
        grid.add_row(*(Text(shot.caption, style="dim", overflow="fold", no_wrap=False) for shot in shots))
    console.print(grid)


def _document(library: Library, names: Sequence[str]) -> dict[str, object]:
    rows = []
    for name in names:
        symptom, drawn = library.symptoms[name], library.gallery.get(name)
        shots = [s.model_dump() for s in drawn.shots] if drawn else []
        rows.append(
            {
                "symptom": name,
                "title": symptom.title,
                "family": symptom.family,
                "seen": symptom.seen,
                "shots": shots,
            }
        )
    return {"schema": 1, "kind": "gallery", "symptoms": rows}
