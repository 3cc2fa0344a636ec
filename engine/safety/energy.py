# SPDX-License-Identifier: MIT
"""How much charge picture tube and filters hold, and how long a bleeder takes, against published limits.

Limits are those that sources quote for touch: 0.1 uF up to 450 V, 45 uC from there to 15 kV, 350 mJ above
(iec-60335-1-excerpt, read second hand), and 60 V direct, above which a point counts as hazardous live
(IEC 61010-031).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from backporch.engine.chassis.model import Chassis
from backporch.engine.circuits.high_voltage_charge import discharge, stored_charge_c, stored_energy_j
from backporch.engine.errors import OutOfRange
from backporch.engine.knowledge.library import Library
from backporch.engine.safety.points import UNLOADED, volts_at
from backporch.engine.units import parse, show

__all__ = ["TOUCH_CAPACITANCE_F", "TOUCH_CHARGE_C", "TOUCH_ENERGY_J", "TOUCH_V", "Store", "coating_f", "stores"]

TOUCH_V = 60.0
TOUCH_CAPACITANCE_F = 0.1e-6
TOUCH_CHARGE_C = 45e-6
TOUCH_ENERGY_J = 0.35
_LOW_V, _HIGH_V = 450.0, 15e3
_LIKELY_ANODE_V = 16e3
"""Taken where the chassis computes none; our estimate, no source."""
_LEAST_F, _MOST_F = 0.5e-9, 2.5e-9
"""Range of the coating where the type is not in the table; our estimate, about a usual published figure."""


@dataclass(frozen=True)
class Store:
    """One thing on the chassis that keeps a charge."""

    name: str
    what: str
    capacitance_f: float
    voltage_v: float
    charge_c: float
    energy_j: float
    bleeder_ohm: float
    discharge_s: float
    """Time through the bleeder down to :data:`TOUCH_V`."""
    peak_a: float
    over_limit: bool
    """Whether it passes the touch limit for its voltage."""
    least_f: float = 0.0
    """Least capacitance where it is a range, whose most is counted; 0 where it is one value [F]."""
    basis: str = ""
    """What a range rests on."""


def stores(
    chassis: Chassis, library: Library, *, filter_bleeder_ohm: float, anode_bleeder_ohm: float
) -> tuple[Store, ...]:
    """Return what keeps a charge on this chassis, largest energy first.

    Args:
        chassis: The chassis.
        library: Has the picture-tube types with the capacitance of their coating.
        filter_bleeder_ohm: Resistor at hand for the filters [ohm], > 0.
        anode_bleeder_ohm: High-voltage resistor string at hand for the picture tube [ohm], > 0.
    Raises:
        OutOfRange: a bleeder is not positive.
    """
    if filter_bleeder_ohm <= 0 or anode_bleeder_ohm <= 0:
        raise OutOfRange("A bleeder needs a resistance above zero, for example 1 k for filters, 1 M for the tube.")
    volts = volts_at(chassis)
    found = list(_filters(chassis, volts, filter_bleeder_ohm))
    found.append(_tube(chassis, library, volts.get("anode-voltage", _LIKELY_ANODE_V), anode_bleeder_ohm))
    return tuple(sorted(found, key=lambda s: (-s.energy_j, s.name)))


def _tube(chassis: Chassis, library: Library, volts: float, bleeder_ohm: float) -> Store:
    """Return the picture tube with the filter beside it; the larger end of the coating's range counts."""
    least, most, basis = coating_f(chassis, library)
    beside = sum(
        parse(part.value, "F")
        for part in chassis.parts.values()
        if part.value and (part.stage, part.role) == ("high-voltage", "filter-capacitor")
    )
    store = _store("picture tube", "anode against the outer coating", most + beside, volts, bleeder_ohm)
    basis += f"; the filter of {show(beside, 'F')} beside it is counted in" if beside else ""
    return replace(store, least_f=least + beside, basis=basis)


def coating_f(chassis: Chassis, library: Library) -> tuple[float, float, str]:
    """Return least and most capacitance of the coating of the picture tube [F], and what that rests on."""
    tube = chassis.tubes.get(chassis.picture_tube)
    name = tube.type if tube else ""
    known = library.picture_tubes.get(name)
    if known is not None and known.coating is not None:
        source = known.sources.get("coating", known.sources.get("every-other-figure", ""))
        return known.coating.least, known.coating.most, f"coating of a {name}, {source}"
    if chassis.envelope == "metal-cone":
        return 0.0, _LEAST_F, "a metal cone has no coating; an estimate for the cone and what hangs on it"
    grob = library.sources["grob-answers-tube-coating"]
    return (
        _LEAST_F,
        _MOST_F,
        f"{name or 'the tube'} is not in the table, an estimate; {grob.title} has 2 nF",
    )


def _filters(chassis: Chassis, volts: Mapping[str, float], bleeder_ohm: float) -> Iterator[Store]:
    for name, part in chassis.parts.items():
        point = _point_of(part.stage, part.role)
        if "capacitor" in part.kind + part.role and part.value and point in volts:
            held_v = volts[point] * UNLOADED
            yield _store(name, part.does or part.role, parse(part.value, "F"), held_v, bleeder_ohm)


def _point_of(stage: str, role: str) -> str:
    """Return the point whose voltage stands across a capacitor that keeps a charge, or ""."""
    if stage == "rail-decoupling" and role.startswith("capacitor-"):
        return f"rail-{role.removeprefix('capacitor-')}"
    return _POINTS.get((stage, role), "")


_POINTS = {
    ("low-voltage-supply", "reservoir"): "reservoir",
    ("rail-decoupling", "b-plus-capacitor"): "b-plus",
    ("damper-boost", "filter-capacitor"): "boosted-b-plus",
    ("picture-tube-supplies", "first-anode-bypass"): "picture-tube-first-anode",
}


def _store(name: str, what: str, farads: float, volts: float, bleeder_ohm: float) -> Store:
    charge = float(stored_charge_c(farads, volts))
    energy = float(stored_energy_j(farads, volts))
    over = energy > TOUCH_ENERGY_J if volts > _HIGH_V else charge > TOUCH_CHARGE_C
    if volts <= _LOW_V:
        over = farads > TOUCH_CAPACITANCE_F
    seconds = peak = 0.0
    if volts > TOUCH_V:
        flow = discharge(volts, TOUCH_V, farads, bleeder_ohm)
        seconds, peak = float(flow.time_s), float(flow.peak_a)
    return Store(name, what, farads, volts, charge, energy, bleeder_ohm, seconds, peak, over)
