# SPDX-License-Identifier: MIT
"""Lessons as a teacher writes them: which fault is hidden in which set, what it teaches, when it is mastered.

A file has ``schema: 1`` and one mapping ``lessons``; several files make one ladder.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field, StringConstraints

from backporch.engine.errors import BackporchError, BadFile, UnknownWord
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.validation import Frozen, checked, fail_together
from backporch.engine.knowledge.yaml_file import Document, read_yaml

__all__ = ["LEVELS", "Ladder", "Lesson", "Mastery", "Variant", "load_lessons", "shipped_ladder"]

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]

LEVELS: Mapping[int, str] = {
    1: "One stage, visible at a glance",
    2: "Rails and heaters",
    3: "Picture against raster",
    4: "Sync paths",
    5: "Deflection arithmetic",
    6: "Two faults, and symptoms that mislead",
}
"""The six levels of the ladder."""


class Mastery(Frozen):
    """When a lesson is mastered: so many runs, each on another seed, with a score and no deeper hint."""

    score: int = Field(default=70, ge=1, le=100, description="Least score in percent of the best plan.")
    deepest_hint: int = Field(default=2, ge=0, le=3, description="The deepest hint that may be taken.")
    runs: int = Field(default=1, ge=1, le=10, description="How many such runs, each on another seed.")


class Variant(Frozen):
    """One set of faults that a lesson may hide; the seed picks among them."""

    faults: tuple[Text, ...] = Field(min_length=1, max_length=2)
    path: tuple[Text, ...] = Field(default=(), description="The tests that the teacher would make, in order.")
    story: Text | None = Field(
        default=None, description="How this set came to the bench, where it came otherwise."
    )
    chassis: Text | None = Field(default=None, description="The set, where it is another one than the lesson's.")


class Lesson(Frozen):
    """One lesson."""

    title: Text
    level: int = Field(ge=1, le=6)
    aim: Text = Field(description="What somebody can do who has mastered it, in one sentence.")
    story: Text = Field(description="How the set came to the bench.")
    think: Text = Field(description="The first hint: what to think about.")
    chassis: Text
    prerequisites: tuple[Text, ...] = ()
    variants: tuple[Variant, ...] = Field(min_length=1)
    circumstances: dict[str, str] = Field(default_factory=dict)
    owned: tuple[str, ...] = Field(
        default=("spare-tubes",), description="Instruments at hand beside the common ones; a school has spares."
    )
    lacking: tuple[str, ...] = ()
    read: tuple[Text, ...] = Field(default=(), description="Terms of the glossary to read afterwards.")
    mastery: Mastery = Mastery()

    def variant(self, seed: int) -> Variant:
        """Return what is hidden for one seed; seed 1 takes the first variant, seed 2 the second, and round."""
        return self.variants[(seed - 1) % len(self.variants)]

    def told(self, seed: int) -> str:
        """Return how the set of one seed came to the bench."""
        return self.variant(seed).story or self.story

    def set_of(self, seed: int) -> str:
        """Return the chassis in which a fault is hidden for one seed."""
        return self.variant(seed).chassis or self.chassis


@dataclass(frozen=True)
class Ladder:
    """Lessons by name, in the order in which they are learnt."""

    lessons: Mapping[str, Lesson]

    def lesson(self, name: str) -> Lesson:
        """Return a lesson, or raise :class:`UnknownWord`."""
        if name not in self.lessons:
            raise UnknownWord("lesson", name, self.lessons)
        return self.lessons[name]

    def level(self, level: int) -> list[str]:
        """Return the names of the lessons of one level."""
        return [name for name, lesson in self.lessons.items() if lesson.level == level]

    def missing(self, name: str, mastered: Iterable[str]) -> list[str]:
        """Return the prerequisites of a lesson that are not mastered yet."""
        return [p for p in self.lesson(name).prerequisites if p not in set(mastered)]


def shipped_ladder(library: Library) -> Ladder:
    """Return the lessons that come with the program, level by level."""
    paths = sorted((library.root / "lessons").glob("*.yaml"))
    found: dict[str, Lesson] = {}
    for path in paths:
        found |= load_lessons(path, library, known=found)
    return Ladder(dict(sorted(found.items(), key=lambda item: item[1].level)))


def load_lessons(path: Path, library: Library, known: Mapping[str, Lesson] | None = None) -> dict[str, Lesson]:
    """Read and check the lessons of one file.

    Args:
        path: The file.
        library: Has the chassis, terms and circumstances that lessons may name.
        known: Lessons that may be named as prerequisites beside those of the file.
    Raises:
        BadFile: every mistake is named with its line.
    """
    document = read_yaml(path)
    data = document.data
    if not isinstance(data, dict) or data.get("schema") != 1 or not isinstance(data.get("lessons"), dict):
        raise BadFile(f"{path}:1: expected 'schema: 1' and one mapping called 'lessons'.")
    found: dict[str, Lesson] = {}
    problems: list[str] = []
    for name, entry in data["lessons"].items():
        try:
            found[str(name)] = checked(Lesson, document, entry if entry is not None else {}, ("lessons", name))
        except BackporchError as error:
            problems.append(str(error))
    everything = {**(known or {}), **found}
    for name, lesson in found.items():
        problems += _problems(document, name, lesson, everything, library)
    fail_together(problems)
    return found


def _problems(
    document: Document, name: str, lesson: Lesson, known: Mapping[str, Lesson], library: Library
) -> Iterable[str]:
    """Give what a lesson names and what there is not, each with its line."""

    def where(field: str) -> str:
        return f"{document.name}:{document.line(('lessons', name, field))}: {name}.{field}"

    vocabularies: tuple[tuple[str, str, Iterable[str], Iterable[str]], ...] = (
        ("prerequisites", "lesson", lesson.prerequisites, known),
        ("owned", "instrument", lesson.owned, library.instruments),
        ("lacking", "instrument", lesson.lacking, library.instruments),
        ("circumstances", "opening question", lesson.circumstances, (*library.opening, "condition")),
    )
    for field, kind, words, there in vocabularies:
        yield from (f"{where(field)}: {UnknownWord(kind, w, there)}" for w in words if w not in set(there))
    for term in lesson.read:
        try:
            library.term(term)
        except BackporchError as error:
            yield f"{where('read')}: {error}"
    for before in lesson.prerequisites:
        if before in known and known[before].level > lesson.level:
            yield f"{where('prerequisites')}: {before} stands on a higher level. Name one of this level or below."
