# SPDX-License-Identifier: MIT
"""Sync amplifier and integrator; the integrator gets the field sync of the standard with all its serrations.

The oscillator sits behind a capacitor: what counts is how far the pulse stands above its own mean over a field.

Limits: the amplifier's pulses are followed by their heights.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value, healthy_batch
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Bench, Run
from backporch.engine.chassis.simulator.memo import RowMemo, rounded
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.chassis.simulator.separator import recovered
from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.sync_integrator import integrated_field_pulse
from backporch.engine.circuits.sync_networks import Ladder

__all__ = ["amplifier", "integrator"]

Floats = NDArray[np.float64]


_AMPLIFIER = "sync-amplifier"
_INTEGRATOR = "vertical-integrator"
_SECTIONS = (1, 2, 3)
_STRAY_F = 60e-12
"""Wiring at the end of each section."""


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
    up, down = current * upper * cut * recovered(run, _AMPLIFIER), current * lower * cut
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
    """Integrate the true field sync of the standard; keeps ``vertical_pulse_v`` at the end of the path."""
    batch, stage = run.batch, _INTEGRATOR
    droop = np.clip(run.inner["separator_droop"], 0.0, 1.0)
    rows = np.stack([rounded(run.full(v), 400.0) for v in (*_ladder_values(run), droop)], axis=1)
    peak, residue, error, swing = _MEMO(run.chassis)(rows).T
    height = np.maximum(run.inner["sync_up_v"], 0.0)
    pulse, shown = height * peak, height * swing
    if run.bench.record:
        pulse, shown = (run.way(*pair) for pair in zip((pulse, shown), _record(run, droop), strict=True))
    run.put("integrator-output", "pp", shown)
    coupling = batch.farads(stage, "coupling", 1e-6)
    usual_residue, usual_error = _USUAL(run.chassis)
    run.keep(
        vertical_pulse_v=pulse * coupling / (coupling + 8e-10) * run.inner["sync_purity"] ** 0.7,
        integrator_fast=smooth_step(residue / np.maximum(peak, 1e-6) / usual_residue, 1.6, 3.0),
        interlace_error_s=np.where(peak > 0.02, np.maximum(np.abs(error) - usual_error, 0.0), 0.0),
    )


def _ladder_values(run: Run) -> list[Value]:
    """Return resistor, capacitor and leak of each section, one after the other."""
    batch, stage = run.batch, _INTEGRATOR
    found: list[Value] = []
    for n in _SECTIONS:
        if batch.has(stage, f"resistor-{n}"):
            leak = np.maximum(batch.leak(stage, f"capacitor-{n}"), 1.0)
            found += [batch.ohms(stage, f"resistor-{n}"), batch.farads(stage, f"capacitor-{n}") + _STRAY_F, leak]
    return found


def _ladder(values: Sequence[Value]) -> Ladder:
    return Ladder(tuple(values[0::3]), tuple(values[1::3]), tuple(values[2::3]))


def _record(run: Run, droop: Value) -> tuple[Value, Value]:
    """Return the pulse above its mean and its whole swing, computed, for the way to the point."""
    times = standard(run.chassis.standard)
    parts = _ladder(_ladder_values(run))
    found = run.calc(
        integrated_field_pulse,
        "integrator",
        ladder=parts,
        standard=times,
        pulse_v=np.maximum(run.inner["sync_up_v"], 0.0),
        broad_share=droop,
    )
    return found.second_peak_v - found.mean_v, found.second_peak_v - found.least_v


def _memo(chassis: Chassis) -> RowMemo:
    times = standard(chassis.standard)

    def compute(rows: Floats) -> Floats:
        found = integrated_field_pulse(_ladder(list(rows.T[:-1])), times, 1.0, rows.T[-1])
        peak = 0.5 * (np.asanyarray(found.first_peak_v) + found.second_peak_v)
        above = (peak - found.mean_v, found.residue_v - found.mean_v, found.interlace_error_s)
        return np.stack([np.asanyarray(value) for value in (*above, peak - found.least_v)], axis=1)

    return RowMemo(compute)


_MEMO = PerChassis(_memo)


def _designed(chassis: Chassis) -> tuple[float, float]:
    """Return with the parts as marked the residue of line sync over the peak, and the interlace error."""
    run = Run(chassis, healthy_batch(chassis), Bench())
    rows = np.stack([run.full(v) for v in (*_ladder_values(run), 1.0)], axis=1)
    peak, residue, error, _ = _MEMO(chassis)(rows).T
    return float(residue[0] / peak[0]), abs(float(error[0]))


_USUAL = PerChassis(_designed)
