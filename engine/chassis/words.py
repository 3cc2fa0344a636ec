# SPDX-License-Identifier: MIT
"""Says what a simulated set shows in the same words that a person picks: the symptoms of the knowledge base.

The table is kb/picture_words.yaml; a symptom shows where any one of its lists of clauses holds whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.picture_state import PICTURE
from backporch.engine.errors import BadFile, nearest
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Clause, PictureWord

__all__ = ["check_words", "symptom_flags", "symptoms_of"]

Flags = NDArray[np.bool_]


def symptom_flags(picture: Mapping[str, NDArray[Any]], words: Mapping[str, PictureWord]) -> dict[str, Flags]:
    """Return for each symptom on which draws it shows, in the shape of the picture's arrays."""
    return {name: _shows(picture, word) for name, word in words.items()}


def symptoms_of(
    picture: Mapping[str, NDArray[Any]], words: Mapping[str, PictureWord], draw: int = 0
) -> tuple[str, ...]:
    """Return the symptoms that one draw shows, in the order of the table."""
    return tuple(name for name, flags in symptom_flags(picture, words).items() if bool(flags.ravel()[draw]))


def check_words(library: Library) -> None:
    """Check that every symptom and quantity of the table is known.

    Raises:
        BadFile: with one line for each mistake.
    """
    problems = []
    for name, word in library.picture_words.items():
        if name not in library.symptoms:
            problems.append(f"picture_words: {name}: unknown symptom.{_hint(name, library.symptoms)}")
        for clause in (c for clauses in word.any_of for c in clauses):
            wrong = clause.quantity
            if wrong not in PICTURE:
                problems.append(f"picture_words: {name}: unknown quantity {wrong!r}.{_hint(wrong, PICTURE)}")
    if problems:
        raise BadFile("\n".join(problems))


def _hint(word: str, known: Mapping[str, object]) -> str:
    near = nearest(word, known)
    return f" Did you mean {near[0]!r}?" if near else ""


def _shows(picture: Mapping[str, NDArray[Any]], word: PictureWord) -> Flags:
    shape = next(iter(picture.values())).shape
    found = np.zeros(shape, dtype=bool)
    for clauses in word.any_of:
        holds = np.ones(shape, dtype=bool)
        for clause in clauses:
            holds &= _holds(picture[clause.quantity], clause)
        found |= holds
    return found


def _holds(values: NDArray[Any], clause: Clause) -> Flags:
    found = np.ones(values.shape, dtype=bool)
    if clause.above is not None:
        found &= values > clause.above
    if clause.below is not None:
        found &= values < clause.below
    return found
