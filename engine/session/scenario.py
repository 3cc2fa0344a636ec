# SPDX-License-Identifier: MIT
"""A saved fault or session as a file: chassis, what was said, what is expected to be found."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator

from backporch.engine.errors import BackporchError, BadFile
from backporch.engine.knowledge.validation import Frozen, Ratio, checked
from backporch.engine.knowledge.yaml_file import Document, read_yaml
from backporch.engine.session.entry import KINDS, Entry, entry_from
from backporch.engine.session.migrations import upgraded

__all__ = [
    "NEVER_SAID",
    "Expectation",
    "Scenario",
    "ScenarioBench",
    "find_scenarios",
    "load_scenario",
    "load_session",
    "scenario_in",
]

NEVER_SAID = ("start", "undo", "edited")
"""Kinds of entries that a file has no line for: what they do is done."""


class ScenarioBench(Frozen):
    """What the bench of a scenario has beyond, or lacks of, the common instruments."""

    owned: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    rig: str = ""
    file: str = Field(default="", description="The person's bench file, by its full path.")


class Expectation(Frozen):
    """What the diagnosis must come to."""

    stage: str
    part: str | None = None
    rank: int = Field(
        default=1, ge=1, description="The worst place in the ranking at which the stage still counts as found."
    )
    within_minutes: Ratio | None = Field(default=None, gt=0, description="Most bench minutes; no limit without.")


def _said(data: Any) -> Entry:
    """Return the entry that one line of ``said`` stands for, such as {symptom: no-raster}."""
    if isinstance(data, Entry):
        return data
    if not isinstance(data, dict):
        raise ValueError("expected what was said and about what, such as {symptom: no-raster}")
    kinds = [key for key in data if key in KINDS]
    if len(kinds) != 1 or kinds[0] in NEVER_SAID:
        known = ", ".join(kind for kind in KINDS if kind not in NEVER_SAID)
        raise ValueError(f"expected exactly one of {known}")
    if any(isinstance(value, (dict, list)) for value in data.values()):
        raise ValueError("expected plain text and no list or fields inside")
    rest = {key: _text(value) for key, value in data.items() if key != kinds[0]}
    if "of" in rest:
        raise ValueError("a file keeps what stands; a correction has no place in it")
    try:
        return entry_from({"kind": kinds[0], "key": _text(data[kinds[0]]), **rest})
    except BackporchError as error:
        raise ValueError(str(error)) from error


def _text(value: Any) -> str:
    return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)


def _texts(value: Any) -> Any:
    """Return a mapping with numbers as the text that they were, since an answer may be a plain number."""
    if not isinstance(value, dict):
        return value
    return {key: _text(v) if isinstance(v, (int, float)) else v for key, v in value.items()}


Said = Annotated[Entry, BeforeValidator(_said)]
Texts = Annotated[dict[str, str], BeforeValidator(_texts)]


class Scenario(Frozen):
    """One scenario: a simulated set with ``faults``, recorded ``answers``, or a session with all that was said."""

    schema_: Literal[2] = Field(default=2, alias="schema")
    title: str
    story: str = ""
    teaches: str = ""
    chassis: str
    bench: ScenarioBench = ScenarioBench()
    order: Literal["quickest", "cheapest"] = "quickest"
    careful: bool = False
    begun: str = Field(default="", description="When a session was begun, ISO 8601.")
    circumstances: Texts = Field(default_factory=dict)
    checks: Texts = Field(default_factory=dict)
    symptoms: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    seed: int = 1
    answers: Texts = Field(default_factory=dict)
    left_out: dict[str, Literal["cannot", "skip"]] = Field(default_factory=dict)
    repairs: dict[str, Literal["cured", "not-cured", "partly"]] = Field(default_factory=dict)
    said: tuple[Said, ...] = Field(default=(), description="Everything said in a session, in its order.")
    expect: Expectation | None = None

    @field_validator("chassis")
    @classmethod
    def _stays_inside(cls, value: str) -> str:
        if ".." in value.replace("\\", "/").split("/"):
            raise ValueError("a chassis file is named without .. in its path; write the whole path")
        return value


def load_scenario(path: Path) -> Scenario:
    """Read and check one scenario or session file, of this or an earlier schema.

    Raises:
        BadFile: it is not a scenario; every mistake is named with its line.
    """
    return scenario_in(read_yaml(path))


def load_session(path: Path) -> Scenario:
    """Read and check a session file, in which nothing may have been said yet.

    Raises:
        BadFile: it is none; every mistake is named with its line.
    """
    return checked(Scenario, upgraded(read_yaml(path)))


def scenario_in(document: Document) -> Scenario:
    """Return the scenario that a document holds.

    Raises:
        BadFile: it is not a scenario; every mistake is named with its line.
    """
    scenario = checked(Scenario, upgraded(document))
    if not scenario.faults and not scenario.answers and not scenario.said:
        raise BadFile(f"{document.name}:1: a scenario needs faults to simulate, or recorded answers.")
    return scenario


def find_scenarios(paths: list[Path]) -> Iterator[Path]:
    """Give the scenario files among ``paths``: files as they are, folders with all .yaml below them.

    Links inside a folder are not followed, so that nothing outside it is read.

    Raises:
        BadFile: a path does not exist, or a folder has no scenario.
    """
    for path in paths:
        if path.is_dir():
            found = sorted(p for p in path.rglob("*.yaml") if p.is_file() and not p.is_symlink())
            if not found:
                raise BadFile(f"{path}: no scenario (*.yaml) in this folder.")
            yield from found
        elif path.exists():
            yield path
        else:
            raise BadFile(f"{path}: does not exist. Check the path.")
