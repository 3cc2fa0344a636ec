# SPDX-License-Identifier: MIT
"""The raster: size, place, sharpness, blanking of the retrace, hum.

Limits: geometry is one number for each way in which it may be wrong.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Run

__all__ = ["size"]

Floats = NDArray[np.float64]


def size(run: Run) -> None:
    """Find size, place and sharpness of the raster, and whether the retrace is dark."""
    anode = np.maximum(run.inner["anode_v"], 0.3 * run.inner["nominal_anode_v"])
    ratio = np.sqrt(run.inner["nominal_anode_v"] / anode)
    coil = _width_coil(run)
    bright = np.maximum(run.inner["anode_bright_v"], 500.0)
    run.show(
        height=run.inner["vertical_pp_a"] / run.figure("vertical_full_a", 0.33) * ratio,
        width=run.inner["yoke_pp_a"] / run.figure("horizontal_full_a", 1.04) * ratio * coil * run.trim("width"),
        blooming=np.clip(np.sqrt(anode / bright) - 1.0, 0.0, 1.5),
        focus_blur=np.clip(_blur(run, ratio), 0.7, 6.0),
        keystone_horizontal=np.clip(0.4 * run.inner["yoke_short"], 0, 0.6),
        horizontal_nonlinearity=np.clip(_line_unevenness(run), -0.5, 0.5),
        fold_right=0.1 * smooth_step(run.inner["output_bias_v"], -12.0, -3.0),
    )
    _sense(run)
    _place(run)
    _blanking(run)
    _hum(run)


def _width_coil(run: Run) -> Value:
    """Return what the width coil makes of the width, against its place on a healthy set; our judgement."""
    batch, stage = run.batch, "flyback-transformer"
    whole = 1 - np.asanyarray(batch.parameter(stage, "width-coil", "turns_shorted"))
    connected = np.asanyarray(batch.opened(stage, "width-coil") < 1e3)
    run.keep(width_range=0.05 * connected * whole)
    left = np.maximum(batch.parameter(stage, "width-coil", "inductance") * whole, 0.1)
    return np.where(connected, 1.0 + 0.18 * (left - 1.0) / (left + 0.5), 1.08)


def _blur(run: Run, ratio: Floats) -> Value:
    """Return the spot against a healthy one: magnet or focus volts off, anode voltage off, overdriven."""
    batch, stage = run.batch, "neck-magnets"
    away = run.position(stage, "focus") if batch.has(stage, "focus") else 0.0
    strength = np.abs(batch.parameter(stage, "focus", "gain") - 1.0)
    blur = 1.0 + 2.5 * np.maximum(away - 0.1, 0.0) + 3.0 * strength + 2.5 * np.abs(1.0 / ratio - 1.0)
    blur = blur * (1.0 + 0.3 * np.maximum(run.picture["brightness"] - 2.0, 0.0))
    run.keep(focus_range=smooth_step(run.inside("focus_swing_v", 300.0), 60.0, 200.0))
    return blur + np.abs(run.inner["focus_off_v"]) / 130.0


def _sense(run: Run) -> None:
    """Say whether a winding that was connected the wrong way round turns the picture over."""
    batch = run.batch
    turned = batch.parameter("vertical-yoke", "winding", "gain") * batch.parameter(
        "vertical-output", "transformer", "gain"
    )
    run.show(
        mirrored=np.asarray(batch.parameter("horizontal-yoke", "winding", "gain")) < 0,
        upside_down=np.asarray(turned) < 0,
    )


def _place(run: Run) -> None:
    batch, stage = run.batch, "neck-magnets"
    moved = run.position(stage, "centring") if batch.has(stage, "centring") else 0.0
    lost = 1 - batch.parameter(stage, "centring", "gain")
    balance = batch.farads("horizontal-yoke", "balance-capacitor", 5.6e-11)
    unbalanced = 0.3 * (1 - balance / (balance + 1e-11))
    run.show(
        shift_horizontal=np.clip(0.25 * moved + 0.06 * lost, 0, 0.5),
        sweep_ringing=np.clip(unbalanced, 0, 1),
    )


def _line_unevenness(run: Run) -> Value:
    """Return how far the left is stretched by a wrong linearity circuit; shares are our judgement."""
    batch, stage = run.batch, "damper-boost"
    left = 1 - 0.7 * np.asanyarray(batch.parameter(stage, "linearity-coil", "turns_shorted"))
    coil = 0.2 * (batch.parameter(stage, "linearity-coil", "inductance") * left - 1.0)
    farads = batch.farads(stage, "linearity-capacitor", 4.7e-8)
    leak = np.maximum(batch.leak(stage, "linearity-capacitor"), 1.0)
    return coil + 0.1 * (1 - farads / (farads + 6e-9)) + 0.08 * smooth_step(-np.log10(leak), -5.5, -2.0)


def _blanking(run: Run) -> None:
    batch, stage = run.batch, "retrace-blanking"
    pulse = run.values["vertical-yoke.pp"] * run.figure("blanking_turns", 1.0)
    farads = batch.farads(stage, "coupling", 1e-8)
    series = batch.ohms(stage, "series", 22e3)
    grid = batch.ohms(stage, "grid-resistor", 1e5)
    passed = farads / (farads + 2e-9) * grid / (grid + series)
    run.keep(blanking_v=pulse * passed)
    run.put("picture-tube-grid", "pp", pulse * passed)
    missing = smooth_step(-pulse * passed, -18.0, -6.0)
    run.show(
        retrace_lines=np.clip(missing * 0.6 + smooth_step(run.picture["brightness"], 2.0, 4.5), 0, 1)
        * (run.picture["brightness"] > 0.3)
    )


def _hum(run: Run) -> None:
    rail = run.inner["hum_rail_v"] + 0.2 * run.inner["b_plus_ripple"]
    mains = run.inner["hum_mains_v"]
    leak = run.batch.parameter("picture-tube", "tube", "heater_cathode_ohm")
    mains = mains + 6.0 * 3e4 / (3e4 + leak)
    drive = np.maximum(np.abs(run.inner["drive_v"]), 8.0)
    both = run.inner["ripple_hz"] > 1.5 * run.known("mains_hz", run.chassis.mains_hz)
    rail_bars = np.where(both, 2.0, 1.0)
    bigger_mains = mains > rail
    depth = np.clip(0.9 * np.maximum(mains, rail) / drive, 0.0, 1.0)
    mains_hz = run.known("mains_hz", run.chassis.mains_hz)
    hum_hz = np.where(bigger_mains, mains_hz, run.inner["ripple_hz"])
    field = run.inner["field_hz"]
    shown = depth > 0.04
    bars = np.where(bigger_mains, 1.0, rail_bars)
    run.show(
        hum_depth=depth,
        hum_bars=np.where(shown, bars, 0.0),
        hum_drift_hz=np.where(shown, np.abs(hum_hz - bars * field) / bars, 0.0),
    )
