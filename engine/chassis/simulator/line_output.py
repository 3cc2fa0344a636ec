# SPDX-License-Identifier: MIT
"""Output tube, flyback, damper, boosted B+ and high voltage.

The stage is the balance of energy of the circuits; a fault is a changed part in it.
Caution: nothing here invites a meter to plate, damper cathode or anode.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.line_oscillator import line_rate
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.flyback_stage import FlybackParts, OutputStage, output_stage
from backporch.engine.circuits.flyback_yoke import folded_share
from backporch.engine.circuits.high_voltage import rectified_pulse

__all__ = ["high_voltage", "output"]

Floats = NDArray[np.float64]

_STAGE = "horizontal-output"
_BLANKING_SHARE = 0.165
_PLATE_RED_W = 18.0


@dataclass(frozen=True)
class _Yoke:
    """The horizontal yoke with its plug: what is left of it."""

    henries: Value
    ohms: Value
    short: Value
    opened: Value


def output(run: Run) -> None:
    """Run the output stage; keeps the boosted rail and the scan."""
    supply = _supply(run)
    yoke = _yoke(run)
    parts = _flyback(run, yoke)
    found = run.calc(
        output_stage,
        "output stage",
        parts=parts,
        supply_v=supply,
        line_hz=_driven_rate(run),
        drive_a=run.inner["output_useful_a"],
        peak_a=run.inner["output_peak_a"],
        steady_a=run.inner["output_steady_a"],
        beam_a=run.figure("beam_a", 90e-6),
    )
    _screen(run, supply)
    _results(run, found, yoke)


def _supply(run: Run) -> Floats:
    """Return B+ behind the fuse of the stage."""
    good = np.asanyarray(run.batch.contact(_STAGE, "fuse") < 1e5) & (run.inside("branch_fuse_blown") < 0.5)
    supply = run.full(np.where(good, run.inner["b_plus_volts"], 0.0))
    run.keep(branch_supply_v=supply)
    return supply


def _screen(run: Run, supply: Floats) -> None:
    """Find the screen voltage for the next round from the screen current of this one."""
    batch = run.batch
    before = run.inside("output_screen_v", run.figure("output_screen_v", 150.0))
    starved = run.inside("plate_starved")
    taken = run.inner["output_mean_a"] * (run.figure("screen_share", 0.085) + 0.25 * starved)
    inner = np.maximum(before, 1.0) / np.maximum(taken, 1e-7)
    lower = parallel_ohm(inner, batch.leak(_STAGE, "screen-bypass"))
    screen = run.calc(
        divided_v, "screen", supply_v=supply, upper_ohm=batch.ohms(_STAGE, "screen-dropper"), lower_ohm=lower
    )
    bypass = batch.farads(_STAGE, "screen-bypass")
    useful = screen * (0.75 + 0.25 * bypass / (bypass + 2e-9))
    mixed = np.sqrt(np.maximum(useful, 1e-3) * np.maximum(before, 1e-3))
    run.keep(screen_a=screen / inner, output_screen_v=np.where(useful < 20.0, useful, mixed))
    run.put("horizontal-output-screen", "dc", screen)


def _driven_rate(run: Run) -> Floats:
    rate = np.clip(run.inner["line_free_hz"], 0.75 * line_rate(run), 1.35 * line_rate(run))
    return run.full(np.where(np.abs(rate / line_rate(run) - 1.0) < 0.05, line_rate(run), rate))


def _yoke(run: Run) -> _Yoke:
    batch, stage = run.batch, "horizontal-yoke"
    opened = batch.opened(stage, "winding") + batch.contact(stage, "connector")
    half = 0.5 * np.asanyarray(batch.leak(stage, "balance-capacitor") < 5e3)
    short = np.minimum(batch.parameter(stage, "winding", "turns_shorted") + half, 0.9)
    henries = batch.henries(stage, "winding") * (1.0 - 0.75 * short) + opened * 3e-5
    ohms = run.figure("horizontal_yoke_ohm", 14.0) * (1 - 0.5 * short) + opened
    return _Yoke(henries, np.minimum(ohms, 1e9), short, opened)


def _flyback(run: Run, yoke: _Yoke) -> FlybackParts:
    batch, stage = run.batch, "flyback-transformer"
    turns = batch.parameter(stage, "transformer", "turns_shorted")
    width = batch.henries(stage, "width-coil", 1e3) * (0.4 + 1.2 * run.position(stage, "width-coil"))
    width = width * (1 - 0.8 * batch.parameter(stage, "width-coil", "turns_shorted"))
    return FlybackParts(
        plate_ratio=run.figure("plate_ratio", 1.8),
        high_voltage_ratio=run.figure("high_voltage_ratio", 5.2),
        primary_h=batch.henries(stage, "transformer"),
        yoke_h=yoke.henries,
        yoke_ohm=yoke.ohms,
        yoke_share=run.figure("yoke_share", 0.8),
        tuning_f=run.figure("tuning_f", 560e-12),
        shunt_ohm=_core_ohm(run, yoke),
        knee_v=run.figure("knee_v", 45.0),
        damper_ohm=_damper_ohm(run),
        boost_f=batch.farads("damper-boost", "boost-capacitor") + 300e-12,
        load_ohm=_boost_load(run),
        leak_ohm=np.maximum(batch.leak("damper-boost", "boost-capacitor"), 1.0),
        width_h=width + batch.opened(stage, "width-coil"),
        width_share_of_turns=run.figure("width_share", 0.12),
        turns_share=np.minimum(0.04 * turns, 0.9),
        loop_ohm=0.4,
        coupling=0.97,
    )


def _core_ohm(run: Run, yoke: _Yoke) -> Value:
    """Return the losses of the core, with bad insulation and shorted turns of the yoke."""
    path = np.maximum(run.batch.leak("flyback-transformer", "insulation") * 0.3, 1e3)
    core = parallel_ohm(run.figure("core_ohm", 60e3), path)
    return parallel_ohm(core, np.where(np.asanyarray(yoke.short) > 0, 4e3 / np.maximum(yoke.short, 0.05), 1e12))


def _boost_load(run: Run) -> Value:
    """Return what the boosted rail feeds: filter, vertical charging, first anode."""
    batch, stage = run.batch, "picture-tube-supplies"
    users: Value = parallel_ohm(
        run.figure("boost_users_ohm", 450e3), batch.leak("damper-boost", "filter-capacitor")
    )
    first_anode = batch.ohms(stage, "first-anode-feed") + batch.leak(stage, "first-anode-bypass")
    users = parallel_ohm(users, first_anode)
    run.keep(boost_users_ohm=users)
    return batch.ohms("damper-boost", "filter-resistor") + users


def _damper_ohm(run: Run) -> Value:
    stage, batch = "damper-boost", run.batch
    tube = np.maximum(emission(run, stage, "damper"), 1e-7)
    coil = batch.opened(stage, "linearity-coil") + 20.0
    return np.minimum(70.0 / tube**1.3 + coil + batch.contact(stage, "damper"), 1e9)


def _results(run: Run, found: OutputStage, yoke: _Yoke) -> None:
    batch = run.batch
    opened = np.asanyarray(batch.opened("flyback-transformer", "transformer") > 1e3)
    broken = np.asanyarray(batch.parameter("damper-boost", "damper", "heater_cathode_ohm") < 1e6)
    running = np.where(opened, 0.0, 1.0) * np.where(broken, 0.25, 1.0)
    supply = run.inner["branch_supply_v"]
    boosted = np.asanyarray(found.boost_v)
    boosted = np.where(opened | broken, np.minimum(0.97 * supply, boosted), boosted)
    plate_a = np.where(opened, 0.0, np.asanyarray(found.plate_a))
    _boosted_points(run, boosted)
    cathode = plate_a + run.inner["screen_a"]
    starved = (boosted < 0.5 * supply) | opened
    steady = np.minimum(run.inner["output_steady_a"], plate_a)
    run.keep(
        scan_v=np.asanyarray(found.scan_v) * running,
        pulse_v=np.asanyarray(found.pulse_v) * running,
        yoke_pp_a=np.asanyarray(found.yoke_pp_a) * running,
        retrace_s=np.asanyarray(found.retrace_s),
        plate_starved=starved,
        output_cathode_a=cathode,
        output_plate_w=np.asanyarray(found.dissipation_w) + steady * np.maximum(boosted, 0.0) * 0.5,
        yoke_short=yoke.short,
        branch_fuse_blown=(cathode > run.figure("branch_fuse_trips_a", 0.42)) & batch.has(_STAGE, "fuse"),
    )
    run.put("horizontal-output-cathode-current", "amp", cathode)
    _looks(run, steady, starved, yoke)


def _boosted_points(run: Run, boosted: Floats) -> None:
    users = run.inner["boost_users_ohm"]
    series = run.batch.ohms("damper-boost", "filter-resistor")
    filtered = run.calc(
        divided_v, "boosted B+ behind its filter", supply_v=boosted, upper_ohm=series, lower_ohm=users
    )
    run.keep(boost_raw_v=boosted, boosted_v=filtered)
    run.put("boosted-b-plus", "dc", filtered, parallel_ohm(users, series))


def _looks(run: Run, steady: Floats, starved: NDArray[np.bool_], yoke: _Yoke) -> None:
    red = run.figure("plate_red_w", _PLATE_RED_W)
    glow = smooth_step(steady, 0.05, 0.15) + smooth_step(run.inner["output_plate_w"], red, 1.6 * red)
    blanking = _BLANKING_SHARE / line_rate(run) * 1.04
    whistle = np.minimum(run.inner["scan_v"] / run.figure("nominal_scan_v", 250.0), 1.5) + 0.02
    run.show(
        output_plate_glow=np.clip(glow, 0.0, 1.0) * ~starved,
        fold_left=folded_share(run.inner["retrace_s"], blanking, line_rate(run)),
        whistle=np.where(run.inner["line_alive"] > 0.5, whistle, 0.0),
    )
    run.put("horizontal-yoke-resistance", "ohm", yoke.ohms)
    turns = run.batch.parameter("flyback-transformer", "transformer", "turns_shorted")
    winding = run.figure("flyback_ohm", 32.0) * (1 - 0.04 * turns)
    run.put("flyback-resistance", "ohm", winding + run.batch.opened("flyback-transformer", "transformer"))


def high_voltage(run: Run) -> None:
    """Rectify the retrace pulse into the anode voltage, and find the resistance behind it."""
    stage, batch = "high-voltage", run.batch
    filament = _filament(run)
    tube = np.clip(batch.emission(stage, "rectifier"), 0.0, 1.0) * smooth_step(filament, 0.45, 0.85)
    leak = np.maximum(batch.leak(stage, "filter-capacitor") * 30.0, 1.0)
    pulse = run.inner["pulse_v"] * run.figure("high_voltage_ratio", 5.2)
    beam = run.figure("beam_a", 90e-6)
    volts = [_anode(run, pulse, leak, tube, load) for load in (np.zeros(1), np.full(1, beam))]
    inner = np.maximum(volts[0] - volts[1], 0.0) / beam + run.figure("high_voltage_ohm", 1.5e6)
    gassy = np.asanyarray(batch.parameter(stage, "rectifier", "gas_a") > 3e-4)
    lead = batch.contact(stage, "anode-lead")
    run.keep(
        anode_open_v=np.where(gassy, 0.6, 1.0) * volts[0],
        anode_ohm=np.minimum(inner, 1e13) + lead,
        nominal_anode_v=run.figure("anode_v", 14e3),
    )
    path = batch.leak("flyback-transformer", "insulation")
    run.show(
        high_voltage_filament=np.clip(filament, 0.0, 1.5),
        arcing=np.where((lead > 1e5) | (path < 1e6), 0.7, 0.0),
        corona=np.where(path < 1e7, 0.8, 0.0),
    )


def _filament(run: Run) -> Value:
    stage, batch = "high-voltage", run.batch
    series = batch.ohms(stage, "filament-resistor", 1e-3)
    design = batch.value(stage, "filament-resistor", 1e-3)
    whole = batch.parameter(stage, "rectifier", "heater")
    return whole * run.inner["pulse_v"] / run.figure("nominal_pulse_v", 2300.0) * (3.7 + design) / (3.7 + series)


def _anode(run: Run, pulse: Floats, leak: Value, tube: Value, beam: Floats) -> Floats:
    found = run.calc(
        rectified_pulse,
        "anode voltage",
        pulse_v=pulse,
        base_v=np.maximum(run.inner["boost_raw_v"], 0.0),
        retrace_s=run.inner["retrace_s"],
        line_hz=line_rate(run),
        source_ohm=run.figure("rectifier_source_ohm", 150e3),
        beam_a=beam,
        leak_ohm=leak,
        emission_share=np.asanyarray(tube),
    )
    return np.asanyarray(found.anode_v)
