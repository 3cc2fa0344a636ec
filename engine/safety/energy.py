# SPDX-License-Identifier: MIT
"""How much charge picture tube and filters hold, and how long a bleeder takes, against published limits.

Limits are those that sources quote for touch: 0.1 uF up to 450 V, 45 uC from there to 15 kV, 350 mJ above
(IEC 60335-1, 8.1.4, read second hand), and 60 V direct, above which a point counts as hazardous live
(IEC 61010-031).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from backporch.engine.chassis.expected import expected
from backporch.engine.chassis.model import Chassis
from backporch.engine.circuits.high_voltage_charge import discharge, stored_charge_c, stored_energy_j
from backporch.engine.errors import OutOfRange
from backporch.engine.units import parse

__all__ = ["TOUCH_CAPACITANCE_F", "TOUCH_CHARGE_C", "TOUCH_ENERGY_J", "TOUCH_V", "Store", "stores"]

TOUCH_V = 60.0
TOUCH_CAPACITANCE_F = 0.1e-6
TOUCH_CHARGE_C = 45e-6
TOUCH_ENERGY_J = 0.35
_LOW_V, _HIGH_V = 450.0, 15e3
_COATING_F = 2e-9
"""Anode to coating of a large tube, upper end of the usual range; from memory, to verify."""


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


def stores(chassis: Chassis, *, filter_bleeder_ohm: float, anode_bleeder_ohm: float) -> tuple[Store, ...]:
    """Return what keeps a charge on this chassis, largest energy first.

    Args:
        chassis: The chassis.
        filter_bleeder_ohm: Resistor at hand for the filters [ohm], > 0.
        anode_bleeder_ohm: High-voltage resistor string at hand for the picture tube [ohm], > 0.
    Raises:
        OutOfRange: a bleeder is not positive.
    """
    if filter_bleeder_ohm <= 0 or anode_bleeder_ohm <= 0:
        raise OutOfRange("A bleeder needs a resistance above zero, for example 1 k for filters, 1 M for the tube.")
    found = list(_filters(chassis, filter_bleeder_ohm))
    anode_v = float(expected(chassis, draws=2)["anode-voltage.dc"].value)
    found.append(_store("picture tube", "anode against the outer coating", _COATING_F, anode_v, anode_bleeder_ohm))
    return tuple(sorted(found, key=lambda s: (-s.energy_j, s.name)))


def _filters(chassis: Chassis, bleeder_ohm: float) -> Iterator[Store]:
    healthy = expected(chassis, draws=2)
    b_plus = float(healthy["b-plus.dc"].value) if "b-plus.dc" in healthy else 300.0
    for name, part in chassis.parts.items():
        if part.kind.startswith("electrolytic") and part.value and part.stage in _FILTER_STAGES:
            rail = healthy.get(f"rail-{part.role.removeprefix('capacitor-')}.dc")
            volts = float(rail.value) if rail else float(b_plus * _SURGE)
            yield _store(name, part.does or part.role, parse(part.value, "F"), volts, bleeder_ohm)


_FILTER_STAGES = ("low-voltage-supply", "rail-decoupling")
_SURGE = 1.15
"""Filters stand above B+ until the tubes are warm, and after switching off under no load; our estimate."""


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
