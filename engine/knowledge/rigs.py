# SPDX-License-Identifier: MIT
"""The shape of a bench rig: a substitute picture tube and yoke on leads, on which a chassis is tried."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from backporch.engine.errors import BadInput
from backporch.engine.knowledge.validation import Frozen, Henries, Ratio, checked
from backporch.engine.knowledge.yaml_file import read_yaml
from backporch.engine.units import parse

__all__ = ["Rig", "read_area", "read_rig"]

_AREA = re.compile(r"\s*([0-9.]+)\s*(cm2|m2|in2|cm²|m²)?\s*")
_SQUARES = {"cm2": 1e-4, "cm²": 1e-4, "m2": 1.0, "m²": 1.0, "in2": 6.4516e-4}


def read_area(value: object) -> float:
    """Return an area in square metres; a bare number counts as square centimetres.

    Example:
        >>> read_area("300 cm2"), read_area("0.03 m2"), read_area(50)
        (0.03, 0.03, 0.005)

    Raises:
        BadInput: it is no area.
    """
    found = _AREA.fullmatch(str(value))
    try:
        if found is None:
            raise ValueError
        area = float(found.group(1)) * _SQUARES[found.group(2) or "cm2"]
    except ValueError:
        raise BadInput(f"{value!r} is no area. Write it as 300 cm2 or 0.03 m2.") from None
    return float(f"{area:.12g}")


def _area(value: object) -> float:
    try:
        return read_area(value)
    except BadInput as error:
        raise ValueError(str(error)) from None


def _length(value: Any) -> float:
    text = str(value).strip()
    try:
        length = float(text[:-2]) / 100.0 if text.endswith("cm") else parse(text, "m")
    except (BadInput, ValueError):
        raise ValueError(f"{value!r} is no length; write 0.5 m or 50 cm") from None
    if not 0.0 <= length <= 10.0:
        raise ValueError(f"{value!r} must be from 0 to 10 m")
    return length


Length = Annotated[float, BeforeValidator(_length)]
Area = Annotated[float, BeforeValidator(_area), Field(ge=0, le=2)]


class Rig(Frozen):
    """A substitute tube and yoke with their leads."""

    schema_: Literal[1] = Field(1, alias="schema")
    title: str = ""
    tube: str = Field(description="A key of kb/picture_tubes.")
    horizontal_yoke: Henries | None = Field(None, description="Inductance; the set's own yoke where left out.")
    vertical_yoke: Henries | None = Field(None, description="Inductance; the set's own yoke where left out.")
    yoke_angle: Ratio | None = Field(None, ge=40, le=120, description="Degrees the yoke is made for.")
    lead: Length = Field(0.0, description="How much longer the cathode lead is than in the set.")
    coating: Literal["bonded", "loose", "none"] = Field(
        "bonded",
        description="The tube's own outer coating: bonded to the chassis return by a spring lead, or not.",
    )
    foil: Area = Field(0.0, description="Area of a foil band on the flare, bonded; 300 cm2.")
    glass: Length = Field(0.005, description="Thickness of the glass under the foil.")
    heater: Literal["own-supply", "in-string", "chassis"] = Field(
        "own-supply", description="What heats the tube: a source of its own, the set's string, or its winding."
    )
    adapter: Literal["none", "checked", "unchecked"] = Field(
        "unchecked", description="Socket adapter: none, or checked pin by pin with an ohmmeter or not."
    )


def read_rig(path: Path) -> Rig:
    """Return the rig that a YAML file describes.

    Raises:
        BackporchError: the file cannot be read or a field is wrong; with line and field.
    """
    return checked(Rig, read_yaml(path))
