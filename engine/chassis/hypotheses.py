# SPDX-License-Identifier: MIT
"""All single faults of a chassis, and how likely each is before anything is seen.

An open heater in a series string darkens all of it and so counts as a fault of the heater supply.

A hypothesis is a part or a section of a tube with a way in which it fails; each stage has one more for
whatever the chassis file does not list.  Priors are relative frequencies by kind of part, mode, condition
of the set and whether the part was renewed (kb/part_kinds.yaml, kb/conditions.yaml): our judgement.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.errors import UnknownWord
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Effect, Mode

__all__ = ["HEATER_MODES", "RECAPPED_KINDS", "RENEWED_GROUPS", "Fault", "Hypothesis", "all_hypotheses", "priors"]

Floats = NDArray[np.float64]

RECAPPED_KINDS = ("paper capacitor", "electrolytic")
"""What is new in a set that was recapped; common practice, no source."""
RENEWED_GROUPS: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "capacitors": frozenset(RECAPPED_KINDS),
        "electrolytics": frozenset({"electrolytic"}),
        "tubes": frozenset({"tube", "rectifier tube", "damper tube", "high-voltage rectifier tube"}),
        "capacitors-and-tubes": frozenset(
            {*RECAPPED_KINDS, "tube", "rectifier tube", "damper tube", "high-voltage rectifier tube"}
        ),
    }
)
"""Kinds of part that are new by the answer to the question which parts are new."""
_UNLISTED_SHARE = 0.04
HEATER_MODES = ("heater-open", "heater-opens-when-hot")
"""Modes that take the heater of a whole tube."""
_STRING_MODES = (*HEATER_MODES, "heater-cathode-short")
"""Modes that upset a whole string and so belong to it; a leak that hums belongs to the stage of its tube."""
_WHOLE_TUBE_MODES = (*HEATER_MODES, "bad-contact", "microphonic", "transposed")
_TOUCHED = {"parts-replaced": 8.0, "tubes-changed": 8.0, "controls-turned": 8.0, "moved": 1.0}
_EVENT_MODES = {
    "parts-replaced": ("wrong-value", "reversed", "open"),
    "tubes-changed": ("transposed", "bad-contact"),
    "controls-turned": ("misadjusted", "misplaced"),
    "moved": ("bad-contact", "open", "dirty", "misplaced", "microphonic"),
}


@dataclass(frozen=True)
class Fault:
    """A part made to fail: which part, how, and what that does to it."""

    part: str
    """Part name, or tube name with section, as in the batch of the simulator."""
    mode: str
    effects: tuple[Effect, ...] = ()


@dataclass(frozen=True)
class Hypothesis:
    """One way in which the set may be faulty."""

    id: str
    """``part:mode``; for something unlisted ``stage:unlisted``."""
    part: str
    """Name on the chassis, tube names with their section, or "" for something unlisted."""
    owner: str
    """The part or the tube that would be replaced, or ""."""
    mode: str
    stage: str
    kind: str
    title: str
    effects: tuple[Effect, ...]
    original: float
    renewed: float
    human: bool

    @property
    def fault(self) -> Fault | None:
        """The fault to simulate, or none for something unlisted."""
        return Fault(self.part, self.mode, self.effects) if self.part else None


def all_hypotheses(chassis: Chassis, library: Library) -> tuple[Hypothesis, ...]:
    """Return every single fault of the chassis, and one "something unlisted" for each stage."""
    found = [*_of_parts(chassis, library), *_of_tubes(chassis, library)]
    return (*found, *_unlisted(chassis, library, found))


def _hypothesis(part: str, owner: str, kind: str, stage: str, words: str, name: str, mode: Mode) -> Hypothesis:
    return Hypothesis(
        id=f"{part}:{name}",
        part=part,
        owner=owner,
        mode=name,
        stage=stage,
        kind=kind,
        title=f"{part} ({words}) {mode.title}",
        effects=mode.effects,
        original=mode.original,
        renewed=mode.renewed,
        human=mode.human,
    )


def _of_parts(chassis: Chassis, library: Library) -> Iterator[Hypothesis]:
    for part_name, part in chassis.parts.items():
        for mode_name, mode in library.part_kinds[part.kind].modes.items():
            words = part.does or part.role
            yield _hypothesis(part_name, part_name, part.kind, part.stage, words, mode_name, mode)


def _of_tubes(chassis: Chassis, library: Library) -> Iterator[Hypothesis]:
    for tube_name, tube in chassis.tubes.items():
        modes = library.part_kinds[tube.kind].modes
        for n, (key, section) in enumerate(tube.sections.items()):
            name = tube_name if len(tube.sections) == 1 else f"{tube_name}{key}"
            words = f"{tube.type}, {section.role.replace('-', ' ')}"
            for mode_name, mode in modes.items():
                if n == 0 or mode_name not in _WHOLE_TUBE_MODES:
                    in_string = mode_name in _STRING_MODES and tube.heater == "string"
                    stage = "heater-supply" if in_string else section.stage
                    yield _hypothesis(name, tube_name, tube.kind, stage, words, mode_name, mode)


def _unlisted(chassis: Chassis, library: Library, listed: Sequence[Hypothesis]) -> Iterator[Hypothesis]:
    for stage in chassis.stages:
        inside = [h for h in listed if h.stage == stage]
        title = f"something unlisted in: {library.stage(stage).title}"
        share = _UNLISTED_SHARE * sum(h.original for h in inside) + 0.01
        yield Hypothesis(f"{stage}:unlisted", "", "", "unlisted", stage, "", title, (), share, share, False)


def priors(
    hypotheses: Sequence[Hypothesis],
    library: Library,
    *,
    condition: str = "",
    last_event: str = "unknown",
    renewed: Collection[str] = (),
) -> Floats:
    """Return the probability of each hypothesis before anything is seen; sums to 1.

    Args:
        hypotheses: From :func:`all_hypotheses`.
        library: The knowledge base.
        condition: A key of kb/conditions.yaml, or "" where nothing is known.
        last_event: What happened last: unknown, failed-running, moved, parts-replaced, tubes-changed or
            controls-turned.
        renewed: What is new: names of parts or tubes, or kinds of part.
    Raises:
        UnknownWord: there is no such condition.
    """
    if condition and condition not in library.conditions:
        raise UnknownWord("condition", condition, library.conditions)
    human = library.conditions[condition].human_factor if condition else 1.0
    weights = np.array([_weight(h, renewed, human, last_event) for h in hypotheses])
    weights = np.maximum(weights, 1e-9)
    return np.asarray(weights / weights.sum(), dtype=float)


def _weight(h: Hypothesis, renewed: Collection[str], human: float, event: str) -> float:
    new = h.owner in renewed or h.kind in renewed
    weight = h.renewed if new else h.original
    if h.human:
        weight *= human
    if h.mode in _EVENT_MODES.get(event, ()):
        weight *= _TOUCHED[event] if h.human or event != "moved" else 3.0
    return weight
