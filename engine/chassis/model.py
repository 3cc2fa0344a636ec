# SPDX-License-Identifier: MIT
"""The shape of a chassis file: parts with roles in stages, tubes with sections, test points, controls."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.models import StandardName
from backporch.engine.knowledge.validation import Frozen, Hertz, Ratio, Volts
from backporch.engine.units import parse

__all__ = [
    "SAFETY_FIELDS",
    "Chassis",
    "Control",
    "Part",
    "Rail",
    "StageCircuit",
    "TestPoint",
    "Tube",
    "TubeSection",
    "unit_of_kind",
]

SAFETY_FIELDS = ("chassis_return", "envelope", "high_voltage_source")
"""What every file says of its own set: these are not inherited, and unsaid they count as unknown."""

_UNITS = {
    "ohm": ("resistor", "control", "preset", "thermistor"),
    "F": ("capacitor", "electrolytic", "trimmer"),
    "H": ("small transformer", "IF transformer", "output transformer", "flyback", "choke", "coil", "yoke"),
    "V": ("mains transformer", "selenium"),
    "A": ("fuse",),
}


def unit_of_kind(kind: str) -> str:
    """Return the unit that the value of a kind of part is given in, or "" where it has no value.

    Example:
        >>> unit_of_kind("paper capacitor"), unit_of_kind("joint")
        ('F', '')
    """
    return next((unit for unit, words in _UNITS.items() if any(word in kind for word in words)), "")


def _share(value: object) -> object:
    if isinstance(value, str) and value.strip().endswith("%"):
        try:
            return float(value.strip()[:-1]) / 100
        except ValueError as error:
            raise ValueError(f"{value!r} is not a percentage such as 20%") from error
    return value


Share = Annotated[float, BeforeValidator(_share), Field(ge=0, le=1)]


class Rail(Frozen):
    """A supply rail: which stage makes it, and what it should be where that is known."""

    maker: str
    title: str
    nominal_v: Volts


class StageCircuit(Frozen):
    """How one stage is built on this chassis."""

    circuit: str = Field(description="The kind of circuit; the virtual chassis has a model for each kind.")
    after: tuple[str, ...] = Field((), description="The stages whose signal goes straight into this one.")
    rails: tuple[str, ...] = Field((), description="The rails that feed it.")
    note: str | None = None


class Control(Frozen):
    """A knob or a preset: how far it turns the part that it is."""

    title: str
    where: Literal["front", "back", "chassis"]
    position: Ratio = Field(0.5, ge=0, le=1, description="Where it stands in the working set, 0 to 1.")


class Part(Frozen):
    """A part with its value and the role that it has in its stage."""

    stage: str
    role: str = Field(description="What it does in its stage, from the roles of that circuit.")
    kind: str = Field(description="A key of kb/part_kinds.")
    value: str | None = None
    tolerance: Share = 0.2
    rating: str | None = None
    control: Control | None = None
    does: str = Field("", description="What it is for, in the words of a service sheet.")


class TubeSection(Frozen):
    """One system of a tube, with the stage that it works in."""

    stage: str
    role: str


class Tube(Frozen):
    """A tube: its registered type, its sections and its place in the heater wiring."""

    type: str
    kind: str = Field("tube", description="A key of kb/part_kinds: tube, rectifier tube, damper tube ...")
    sections: dict[str, TubeSection]
    heater: Literal["winding", "string", "own-winding", "flyback"] = "winding"
    string_place: int | None = Field(None, description="Place in the heater string, 1 next to the mains.")
    heater_v: Volts = Field(6.3, description="Rated heater voltage.")


class TestPoint(Frozen):
    """Where on this chassis a named point is found."""

    at: str = Field(description='Tube and pin, for example "V7 pin 4", or the joint of named parts.')
    reference: str = "B-"
    note: str | None = None
    published: dict[str, Volts] = Field(
        default_factory=dict,
        description="Values from a service sheet by quantity; they win over computed.",
    )


class Chassis(Frozen):
    """A receiver from mains plug to picture tube."""

    schema_: Literal[1] = Field(alias="schema")
    name: str
    title: str
    like: str | None = None
    story: str = ""
    standard: StandardName
    mains_v: Volts
    mains_hz: Hertz
    supply: Literal["transformer", "series-string"]
    rectifier: Literal["full-wave", "bridge", "half-wave", "cascade-doubler", "full-wave-doubler"]
    chassis_return: Literal["isolated", "one-mains-leg", "doubler-leg", "live-either-way", "unknown"]
    envelope: Literal["glass", "metal-cone", "unknown"]
    high_voltage_source: Literal["flyback", "mains", "oscillator", "unknown"]
    sound_takeoff: Literal["split", "after-detector", "after-video"]
    ion_trap: Literal["none", "single", "double"]
    output_bias: Literal["grid-leak", "cathode", "stabilised"]
    modulation: Literal["negative", "positive"]
    horizontal_sync: Literal["afc", "direct"]
    picture_tube: str
    rails: dict[str, Rail]
    stages: dict[str, StageCircuit]
    parts: dict[str, Part]
    tubes: dict[str, Tube]
    test_points: dict[str, TestPoint]
    figures: dict[str, float | str] = Field(
        default_factory=dict, description="Design figures that no part value tells, with unit in the name."
    )

    def with_changes(
        self,
        changes: Mapping[str, str] | None = None,
        *,
        standard: StandardName | None = None,
        mains_v: float | None = None,
    ) -> Chassis:
        """Return this chassis with other part values, another scanning standard or other mains.

        Args:
            changes: New values by part name, for example ``{"C41": "0.1 uF"}``.
            standard: Scanning standard instead of the chassis's own.
            mains_v: Mains voltage instead of the rated one [V].
        Raises:
            UnknownWord: there is no part of that name.
            BadInput: the value does not suit the kind of part.
        """
        update: dict[str, Any] = {}
        if changes:
            parts = dict(self.parts)
            for name, value in changes.items():
                parts[name] = self._changed(name, value)
            update["parts"] = parts
        if standard is not None:
            update["standard"] = standard
        if mains_v is not None:
            update["mains_v"] = float(mains_v)
        return self.model_copy(update=update)

    def _changed(self, name: str, value: str) -> Part:
        if name not in self.parts:
            raise UnknownWord("part", name, self.parts)
        part = self.parts[name]
        unit = unit_of_kind(part.kind)
        if not unit:
            raise BadInput(f"{name} is a {part.kind} and has no value to change.")
        if parse(value, unit) <= 0:
            raise BadInput(f"{name}: {value!r} must be above zero.")
        return part.model_copy(update={"value": value})
