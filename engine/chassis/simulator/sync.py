# SPDX-License-Identifier: MIT
"""Separator, sync amplifier and integrator.

The separator biases itself by its grid leak: what lifts the grid (a leaky coupling capacitor, gas) lets
picture through with the sync, what starves it lets sync go.
Limits: pulses are followed by their heights; noise is one figure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, leak_rise_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.field_timing import integrated_pulse_v, line_period_s, self_bias_v

__all__ = ["amplifier", "integrator", "separator"]

Floats = NDArray[np.float64]


_SEPARATOR = "sync-separator"
_AMPLIFIER = "sync-amplifier"


@dataclass(frozen=True)
class _Grid:
    """The separator's grid with the signal on it."""

    mean_v: Floats
    signal_v: Floats
    """Video, peak to peak."""
    sync_v: Floats
    """Sync alone."""
    seconds: Value
    """Coupling capacitor times grid leak."""


def separator(run: Run) -> None:
    """Bias, clip and purity of the separator."""
    batch = run.batch
    series = _series_ohm(run)
    leak, coupling = batch.ohms(_SEPARATOR, "grid-leak"), batch.farads(_SEPARATOR, "coupling")
    short = batch.parameter(_SEPARATOR, "separator", "leakage_ohm")
    share = (coupling + 1e-12) / (coupling + 60e-12) / (1.0 + series / 2.2e6)
    share = share / (1.0 + batch.contact(_SEPARATOR, "separator") / 1e6) * short / (short + 60e3)
    signal = np.abs(run.inner["video_pp_v"]) * share
    mean = np.minimum(*_pulls(run, signal, series, leak))
    run.put("sync-separator-grid", "dc", mean, parallel_ohm(leak, 5e6))
    run.put("sync-separator-grid", "pp", signal)
    _clip(run, _Grid(run.full(mean), run.full(signal), run.inner["video_sync_v"] * share, coupling * leak))


def _series_ohm(run: Run) -> Value:
    """Return what stands before the coupling capacitor: input resistor and noise network."""
    batch = run.batch
    first = batch.ohms(_SEPARATOR, "input-resistor")
    network = batch.farads(_SEPARATOR, "noise-capacitor", 1e-3)
    fast = first + 30e3 + 1e3 * 270e-12 / network
    return parallel_ohm(first + batch.ohms(_SEPARATOR, "noise-resistor", 0.0), fast)


def _pulls(run: Run, signal: Value, series: Value, leak: Value) -> tuple[Value, Value]:
    """Return the mean grid voltage as the signal and what lifts it would have it, and where it is held."""
    batch = run.batch
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=run.inner["video_mean_v"],
        grid_ohm=leak,
        leak_ohm=batch.leak(_SEPARATOR, "coupling") + series,
    )
    rise = rise + batch.parameter(_SEPARATOR, "separator", "gas_a") * np.minimum(leak, 5e6)
    run.calc(line_period_s, "line period", line_hz=run.inner["line_hz"])
    clamped = run.calc(
        self_bias_v,
        "self-bias on the sync tips",
        signal_v=signal,
        leak_ohm=leak,
        conducting_ohm=0.12e6,
        clamped_share=0.62,
    )
    emitted = smooth_step(emission(run, _SEPARATOR, "separator"), 0.0, 0.1)
    return clamped * emitted + rise, 0.8 + 0.02 * rise


def _clip(run: Run, grid: _Grid) -> None:
    """Cut the sync off the signal; what is wrong with the bias lets picture through."""
    rail, load = run.inner["rail:sync"], run.batch.ohms(_SEPARATOR, "plate-load")
    inner_ohm = 9e3 / np.maximum(emission(run, _SEPARATOR, "separator"), 1e-4)
    deep = -grid.mean_v / np.maximum(grid.signal_v, 0.05)
    whole = rail * load / (load + inner_ohm)
    cut = smooth_step(np.maximum(grid.sync_v, 0.0) / _cut_off(run), 0.05, 0.8) * (load < 2e7)
    swing = whole * cut * smooth_step(deep, -0.1, 0.2) * _gate(run)
    stuck = whole * (1 - smooth_step(deep, -0.1, 0.3)) * 0.8
    clean = smooth_step(grid.sync_v / np.maximum(grid.signal_v, 0.1), 0.02, 0.12)
    plate = np.where(load > 2e7, 0.2 * rail / (1 + load / 1e8), rail - swing * 0.09 - stuck)
    run.put("sync-separator-plate", "dc", plate, load)
    run.put("sync-separator-plate", "pp", swing)
    run.keep(
        separated_v=swing,
        sync_purity=smooth_step(deep, 0.12, 0.42) * clean,
        separator_droop=grid.seconds / (grid.seconds + 150e-6),
    )


def _cut_off(run: Run) -> Value:
    """Return the grid voltage that cuts the separator off, its size."""
    batch, rail = run.batch, run.inner["rail:sync"]
    if not batch.has(_SEPARATOR, "screen-dropper"):
        return np.maximum(rail / 18.0, 0.3)
    inner = 60e3 / np.maximum(emission(run, _SEPARATOR, "separator"), 1e-4)
    lower = parallel_ohm(inner, batch.ohms(_SEPARATOR, "screen-divider", 1e12))
    lower = parallel_ohm(lower, batch.leak(_SEPARATOR, "screen-bypass"))
    screen: Value = run.calc(
        divided_v,
        "screen",
        supply_v=rail,
        upper_ohm=batch.ohms(_SEPARATOR, "screen-dropper"),
        lower_ohm=lower,
    )
    run.put("sync-separator-screen", "dc", screen)
    return np.maximum(screen / 12.0, 0.3)


