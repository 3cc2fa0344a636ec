# SPDX-License-Identifier: MIT
"""The blocking oscillator of a set, from its circuit: where the grid starts, where it fires, and the pulse.

The tube discharges the sawtooth capacitor through the transformer; its curve, the windings and both time constants
decide how far the grid is driven down and how early it fires.  The rate follows in closed form.
Limits: see :mod:`backporch.engine.circuits.vertical_oscillator`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value, healthy_batch
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import parallel_ohm
from backporch.engine.chassis.simulator.bench import Bench, Run
from backporch.engine.chassis.simulator.field_charge import Charge, drawn_charge
from backporch.engine.chassis.simulator.near import NearTable
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.vertical_oscillator import BlockingParts, blocking_oscillator

__all__ = ["Blocking", "blocking", "grid_ohm"]

Floats = NDArray[np.float64]

_STAGE = "vertical-oscillator"
_SAW = "vertical-sawtooth"
_WINDING_OHM, _LOSS_OHM = 500.0, 100e3
_SYNC_PATH_V = 150.0
"""Mean of the sync amplifier, from which a leaky coupling capacitor lifts the grid."""
_REST_UNIT_V = 8.0
_STEP = 0.2
"""The oscillator bends little with its parts, and costs most to solve."""
_PULLED_V = 90.0
"""A grid that would rest as high as this is never cut off."""
_COLUMNS = ("grid_ohm", "grid_f", "plate_winding_h", "loss_ohm", "charging_ohm", "sawtooth_f", "peaking_ohm")
_MORE = ("sawtooth_leak_ohm", "supply_v", "emission")
_NAMES = (*_COLUMNS, *_MORE, "rest")
_LEAST = {"grid_ohm": 1e3, "grid_f": 2e-11, "loss_ohm": 10.0, "charging_ohm": 1e3, "sawtooth_f": 1e-10}
_MOST = {"grid_ohm": 1e10, "charging_ohm": 1e10, "peaking_ohm": 1e8, "sawtooth_leak_ohm": 1e10}


@dataclass(frozen=True)
class Blocking:
    """What the oscillator does, one number for each set."""

    runs: NDArray[np.bool_]
    ready_v: Floats
    """From where the grid fires up to where it would come to rest."""
    driven_v: Floats
    """From where the pulse leaves the grid up to the same."""
    pulse_s: Floats
    peak_v: Floats
    """Highest grid voltage in the pulse."""
    foot_v: Floats
    """Sawtooth capacitor after its discharge."""
    still_grid_v: Floats
    still_plate_v: Floats
    """Grid and plate of an oscillator that stands still."""


def blocking(run: Run, position: Value, charge: Charge) -> Blocking:
    """Return what the oscillator does with its hold control at a position."""
    rows = np.stack([run.full(np.asarray(v)) for v in _coordinates(run, position, charge)], axis=1)
    found = _TABLE(run.chassis)(rows).T
    held = rows[:, -1] < _PULLED_V / _REST_UNIT_V
    return Blocking((found[0] > 0.5) & held, *found[1:])


def grid_ohm(run: Run, position: Value) -> Value:
    """Return what the grid recovers through."""
    batch = run.batch
    series = batch.ohms(_STAGE, "grid-resistor") + batch.ohms(_STAGE, "hold") * position
    leak = parallel_ohm(batch.leak(_STAGE, "grid-capacitor"), batch.leak(_STAGE, "transformer") * 0.3)
    return parallel_ohm(series + batch.contact(_STAGE, "hold"), leak)


def _coordinates(run: Run, position: Value, charge: Charge) -> list[Value]:
    batch = run.batch
    ohms = grid_ohm(run, position)
    turns = batch.parameter(_STAGE, "transformer", "turns_shorted")
    leak = batch.leak("vertical-integrator", "coupling")
    held = parallel_ohm(ohms, leak)
    rest = held * (_SYNC_PATH_V / leak + batch.parameter(_STAGE, "oscillator", "gas_a"))
    values = {
        "grid_ohm": held,
        "grid_f": batch.farads(_STAGE, "grid-capacitor"),
        "plate_winding_h": batch.henries(_STAGE, "transformer", 3.0) * (1.0 - np.minimum(turns, 0.9)) ** 2,
        "loss_ohm": parallel_ohm(_LOSS_OHM, _WINDING_OHM / np.maximum(turns, 1e-9)),
        "charging_ohm": charge.ohms,
        "sawtooth_f": batch.farads(_SAW, "capacitor"),
        "peaking_ohm": batch.ohms(_SAW, "peaking", 1e-3),
        "sawtooth_leak_ohm": batch.leak(_SAW, "capacitor"),
        "supply_v": np.maximum(charge.supply_v, 2.0),
        "emission": np.clip(emission(run, _STAGE, "oscillator"), 1e-4, 1.0),
    }
    whole = [np.log(np.clip(v, _LEAST.get(n, 1e-3), _MOST.get(n, 1e12))) for n, v in values.items()]
    return [*whole, np.minimum(rest, _PULLED_V) / _REST_UNIT_V]


def _table(chassis: Chassis) -> NearTable:
    types = [t.type for t in chassis.tubes.values() for s in t.sections.values() if s.stage == _STAGE]
    tube = model_of(types[0] if types else "", "triode")
    turns = float(chassis.figures.get("vertical_blocking_turns", 1.0))
    coupling = float(chassis.figures.get("vertical_blocking_coupling", 0.8))

    def compute(rows: Floats) -> Floats:
        v = dict(zip(_NAMES, rows.T, strict=True))
        v = {name: np.exp(value) for name, value in v.items() if name != "rest"} | {"rest": v["rest"]}
        parts = BlockingParts(
            **{name: v[name] for name in (*_COLUMNS, "sawtooth_leak_ohm")},
            gas_a=np.maximum(v["rest"] * _REST_UNIT_V, 0.0) / v["grid_ohm"],
            turns_ratio=turns,
            coupling=coupling,
        )
        kind = replace(tube, emission_share=np.minimum(v["emission"], 1.0))
        with np.errstate(all="ignore"):  # where nothing holds the pulse the numbers run away: it stands still
            found = blocking_oscillator(parts, kind, v["supply_v"])
        hz = np.asarray(found.frequency_hz)
        ready, driven = found.rest_v - np.asarray(found.fire_v), found.rest_v - np.asarray(found.lowest_v)
        still = (
            np.where(hz > 0, -0.5, found.mean_grid_v),
            np.where(hz > 0, 0.1 * v["supply_v"], found.mean_plate_v),
        )
        columns = (hz > 0, ready, driven, found.pulse_s, found.peak_v, found.plate_low_v, *still)
        table = np.stack([np.asarray(c, dtype=float) for c in columns], axis=1)
        return np.asarray(np.nan_to_num(table, posinf=0.0, neginf=0.0), dtype=np.float64)

    run = Run(chassis, healthy_batch(chassis), Bench())
    usual = _coordinates(run, run.position(_STAGE, "hold"), drawn_charge(run))
    drawn = np.stack([run.full(np.asarray(v)) for v in usual], axis=1)
    return NearTable(compute, drawn[0], np.array([False, True, True, True, True, True, False, True]), _STEP)


_TABLE = PerChassis(_table)
