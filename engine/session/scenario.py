# SPDX-License-Identifier: MIT
"""A saved fault or session as a file: chassis, what was said, what is expected to be found."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from pydantic import Field

from backporch.engine.errors import BadFile
from backporch.engine.knowledge.validation import Frozen, Ratio, checked
from backporch.engine.knowledge.yaml_file import read_yaml

__all__ = ["Expectation", "Scenario", "ScenarioBench", "find_scenarios", "load_scenario"]


class ScenarioBench(Frozen):
    """What the bench of a scenario has beyond, or lacks of, the common instruments."""

    owned: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    rig: str = ""


class Expectation(Frozen):
    """What the diagnosis must come to."""

    stage: str
    part: str | None = None
    rank: int = Field(
        1, ge=1, description="The worst place in the ranking at which the stage still counts as found."
    )
    within_minutes: Ratio = Field(gt=0)


class Scenario(Frozen):
    """One scenario: answered by a simulated set with ``faults``, or by the recorded ``answers``."""

    schema_: Literal[1] = Field(alias="schema")
    title: str
    story: str
    teaches: str
    chassis: str
    bench: ScenarioBench = ScenarioBench()
    circumstances: dict[str, str] = Field(default_factory=dict)
    checks: dict[str, str] = Field(default_factory=dict)
    symptoms: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    seed: int = 1
    answers: dict[str, str] = Field(default_factory=dict)
    repairs: dict[str, Literal["cured", "not-cured"]] = Field(default_factory=dict)
    expect: Expectation


def load_scenario(path: Path) -> Scenario:
    """Read and check one scenario file.

    Raises:
        BadFile: it is not a scenario; every mistake is named with its line.
    """
    document = read_yaml(path)
    scenario = checked(Scenario, document)
    if not scenario.faults and not scenario.answers:
        raise BadFile(f"{path}:1: a scenario needs faults to simulate, or recorded answers.")
    return scenario


def find_scenarios(paths: list[Path]) -> Iterator[Path]:
    """Give the scenario files among ``paths``: files as they are, folders with all .yaml below them.

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
