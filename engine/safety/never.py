# SPDX-License-Identifier: MIT
"""Finds in words what is never advised: in what somebody types, and in every text of the program.

Typed words are answered with what is advised in their place.  A text of the program may name such a thing only
to forbid it, or with the plug out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from backporch.engine.knowledge.models import NeverAdvised

__all__ = ["advised_in", "forbidden_in"]

_EXCUSE = re.compile(
    r"\b(never|not|no|none|nobody|nothing|don't|cannot|before|instead of|plug out|set off|off and discharged)\b",
    re.I,
)


def forbidden_in(text: str, never: Mapping[str, NeverAdvised]) -> NeverAdvised | None:
    """Return the first thing never advised that ``text`` speaks of, or None.

    Example:
        >>> from backporch.engine.knowledge.library import shipped
        >>> forbidden_in("may I use a larger fuse?", shipped().never).title[:8]
        'bridging'
        >>> forbidden_in("62 V", shipped().never) is None
        True
    """
    return next((item for item in never.values() if re.search(item.words, text, re.I)), None)


def advised_in(text: str, item: NeverAdvised) -> Iterator[str]:
    """Give each sentence of ``text`` that advises ``item``: it speaks of it and nothing before forbids it."""
    for sentence in re.split(r"(?<=[.!?;:])\s+", text):
        found = re.search(item.words, sentence, re.I)
        if found and not _EXCUSE.search(sentence[: found.start()]):
            yield sentence
