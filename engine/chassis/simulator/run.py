# SPDX-License-Identifier: MIT
"""Runs the whole set once, for any number of draws at a time."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Batch, Value, draw_batch, healthy_batch
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.picture_state import PICTURE
from backporch.engine.chassis.simulator import (
    afc,
    field,
    line_oscillator,
    line_output,
    power,
    raster,
    receiver,
    screen,
    separator,
    sound,
    sync,
    video,
    witness,
)
from backporch.engine.chassis.simulator.bench import Bench, Places, Result, Run
from backporch.engine.chassis.simulator.leaking import moved_readings, with_currents
from backporch.engine.chassis.simulator.loads import stage_currents, unsettled
from backporch.engine.circuits.formula import listened_to

__all__ = ["adjusted", "simulate"]

Floats = NDArray[np.float64]

_RELATIVE = ("contrast", "vertical_sync", "horizontal_sync", "supply_current", "sync_on_screen", "whistle")
_ROUNDS = 1


def simulate(chassis: Chassis, batch: Batch, bench: Bench | None = None) -> Result:
    """Return what every set of the batch shows on this bench.

    Args:
        chassis: The chassis.
        batch: Its parts, see :mod:`backporch.engine.chassis.parts`.
        bench: Mains, signal and controls; the chassis's own by default.
    """
    healthy, currents = _reference(chassis)
    stand = bench or Bench()
    now = batch if stand.minutes is None else batch.at_minutes(stand.minutes)
    dry = None
    if now.leaks:
        dry, _ = _raw(chassis, now, replace(stand, record=False), currents, _ROUNDS)
        now = with_currents(now, dry)
    result, _ = _raw(chassis, now, stand, currents, _ROUNDS)
    if dry is not None:
        result = moved_readings(result, now, dry)
    ratios = {name: np.asanyarray(result.picture[name] / value) for name, value in healthy.items()}
    return replace(result, picture={**result.picture, **ratios})


def _raw(
    chassis: Chassis, batch: Batch, bench: Bench, start: Mapping[str, float], rounds: int
) -> tuple[Result, Mapping[str, Value]]:
    """Return the result before ratios are formed, and the currents that the stages took."""
    run = Run(chassis, batch, bench)
    with listened_to(run.tracer.called) if run.tracer is not None else nullcontext():
        loads = _rounds(run, run.settled(_told(run, start)), rounds)
        _screen(run)
    for name, quantity in PICTURE.items():
        run.picture.setdefault(name, run.full(quantity.healthy))
    return run.result(), loads


def _told(run: Run, start: Mapping[str, float]) -> Mapping[str, Value]:
    """Return the currents as given, in a recorded run with what the stages take that makes them."""
    if run.tracer is None:
        return start
    first = Run(run.chassis, run.batch, run.bench)
    with listened_to(first.tracer.called) if first.tracer is not None else nullcontext():
        _pass(first, first.settled(start))
        taken = stage_currents(first)
    return {rail: run.way(np.full(1, value), taken[rail]) for rail, value in start.items()}


def _rounds(run: Run, loads: Mapping[str, Value], rounds: int) -> Mapping[str, Value]:
    """Go through the set, and again where the rails have moved; return the currents that the set stands on."""
    _pass(run, loads)
    for _ in range(rounds):
        taken = stage_currents(run)
        rows = np.flatnonzero(unsettled(run, taken, loads))
        if not rows.size:
            break
        loads = _again(run, rows, taken, loads)
    return loads


def _again(run: Run, rows: Places, taken: Mapping[str, Value], loads: Mapping[str, Value]) -> Mapping[str, Value]:
    """Go once more through the sets whose rails move; return the currents that each set now stands on."""
    if rows.size == run.batch.draws:
        _pass(run, run.settled(taken))
        return taken
    part = run.of_rows(rows)
    _pass(part, {rail: run.full(value)[rows] for rail, value in taken.items()})
    run.take_rows(part, rows)
    moved = np.isin(np.arange(run.batch.draws), rows)
    return {rail: np.where(moved, taken[rail], loads[rail]) for rail in taken}


def _pass(run: Run, currents: Mapping[str, Value]) -> None:
    power.mains(run)
    power.heaters(run)
    power.rails(run, currents)
    line_oscillator.oscillator(run)
    line_oscillator.drive(run)
    line_output.output(run)
    line_output.high_voltage(run)
    run.keep(branch_a=run.inner["output_cathode_a"])
    receiver.agc_loop(run)
    video.video(run)
    sound.sound(run)
    separator.separator(run)
    sync.amplifier(run)
    sync.integrator(run)
    field.vertical(run)


def _screen(run: Run) -> None:
    afc.line_lock(run)
    screen.coupling(run)
    screen.picture_tube(run)
    raster.size(run)
    witness.burning(run)
    witness.marks(run)


def _of_nominal_set(chassis: Chassis) -> tuple[dict[str, float], dict[str, float]]:
    """Return what the nominal healthy set shows where ratios to it are shown, and what its stages take."""
    start = {name.removeprefix("rail-"): 0.02 for name in chassis.rails} | {"b-plus": 0.13}
    result, loads = _raw(chassis, healthy_batch(chassis), Bench(), start, 8)
    shown = {name: float(result.picture[name][0]) or 1.0 for name in _RELATIVE}
    return shown, {name: float(np.ravel(value)[0]) for name, value in loads.items()}


_reference = PerChassis(_of_nominal_set)


def _hold_set(chassis: Chassis, draws: int, seed: int) -> Floats:
    """Return the free line rate over the right one as people set the hold; our judgement.

    With direct sync it must lie below; with a control loop nobody finds the middle better than a half per cent.
    """
    spread = np.random.default_rng([seed, 1]).uniform(-1.0, 1.0, draws)
    return np.asarray(0.975 + 0.005 * spread if chassis.horizontal_sync == "direct" else 1.0 + 0.005 * spread)


def adjusted(chassis: Chassis, draws: int, seed: int, *, mains_spread: float = 0.03) -> Batch:
    """Return healthy sets with random part values, each with its controls set so that it is right."""
    batch = draw_batch(chassis, draws, seed, mains_spread=mains_spread)
    line_share = _hold_set(chassis, draws, seed)
    for _ in range(2):
        result = simulate(chassis, batch)
        picture, inner = result.picture, result.inner
        wanted = 0.965 * inner["field_hz"]
        batch = batch.trimmed(
            {
                "vertical-rate": batch.trims.get("vertical-rate", np.ones(draws))
                * wanted
                / inner["field_free_hz"],
                "horizontal-rate": batch.trims.get("horizontal-rate", np.ones(draws))
                * inner["line_hz"]
                * line_share
                / (inner["line_free_hz"] + inner["line_offset_hz"]),
                "height": batch.trims.get("height", np.ones(draws)) / np.maximum(picture["height"], 0.1),
                "width": batch.trims.get("width", np.ones(draws)) / np.maximum(picture["width"], 0.1),
                "vertical-linearity": batch.trims.get("vertical-linearity", np.ones(draws))
                + picture["vertical_nonlinearity"],
                "brightness": batch.trims.get("brightness", np.ones(draws))
                - 12.0 * np.log(np.clip(picture["brightness"], 0.05, 20.0)),
            }
        )
    return batch
