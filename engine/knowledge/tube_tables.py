# SPDX-License-Identifier: MIT
"""The shapes of two tables of types: fitted models of receiving tubes, and picture tubes with their ratings."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from backporch.engine.knowledge.validation import Amperes, Farads, Frozen, Ohms, Ratio, Volts

__all__ = ["FitPoint", "PictureTube", "TubeFit"]

Fitted = Literal[
    "mu", "exponent", "kg1", "kp", "kvb", "contact_v", "grid_perv", "grid_contact_v", "kg2", "returned_share",
    "plate_share", "tail_share", "tail_mu", "plate_perv",
]  # fmt: skip
Quantity = Literal[
    "plate_a", "screen_a", "plate_v", "grid_v", "transconductance_a_per_v", "plate_resistance_ohm", "amplification"
]  # fmt: skip
Pin = Annotated[int, Field(ge=1, le=14)]


class FitAt(Frozen):
    """The conditions of a published point."""

    plate_v: Volts | None = None
    screen_v: Volts | None = None
    grid_v: Volts | None = None
    cathode_ohm: Ohms | None = None
    plate_a: Amperes | None = None
    transconductance_a_per_v: Ratio | None = None


class FitPoint(Frozen):
    """A published point of a tube, and how far the fitted model is from it."""

    use: Literal["datum", "inner", "edge", "apart"] = Field(
        description="datum weighs most in the fit; inner points take turns at being left out; edge points (grid "
        "at zero, knee, cut-off) never do; one that stands apart is not used."
    )
    at: FitAt
    published: dict[Quantity, float]
    error: dict[Quantity, Ratio] = Field(description="Shipped model over published less one.")
    left_out: dict[Quantity, Ratio] = Field(
        {},
        description="The same for a fit that has not seen it: of an inner point all, of an edge its slopes.",
    )
    why: str = Field("", description="Why a point stands apart.")
    source: str
    standing: str = Field(description="How the figure was had: read, read second-hand, from memory.")

    @model_validator(mode="after")
    def _alike(self) -> Self:
        if self.published.keys() != self.error.keys():
            raise ValueError("published and error must name the same quantities")
        if self.left_out.keys() > self.published.keys() or (self.use == "inner") > bool(self.left_out):
            raise ValueError("an inner point must say how far off a fit is that was made without it")
        if (self.use == "apart") != bool(self.why):
            raise ValueError("a point that stands apart, and no other, must say why")
        return self


class TubeFit(Frozen):
    """The numbers of a type's model, with the points they were fitted to."""

    kind: Literal["triode", "pentode", "diode"]
    same: tuple[str, ...] = Field((), description="Other types with the same curves.")
    graded: bool = Field(False, description="Whether its cut-off is softer than an even grid gives.")
    start_mu: Ratio | None = Field(None, description="Where the search for a pentode starts.")
    model: dict[Fitted, Ratio]
    points: tuple[FitPoint, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _has_a_datum(self) -> Self:
        if sum(point.use == "datum" for point in self.points) != 1:
            raise ValueError("one of its points, and only one, must have use: datum")
        return self


class Heater(Frozen):
    """Rated heater of a picture tube."""

    voltage: Volts
    current: Amperes


class Base(Frozen):
    """Base of a picture tube: its registered designation, and which socket fits."""

    name: str
    kind: str


class Pins(Frozen):
    """Electrodes by pin."""

    heater: tuple[Pin, Pin]
    grid: Pin
    cathode: Pin
    first_anode: Pin
    focus: Pin | None = None


class CutOff(Frozen):
    """Bias at which the beam of a good tube stops, least and most, at a first-anode voltage."""

    least: Volts
    most: Volts
    first_anode: Volts

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not 0.0 < self.least < self.most < self.first_anode:
            raise ValueError("least, most and first_anode must rise in this order")
        return self


class Anode(Frozen):
    """Anode voltage in use, and the most that the tube may have."""

    usual: Volts
    most: Volts

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not 0.0 < self.usual < self.most:
            raise ValueError("usual must be above zero and below most")
        return self


class Coating(Frozen):
    """Capacitance of the outer coating."""

    least: Farads
    most: Farads


class PictureTube(Frozen):
    """A registered picture-tube type; a help to memory, to be proved on the tube's own sheet before wiring."""

    title: str
    size: str
    shape: Literal["round", "rectangular"]
    angle_degrees: Ratio = Field(ge=40, le=120)
    envelope: Literal["glass", "metal-cone"]
    ion_trap: Literal["none", "single", "double"]
    focus: Literal["magnetic", "low-voltage electrostatic", "self-focusing"]
    heater: Heater
    base: Base
    pins: Pins | None = None
    cut_off: CutOff
    anode: Anode
    first_anode_most: Volts
    coating: Coating | None = None
    sources: dict[str, str]
    limits: str

    @model_validator(mode="after")
    def _of_a_piece(self) -> Self:
        if self.envelope == "metal-cone" and self.coating is not None:
            raise ValueError("a metal cone has no outer coating; remove coating")
        if self.focus == "magnetic" and self.pins is not None and self.pins.focus is not None:
            raise ValueError("a tube focused by a magnet has no pin for focus; remove it")
        return self
