# SPDX-License-Identifier: MIT
"""The errors a user may meet: each says what is wrong, where, and how to mend it.

Every class here derives from :class:`BackporchError`; the command line prints the message of
one of these without a traceback and exits with code 2.  Anything else that escapes is a defect.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["BackporchError", "BadFile", "BadInput", "OutOfRange", "UnknownWord", "nearest"]


class BackporchError(Exception):
    """Base of all errors that are the input's fault and not the program's."""


class BadInput(BackporchError):
    """Something typed or piped in cannot be understood."""


class BadFile(BackporchError):
    """A file is missing, unreadable or does not say what its format asks for."""


class OutOfRange(BackporchError, ValueError):
    """A number lies outside the range in which a formula has a meaning."""


class UnknownWord(BadInput):
    """A name is not in the vocabulary; the message offers the nearest names that are."""

    def __init__(self, kind: str, word: str, choices: Iterable[str]) -> None:
        """Build the message from the ``kind`` of name, the ``word`` given and the ``choices`` there are."""
        known = sorted(choices)
        near = nearest(word, known)
        if near:
            hint = f"Did you mean {' or '.join(repr(name) for name in near)}?"
        else:
            shown = ", ".join(known[:8]) + (", ..." if len(known) > 8 else "")
            hint = f"Known: {shown}." if known else "None is known."
        super().__init__(f"There is no {kind} {word!r}. {hint}")
        self.kind = kind
        self.word = word


def nearest(word: str, choices: Iterable[str], most: int = 2) -> list[str]:
    """Return up to ``most`` of the ``choices`` that look like ``word``, best first.

    Example:
        >>> nearest("plover17", ["plover-17", "dunlin-24"])
        ['plover-17']
    """
    return difflib.get_close_matches(word, list(choices), n=most, cutoff=0.6)
