# SPDX-License-Identifier: MIT
"""The video amplifier from detector to plate: sync tip, blanking and white through the tube; band and hum.

Limits: the tube is a three-halves power of grid and screen voltage; its screen a resistance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission

__all__ = ["video"]

Floats = NDArray[np.float64]

_STAGE = "video-output"
_LITTLE_V = 0.3
_CATHODE_PART = 1.2
"""Cathode current over plate current."""


def video(run: Run) -> None:
    """Follow sync tip, blanking and white through the video tube."""
    batch = run.batch
    peak = run.inner["detected_v"]
    levels = _grid_levels(run, peak, run.inner["sync_share"])
    screen = _screen(run)
    levels["a little below the mean"] = levels["mean"] - _LITTLE_V
    names = list(levels)
    stack = _currents(run, np.stack([run.full(level) for level in levels.values()]), screen)
    currents = {name: _told(run, stack[n], name, levels[name], screen) for n, name in enumerate(names)}
    load, rail = _plate_load(run), run.inner["rail:video"]
    plate = {name: np.maximum(rail - current * load, 0.07 * rail) for name, current in currents.items()}
    cathode = batch.ohms(_STAGE, "cathode")
    run.put("video-grid", "dc", levels["mean"] + batch.parameter(_STAGE, "amplifier", "gas_a") * 5e3, 3.9e3)
    run.put("video-grid", "pp", np.abs(peak) * 0.875)
    run.put("video-cathode", "dc", _CATHODE_PART * currents["mean"] * cathode, cathode)
    run.put("video-plate", "dc", plate["mean"])
    run.put("video-plate", "pp", np.abs(plate["tip"] - plate["white"]))
    run.keep(
        video_sync_v=plate["tip"] - plate["blank"],
        video_pp_v=plate["tip"] - plate["white"],
        video_mean_v=plate["mean"],
        video_tip_v=plate["tip"],
        video_a=_CATHODE_PART * currents["mean"],
        video_noise_gain=np.abs(plate["mean"] - plate["a little below the mean"]) / _LITTLE_V,
        video_gain=np.abs(plate["blank"] - plate["white"]) / np.maximum(np.abs(peak) * 0.6, 0.02),
    )
    _band(run, load)
    _hum(run, load)


def _told(run: Run, current: Floats, level: str, grid_v: Value, screen_v: Value) -> Value:
    """Return a plate current with the way to it."""
    batch = run.batch
    told: Value = run.solved(
        current,
        f"plate current at {level}",
        "i where i = perveance * (grid_v + screen_v / 30 - i * cathode_ohm)**1.5",
        grid_v=grid_v,
        screen_v=screen_v,
        cathode_ohm=batch.ohms(_STAGE, "cathode"),
        perveance=run.figure("video_perveance", 5.5e-3),
    )
    return told


def _grid_levels(run: Run, peak: Value, share: Value) -> dict[str, Value]:
    """Return the levels at the grid: sync negative-going in both senses of modulation."""
    if run.chassis.modulation == "negative":
        return {"tip": -peak, "blank": -peak * (1.0 - share), "white": -peak * 0.125, "mean": -peak * 0.62}
    bias = -run.figure("video_bias_v", 4.0)
    return {"tip": bias, "blank": bias + peak * share, "white": bias + peak, "mean": bias + peak * 0.5}


def _screen(run: Run) -> Floats:
    batch, stage = run.batch, "video-output"
    tube = np.maximum(emission(run, stage, "amplifier"), 1e-4)
    lower = parallel_ohm(run.figure("video_screen_ohm", 30e3) / tube, batch.leak(stage, "screen-bypass"))
    volts = run.calc(
        divided_v,
        "video screen",
        supply_v=run.inner["rail:video"],
        upper_ohm=batch.ohms(stage, "screen-dropper"),
        lower_ohm=lower,
    )
    run.put("video-screen", "dc", volts)
    return run.full(volts)


def _currents(run: Run, grid_v: Floats, screen_v: Floats) -> Floats:
    """Return the plate current at each grid level with the drop in the cathode resistor solved for.

    With s the root of the control voltage, p * k * s**3 + s**2 = u; Newton's method from above never overshoots.
    """
    batch, stage = run.batch, "video-output"
    cathode = parallel_ohm(batch.ohms(stage, "cathode"), batch.leak(stage, "cathode-bypass"))
    cathode = cathode + batch.contact(stage, "amplifier")
    short = batch.parameter(stage, "amplifier", "leakage_ohm")
    rise = batch.parameter(stage, "amplifier", "gas_a") * 5e3
    tube = emission(run, stage, "amplifier") * run.figure("video_perveance", 5.5e-3)
    over = np.maximum(grid_v * (short / (short + 4e3)) + rise + screen_v / 30.0, 1e-9)
    bend = _CATHODE_PART * cathode * tube
    root = np.minimum(np.sqrt(over), np.cbrt(over / np.maximum(bend, 1e-12)))
    for _ in range(6):
        root = root - ((bend * root + 1.0) * root * root - over) / ((3.0 * bend * root + 2.0) * root)
    return np.asanyarray(np.minimum(tube * root**3, 0.12), dtype=float)


def _plate_load(run: Run) -> Value:
    stage, batch = "video-output", run.batch
    return batch.ohms(stage, "plate-load") + batch.opened(stage, "shunt-peaking")


def _band(run: Run, load: Value) -> None:
    """Find sharpness, smear and ringing from the load and its coils."""
    batch, coupling = run.batch, "video-coupling"
    design = batch.value(_STAGE, "plate-load", 3.9e3)
    series = batch.opened(coupling, "series-peaking")
    damping = batch.ohms(coupling, "damping", 22e3)
    path = parallel_ohm(series, damping)
    bypass = batch.farads(_STAGE, "screen-bypass")
    low_loss = 1.0 - bypass / (bypass + 1e-6)
    smear = 0.7 * smooth_step(path, 3e3, 30e3) + 0.4 * run.inner["undecoupled:video"] + 0.5 * low_loss
    undamped = smooth_step(damping / 22e3, 1.6, 6.0) * (series < 1e3)
    over = smooth_step(batch.parameter(_STAGE, "shunt-peaking", "inductance"), 1.25, 1.6)
    run.keep(series_path_ohm=path)
    run.show(
        sharpness=np.clip(_sharpness(run, load, design) / (1.0 + path / 6e3), 0.05, 2.0),
        smear=np.clip(smear + smooth_step(load / design, 1.5, 4.0), 0.0, 1.0),
        ringing=np.clip(undamped + over, 0.0, 1.0),
    )


def _sharpness(run: Run, load: Value, design: Value) -> Value:
    batch = run.batch
    coil = 1.0 - 0.35 * batch.parameter(_STAGE, "shunt-peaking", "turns_shorted")
    detector = np.minimum(1.0 / np.maximum(run.inner["low_load"], 0.2), 1.4)
    lift = batch.farads(_STAGE, "cathode-bypass", 1e-9)
    lifted = 1.0 - 0.25 * (1.0 - lift / (lift + 3e-10))
    tuned = 0.45 + 0.55 * run.inner["fine_tuning"]
    return np.clip(design / np.maximum(load, 1.0), 0.05, 1.6) * coil * detector * lifted * tuned


def _hum(run: Run, load: Value) -> None:
    """Add up hum at the video plate: rail ripple and leaks from heater to cathode."""
    batch = run.batch
    cathode = batch.ohms(_STAGE, "cathode")
    leak = batch.parameter(_STAGE, "amplifier", "heater_cathode_ohm")
    mains = 10.0 * cathode / (cathode + leak) * load / (cathode + 110.0)
    ahead: Value = 0.0
    level = np.minimum(run.inner["if_level"], 3.5)
    for n in (1, 2, 3):
        leak = batch.parameter("if-amplifier", f"amplifier-{n}", "heater_cathode_ohm")
        ahead = ahead + 22.0 * level * 120.0 / (120.0 + leak)
    leak = batch.parameter("tuner", "rf", "heater_cathode_ohm")
    ahead = ahead + 15.0 * 120.0 / (120.0 + leak)
    run.keep(hum_rail_v=run.inner["rail_ripple:video"], hum_mains_v=mains + ahead)
    run.keep(hum_video_v=mains, hum_ahead_v=ahead)