def _gate(run: Run) -> Value:
    """Return what a noise gate that is set or leaks wrongly leaves of the sync."""
    stage, batch = _SEPARATOR, run.batch
    if run.circuit(stage) != "noise-gated-pentode":
        return 1.0
    far = smooth_step(run.position(stage, "gate-preset"), 0.78, 0.95)
    leak = smooth_step(-np.log10(np.maximum(batch.leak(stage, "gate-coupling"), 1.0)), -6.0, -5.0)
    loose = smooth_step(np.log10(np.maximum(batch.ohms(stage, "gate-leak", 1e5), 1.0)), 6.6, 7.4)
    return 1.0 - np.maximum(np.maximum(far, leak), 0.7 * loose)


def amplifier(run: Run) -> None:
    """Pass the separated sync to both users."""
    batch = run.batch
    if not run.circuit(_AMPLIFIER):
        run.keep(sync_up_v=run.inner["separated_v"] * 0.3, sync_down_v=run.inner["separated_v"], sync_a=0.004)
        return
    coupling = batch.farads(_AMPLIFIER, "coupling")
    contact = batch.contact(_AMPLIFIER, "amplifier")
    driven = run.inner["separated_v"] * coupling / (coupling + 40e-12) / (1 + contact / 4e5)
    upper, lower = batch.ohms(_AMPLIFIER, "plate-load"), batch.ohms(_AMPLIFIER, "cathode-load", 1e-3)
    current = _standing_a(run, upper, lower)
    short = batch.parameter(_AMPLIFIER, "amplifier", "leakage_ohm")
    cut = smooth_step(driven / np.maximum(0.09 * run.inner["rail:sync"], 0.5), 0.1, 1.0) * short / (short + 2e4)
    mean = current * (1 - 0.085 * cut)
    up, down = current * upper * cut, current * lower * cut
    _amplifier_points(run, driven, mean, up, down)
    if run.circuit(_AMPLIFIER) == "triode-clipper":
        out = batch.farads(_AMPLIFIER, "output-coupling", 1e-6)
        up, down = up * out / (out + 60e-12), 0.35 * run.inner["separated_v"]
    leak = batch.parameter(_AMPLIFIER, "amplifier", "heater_cathode_ohm")
    hum = 9.0 * 4700.0 / (4700.0 + leak) * (np.minimum(lower, 1e5) / 4.7e3)
    run.keep(sync_up_v=up, sync_down_v=down, sync_a=mean, sync_hum_v=hum)


def _standing_a(run: Run, upper: Value, lower: Value) -> Value:
    """Return the current between the pulses; a grid resistor to the rail keeps the tube full on."""
    batch = run.batch
    to_rail = np.minimum(batch.ohms(_AMPLIFIER, "grid-leak"), batch.leak(_AMPLIFIER, "coupling"))
    full_on = smooth_step(-np.log10(to_rail), -8.2, -6.5)
    inner = 8e3 / np.maximum(emission(run, _AMPLIFIER, "amplifier"), 1e-4)
    return run.inner["rail:sync"] / (upper + lower + inner) * (0.12 + 0.88 * full_on)


def _amplifier_points(run: Run, driven: Value, mean: Value, up: Value, down: Value) -> None:
    batch = run.batch
    upper, lower = batch.ohms(_AMPLIFIER, "plate-load"), batch.ohms(_AMPLIFIER, "cathode-load", 1e-3)
    held = np.where(emission(run, _AMPLIFIER, "amplifier") > 0.05, 0.06 * driven, -30.0)
    source = np.minimum(batch.ohms(_AMPLIFIER, "grid-leak"), 3e6)
    run.put("sync-amplifier-grid", "dc", mean * lower - held, source)
    run.put("sync-amplifier-grid", "pp", driven)
    run.put("sync-amplifier-plate", "dc", run.inner["rail:sync"] - mean * upper, upper)
    run.put("sync-amplifier-plate", "pp", up)
    run.put("sync-amplifier-cathode", "dc", mean * lower, lower)
    run.put("sync-amplifier-cathode", "pp", down)


def integrator(run: Run) -> None:
    """Integrate the broad pulses; keeps ``vertical_pulse_v`` at the end of the path."""
    batch, stage = run.batch, "vertical-integrator"
    pulse: Value = run.inner["sync_up_v"]
    seconds: Value = 0.0
    design: Value = 1e-12
    for n in (1, 2, 3):
        if batch.has(stage, f"resistor-{n}"):
            pulse = _section(run, n, pulse)
            seconds = seconds + batch.ohms(stage, f"resistor-{n}") * batch.farads(stage, f"capacitor-{n}")
            design = design + batch.value(stage, f"resistor-{n}") * batch.value(stage, f"capacitor-{n}")
    run.put("integrator-output", "pp", pulse)
    coupling = batch.farads(stage, "coupling", 1e-6)
    clean = run.inner["sync_purity"] ** 0.7 * run.inner["separator_droop"]
    run.keep(
        vertical_pulse_v=pulse * coupling / (coupling + 8e-10) * clean,
        integrator_fast=smooth_step(-seconds / design, -0.65, -0.35),
    )


def _section(run: Run, n: int, pulse: Value) -> Value:
    """Pass one section of the integrator."""
    batch, stage = run.batch, "vertical-integrator"
    ohms, leak = batch.ohms(stage, f"resistor-{n}"), batch.leak(stage, f"capacitor-{n}")
    passed: Value = run.calc(
        integrated_pulse_v,
        f"after section {n} of the integrator",
        sync_v=pulse,
        section_ohm=parallel_ohm(ohms, leak),
        section_f=batch.farads(stage, f"capacitor-{n}") + 60e-12,
        broad_s=120e-6,
        share_of_level=leak / (leak + ohms),
    )
    return passed
