# SPDX-License-Identifier: MIT
"""What a healthy set shows at each test point: value, band from part tolerances, and the way to it.

The band holds healthy sets with parts within their tolerance and the mains as given; it is an estimate and
leaves room for neither wear nor another maker's tubes.  Where the flyback feeds a point it is wider by what the
arithmetic of retrace and boost may be off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from backporch.engine.chassis.metering import as_read
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Bench, adjusted, simulate
from backporch.engine.circuits.formula import Step
from backporch.engine.circuits.meters import (
    DIGITAL_10_M,
    ELECTRONIC_11_M,
    NEEDLE_1_K,
    NEEDLE_20_K,
    Meter,
    meter_ohm,
    range_v,
)

__all__ = ["METERS", "Expectation", "expected"]

METERS: dict[str, Meter] = {"10M": DIGITAL_10_M, "11M": ELECTRONIC_11_M, "20k": NEEDLE_20_K, "1k": NEEDLE_1_K}
"""Meters by the name that is typed; each is read on the lowest range that holds the point."""

_FROM_THE_FLYBACK = (
    "boosted-b-plus",
    "picture-tube-first-anode",
    "picture-tube-focus",
    "anode-voltage",
    "afc-reference-pulse",
    "agc-gate-pulse",
)
_PULSE_SHARE = 0.05
"""How far retrace peak and boost may be from the ideal network; their bands are wider by that, either way."""
_DRAWS = 200
_SEED = 23


@dataclass(frozen=True)
class Expectation:
    """One quantity of one test point of a healthy set."""

    point: str
    quantity: str
    unit: str
    value: float
    """Nominal value at the point itself."""
    low: float
    high: float
    """Band of healthy sets, as the meter shows it."""
    shown: float
    """Nominal value as the meter shows it."""
    range_v: float | None
    """Range of the meter on which a direct voltage is read [V]; None for other quantities."""
    source_ohm: float
    """Resistance behind the point, which the meter loads."""
    published: float | None
    """Value of the service sheet, where the chassis file has one; it wins over the computed one."""
    ways: Mapping[str, tuple[Step, ...]] = field(repr=False)
    """The computations of all points by "point.quantity"; each is written down when it is asked for."""

    @property
    def steps(self) -> tuple[Step, ...]:
        """The computation, from part values to the point; empty where it was not wanted."""
        return self.ways.get(f"{self.point}.{self.quantity}", ())


_UNITS = {"dc": "V", "pp": "V", "rms": "V", "ohm": "ohm", "amp": "A", "hz": "Hz"}


def expected(
    chassis: Chassis,
    bench: Bench | None = None,
    *,
    meter: Meter = DIGITAL_10_M,
    draws: int = _DRAWS,
    mains_spread: float = 0.0,
    why: bool = False,
) -> Mapping[str, Expectation]:
    """Return what every test point of a healthy set shows, by "point.quantity".

    Args:
        chassis: The chassis, with changed values where some were asked for.
        bench: Mains, signal and controls.
        meter: The meter in use, on the range that suits each point.
        draws: Number of healthy sets that the band is taken from.
        why: Whether the computation behind each point is wanted; without it the steps are empty.
        mains_spread: Half-width of the mains about the given value; 0 where it was read.
    """
    stand = bench or Bench()
    recorded = Bench(stand.mains_v, stand.signal, stand.positions, stand.clamps, record=why)
    nominal = simulate(chassis, healthy_batch(chassis), recorded)
    spread = simulate(chassis, adjusted(chassis, draws, _SEED, mains_spread=mains_spread), stand)
    found = {}
    for key in nominal.values:
        point, _, quantity = key.rpartition(".")
        if point not in chassis.test_points:
            continue
        true = float(nominal.values[key][0])
        scale = float(range_v(true, meter))
        ohm = float(meter_ohm(meter, scale))
        low, high = np.quantile(as_read(spread, key, ohm), [0.02, 0.98])
        wider = _PULSE_SHARE * abs(float(low) + float(high)) / 2.0 if point in _FROM_THE_FLYBACK else 0.0
        found[key] = Expectation(
            point=point,
            quantity=quantity,
            unit=_UNITS[quantity],
            value=true,
            low=float(low) - wider,
            high=float(high) + wider,
            shown=float(as_read(nominal, key, ohm)[0]),
            range_v=scale if quantity == "dc" else None,
            source_ohm=float(nominal.source_ohm[key][0]),
            published=chassis.test_points[point].published.get(quantity),
            ways=nominal.steps,
        )
    return found
