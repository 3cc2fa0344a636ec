# SPDX-License-Identifier: MIT
"""Separator, sync amplifier and integrator.

The separator biases itself by its grid leak: what lifts the grid (a leaky coupling capacitor, gas) lets
picture through with the sync, what starves it lets sync go.
Limits: pulses are followed by their heights; noise is one figure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import (
    Value,
    leak_rise_v,
    parallel_ohm,
    smooth_step,
)
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.field_timing import integrated_pulse_v, line_period_s, self_bias_v

__all__ = ["amplifier", "integrator", "separator"]

Floats = NDArray[np.float64]


def separator(run: Run) -> None:
    """Bias, clip and purity of the separator."""
    batch, stage = run.batch, "sync-separator"
    series = batch.ohms(stage, "input-resistor") + batch.ohms(stage, "noise-resistor", 0.0)
    series = parallel_ohm(
        series,
        batch.ohms(stage, "input-resistor") + 30e3 + 1e3 * 270e-12 / batch.farads(stage, "noise-capacitor", 1e-3),
    )
    leak_resistor = batch.ohms(stage, "grid-leak")
    coupling = batch.farads(stage, "coupling")
    share = (coupling + 1e-12) / (coupling + 60e-12) / (1.0 + series / 2.2e6)
    contact = batch.contact(stage, "separator")
    short = batch.parameter(stage, "separator", "leakage_ohm")
    share = share / (1.0 + contact / 1e6) * short / (short + 60e3)
    pp = np.abs(run.inner["video_pp_v"]) * share
    height = run.inner["video_sync_v"] * share
    plate_v = run.inner["video_mean_v"]
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=plate_v,
        grid_ohm=leak_resistor,
        leak_ohm=batch.leak(stage, "coupling") + series,
    )
    rise = rise + batch.parameter(stage, "separator", "gas_a") * np.minimum(leak_resistor, 5e6)
    tube = emission(run, stage, "separator")
    run.calc(line_period_s, "line period", line_hz=run.inner["line_hz"])
    clamped = run.calc(
        self_bias_v,
        "self-bias on the sync tips",
        signal_v=pp,
        leak_ohm=leak_resistor,
        conducting_ohm=0.12e6,
        clamped_share=0.62,
    )
    bias = clamped * smooth_step(tube, 0.0, 0.1)
    grid = np.minimum(bias + rise, 0.8 + 0.02 * rise)
    run.put("sync-separator-grid", "dc", grid, parallel_ohm(leak_resistor, 5e6))
    run.put("sync-separator-grid", "pp", pp)
    _clip(run, grid, pp, height, tube, coupling * leak_resistor)


def _clip(run: Run, grid: Floats, pp: Floats, height: Floats, tube: Floats, seconds: Value) -> None:
    batch, stage = run.batch, "sync-separator"
    rail = run.inner["rail:sync"]
    load = batch.ohms(stage, "plate-load")
    plate_supply = rail
    if batch.has(stage, "screen-dropper"):
        screen_ohm = 60e3 / np.maximum(tube, 1e-4)
        lower = parallel_ohm(
            parallel_ohm(screen_ohm, batch.ohms(stage, "screen-divider", 1e12)), batch.leak(stage, "screen-bypass")
        )
        plate_supply = rail * lower / (lower + batch.ohms(stage, "screen-dropper"))
        run.put("sync-separator-screen", "dc", plate_supply)
        cut_off = np.maximum(plate_supply / 12.0, 0.3)
    else:
        cut_off = np.maximum(rail / 18.0, 0.3)
    conduct = np.maximum(height * 1.0, 0.0)
    inner_ohm = 9e3 / np.maximum(tube, 1e-4)
    swing = rail * load / (load + inner_ohm) * smooth_step(conduct / cut_off, 0.05, 0.8) * (load < 2e7)
    deep = -grid / np.maximum(pp, 0.05)
    purity = smooth_step(deep, 0.12, 0.42) * smooth_step(height / np.maximum(pp, 0.1), 0.02, 0.12)
    droop = seconds / (seconds + 150e-6)
    swing = swing * smooth_step(deep, -0.1, 0.2) * _gate(run)
    mean = rail - swing * 0.09 - rail * load / (load + inner_ohm) * (1 - smooth_step(deep, -0.1, 0.3)) * 0.8
    run.put("sync-separator-plate", "dc", np.where(load > 2e7, 0.2 * rail / (1 + load / 1e8), mean), load)
    run.put("sync-separator-plate", "pp", swing)
    run.keep(separated_v=swing, sync_purity=purity, separator_droop=droop)


def _gate(run: Run) -> Value:
    """Return what a noise gate that is set or leaks wrongly leaves of the sync."""
    stage, batch = "sync-separator", run.batch
    if run.circuit(stage) != "noise-gated-pentode":
        return 1.0
    far = smooth_step(run.position(stage, "gate-preset"), 0.78, 0.95)
    leak = smooth_step(-np.log10(np.maximum(batch.leak(stage, "gate-coupling"), 1.0)), -6.0, -5.0)
    loose = smooth_step(np.log10(np.maximum(batch.ohms(stage, "gate-leak", 1e5), 1.0)), 6.6, 7.4)
    return 1.0 - np.maximum(np.maximum(far, leak), 0.7 * loose)


def amplifier(run: Run) -> None:
    """Pass the separated sync to both users."""
    batch, stage = run.batch, "sync-amplifier"
    if not run.circuit(stage):
        run.keep(sync_up_v=run.inner["separated_v"] * 0.3, sync_down_v=run.inner["separated_v"], sync_a=0.004)
        return
    rail = run.inner["rail:sync"]
    coupling = batch.farads(stage, "coupling")
    grid = batch.ohms(stage, "grid-leak")
    contact = batch.contact(stage, "amplifier")
    share = coupling / (coupling + 40e-12) / (1 + contact / 4e5)
    driven = run.inner["separated_v"] * share
    tube = emission(run, stage, "amplifier")
    upper, lower = batch.ohms(stage, "plate-load"), batch.ohms(stage, "cathode-load", 1e-3)
    leak = batch.leak(stage, "coupling")
    short = batch.parameter(stage, "amplifier", "leakage_ohm")
    zero_bias = smooth_step(-np.log10(np.minimum(grid, leak)), -8.2, -6.5)
    current = rail / (upper + lower + 8e3 / np.maximum(tube, 1e-4)) * (0.12 + 0.88 * zero_bias)
    needed = 0.09 * rail
    cut = smooth_step(driven / np.maximum(needed, 0.5), 0.1, 1.0) * short / (short + 2e4)
    up, down = current * upper * cut, current * lower * cut
    mean = current * (1 - 0.085 * cut)
    run.put(
        "sync-amplifier-grid",
        "dc",
        mean * lower - np.where(tube > 0.05, 0.06 * driven, -30.0),
        np.minimum(grid, 3e6),
    )
    run.put("sync-amplifier-grid", "pp", driven)
    run.put("sync-amplifier-plate", "dc", rail - mean * upper, upper)
    run.put("sync-amplifier-plate", "pp", up)
    run.put("sync-amplifier-cathode", "dc", mean * lower, lower)
    run.put("sync-amplifier-cathode", "pp", down)
    hum = 9.0 * 4700.0 / (4700.0 + batch.parameter(stage, "amplifier", "heater_cathode_ohm"))
    hum = hum * (np.minimum(lower, 1e5) / 4.7e3)
    if run.circuit(stage) == "triode-clipper":
        out = batch.farads(stage, "output-coupling", 1e-6)
        up, down = up * out / (out + 60e-12), 0.35 * run.inner["separated_v"]
    run.keep(sync_up_v=up, sync_down_v=down, sync_a=mean, sync_hum_v=hum)


def integrator(run: Run) -> None:
    """Integrate the broad pulses; keeps ``vertical_pulse_v`` at the end of the path."""
    batch, stage = run.batch, "vertical-integrator"
    pulse: Value = run.inner["sync_up_v"]
    residue: Value = 0.13
    seconds: Value = 0.0
    design: Value = 1e-12
    for n in (1, 2, 3):
        if not batch.has(stage, f"resistor-{n}"):
            continue
        ohms, farads = batch.ohms(stage, f"resistor-{n}"), batch.farads(stage, f"capacitor-{n}") + 60e-12
        leak = batch.leak(stage, f"capacitor-{n}")
        pulse = run.calc(
            integrated_pulse_v,
            f"after section {n} of the integrator",
            sync_v=pulse,
            section_ohm=parallel_ohm(ohms, leak),
            section_f=farads,
            broad_s=120e-6,
            share_of_level=leak / (leak + ohms),
        )
        residue = residue * np.minimum(60e-6 / (ohms * farads) + 0.05, 4.0)
        seconds = seconds + ohms * farads
        design = design + batch.value(stage, f"resistor-{n}") * batch.value(stage, f"capacitor-{n}")
    run.put("integrator-output", "pp", pulse)
    coupling = batch.farads(stage, "coupling", 1e-6)
    reached = pulse * coupling / (coupling + 8e-10)
    run.keep(
        vertical_pulse_v=reached * run.inner["sync_purity"] ** 0.7 * run.inner["separator_droop"],
        integrator_residue=residue,
        integrator_fast=smooth_step(-seconds / design, -0.65, -0.35),
    )
