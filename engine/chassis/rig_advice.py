# SPDX-License-Identifier: MIT
"""What is to be said of a bench rig: why it is refused, what comes first, and what will look different."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.rig_figures import (
    LEAD_F_PER_M,
    Scan,
    detail_share_of,
    picture_tube_of,
    rig_heater_in_string,
    string_current_a,
)
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.knowledge.tube_tables import PictureTube
from backporch.engine.units import show

__all__ = [
    "SEEN_RIPPLE", "SEEN_SIZE", "Difference", "coating_differences", "first_steps", "heater_differences",
    "lead_differences", "refusals", "size_differences", "tube_differences", "yoke_degrees",
]  # fmt: skip

SEEN_SIZE = 0.05
"""A change of size that is noticed; our judgement."""
SEEN_RIPPLE = 0.005
"""Ripple over anode voltage that is noticed as unrest of focus and edges; our judgement."""
_GUN = ("grid", "first_anode", "cathode", "heater")


@dataclass(frozen=True)
class Difference:
    """One thing that looks different on the rig and is no fault of the chassis."""

    about: str
    says: str
    explains: tuple[str, ...] = ()
    """Symptoms that it accounts for."""


def refusals(chassis: Chassis, rig: Rig, tube: PictureTube, scan: Scan) -> Iterator[str]:
    """Give the reasons for which a chassis must not be run on a rig."""
    if tube.anode.most < scan.anode_open_v:
        yield (
            f"The chassis gives {show(scan.anode_open_v, 'V')} unloaded, and {rig.tube} may have "
            f"{show(tube.anode.most, 'V')} at most: it may break down or give X-rays. Take one of higher rating."
        )
    if chassis.supply == "series-string" and rig.heater == "in-string":
        string_a = string_current_a(chassis)
        if tube.heater.current < 0.9 * string_a:
            yield (
                f"The string carries {show(string_a, 'A')} and the heater of {rig.tube} is made for "
                f"{show(tube.heater.current, 'A')}: it would burn out. Heat it from a source of its own."
            )
    if tube.envelope == "metal-cone":
        yield "The whole anode voltage stands on a metal cone: not on an open bench rig."
    if chassis.high_voltage_source == "mains":
        yield "An anode supply taken from the mains can kill at a touch: no rig and no live step on it."


def first_steps(chassis: Chassis, rig: Rig, own: PictureTube, tube: PictureTube, scan: Scan) -> Iterator[str]:
    """Give what is to be done before the rig is switched on, in order."""
    yield "Set off, plug out. Discharge both tubes, each to its own coating, hold, wait and repeat."
    if chassis.chassis_return != "isolated":
        yield "The rig's coating, yoke clamp and strap are joined to the mains: isolate the set; touch none."
    if rig.adapter != "none" or own.base != tube.base:
        if rig.adapter != "checked":
            yield (
                "Check the adapter pin by pin with an ohmmeter: first grid and first anode exchanged leave the "
                "screen dark or beyond control."
            )
        yield "Lead the picture to the electrode the set drives, grid or cathode; at the other it is negative."
        yield from _pins(own, tube)
    if chassis.supply == "series-string" and rig.heater != "in-string":
        volts, string_a = chassis.tubes[picture_tube_of(chassis)].heater_v, string_current_a(chassis)
        yield (
            f"Put {volts / string_a:.3g} ohm in the string in place of the tube's heater; it takes "
            f"{volts * string_a:.2g} W, so fit 5 to 10 W and keep it clear of other parts."
        )
        yield "Heat the tube from an isolated source of its own."
    if rig.heater == "in-string" and chassis.supply == "series-string":
        yield from _string_words(chassis, tube)
    if rig.coating == "loose":
        yield "Bond the outer coating to the chassis return by a spring lead of its own, or it sparks."
    if rig.horizontal_yoke or rig.vertical_yoke:
        yield "See what else the yoke plug carries: B+, an interlock or damping parts leave with it."
        yield "Never run the flyback transformer with no yoke."
    if 1.05 * tube.first_anode_most < scan.first_anode_v:
        yield (
            f"First anode: the chassis gives {show(scan.first_anode_v, 'V')}, the tube may have "
            f"{show(tube.first_anode_most, 'V')}. Fit a divider."
        )
    if tube.ion_trap != "none":
        yield "This tube needs its ion-trap magnet; without it the screen stays dark."
    if tube.focus != own.focus:
        yield f"Focus differs: the set has {own.focus}, the rig's tube {tube.focus}. Give it what it needs."
    yield "Turn the brightness down until the vertical scan is seen to work."


def _pins(own: PictureTube, tube: PictureTube) -> Iterator[str]:
    if own.pins is None or tube.pins is None:
        return
    moved = [
        f"{name.replace('_', ' ')} {_pin(getattr(own.pins, name))} to {_pin(getattr(tube.pins, name))}"
        for name in _GUN
        if getattr(own.pins, name) != getattr(tube.pins, name)
    ]
    if moved or own.base.kind != tube.base.kind:
        yield f"Pins, socket of the set to tube of the rig: {', '.join(moved) or 'the same numbers'}."


def _pin(pin: int | tuple[int, int]) -> str:
    return " and ".join(map(str, pin)) if isinstance(pin, tuple) else str(pin)


def size_differences(rig: Rig, width: float, height: float, after: Scan, before: Scan) -> Iterator[Difference]:
    """Give what yoke, angle and anode voltage change in size, retrace and stripes."""
    for size, what, small, large in (
        (width, "width", "width-too-small", "width-too-large"),
        (height, "height", "height-too-small", "height-too-large"),
    ):
        if abs(size - 1.0) > SEEN_SIZE:
            both = ("raster-too-small",) if size < 1 else ("raster-too-large",)
            sign = (small, *both) if size < 1 else (large, *both)
            yield Difference(what, f"The {what} comes to about {size:.2f} of the mask.", sign)
    change = after.retrace_s / before.retrace_s
    if abs(change - 1.0) > SEEN_SIZE:
        side = ("fold-over-left",) if change > 1 else ()
        yield Difference(
            "retrace",
            f"The retrace lasts {show(after.retrace_s, 's')} in place of {show(before.retrace_s, 's')}, and the "
            f"anode voltage is {after.anode_v / before.anode_v - 1:+.0%}.",
            side,
        )
    if rig.horizontal_yoke:
        yield Difference("ringing", "Stripes at the left: its balance may not suit.", ("vertical-bars-left",))


def yoke_degrees(rig: Rig, own: PictureTube) -> float | None:
    """Return the angle that the yoke in use is made for [degrees], or None where it was not said."""
    if rig.yoke_angle is None and (rig.horizontal_yoke or rig.vertical_yoke):
        return None
    return rig.yoke_angle or own.angle_degrees


def tube_differences(rig: Rig, own: PictureTube, tube: PictureTube) -> Iterator[Difference]:
    """Give what another kind of tube changes, with the yoke that stands on it."""
    if tube.shape != own.shape:
        yield Difference("shape", "Another shape of screen: corners are cut or edges bent.", ("neck-shadow",))
    if tube.angle_degrees > own.angle_degrees + 5:
        yield Difference(
            "angle",
            f"The tube is made for {tube.angle_degrees:.0f} degrees and the set for {own.angle_degrees:.0f}: "
            "the light does not fill it.",
            ("raster-too-small",),
        )
    yoke = yoke_degrees(rig, own)
    if yoke is not None and tube.angle_degrees > yoke + 5:
        yield Difference(
            "yoke",
            f"The yoke is made for {yoke:.0f} degrees and bends the beam too early for a tube of "
            f"{tube.angle_degrees:.0f}: its corners lie in the shadow of the neck.",
            ("neck-shadow",),
        )
    if tube.anode.usual > 1.15 * own.anode.usual:
        yield Difference("light", "It wants more anode voltage than the set has: dimmer.", ("raster-dim",))
    if tube.focus != own.focus:
        yield Difference("focus", "Another kind of focus: it may be less sharp.", ("defocused",))


def coating_differences(rig: Rig, ripple: float, foil_m2: float) -> Iterator[Difference]:
    """Give what a coating that is missing or not bonded changes."""
    if ripple > SEEN_RIPPLE:
        yield Difference(
            "coating",
            f"With so little capacitance the anode voltage ripples by {ripple:.1%} at line rate: a picture is "
            f"seen, with unrest in focus and edges. A foil band of {1e4 * foil_m2:.0f} cm2, bonded, would do.",
            ("defocused", "fine-pattern"),
        )
    if rig.coating == "loose":
        yield Difference("coating", "Not bonded, it sparks and hisses.", ("high-voltage-arcing", "white-spots"))


def lead_differences(chassis: Chassis, rig: Rig) -> Iterator[Difference]:
    """Give what a longer cathode lead takes from the picture."""
    if rig.lead <= 0:
        return
    share = detail_share_of(chassis, rig)
    seen = share < 0.9
    yield Difference(
        "cathode lead",
        f"{show(rig.lead, 'm')} more of cathode lead adds about {show(LEAD_F_PER_M * rig.lead, 'F')}: detail "
        f"falls to about {share:.0%}" + (", and edges trail." if seen else ", hardly seen."),
        ("smeared", "picture-soft") if seen else (),
    )


def heater_differences(chassis: Chassis, rig: Rig, tube: PictureTube) -> Iterator[Difference]:
    """Give what the rig's heater does in the set's own string."""
    if chassis.supply != "series-string" or rig.heater != "in-string":
        return
    own, string = rig_heater_in_string(chassis, tube)
    if own < 0.85:
        yield Difference(
            "heater",
            f"In the string the rig's heater gets {own:.0%} of its voltage: the tube stays dark or dim and slow.",
            ("no-raster", "raster-dim", "slow-picture", "picture-tube-heater-dark"),
        )
    if abs(string - 1.0) > 0.02:
        sign = ("heaters-too-bright",) if string > 1 else ("slow-start",)
        yield Difference("heater", f"The other heaters get {string - 1:+.0%} current.", sign)


def _string_words(chassis: Chassis, tube: PictureTube) -> Iterator[str]:
    own, string = rig_heater_in_string(chassis, tube)
    yield f"In the string its heater gets {own:.0%} of its voltage, and the others {string - 1:+.1%} current."
