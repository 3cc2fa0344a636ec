# SPDX-License-Identifier: MIT
"""The figures behind a bench rig: line stage with another yoke, size, ripple, heater string and cathode lead.

Yokes of one angle are taken as alike in build: their field goes with current times turns, turns with the
root of the inductance, copper with the inductance.
Limits: two yokes for different angles differ in length, which is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.circuits.heaters import dropper_ohm
from backporch.engine.circuits.heaters_string import Heater, StringFeed, heater_string
from backporch.engine.circuits.high_voltage import coating_capacitance_f, ripple_v
from backporch.engine.circuits.picture_tube import raster_share
from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.video import resolution_lines, upper_half_power_hz
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.knowledge.tube_tables import PictureTube
from backporch.engine.units import parse

__all__ = [
    "LEAD_F_PER_M", "Scan", "detail_share_of", "foil_wanted_m2", "picture_tube_of", "rig_heater_in_string",
    "ripple_share_of", "scan_of", "sizes_of", "string_current_a", "with_yokes",
]  # fmt: skip

_STRAY_ANODE_F = 30e-12
"""Anode to surroundings of a tube without any coating: inner coat, lead and rectifier; our judgement."""
LEAD_F_PER_M = 25e-12
"""A single wire some millimetres from metal; 18 pF a metre by the formula of a wire over a plane, and a little."""
_OWN_CATHODE_F = 22e-12
"""Tube output, wiring, socket and cathode of the set itself; the usual figure of the video stage."""


@dataclass(frozen=True)
class Scan:
    """The deflection and the high voltage with one pair of yokes."""

    yoke_pp_a: float
    vertical_pp_a: float
    anode_open_v: float
    anode_v: float
    retrace_s: float
    first_anode_v: float


def picture_tube_of(chassis: Chassis) -> str:
    """Return the name of the picture tube on a chassis."""
    return next(n for n, t in chassis.tubes.items() if any(s.stage == "picture-tube" for s in t.sections.values()))


def yoke_of(chassis: Chassis, which: str) -> str:
    return next((n for n, p in chassis.parts.items() if p.stage == which and p.role == "winding"), "")


def with_yokes(chassis: Chassis, rig: Rig) -> Chassis:
    """Return the chassis with the rig's yokes in place of its own; copper goes with the inductance."""
    changes, figures = {}, dict(chassis.figures)
    for stage, new_h in (("horizontal-yoke", rig.horizontal_yoke), ("vertical-yoke", rig.vertical_yoke)):
        part = yoke_of(chassis, stage)
        if new_h and part:
            old_h = parse(chassis.parts[part].value or "", "H")
            changes[part] = f"{new_h:g} H"
            copper = f"{stage.replace('-', '_')}_ohm"
            if copper in figures:
                figures[copper] = float(figures[copper]) * new_h / old_h
    return chassis.with_changes(changes).model_copy(update={"figures": figures})


def scan_of(chassis: Chassis) -> Scan:
    """Return deflection and high voltage of a healthy chassis as it stands."""
    result = simulate(chassis, healthy_batch(chassis))
    first = result.values.get("picture-tube-first-anode.dc", 0.0)

    def inner(name: str) -> float:
        return float(np.ravel(result.inner[name])[0])

    return Scan(
        yoke_pp_a=inner("yoke_pp_a"),
        vertical_pp_a=inner("vertical_pp_a"),
        anode_open_v=inner("anode_open_v"),
        anode_v=inner("anode_v"),
        retrace_s=inner("retrace_s"),
        first_anode_v=float(np.ravel(first)[0]),
    )


def sizes_of(
    chassis: Chassis, rig: Rig, own: PictureTube, tube: PictureTube, before: Scan, after: Scan
) -> tuple[float, float]:
    """Return width and height on the rig over those on the set's own tube."""
    sizes = []
    for stage, new_h, then, now in (
        ("horizontal-yoke", rig.horizontal_yoke, before.yoke_pp_a, after.yoke_pp_a),
        ("vertical-yoke", rig.vertical_yoke, before.vertical_pp_a, after.vertical_pp_a),
    ):
        part = yoke_of(chassis, stage)
        old_h = parse(chassis.parts[part].value or "1 H", "H") if part else 1.0
        field = now / max(then, 1e-9) * math.sqrt((new_h or old_h) / old_h)
        needed = math.sin(math.radians(tube.angle_degrees) / 2) / math.sin(math.radians(own.angle_degrees) / 2)
        angle = math.radians(tube.angle_degrees)
        sizes.append(float(raster_share(after.anode_v, before.anode_v, field / needed, angle)))
    return sizes[0], sizes[1]


