# SPDX-License-Identifier: MIT
"""The knowledge base as one object: each part of it is read and checked when it is first asked for."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from backporch.engine.errors import BackporchError, BadFile, UnknownWord
from backporch.engine.knowledge.kept import kept_yaml
from backporch.engine.knowledge.models import (
    BenchState,
    Caution,
    ColdCheck,
    Contradiction,
    Drawn,
    GlossaryEntry,
    Instrument,
    Measurement,
    NeverAdvised,
    OpeningQuestion,
    PartKind,
    PictureWord,
    PointRating,
    RecappingRule,
    SetCondition,
    Source,
    Stage,
    Symptom,
    TubeRefusal,
    TubeType,
    UsualSuspect,
    UsualValue,
)
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.knowledge.tube_tables import PictureTube, TubeFit
from backporch.engine.knowledge.validation import checked
from backporch.engine.knowledge.yaml_file import Document

__all__ = ["Library", "shipped"]

M = TypeVar("M", bound=BaseModel)


class Library:
    """The knowledge base below one folder.

    A table called ``x`` stands in ``x.yaml`` or in several files ``x/*.yaml``; each file begins with
    ``schema: 1`` and has one mapping called ``x``.
    """

    def __init__(self, root: Path) -> None:
        """Look for the knowledge base in the folder ``root``."""
        self.root = root

    @cached_property
    def stages(self) -> dict[str, Stage]:
        """Stages of a receiver by name."""
        return self._table("stages", Stage)

    @cached_property
    def symptoms(self) -> dict[str, Symptom]:
        """Symptoms by name."""
        return self._table("symptoms", Symptom)

    @cached_property
    def rigs(self) -> dict[str, Rig]:
        """Example rigs: substitute tubes and yokes by name."""
        return self._table("rigs", Rig)

    @cached_property
    def contradictions(self) -> dict[str, Contradiction]:
        """Signs that cannot both be true, by name."""
        return self._table("contradictions", Contradiction)

    @cached_property
    def usual_suspects(self) -> dict[str, UsualSuspect]:
        """What the trade thinks of first on single signs, by name."""
        return self._table("usual_suspects", UsualSuspect)

    @cached_property
    def measurements(self) -> dict[str, Measurement]:
        """Measurements by name."""
        return self._table("measurements", Measurement)

    @cached_property
    def bench_states(self) -> dict[str, BenchState]:
        """States of the bench that measurements need, by name."""
        return self._table("bench_states", BenchState)

    @cached_property
    def instruments(self) -> dict[str, Instrument]:
        """Instruments by name."""
        return self._table("instruments", Instrument)

    @cached_property
    def part_kinds(self) -> dict[str, PartKind]:
        """Kinds of parts by name."""
        return self._table("part_kinds", PartKind)

    @cached_property
    def conditions(self) -> dict[str, SetCondition]:
        """Conditions that a set may be in, by name."""
        return self._table("conditions", SetCondition)

    @cached_property
    def opening(self) -> dict[str, OpeningQuestion]:
        """The questions before any test, in the order in which they are asked."""
        return self._table("opening", OpeningQuestion)

    @cached_property
    def picture_words(self) -> dict[str, PictureWord]:
        """When a simulated set shows which symptom."""
        return self._table("picture_words", PictureWord)

    @cached_property
    def gallery(self) -> dict[str, Drawn]:
        """How each symptom that is seen on the screen is drawn."""
        return self._table("gallery", Drawn)

    @cached_property
    def sources(self) -> dict[str, Source]:
        """Published documents by key."""
        return self._table("sources", Source)

    @cached_property
    def strengths(self) -> dict[str, float]:
        """Likelihood ratio of each strength of a finding."""
        found: dict[str, float] = {}
        for document in self._documents("strengths"):
            for word, ratio in document.data["strengths"].items():
                if isinstance(ratio, bool) or not isinstance(ratio, (int, float)) or not ratio > 0:
                    line = document.line(("strengths", word))
                    raise BadFile(f"{document.name}:{line}: strengths.{word}: expected a ratio above zero.")
                found[str(word)] = float(ratio)
        return found

    @cached_property
    def cautions(self) -> dict[str, Caution]:
        """Cautions by key, in the order in which they are shown."""
        return self._table("cautions", Caution)

    @cached_property
    def never(self) -> dict[str, NeverAdvised]:
        """What is never advised, by name, with what is advised in its place."""
        return self._table("never", NeverAdvised)

    @cached_property
    def points(self) -> dict[str, PointRating]:
        """Points that are rated or forbidden, by name."""
        return self._table("points", PointRating)

    @cached_property
    def cold_checks(self) -> dict[str, ColdCheck]:
        """The checks before the first power, in their order."""
        return self._table("cold_checks", ColdCheck)

    @cached_property
    def recapping(self) -> dict[str, str]:
        """What to replace on sight, on suspicion, never."""
        return self._texts("recapping")

    @cached_property
    def recapping_parts(self) -> dict[str, RecappingRule]:
        """Which parts each line of the recapping policy speaks of."""
        return self._table("recapping_parts", RecappingRule)

    @cached_property
    def glossary(self) -> dict[str, GlossaryEntry]:
        """Terms of the trade."""
        return self._table("glossary", GlossaryEntry)

    def term(self, word: str) -> tuple[str, GlossaryEntry]:
        """Return a term, found by itself or by another word for it.

        Raises:
            UnknownWord: it is not in the glossary.
        """
        wanted = " ".join(word.lower().split())
        for term, entry in self.glossary.items():
            if wanted in (term.lower(), *(other.lower() for other in entry.also)):
                return term, entry
        names = list(self.glossary) + [o for e in self.glossary.values() for o in e.also]
        raise UnknownWord("term", word, names)

    @cached_property
    def tubes(self) -> dict[str, TubeType]:
        """Registered tube types."""
        return self._table("tubes", TubeType)

    @cached_property
    def tube_refusals(self) -> dict[str, TubeRefusal]:
        """Pairs of tube types that are taken for each other and must not be, by a name of the pair."""
        return self._table("tube_refusals", TubeRefusal)

    @cached_property
    def usual_values(self) -> dict[str, UsualValue]:
        """Usual range of the value of a part, by "stage role"."""
        return self._table("usual_values", UsualValue)

    @cached_property
    def tube_fits(self) -> dict[str, TubeFit]:
        """Fitted models of receiving tubes by type."""
        return self._table("tube_fits", TubeFit)

    @cached_property
    def picture_tubes(self) -> dict[str, PictureTube]:
        """Registered picture-tube types."""
        return self._table("picture_tubes", PictureTube)

    @cached_property
    def proof(self) -> dict[str, str]:
        """How a repair is proved, step by step."""
        return self._texts("proof")

    def chassis_names(self) -> list[str]:
        """Return the names of the chassis that are shipped."""
        return sorted(path.stem for path in (self.root / "chassis").glob("*.yaml"))

    def chassis_path(self, name: str) -> Path:
        """Return the file of a shipped chassis.

        Raises:
            UnknownWord: there is none of that name.
        """
        if name not in self.chassis_names():
            raise UnknownWord("chassis", name, self.chassis_names())
        return self.root / "chassis" / f"{name}.yaml"

    def stage(self, name: str) -> Stage:
        """Return a stage by name, or raise :class:`UnknownWord`."""
        if name not in self.stages:
            raise UnknownWord("stage", name, self.stages)
        return self.stages[name]

    def _texts(self, table: str) -> dict[str, str]:
        """Return a table whose entries are plain sentences."""
        return {k: str(v) for document in self._documents(table) for k, v in document.data[table].items()}

    def _documents(self, table: str) -> list[Document]:
        paths = sorted((self.root / table).glob("**/*.yaml"))
        single = self.root / f"{table}.yaml"
        if single.is_file():
            paths.insert(0, single)
        if not paths:
            raise BadFile(f"{single}: the knowledge base has no table {table!r}. Install backporch again.")
        return [self._document(path, table) for path in paths]

    def _document(self, path: Path, table: str) -> Document:
        document = kept_yaml(path)
        data = document.data
        if not isinstance(data, dict) or data.get("schema") != 1 or not isinstance(data.get(table), dict):
            raise BadFile(f"{path}:1: expected 'schema: 1' and one mapping called {table!r}.")
        return document

    def _table(self, table: str, model: type[M]) -> dict[str, M]:
        found: dict[str, M] = {}
        problems: list[str] = []
        for document in self._documents(table):
            for key, entry in document.data[table].items():
                try:
                    if key in found:
                        line = document.line((table, key))
                        raise BadFile(f"{document.name}:{line}: {key!r} stands in two files; keep one.")
                    found[key] = checked(model, document, _mapping(entry), (table, key))
                except BackporchError as error:
                    problems.append(str(error))
        if problems:
            raise BadFile("\n".join(problems))
        return found


def _mapping(entry: Any) -> Any:
    return entry if entry is not None else {}


def shipped() -> Library:
    """Return the knowledge base that comes with the program."""
    import backporch.kb

    return Library(Path(next(iter(backporch.kb.__path__))))
