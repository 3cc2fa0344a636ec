# SPDX-License-Identifier: MIT
"""The sound stages, as a witness: loudness, hum, buzz, and the points of the output tube.

Limits: the demodulator is one gain.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.chassis.simulator.receiver import socket_gain

__all__ = ["sound"]

Floats = NDArray[np.float64]

_STAGE = "sound"


def sound(run: Run) -> None:
    """Find how loud and how clean the sound is, and the points of the output stage."""
    rise = _output_stage(run)
    carried = run.inner["sound_output_a"] / run.figure("sound_output_a", 0.033)
    level = _incoming(run) * _through(run) * smooth_step(carried, 0.02, 0.15)
    batch = run.batch
    leak = batch.parameter(_STAGE, "audio", "heater_cathode_ohm")
    hum = smooth_step(run.inner["b_plus_ripple"], 2.0, 12.0) + 0.9 * smooth_step(-np.log10(leak), -4.6, -3.0)
    steady = batch.farads(_STAGE, "stabilising-capacitor", 5e-6)
    buzz = 0.8 * (1.0 - steady / (steady + 4e-7)) + 0.6 * run.picture["overload"]
    buzz = buzz + 0.6 * np.asanyarray(batch.parameter(_STAGE, "detector-transformer", "gain") < 0.4)
    run.show(
        sound=np.clip(level * (rise < 25), 0.0, 1.5),
        sound_hum=np.clip(hum, 0, 1),
        sound_buzz=np.clip(buzz * (level > 0.05), 0, 1),
    )


def _incoming(run: Run) -> Value:
    """Return the sound carrier over that of the healthy set, where the sound is taken off."""
    takeoff = run.chassis.sound_takeoff
    level = np.minimum(np.abs(run.inner["if_level" if takeoff == "split" else "detected_v"]) / 0.9, 1.0)
    return level * np.minimum(run.inner["video_gain"] / 4.0, 1.0) if takeoff == "after-video" else level


def _through(run: Run) -> Value:
    """Return the gain of all sound stages over that of healthy ones, at most about one."""
    batch = run.batch
    gain: Value = 1.0
    for role in ("limiter", "detector", "audio", "output"):
        if batch.has(_STAGE, role):
            gain = gain * np.minimum(emission(run, _STAGE, role) / 0.6, 1.0) * socket_gain(run, _STAGE, role)
    gain = gain * smooth_step(-batch.ohms(_STAGE, "feed", 1.0), -30e3, -3e3)
    opened = batch.opened(_STAGE, "detector-transformer") + batch.opened(_STAGE, "output-transformer")
    gain = gain / (1.0 + opened / 1e5) * batch.parameter(_STAGE, "detector-transformer", "gain")
    gain = gain * (1.0 - batch.parameter(_STAGE, "output-transformer", "turns_shorted"))
    farads = batch.farads(_STAGE, "coupling")
    gain = gain * farads / (farads + 3e-10) * smooth_step(run.position(_STAGE, "volume"), 0.0, 0.3)
    gain = gain / (1.0 + batch.contact(_STAGE, "volume") / 4e5)
    supplied = run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v
    return gain * smooth_step(supplied, 0.3, 0.75)


def _output_stage(run: Run) -> Floats:
    """Set the points of the output tube; return how far its grid is pulled up."""
    batch = run.batch
    grid = batch.ohms(_STAGE, "grid-leak")
    rise = 110.0 * grid / (grid + batch.leak(_STAGE, "coupling"))
    rise = rise + batch.parameter(_STAGE, "output", "gas_a") * np.minimum(grid, 2e6)
    cathode = parallel_ohm(batch.ohms(_STAGE, "cathode"), batch.leak(_STAGE, "cathode-bypass"))
    design = batch.value(_STAGE, "cathode", 560.0)
    current = run.figure("sound_output_a", 0.033) * emission(run, _STAGE, "output")
    current = current * (1 + 0.0035 * design) / (1 + 0.0035 * cathode) * (1.0 + 0.028 * np.minimum(rise, 60.0))
    current = current * run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v
    opened = batch.opened(_STAGE, "output-transformer") > 1e4
    run.put("sound-output-plate", "dc", np.where(opened, 1.0, run.inner["b_plus_volts"] - current * 350.0))
    run.put("sound-output-cathode", "dc", np.where(opened, 0.3 * current, current) * cathode)
    run.keep(sound_output_a=np.where(opened, 0.2 * current, current))
    return run.full(rise)
