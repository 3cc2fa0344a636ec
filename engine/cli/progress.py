# SPDX-License-Identifier: MIT
"""A bar for work that takes more than a moment; nothing is shown where nobody watches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from typing import TypeVar

from rich.console import Console

__all__ = ["busy", "watched"]

T = TypeVar("T")


def watched(things: Sequence[T], doing: str, console: Console | None = None) -> Iterator[T]:
    """Give the things one by one, with a bar on standard error that vanishes at the end.

    Args:
        things: What is worked through.
        doing: What is done, for example "Drawing".
        console: Where the bar is drawn; standard error by default.
    Example:
        >>> list(watched([1, 2], "Counting", Console(quiet=True)))
        [1, 2]
    """
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    where = console or Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    bar = Progress(*columns, TimeRemainingColumn(), console=where, transient=True, disable=not where.is_terminal)
    with bar:
        yield from bar.track(things, description=doing)


def busy(doing: str, console: Console | None = None) -> AbstractContextManager[object]:
    """Show that something is going on that has no steps; nothing is shown where nobody watches.

    Args:
        doing: What is done, for example "Computing".
        console: Where it is shown; standard error by default.
    Example:
        >>> with busy("Computing", Console(quiet=True)):
        ...     2 + 2
        4
    """
    where = console or Console(stderr=True)
    return where.status(doing) if where.is_terminal and not where.is_dumb_terminal else nullcontext()
