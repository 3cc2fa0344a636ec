# SPDX-License-Identifier: MIT
"""Choosing symptoms: everyday words find them, numbers pick them, an empty line ends the list."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from backporch.engine.errors import BadInput
from backporch.engine.session.questions import plain_words

__all__ = ["Choosing", "SymptomChoice"]

_DONE = {"", "done", "that's all", "thats all", "no more", "ready"}
_UNSURE = {"?", "not sure", "unsure", "don't know", "dont know"}


@dataclass(frozen=True)
class Choosing:
    """The state of the search: what is chosen, and the hits that numbers refer to."""

    chosen: tuple[str, ...] = ()
    hits: tuple[str, ...] = ()


@dataclass(frozen=True)
class SymptomChoice:
    """What one typed line did."""

    state: Choosing
    added: tuple[str, ...] = ()
    done: bool = False
    unsure: bool = False


def take_line(
    state: Choosing, text: str, known: Sequence[str], find: Callable[[str], Sequence[str]]
) -> SymptomChoice:
    """Return what ``text`` does: picks hits by number, adds a symptom by name, searches, or ends.

    Args:
        state: What is chosen and which hits are on the screen.
        text: The line typed.
        known: All symptom names.
        find: Gives the names of symptoms for everyday words, best first.
    Raises:
        BadInput: a number stands for no hit, or nothing is found.
    """
    words = plain_words(text)
    if words in _DONE:
        if not state.chosen:
            raise BadInput("Choose at least one symptom, or type ? if you cannot tell what you see.")
        return SymptomChoice(state, done=True)
    if words in _UNSURE:
        return SymptomChoice(state, done=True, unsure=True)
    numbers = words.replace(",", " ").split()
    if numbers and all(n.isascii() and n.isdigit() and len(n) < 4 for n in numbers):
        return _pick(state, [int(n) for n in numbers])
    name = words.replace(" ", "-")
    if name in known:
        return SymptomChoice(_with(state, [name]), (name,))
    hits = tuple(find(text))
    if not hits:
        raise BadInput(f"Nothing fits {text.strip()[:60]!r}. Say it in other words, for example: picture rolls.")
    return SymptomChoice(Choosing(state.chosen, hits))


def _pick(state: Choosing, numbers: Sequence[int]) -> SymptomChoice:
    for number in numbers:
        if not 1 <= number <= len(state.hits):
            if not state.hits:
                raise BadInput("There is no list to pick from yet. First say in words what you see.")
            raise BadInput(f"There is no line {number}; the list goes from 1 to {len(state.hits)}.")
    names = [state.hits[n - 1] for n in numbers]
    return SymptomChoice(_with(state, names), tuple(names))


def _with(state: Choosing, names: Sequence[str]) -> Choosing:
    chosen = [*state.chosen, *(n for n in dict.fromkeys(names) if n not in state.chosen)]
    return Choosing(tuple(chosen), ())
