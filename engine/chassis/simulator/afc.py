# SPDX-License-Identifier: MIT
"""Whether the line oscillator locks: phase detector with its loop, or sync straight at the oscillator.

Chains detector, filter, hold and pull-in range, hunting and hum of the circuits.
Limits: a loop is taken as locked where it would catch after switch-on; noise is one figure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.horizontal import (
    detector_slope,
    hold_range_hz,
    phase_detector,
    static_phase_s,
)
from backporch.engine.circuits.horizontal_loop import (
    AfcFilter,
    direct_share,
    hum_shift_s,
    hunting,
    pull_in_range_hz,
)
from backporch.engine.circuits.horizontal_picture import direct_sync_lowest_hz

__all__ = ["line_lock"]

Floats = NDArray[np.float64]

_STAGE = "horizontal-afc"
_SYNC_S = {"525/60": 4.76e-6, "625/50": 4.7e-6, "405/50": 9e-6, "819/50": 2.5e-6}
_RETRACE_SHARE = 0.15
_GRID_OHM = 20e6


@dataclass(frozen=True)
class _Detector:
    """The phase detector as the loop sees it."""

    offset_v: Floats
    """Control voltage without any phase error."""
    most_v: Floats
    """Most control voltage of either sign."""
    slope: Floats
    """Volts per radian."""
    source_ohm: Floats
    sync_v: Floats
    """Sync that the detector works with."""
    unshaped: Floats
    """How far the comparison pulse is from a sawtooth, 0 to 1."""


def line_lock(run: Run) -> None:
    """Find whether the line oscillator is held, where its control line stands, and how restless it is."""
    if run.circuit(_STAGE) == "direct":
        _direct(run)
        return
    found = _detect(run)
    network = _filter(run, found)
    share = np.asanyarray(direct_share(network))
    slope = -run.inner["line_slope"]
    if "afc" in run.bench.clamps:
        share = share * 0.0
    reach = np.asanyarray(hold_range_hz(found.most_v * share, slope))
    steered = np.clip(found.offset_v * share, -12.0, 2.5)
    offset = np.clip(-slope * steered, -0.4 * run.inner["line_hz"], 0.5 * run.inner["line_hz"])
    error = run.inner["line_free_hz"] + offset - run.inner["line_hz"]
    caught = np.abs(error) <= _catches_hz(network, reach, error)
    alive = run.inner["line_alive"] > 0.5
    right = np.asanyarray(run.batch.parameter("flyback-transformer", "transformer", "gain")) > 0
    locked = alive & caught & right
    line = steered + np.where(locked, error / np.maximum(slope, 1.0), 0.0)
    run.put("afc-line", "dc", line, np.minimum(network.series_ohm, 5e6))
    run.keep(line_locked=locked, afc_pull=np.clip(reach / 250.0, 0, 2), line_offset_hz=offset)
    _show_rates(run, error, alive, locked, offset, found.sync_v)
    _show_unrest(run, found, network, slope, error, locked)


def _catches_hz(network: AfcFilter, reach: Floats, error: Floats) -> Floats:
    """Return how far off the loop still catches; a third of the hold range it always does."""
    sure = 0.3 * reach
    if np.all(np.abs(error) <= sure):
        return sure
    return np.asanyarray(np.maximum(np.asanyarray(pull_in_range_hz(network, np.maximum(reach, 1e-3))), sure))


def _detect(run: Run) -> _Detector:
    first, second = _pulses(run)
    touching = run.batch.parameter(_STAGE, "detector", "leakage_ohm")
    first = first * touching / (touching + 1e5)
    saw, unshaped = _reference(run)
    diode = _diode_ohm(run)
    offset_v, source_ohm = _without_error(run, first, second, diode)
    conducting, purity = 1e5 / (1e5 + diode), run.inner["sync_purity"]
    weaker = np.minimum(first, second)
    working = conducting * smooth_step(weaker / np.maximum(saw, 0.5), 0.2, 1.0) * purity
    return _Detector(
        offset_v=offset_v,
        most_v=run.full(0.5 * np.minimum(saw, weaker) * working),
        slope=run.full(np.asanyarray(detector_slope(saw, _RETRACE_SHARE)) * working),
        source_ohm=source_ohm,
        sync_v=run.full(0.5 * (first + second) * conducting * purity),
        unshaped=run.full(unshaped),
    )


def _pulses(run: Run) -> tuple[Value, Value]:
    """Return the sync pulses of both signs at the detector."""
    batch = run.batch
    a, b = batch.farads(_STAGE, "sync-capacitor-a"), batch.farads(_STAGE, "sync-capacitor-b")
    first = np.maximum(run.inner["sync_up_v"], 0.0) * a / (a + 60e-12)
    run.put("horizontal-sync-pulse", "pp", first)
    if not batch.has(_STAGE, "sync-capacitor-b"):
        return first, first
    return first, np.maximum(run.inner["sync_down_v"], 0.0) * b / (b + 60e-12)


def _diode_ohm(run: Run) -> Value:
    if not run.batch.has(_STAGE, "detector"):
        return 1200.0
    tube = np.maximum(emission(run, _STAGE, "detector"), 1e-6)
    return np.minimum(1200.0 / tube + run.batch.contact(_STAGE, "detector"), 1e9)


def _without_error(run: Run, first: Value, second: Value, diode: Value) -> tuple[Floats, Floats]:
    """Return output and source resistance of the detector when the picture is in phase."""
    batch = run.batch
    found = run.calc(
        phase_detector,
        "phase detector without error",
        sawtooth_now_v=0.0,
        first_sync_v=first,
        second_sync_v=second,
        first_load_ohm=batch.ohms(_STAGE, "load-a"),
        second_load_ohm=batch.ohms(_STAGE, "load-b"),
        sync_s=_SYNC_S[run.chassis.standard],
        line_hz=run.inner["line_hz"],
        first_diode_ohm=diode,
        second_diode_ohm=diode,
        first_leak_ohm=batch.leak(_STAGE, "sync-capacitor-a"),
        second_leak_ohm=batch.leak(_STAGE, "sync-capacitor-b"),
        splitter_v=run.figure("splitter_v", 90.0),
    )
    gas = batch.parameter("horizontal-oscillator", "oscillator", "gas_a")
    lifted = gas * np.minimum(found.source_ohm + batch.ohms(_STAGE, "filter-resistor"), 2e6)
    return run.full(found.output_v + lifted), run.full(found.source_ohm)


def _reference(run: Run) -> tuple[Value, Value]:
    """Return the comparison sawtooth at the detector, and how far it is from one."""
    batch = run.batch
    series = batch.ohms(_STAGE, "reference-resistor", 47e3)
    farads = batch.farads(_STAGE, "reference-capacitor", 4.7e-9) + 1e-10
    leak = batch.leak(_STAGE, "reference-capacitor")
    pulse = run.inner["pulse_v"] * run.figure("afc_pulse_share", 0.14)
    width = run.inner["retrace_s"]
    saw = pulse * -np.expm1(-width / (series * farads)) * leak / (leak + series)
    run.put("afc-reference-pulse", "pp", saw)
    return saw, smooth_step(-series * farads, -60e-6, -15e-6)


def _filter(run: Run, found: _Detector) -> AfcFilter:
    batch = run.batch
    leak = parallel_ohm(batch.leak(_STAGE, "filter-capacitor"), batch.leak(_STAGE, "damping-capacitor"))
    short = batch.parameter("horizontal-oscillator", "oscillator", "leakage_ohm")
    return AfcFilter(
        series_ohm=found.source_ohm + batch.ohms(_STAGE, "filter-resistor"),
        damping_ohm=batch.ohms(_STAGE, "damping-resistor", 1e9),
        damping_f=batch.farads(_STAGE, "damping-capacitor", 1e-12),
        smoothing_f=batch.farads(_STAGE, "filter-capacitor", 1e-12),
        leak_ohm=parallel_ohm(parallel_ohm(leak, _GRID_OHM), short),
    )


def _show_rates(run: Run, error: Floats, alive: Value, locked: Value, offset: Floats, sync_v: Floats) -> None:
    low, high = run.picture["line_hold_low_hz"], run.picture["line_hold_high_hz"]
    run.show(
        line_error_hz=np.where(locked | ~np.asanyarray(alive), 0.0, error),
        line_hold_low_hz=np.where(alive, low + offset, 0.0),
        line_hold_high_hz=np.where(alive, high + offset, 0.0),
        horizontal_sync=sync_v,
    )


def _show_unrest(
    run: Run, found: _Detector, network: AfcFilter, slope: Floats, error: Floats, locked: Value
) -> None:
    rate, field = run.inner["line_hz"], run.inner["field_hz"]
    sloping = np.maximum(found.slope, 1e-3)
    state = hunting(network, sloping, slope, rate, field)
    restless = smooth_step(-np.asanyarray(state.phase_margin_rad), -0.45, -0.05)
    ringing = smooth_step(-np.asanyarray(state.phase_margin_rad), -0.8, -0.3)
    loose = smooth_step(np.asanyarray(state.crossover_hz), 1200.0, 5000.0)
    bend = (
        np.asanyarray(
            hum_shift_s(network, sloping, slope, _hum_v(run), run.known("mains_hz", run.chassis.mains_hz), rate)
        )
        * rate
    )
    missing = 1.0 - run.inner["sync_purity"]
    phase = np.asanyarray(static_phase_s(rate + error, rate, sloping, np.maximum(slope, 1.0))) * rate
    crosstalk = 0.06 * run.inside("undecoupled:horizontal") + 0.04 * run.inside("undecoupled:sync")
    snow = 0.3 * run.picture["snow"] ** 2
    tear = 0.12 * restless + 0.12 * loose + 0.14 * missing + snow + crosstalk
    top = 0.06 * ringing + 0.10 * run.inner["agc_fast"] + 0.05 * missing
    run.show(
        line_phase=np.where(locked, np.clip(phase + 0.22 * found.unshaped, -0.5, 0.5), 0.0),
        line_tear=np.clip(tear, 0, 1) * locked,
        top_bend=np.clip(top, 0, 0.5) * locked,
        hum_bend=np.clip(bend + run.inside("sync_hum_v") * 0.003, 0, 0.4) * locked,
    )


def _hum_v(run: Run) -> Value:
    """Return hum at the oscillator's control grid and cathode, peak to peak."""
    batch = run.batch
    cathode = batch.ohms("horizontal-oscillator", "cathode", 1e3)
    leak = parallel_ohm(
        batch.parameter("horizontal-oscillator", "oscillator", "heater_cathode_ohm"),
        batch.parameter("horizontal-oscillator", "oscillator-2", "heater_cathode_ohm"),
    )
    detector = batch.parameter(_STAGE, "detector", "heater_cathode_ohm")
    hum = 17.0 * cathode / (cathode + leak) + 17.0 * 2e4 / (2e4 + detector)
    return hum + 0.05 * run.inner["rail_ripple:horizontal"]


