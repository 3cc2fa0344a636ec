# SPDX-License-Identifier: MIT
"""The vertical output stage of a set, from its circuit: tube with cathode bias, transformer and yoke.

Limits: see :mod:`backporch.engine.circuits.vertical_output`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value, healthy_batch
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import parallel_ohm
from backporch.engine.chassis.simulator.bench import Bench, Run
from backporch.engine.chassis.simulator.near import NearTable
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.vertical_output import OutputDrive, OutputParts, vertical_output

__all__ = ["PARTS", "output_stage", "parts_of"]

Floats = NDArray[np.float64]

_STAGE = "vertical-output"
_YOKE = "vertical-yoke"
PARTS = (
    *("transformer_ratio", "primary_h", "yoke_h", "yoke_ohm", "cathode_ohm", "grid_leak_ohm", "coupling_f"),
    *("bypass_f", "primary_ohm", "damping_ohm", "screen_ohm", "sawtooth_f"),
)
_DRIVE = ("sawtooth_v", "pulse_v", "retrace_s")
_LAST = ("supply_v", "emission", "field_hz")
_LINEAR = ("slope_ratio", "rise_v")
_NAMES = (*PARTS, *_DRIVE, *_LAST, *_LINEAR)
_UNIT = {"slope_ratio": 0.3, "rise_v": 8.0}
_LEAST = {
    "sawtooth_v": 0.1,
    "pulse_v": 0.3,
    "supply_v": 8.0,
    "emission": 0.02,
    "primary_h": 0.02,
    "damping_ohm": 1.0,
}
_LEAST |= {
    "coupling_f": 1e-12,
    "sawtooth_f": 1e-12,
    "bypass_f": 1e-12,
    "cathode_ohm": 1.0,
    "retrace_s": 3e-5,
    "yoke_ohm": 1.0,
}
_MOST = {"sawtooth_v": 300.0, "pulse_v": 300.0, "retrace_s": 3e-3, "cathode_ohm": 1e7, "yoke_ohm": 1e5}
_SCALING = ("yoke_pp_a", "plate_v", "cathode_v", "screen_v", "plate_a", "screen_a", "yoke_pp_v", "grid_pp_v")
_PLAIN = ("top_slope", "bottom_slope", "fold_top", "fold_bottom", "grid_v")
_RESULTS = (*_SCALING, *_PLAIN)


def output_stage(run: Run, given: Mapping[str, Value]) -> dict[str, Floats]:
    """Return what the stage makes of its parts and its drive, by the names of its circuit."""
    rows = np.stack([run.full(np.asarray(value)) for value in _coordinates(given)], axis=1)
    return dict(zip(_RESULTS, _TABLE(run.chassis)(rows).T, strict=True))


def parts_of(run: Run) -> dict[str, Value]:
    """Return the parts of the stage as its circuit wants them."""
    batch = run.batch
    turns = batch.parameter(_STAGE, "transformer", "turns_shorted")
    ratio = run.figure("vertical_transformer_ratio", 12.0)
    primary = run.figure("vertical_primary_ohm", 420.0)
    track = batch.ohms(_STAGE, "linearity", 0.0) * run.position(_STAGE, "linearity")
    damping = batch.ohms(_YOKE, "damping-a", 1e9) + batch.ohms(_YOKE, "damping-b", 1e9)
    # shorted turns are a load of their own resistance, as seen by the turns of the secondary
    if np.any(np.asarray(turns) > 0.0):
        damping = parallel_ohm(damping, primary / np.maximum(turns, 1e-30) / ratio**2)
    return {
        "transformer_ratio": ratio,
        "primary_h": batch.henries(_STAGE, "transformer", 20.0) * (1.0 - np.minimum(turns, 0.9)) ** 2,
        "yoke_h": batch.henries(_YOKE, "winding", 0.04),
        "cathode_ohm": parallel_ohm(batch.ohms(_STAGE, "cathode") + track, batch.leak(_STAGE, "cathode-bypass")),
        "grid_leak_ohm": parallel_ohm(batch.ohms(_STAGE, "grid-leak"), batch.leak(_STAGE, "coupling")),
        "coupling_f": batch.farads(_STAGE, "coupling"),
        "bypass_f": batch.farads(_STAGE, "cathode-bypass"),
        "primary_ohm": primary,
        "damping_ohm": damping,
        "screen_ohm": batch.ohms(_STAGE, "screen-dropper", 1e-3),
        "sawtooth_f": batch.farads("vertical-sawtooth", "capacitor"),
    }


def _coordinates(given: Mapping[str, Value]) -> list[Value]:
    whole = [np.log(np.clip(given[n], _LEAST.get(n, 1e-3), _MOST.get(n, 1e9))) for n in _NAMES if n not in _LINEAR]
    return [*whole, *(np.asarray(given[n]) / _UNIT[n] for n in _LINEAR)]


def _table(chassis: Chassis) -> NearTable:
    pentode = "pentode" in chassis.stages[_STAGE].circuit
    types = [t.type for t in chassis.tubes.values() for s in t.sections.values() if s.stage == _STAGE]
    tube = model_of(types[0] if types else "", "pentode" if pentode else "output")

    def compute(rows: Floats) -> Floats:
        v = dict(zip(_NAMES, rows.T, strict=True))
        v = {name: value * _UNIT[name] if name in _UNIT else np.exp(value) for name, value in v.items()}
        parts = OutputParts(**{name: v[name] for name in PARTS}, grid_return_v=v["rise_v"])
        slope = np.clip(v["slope_ratio"], 0.05, 0.999)
        retrace = np.minimum(v["retrace_s"], 0.3 / v["field_hz"])
        drive = OutputDrive(v["sawtooth_v"], slope, v["pulse_v"], retrace)
        kind, screen = (
            replace(tube, emission_share=np.minimum(v["emission"], 1.0)),
            v["supply_v"] if pentode else 0.0,
        )
        found = vertical_output(parts, drive, kind, v["supply_v"], v["field_hz"], screen)
        return np.stack([np.broadcast_to(getattr(found, name), (len(rows),)) for name in _RESULTS], axis=1)

    growing = np.array([name in _SCALING for name in _RESULTS])
    return NearTable(compute, _drawn(chassis), growing)


def _drawn(chassis: Chassis) -> Floats:
    """Return the coordinates of the stage with its parts as marked and about its usual drive."""
    run = Run(chassis, healthy_batch(chassis), Bench())
    rail = chassis.rails.get("rail-vertical")
    usual = {
        "yoke_ohm": run.figure("vertical_yoke_ohm", 50.0),
        "sawtooth_v": run.figure("vertical_sawtooth_v", 20.0),
        "pulse_v": run.figure("vertical_drive_pulse_v", 15.0),
        "retrace_s": run.figure("vertical_retrace_s", 0.5e-3),
        "supply_v": rail.nominal_v if rail is not None else 250.0,
        "emission": 1.0,
        "field_hz": 60.0 if chassis.standard == "525/60" else 50.0,
        "slope_ratio": 0.95,
        "rise_v": 0.0,
    }
    return np.array([float(np.ravel(np.asarray(value))[0]) for value in _coordinates(parts_of(run) | usual)])


_TABLE = PerChassis(_table)
