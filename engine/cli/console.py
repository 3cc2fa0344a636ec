# SPDX-License-Identifier: MIT
"""The terminal: a console of readable width, bars that every encoding can show, text made harmless."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from typing import Any

from rich.console import Console, ConsoleOptions, ConsoleRenderable, RenderHook, RenderResult
from rich.markup import escape

from backporch.engine.picture.depth import Depth, terminal_depth

__all__ = ["as_json", "bar", "clean", "drawing_depth", "harmless", "make_console", "percent"]

_WIDEST = 100


def make_console(*, error: bool = False) -> Console:
    """Return a console for standard output (or error), at most 100 columns wide."""
    console = Console(stderr=error, highlight=False, soft_wrap=False)
    if console.width > _WIDEST:
        console = Console(stderr=error, highlight=False, soft_wrap=False, width=_WIDEST)
    console.push_render_hook(_Harmless())
    return console


def drawing_depth(console: Console) -> Depth:
    """Return how a console can draw: in colour, in shades, or in ASCII; NO_COLOR is kept."""
    return terminal_depth(None if console.no_color else console.color_system, console.encoding)


class _Harmless(RenderHook):
    """Keeps escape codes that stand in names and notes from the terminal, whatever page shows them."""

    def process_renderables(self, renderables: list[ConsoleRenderable]) -> list[ConsoleRenderable]:
        """Return what is to be shown, each piece so that its text is cleaned last of all."""
        return [_Cleaned(renderable) for renderable in renderables]


class _Cleaned:
    """Something to show, without control characters in its text."""

    def __init__(self, inner: ConsoleRenderable) -> None:
        self._inner = inner

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for segment in console.render(self._inner, options):
            yield segment if segment.control else segment._replace(text=clean(segment.text))


def as_json(document: Mapping[str, Any], indent: int | None = 2) -> str:
    """Return a document as JSON in which every letter stands as it is and everything else is escaped.

    Example:
        >>> print(as_json({"note": "\u00e4\x9b2J"}, indent=None))
        {"note": "ä\\u009b2J"}
    """
    text = json.dumps(document, indent=indent, ensure_ascii=False)
    return "".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text)


def light_background() -> bool:
    """Return whether the terminal says that its background is light; it matters only to shades of characters."""
    background = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    return background in ("7", "15")


def harmless(text: object) -> str:
    """Return ``text`` without control characters and with markup brackets taken literally.

    Example:
        >>> harmless("plover\\x1b[31m-17")
        'plover?[31m-17'
    """
    return escape(clean(text))


def clean(text: object) -> str:
    """Return ``text`` without control characters, escape codes and marks that turn the direction of writing.

    Example:
        >>> clean("plover\\x1b[31m-17")
        'plover?[31m-17'
    """
    return "".join(c if c.isprintable() or c in "\n\t" else "?" for c in str(text))


def bar(share: float, width: int, console: Console | None = None) -> str:
    """Return a bar of ``width`` characters that is full for ``share`` 1.

    Example:
        >>> bar(0.5, 4)
        '██░░'
    """
    encoding = (console.encoding if console else "utf-8").lower()
    full, empty = ("█", "░") if encoding.startswith("utf") else ("#", ".")
    filled = round(min(max(share, 0.0), 1.0) * width)
    return full * filled + empty * (width - filled)


def percent(share: float) -> str:
    """Return a probability as a person says it.

    Example:
        >>> percent(0.634), percent(0.003), percent(0.9996)
        ('63 %', 'under 1 %', 'over 99 %')
    """
    if share < 0.01:
        return "under 1 %"
    if share > 0.99:
        return "over 99 %"
    return f"{share * 100:.0f} %"
