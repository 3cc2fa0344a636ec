# SPDX-License-Identifier: MIT
"""Separator, sync amplifier, integrator, and the lock of the line oscillator.

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

__all__ = ["amplifier", "integrator", "line_lock", "separator"]

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
    bias = -0.62 * pp * smooth_step(tube, 0.0, 0.1) * leak_resistor / (leak_resistor + 0.12e6)
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
    share: Value = 1.0
    residue: Value = 0.13
    seconds: Value = 0.0
    design: Value = 1e-12
    for n in (1, 2, 3):
        if not batch.has(stage, f"resistor-{n}"):
            continue
        ohms, farads = batch.ohms(stage, f"resistor-{n}"), batch.farads(stage, f"capacitor-{n}") + 60e-12
        leak = batch.leak(stage, f"capacitor-{n}")
        share = share * leak / (leak + ohms) * -np.expm1(-120e-6 / (parallel_ohm(ohms, leak) * farads))
        residue = residue * np.minimum(60e-6 / (ohms * farads) + 0.05, 4.0)
        seconds = seconds + ohms * farads
        design = design + batch.value(stage, f"resistor-{n}") * batch.value(stage, f"capacitor-{n}")
    pulse = run.inner["sync_up_v"] * share
    run.put("integrator-output", "pp", pulse)
    coupling = batch.farads(stage, "coupling", 1e-6)
    reached = pulse * coupling / (coupling + 8e-10)
    run.keep(
        vertical_pulse_v=reached * run.inner["sync_purity"] ** 0.7 * run.inner["separator_droop"],
        integrator_residue=residue,
        integrator_fast=smooth_step(-seconds / design, -0.65, -0.35),
    )


def line_lock(run: Run) -> None:
    """Find whether the AFC holds the line oscillator, where its line stands, and how it hunts."""
    stage, batch = "horizontal-afc", run.batch
    if run.circuit(stage) == "direct":
        _direct_lock(run)
        return
    tube = np.minimum(emission(run, stage, "detector"), 1.0) if batch.has(stage, "detector") else 1.0
    tube = tube / (1.0 + batch.contact(stage, "detector") / 3e5)
    a = batch.farads(stage, "sync-capacitor-a")
    b = batch.farads(stage, "sync-capacitor-b", 0.0)
    pulse_a = run.inner["sync_up_v"] * a / (a + 60e-12)
    pulse_b = run.inner["sync_down_v"] * b / (b + 60e-12) if batch.has(stage, "sync-capacitor-b") else pulse_a
    run.put("horizontal-sync-pulse", "pp", pulse_a)
    load_a, load_b = batch.ohms(stage, "load-a"), batch.ohms(stage, "load-b")
    reference = _reference(run)
    sync_v = 0.5 * (pulse_a + pulse_b) * tube * run.inner["sync_purity"]
    leak_a, leak_b = batch.leak(stage, "sync-capacitor-a"), batch.leak(stage, "sync-capacitor-b")
    pushed = 60.0 * load_a / (load_a + leak_a) + 40.0 * load_b / (load_b + leak_b)
    skew = (pulse_a - pulse_b) * 0.2 + (load_a - load_b) / (load_a + load_b) * np.minimum(pulse_a, reference) * 0.5
    gas = batch.parameter("horizontal-oscillator", "oscillator", "gas_a")
    filter_ohm = batch.ohms(stage, "filter-resistor")
    leak = parallel_ohm(batch.leak(stage, "filter-capacitor"), batch.leak(stage, "damping-capacitor"))
    kept = leak / (leak + filter_ohm) * (filter_ohm < 1e7)
    offset = (skew + pushed) * kept + gas * np.minimum(filter_ohm, 3e6)
    _hold(run, offset, sync_v, np.minimum(reference / 8.0, 1.2) * kept)


def _reference(run: Run) -> Floats:
    stage, batch = "horizontal-afc", run.batch
    series = batch.ohms(stage, "reference-resistor", 47e3)
    farads = batch.farads(stage, "reference-capacitor", 4.7e-9)
    leak = batch.leak(stage, "reference-capacitor")
    pulse = run.inner["pulse_v"] * run.figure("afc_pulse_share", 0.055)
    saw = pulse * 9e-6 / (series * (farads + 3e-10)) * leak / (leak + series)
    saw = np.minimum(saw, pulse)
    run.put("afc-reference-pulse", "pp", saw)
    return run.full(saw * 6.0)


def _hold(run: Run, offset: Floats, sync_v: Floats, steering: Floats) -> None:
    """Lock the oscillator where the detector can pull it far enough."""
    rate, free = run.inner["line_hz"], run.inner["line_free_hz"]
    sensitivity = run.figure("afc_hz_per_v", 60.0)
    grounded = "afc" in run.bench.clamps
    offset = np.where(grounded, 0.0, offset)
    pulled = free + sensitivity * offset
    reach = np.where(grounded, 0.0, sensitivity * 0.3 * np.minimum(sync_v, 30.0) * steering)
    error = pulled - rate
    alive = run.inner["line_alive"] > 0.5
    locked = alive & (np.abs(error) < reach)
    line = offset - np.clip(error, -reach, reach) / sensitivity
    stage, batch = "horizontal-afc", run.batch
    run.put(
        "afc-line", "dc", np.where(locked, line, offset), parallel_ohm(batch.ohms(stage, "filter-resistor"), 5e6)
    )
    big = batch.farads(stage, "damping-capacitor", 1e-7)
    small = batch.farads(stage, "filter-capacitor", 4.7e-9)
    hunting = 1.0 - big / (big + 6e-9)
    slow = smooth_step(batch.ohms(stage, "damping-resistor", 47e3) / 47e3, 2.2, 8.0)
    noisy = 1.0 - small / (small + 4e-10)
    unshaped = 1.0 - batch.farads(stage, "reference-capacitor", 1e-8) / (
        batch.farads(stage, "reference-capacitor", 1e-8) + 4e-10
    )
    phase = 0.22 * unshaped + np.clip(error / np.maximum(reach, 1.0), -1, 1) * 0.06
    hum = run.inner["rail_ripple:horizontal"] * 0.012 + run.inside("sync_hum_v") * 0.03
    hum = hum + 0.12 * smooth_step(
        -np.log10(batch.parameter("horizontal-oscillator", "oscillator", "heater_cathode_ohm")), -4.6, -2.6
    )
    hum = hum + 0.10 * smooth_step(-np.log10(batch.parameter(stage, "detector", "heater_cathode_ohm")), -4.6, -2.6)
    missing = 1.0 - run.inner["sync_purity"]
    sign = batch.parameter("flyback-transformer", "transformer", "gain")
    locked = locked & (sign > 0)
    run.keep(line_locked=locked, afc_pull=np.clip(reach / 250.0, 0, 2), line_offset_hz=sensitivity * offset)
    run.show(
        line_error_hz=np.where(locked, 0.0, np.where(alive, error, 0.0)),
        line_phase=np.where(locked, phase, 0.0),
        line_tear=np.clip(
            0.15 * hunting
            + 0.05 * slow
            + 0.06 * noisy
            + 0.14 * missing
            + 0.3 * run.picture["snow"] ** 2
            + 0.06 * run.inside("undecoupled:horizontal")
            + 0.08 * run.inside("unstabilized")
            + 0.04 * run.inside("undecoupled:sync"),
            0,
            1,
        )
        * locked,
        top_bend=np.clip(
            0.06 * slow + 0.03 * hunting + 0.10 * run.inner["agc_fast"] + 0.05 * missing + run.inside("drooping"),
            0,
            0.5,
        )
        * locked,
        hum_bend=np.clip(hum, 0, 0.4) * locked,
        horizontal_sync=sync_v,
        line_hold_low_hz=np.where(alive, run.picture["line_hold_low_hz"] + sensitivity * offset, 0.0),
        line_hold_high_hz=np.where(alive, run.picture["line_hold_high_hz"] + sensitivity * offset, 0.0),
    )


def _direct_lock(run: Run) -> None:
    """Lock by differentiated sync straight at the oscillator."""
    stage, batch = "horizontal-afc", run.batch
    farads = batch.farads(stage, "differentiator")
    leak = batch.ohms(stage, "differentiator-resistor", 47e3)
    pulse = run.inner["sync_down_v"] * farads / (farads + 20e-12) * leak / (leak + 3e3)
    pulse = pulse * run.inner["sync_purity"]
    run.put("horizontal-sync-pulse", "pp", pulse)
    rate, free = run.inner["line_hz"], run.inner["line_free_hz"]
    alive = run.inner["line_alive"] > 0.5
    reach = rate * 0.006 * np.minimum(pulse, 12.0)
    error = free - rate
    locked = alive & (error < 0.002 * rate) & (error > -reach)
    run.keep(line_locked=locked, afc_pull=np.clip(reach / 250.0, 0, 2), line_offset_hz=0.0)
    missing = 1.0 - run.inner["sync_purity"]
    run.show(
        line_error_hz=np.where(locked, 0.0, np.where(alive, error, 0.0)),
        line_phase=0.0,
        line_tear=np.clip(0.12 * missing + 0.6 * run.picture["snow"], 0, 1) * locked,
        top_bend=np.clip(0.05 * missing, 0, 0.5) * locked,
        hum_bend=np.clip(run.inner["rail_ripple:horizontal"] * 0.012 + run.inside("sync_hum_v") * 0.03, 0, 0.4)
        * locked,
        horizontal_sync=pulse,
    )
