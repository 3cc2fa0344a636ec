# SPDX-License-Identifier: MIT
"""The sync separator: its bias, and what it clips out of the signal, from the circuits.

The separator biases itself by its grid leak: what lifts the grid (a leaky coupling capacitor, gas) lets
picture through with the sync, what starves it lets sync go.
Limits: the ordinary line; the gate of a noise-gated separator is a factor.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.memo import RowMemo, rounded
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.sync_clipper import SeparatorPlate, clipped_sync, driven_grid
from backporch.engine.circuits.sync_recovery import recovered_share
from backporch.engine.circuits.sync_separator import SeparatorParts, SeparatorSignal
from backporch.engine.circuits.tube_curves import TubeModel

__all__ = ["recovered", "separator"]

Floats = NDArray[np.float64]

_STAGE = "sync-separator"
_STRAY_F = 40e-12
"""Capacitance of plate, wiring and the next grid; common practice, no source [F]."""
_GREY = 0.5
"""Mean of the test picture, black to white."""
_COLUMNS = ("sync_v", "picture_v", "tip_v", "series_ohm", "coupling_f", "grid_leak_ohm", "coupling_leak_ohm")
_MORE = ("noise_ohm", "noise_f", "gas_a", "supply_v", "plate_ohm", "screen_ohm", "screen_shunt_ohm")
_LAST = ("screen_bypass_f", "emission")
_NAMES = (*_COLUMNS, *_MORE, *_LAST)


def separator(run: Run) -> None:
    """Bias, clip and purity of the separator."""
    given = _given(run)
    rows = np.stack([rounded(run.full(given[name]), 400.0) for name in _NAMES], axis=1)
    found = list(_MEMO(run.chassis)(rows).T)
    if run.bench.record:
        found = [run.way(value, made) for value, made in zip(found, _record(run, given), strict=True)]
    mean, top, white, sync, picture, plate, screen = found
    batch, gate = run.batch, _gate(run) * recovered(run, _STAGE)
    leak = batch.ohms(_STAGE, "grid-leak")
    run.put("sync-separator-grid", "dc", mean, parallel_ohm(leak, 5e6))
    run.put("sync-separator-grid", "pp", np.maximum(top - white, 0.0))
    run.put("sync-separator-plate", "dc", plate, batch.ohms(_STAGE, "plate-load"))
    run.put("sync-separator-plate", "pp", (sync + picture) * gate)
    if batch.has(_STAGE, "screen-dropper"):
        run.put("sync-separator-screen", "dc", screen)
    seconds = given["coupling_f"] * leak
    run.keep(
        separated_v=sync * gate,
        sync_purity=smooth_step(sync / (sync + picture + 0.5), 0.12, 0.6),
        separator_droop=seconds / (seconds + 150e-6),
    )


def _given(run: Run) -> dict[str, Value]:
    """Return signal and parts as the circuits want them."""
    batch = run.batch
    whole = np.abs(run.inner["video_pp_v"])
    upright = np.asanyarray(run.inner["video_pp_v"] > 0.0)
    sync = np.where(upright, np.maximum(run.inner["video_sync_v"], 0.0), 0.0)
    short = batch.parameter(_STAGE, "separator", "leakage_ohm")
    series = (
        batch.ohms(_STAGE, "input-resistor") + batch.contact(_STAGE, "separator") + run.figure("plate_ohm", 3e3)
    )
    shunt = parallel_ohm(batch.ohms(_STAGE, "screen-divider", 1e12), batch.leak(_STAGE, "screen-bypass"))
    return {
        "sync_v": np.minimum(sync, whole),
        "picture_v": np.maximum(whole - sync, 0.0),
        "tip_v": run.inner["video_tip_v"],
        "series_ohm": np.maximum(series, 1.0),
        "coupling_f": batch.farads(_STAGE, "coupling"),
        "grid_leak_ohm": parallel_ohm(batch.ohms(_STAGE, "grid-leak"), short),
        "coupling_leak_ohm": batch.leak(_STAGE, "coupling"),
        "noise_ohm": np.maximum(batch.ohms(_STAGE, "noise-resistor", 1e-3), 1e-3),
        "noise_f": batch.farads(_STAGE, "noise-capacitor", 1e-9),
        "gas_a": batch.parameter(_STAGE, "separator", "gas_a"),
        "supply_v": np.maximum(run.inner["rail:sync"], 0.1),
        "plate_ohm": batch.ohms(_STAGE, "plate-load"),
        "screen_ohm": np.maximum(batch.ohms(_STAGE, "screen-dropper", 1e-3), 1e-3),
        "screen_shunt_ohm": shunt,
        "screen_bypass_f": batch.farads(_STAGE, "screen-bypass", 1e-6),
        "emission": np.clip(emission(run, _STAGE, "separator"), 0.0, 1.0),
    }


def _tube(chassis: Chassis) -> TubeModel:
    kind = "pentode" if "pentode" in chassis.stages[_STAGE].circuit else "triode"
    types = [t.type for t in chassis.tubes.values() for s in t.sections.values() if s.stage == _STAGE]
    return model_of(types[0] if types else "", kind)


def _signal(chassis: Chassis, sync: Value, picture: Value, tip: Value) -> SeparatorSignal:
    times = standard(chassis.standard)
    white = _GREY * times.active_line_s / times.line_s
    return SeparatorSignal(sync, picture, tip, times.line_sync_s, times.line_s, white)


def _memo(chassis: Chassis) -> RowMemo:
    tube = _tube(chassis)

    def compute(rows: Floats) -> Floats:
        v = dict(zip(_NAMES, rows.T, strict=True))
        now = replace(tube, emission_share=v["emission"])
        parts = SeparatorParts(**{n: v[n] for n in _COLUMNS[3:]}, **{n: v[n] for n in _MORE[:3]})
        grid = driven_grid(_signal(chassis, v["sync_v"], v["picture_v"], v["tip_v"]), parts, now)
        plate = SeparatorPlate(**{n: v[n] for n in (*_MORE[3:], _LAST[0])})
        made = clipped_sync(grid, plate, now)
        found = (
            *(grid.mean_v, grid.tip_v, grid.white_v),
            *(made.sync_v, made.picture_v, made.plate_v, made.screen_v),
        )
        return np.stack([np.asanyarray(f, dtype=float) for f in found], axis=1)

    return RowMemo(compute)


_MEMO = PerChassis(_memo)


def _record(run: Run, given: dict[str, Value]) -> tuple[Value, ...]:
    """Return what the memo looks up, computed, for the way to the points."""
    tube = replace(_tube(run.chassis), emission_share=given["emission"])
    parts = SeparatorParts(**{n: given[n] for n in _COLUMNS[3:]}, **{n: given[n] for n in _MORE[:3]})
    signal = _signal(run.chassis, given["sync_v"], given["picture_v"], given["tip_v"])
    grid = run.calc(driven_grid, "grid of the separator", signal=signal, parts=parts, tube=tube)
    plate = SeparatorPlate(**{n: given[n] for n in (*_MORE[3:], _LAST[0])})
    made = run.calc(clipped_sync, "plate of the separator", grid=grid, plate=plate, tube=tube)
    return (grid.mean_v, grid.tip_v, grid.white_v, made.sync_v, made.picture_v, made.plate_v, made.screen_v)


def recovered(run: Run, stage: str) -> Value:
    """Return what the plate load lets through: one that is open leaves no pulses at the plate."""
    times = standard(run.chassis.standard)
    share: Value = run.calc(
        recovered_share,
        f"recovery of the plate, {stage}",
        interval_s=run.known("line_s", times.line_s) - run.known("sync_s", times.line_sync_s),
        load_ohm=run.batch.ohms(stage, "plate-load"),
        stray_f=run.figure("sync_stray_f", _STRAY_F),
    )
    return share


def _gate(run: Run) -> Value:
    """Return what a noise gate that is set or leaks wrongly leaves of the sync."""
    stage, batch = _STAGE, run.batch
    if run.circuit(stage) != "noise-gated-pentode":
        return 1.0
    far = smooth_step(run.position(stage, "gate-preset"), 0.78, 0.95)
    leak = smooth_step(-np.log10(np.maximum(batch.leak(stage, "gate-coupling"), 1.0)), -6.0, -5.0)
    loose = smooth_step(np.log10(np.maximum(batch.ohms(stage, "gate-leak", 1e5), 1.0)), 6.6, 7.4)
    return 1.0 - np.maximum(np.maximum(far, leak), 0.7 * loose)