def _direct(run: Run) -> None:
    """Lock by differentiated sync straight at the oscillator."""
    rate, free = run.inner["line_hz"], run.inner["line_free_hz"]
    pulse = _differentiated(run)
    alive = run.inner["line_alive"] > 0.5
    lowest = np.asanyarray(
        direct_sync_lowest_hz(
            rate,
            run.figure("direct_sync_share", 0.12) * np.maximum(pulse, 0.0),
            np.minimum(run.inner["line_lowest_v"], -1.0),
            np.minimum(run.inner["line_fire_v"], -0.5),
        )
    )
    locked = alive & (free <= 1.002 * rate) & (free >= lowest)
    run.keep(line_locked=locked, afc_pull=np.clip((rate - lowest) / 250.0, 0, 2), line_offset_hz=0.0)
    missing = 1.0 - run.inner["sync_purity"]
    hum = 0.002 * run.inner["rail_ripple:horizontal"] + 0.003 * run.inside("sync_hum_v")
    run.show(
        line_error_hz=np.where(locked | ~alive, 0.0, free - rate),
        line_phase=0.0,
        line_tear=np.clip(0.12 * missing + 0.6 * run.picture["snow"], 0, 1) * locked,
        top_bend=np.clip(0.05 * missing, 0, 0.5) * locked,
        hum_bend=np.clip(hum, 0, 0.4) * locked,
        horizontal_sync=pulse,
    )


def _differentiated(run: Run) -> Value:
    farads = run.batch.farads(_STAGE, "differentiator")
    leak = run.batch.ohms(_STAGE, "differentiator-resistor", 47e3)
    pulse = run.inner["sync_down_v"] * farads / (farads + 20e-12) * leak / (leak + 3e3)
    run.put("horizontal-sync-pulse", "pp", pulse)
    return pulse * run.inner["sync_purity"]
