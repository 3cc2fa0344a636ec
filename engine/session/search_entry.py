# SPDX-License-Identifier: MIT
"""How a search by hand is kept in a session: the parts that were tested, in their order, the bad one marked."""

from __future__ import annotations

from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import NONE_OF_THEM, UNSURE, Question

__all__ = ["found_by_hand", "parts_tested", "searched"]

_BAD = "=bad"


def searched(question: Question, answer: str) -> tuple[Entry, ...]:
    """Return the entries of an answer to a search by hand: what tested good, and the part that tested bad.

    The parts are tested in the order of the question, until one is bad; that one is changed.

    Example:
        >>> from backporch.engine.session.questions import Option
        >>> options = (Option("C1", ""), Option("R2", ""), Option("none-of-them", ""))
        >>> question = Question("search", "search", "", options)
        >>> [(e.kind, e.key, e.value) for e in searched(question, "R2")]
        [('search', 'search', 'C1 R2=bad'), ('repair', 'R2', 'open')]
        >>> [e.value for e in searched(question, "none-of-them")]
        ['C1 R2']
    """
    if answer == UNSURE:
        return (Entry("skip", question.id),)
    listed = [option.key for option in question.options if option.key != NONE_OF_THEM]
    if answer == NONE_OF_THEM:
        return (Entry("search", question.id, " ".join(listed)),)
    good = listed[: listed.index(answer)]
    return Entry("search", question.id, " ".join([*good, answer + _BAD])), Entry("repair", answer, "open")


def parts_tested(entry: Entry) -> tuple[str, ...]:
    """Return the parts that a search by hand tested, in their order.

    Example:
        >>> parts_tested(Entry("search", "search", "C1 R2=bad"))
        ('C1', 'R2')
    """
    return tuple(word.removesuffix(_BAD) for word in entry.value.split())


def found_by_hand(entry: Entry) -> str:
    """Return the part that a search by hand found bad, or "" where all tested good.

    Example:
        >>> found_by_hand(Entry("search", "search", "C1 R2=bad")), found_by_hand(Entry("search", "search", "C1"))
        ('R2', '')
    """
    return next((word.removesuffix(_BAD) for word in entry.value.split() if word.endswith(_BAD)), "")