def ripple_share_of(chassis: Chassis, rig: Rig, tube: PictureTube, scan: Scan) -> float:
    """Return the ripple at line rate over the anode voltage, at ordinary beam current."""
    filters = (
        parse(p.value or "", "F")
        for p in chassis.parts.values()
        if p.stage == "high-voltage" and p.role == "filter-capacitor"
    )
    capacitance = _STRAY_ANODE_F + sum(filters)
    if rig.coating == "bonded" and tube.coating is not None:
        capacitance += tube.coating.least
    if rig.foil > 0:
        capacitance += float(coating_capacitance_f(rig.foil, max(rig.glass, 1e-4)))
    beam_a = float(chassis.figures.get("beam_a", 100e-6))
    line_hz = line_rate_hz(chassis)
    return float(ripple_v(scan.anode_v, beam_a, capacitance, line_hz)) / scan.anode_v


def foil_wanted_m2(chassis: Chassis, rig: Rig, tube: PictureTube, scan: Scan, most_share: float) -> float:
    """Return the area of foil that brings the ripple down to a share of the anode voltage [m2]."""
    area = 0.002
    while ripple_share_of(chassis, rig.model_copy(update={"foil": area}), tube, scan) > most_share and area < 0.2:
        area *= 1.25
    return area


def line_rate_hz(chassis: Chassis) -> float:
    """Return the line rate of a chassis [Hz]."""
    return standard(chassis.standard).line_hz


def string_current_a(chassis: Chassis) -> float:
    """Return the heater current of a series string [A]."""
    return float(chassis.figures.get("string_a", 0.3))


def rig_heater_in_string(chassis: Chassis, tube: PictureTube) -> tuple[float, float]:
    """Return the volts of the rig's heater in the set's string over its rating, and the string's current likewise.

    Example: a heater for twice the current stays nearly dark and hardly disturbs the others.
        >>> from backporch.engine.chassis.load import load_chassis
        >>> from backporch.engine.knowledge.library import shipped
        >>> library = shipped()
        >>> own, string = rig_heater_in_string(load_chassis("teal-14", library), library.picture_tubes["17BP4A"])
        >>> own < 0.5, 0.95 < string < 1.05
        (True, True)
    """
    string_a, name = string_current_a(chassis), picture_tube_of(chassis)
    wired = sorted(
        (t.string_place or 0, n) for n, t in chassis.tubes.items() if t.heater == "string" and t.string_place
    )
    volts = [chassis.tubes[n].heater_v for _, n in wired]
    drop = float(dropper_ohm(chassis.mains_v, sum(volts), string_a))
    heaters = [
        Heater(tube.heater.voltage, tube.heater.current)
        if n == name
        else Heater(chassis.tubes[n].heater_v, string_a)
        for _, n in wired
    ]
    state = heater_string(chassis.mains_v, heaters, StringFeed(dropper_ohm=drop))
    place = [n for _, n in wired].index(name)
    own = float(np.ravel(state.heater_v[place])[0]) / tube.heater.voltage
    return own, float(np.ravel(state.current_a)[0]) / string_a


def detail_share_of(chassis: Chassis, rig: Rig) -> float:
    """Return the picture detail that a longer cathode lead leaves, over that with the set's own lead."""
    loads = [p for p in chassis.parts.values() if p.stage == "video-output" and p.role == "plate-load"]
    load = parse(loads[0].value or "4 k", "ohm") if loads else 4e3
    picture_s = 0.82 / line_rate_hz(chassis)
    with_lead = _OWN_CATHODE_F + LEAD_F_PER_M * rig.lead
    before, after = (
        float(resolution_lines(upper_half_power_hz(load, c), picture_s)) for c in (_OWN_CATHODE_F, with_lead)
    )
    return after / before
