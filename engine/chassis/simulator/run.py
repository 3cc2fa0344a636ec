# SPDX-License-Identifier: MIT
"""Runs the whole set once, for any number of draws at a time."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Batch, draw_batch, healthy_batch
from backporch.engine.chassis.picture_state import PICTURE
from backporch.engine.chassis.simulator import horizontal, power, screen, signal, sync, vertical
from backporch.engine.chassis.simulator.bench import Bench, Result, Run

__all__ = ["adjusted", "simulate"]

Floats = NDArray[np.float64]

_RELATIVE = ("contrast", "vertical_sync", "horizontal_sync", "supply_current", "sync_on_screen", "whistle")
_ROUNDS = 3


def simulate(chassis: Chassis, batch: Batch, bench: Bench | None = None) -> Result:
    """Return what every set of the batch shows on this bench.

    Args:
        chassis: The chassis.
        batch: Its parts, see :mod:`backporch.engine.chassis.parts`.
        bench: Mains, signal and controls; the chassis's own by default.
    """
    result = _raw(chassis, batch, bench or Bench())
    for name, healthy in _reference(_Key(chassis)).items():
        picture = result.picture
        picture[name] = np.asarray(picture[name] / healthy)  # type: ignore[index]
    return result


def _raw(chassis: Chassis, batch: Batch, bench: Bench) -> Result:
    run = Run(chassis, batch, bench)
    currents = {
        name.removeprefix("rail-"): chassis.figures.get(f"{name.replace('-', '_')}_a", 0.02)
        for name in chassis.rails
    }
    loads = {name: float(value) for name, value in currents.items()}
    loads["b-plus"] = run.figure("b_plus_direct_a", 0.13)
    once: dict[str, float | Floats] = dict(loads)
    for _ in range(_ROUNDS):
        run.steps.clear()
        _pass(run, once)
        once = dict(signal.stage_currents(run))
    run.steps.clear()
    _pass(run, once)
    _screen(run)
    for name, quantity in PICTURE.items():
        run.picture.setdefault(name, run.full(quantity.healthy))
    return run.result()


def _pass(run: Run, currents: dict[str, float | Floats]) -> None:
    power.mains(run)
    power.heaters(run)
    power.rails(run, currents)
    horizontal.oscillator(run)
    horizontal.drive(run)
    horizontal.output_stage(run)
    horizontal.high_voltage(run)
    run.keep(branch_a=run.inner["output_cathode_a"])
    signal.agc_loop(run)
    signal.video(run)
    signal.sound(run)
    sync.separator(run)
    sync.amplifier(run)
    sync.integrator(run)
    vertical.oscillator(run)
    vertical.sawtooth(run)
    vertical.output(run)


def _screen(run: Run) -> None:
    sync.line_lock(run)
    screen.coupling(run)
    screen.picture_tube(run)
    screen.size(run)
    screen.burning(run)
    screen.marks(run)


class _Key:
    """A chassis as a key of a cache, by identity of its content."""

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis
        self.text = chassis.model_dump_json()

    def __hash__(self) -> int:
        return hash(self.text)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.text == self.text


@lru_cache(maxsize=16)
def _reference(key: _Key) -> dict[str, float]:
    """Return what the quantities that are shown as ratios are in the nominal healthy set."""
    result = _raw(key.chassis, healthy_batch(key.chassis), Bench())
    return {name: float(result.picture[name][0]) or 1.0 for name in _RELATIVE}


def adjusted(chassis: Chassis, draws: int, seed: int, *, mains_spread: float = 0.03) -> Batch:
    """Return healthy sets with random part values, each with its controls set so that it is right."""
    batch = draw_batch(chassis, draws, seed, mains_spread=mains_spread)
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
