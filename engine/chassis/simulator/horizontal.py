# SPDX-License-Identifier: MIT
"""Horizontal oscillator, drive, output stage, flyback, boosted B+ and high voltage.

The output stage is the balance of energy of :mod:`backporch.engine.circuits.flyback_boost`.
Limits: drive and output tube are described by peak current, cut-off and the share of the line in which
the tube conducts; ringing is left out.
Caution: nothing here invites a meter to plate, damper cathode or anode.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import (
    Value,
    divided_v,
    leak_rise_v,
    parallel_ohm,
    smooth_step,
)
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.flyback import Retrace, effective_inductance_h, retrace, shorted_turns
from backporch.engine.circuits.flyback_boost import Boost, boost, scan_loss_ohm
from backporch.engine.circuits.flyback_yoke import folded_share, yoke_current_a

__all__ = ["drive", "high_voltage", "oscillator", "output_stage"]

Floats = NDArray[np.float64]


def line_rate(run: Run) -> float:
    """Return the line rate of the standard."""
    return {"525/60": 15750.0, "625/50": 15625.0, "405/50": 10125.0, "819/50": 20475.0}[run.chassis.standard]


def oscillator(run: Run) -> None:
    """Find the free-running line rate, where it stands and at both ends of the hold control."""
    stage, batch = "horizontal-oscillator", run.batch
    first, second = emission(run, stage, "oscillator"), emission(run, stage, "oscillator-2")
    rail = run.inner["rail:horizontal"]
    coupling = batch.farads(stage, "coupling")
    loads = batch.ohms(stage, "plate-load"), batch.ohms(stage, "plate-load-2")
    bad_contact = np.maximum(batch.contact(stage, "oscillator"), batch.contact(stage, "oscillator-2"))
    alive = (
        (first > 0.2)
        & (second > 0.2)
        & (rail > 50)
        & (loads[0] < 1e6)
        & (loads[1] < 3e6)
        & (batch.ohms(stage, "cathode") < 50e3)
        & (coupling > 2e-12)
        & (batch.leak(stage, "coupling") > 20e3)
        & (batch.parameter(stage, "oscillator", "leakage_ohm") > 1e5)
        & (batch.parameter(stage, "oscillator-2", "leakage_ohm") > 1e5)
        & (bad_contact < 1e5)
    )
    swing = 4.0 * (loads[0] / 15e3) ** 0.6 * np.maximum(first, 0.05) ** 0.5
    rates = {}
    for name, position in (("low", 1.0), ("set", run.position(stage, "hold")), ("high", 0.0)):
        track = batch.ohms(stage, "hold", 0.0)
        fixed = batch.ohms(stage, "grid-resistor")
        leak = batch.leak(stage, "coupling")
        grid = parallel_ohm(fixed + track * position + batch.contact(stage, "hold"), leak * 2.0)
        long_s = grid * coupling * np.log1p(swing)
        short_s = run.figure("line_short_s", 6.3e-6)
        rates[name] = 1.0 / (long_s + short_s) * run.trim("horizontal-rate") * _stabilizer(run)
    rate = rates["set"]
    run.keep(line_free_hz=rate, line_alive=alive, line_hz=line_rate(run))
    run.show(
        line_hold_low_hz=np.where(alive, rates["low"], 0.0), line_hold_high_hz=np.where(alive, rates["high"], 0.0)
    )
    plate = rail - np.where(alive, 0.4, 0.12) * rail * np.minimum(loads[1] / 100e3, 1.3) ** 0.5
    run.put("horizontal-oscillator-plate", "dc", np.where(second > 0.02, plate, rail))
    run.put("horizontal-oscillator-plate", "pp", np.where(alive, 0.55 * rail, 0.0))
    grid_v = -np.where(alive, 0.11 * rail * np.minimum(first, 1.2), 0.0)
    run.put("horizontal-oscillator-grid", "dc", grid_v, batch.ohms(stage, "grid-resistor"))
    run.put("horizontal-oscillator-grid", "pp", np.where(alive, 0.28 * rail, 0.0))


def _stabilizer(run: Run) -> Value:
    """Return how far the stabilizing coil moves the rate: its ring decides half of the timing."""
    stage, batch = "horizontal-oscillator", run.batch
    if not batch.has(stage, "stabilizing-coil"):
        return 1.0
    open_coil = batch.opened(stage, "stabilizing-coil") > 1e4
    left = 1.0 - 0.9 * batch.parameter(stage, "stabilizing-coil", "turns_shorted")
    coil = batch.parameter(stage, "stabilizing-coil", "inductance") * left
    capacity = batch.parameter(stage, "stabilizing-capacitor", "capacitance")
    ring = np.clip(1.0 / np.sqrt(coil * np.maximum(capacity, 1e-3)), 0.5, 2.0)
    leak = batch.leak(stage, "stabilizing-capacitor") < 2e3
    lost = open_coil | leak | (ring > 1.6)
    run.keep(unstabilized=lost)
    return np.where(lost, 0.94, ring**0.5)


def drive(run: Run) -> None:
    """Shape the drive and find the bias that it makes at the output tube."""
    stage, batch, rail = "horizontal-drive", run.batch, run.inner["rail:horizontal"]
    charging = batch.ohms("horizontal-oscillator", "plate-load-2")
    preset = batch.value(stage, "preset", 0.0) * run.position(stage, "preset")
    capacity = batch.farads(stage, "capacitor") + preset
    second = np.minimum(emission(run, "horizontal-oscillator", "oscillator-2"), 1.3)
    leak = parallel_ohm(batch.leak(stage, "capacitor"), batch.leak(stage, "preset"))
    supply = divided_v(rail, charging, leak)
    seconds = 0.9 / np.clip(run.inner["line_free_hz"], 8000.0, 30000.0)
    saw = supply * -np.expm1(-seconds / (parallel_ohm(charging, leak) * np.maximum(capacity, 2e-11)))
    saw = saw * smooth_step(second, 0.1, 0.6)
    pulse = supply * np.minimum(batch.ohms(stage, "peaking", 0.0) / (charging + 1e-3), 0.4)
    drive_pp = np.where(run.inner["line_alive"] > 0.5, saw + pulse, 0.0)
    run.put("horizontal-drive", "pp", drive_pp)
    coupling = batch.farads(stage, "coupling")
    grid_leak = batch.ohms("horizontal-output", "grid-leak")
    at_grid = drive_pp * coupling / (coupling + 40e-12)
    _bias(run, at_grid, grid_leak)


def _bias(run: Run, at_grid: Floats, grid_leak: Value) -> None:
    stage, output, batch = "horizontal-drive", "horizontal-output", run.batch
    plate = run.values["horizontal-oscillator-plate.dc"]
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=plate,
        grid_ohm=grid_leak,
        leak_ohm=batch.leak(stage, "coupling"),
    )
    rise = rise + batch.parameter(output, "output", "gas_a") * np.minimum(grid_leak, 5e6)
    shorted = batch.parameter(output, "output", "leakage_ohm")
    kept = shorted / (shorted + 30e3)
    at_grid = at_grid * kept * grid_leak / (grid_leak + 2 * batch.contact(output, "output"))
    held = 0.12 * smooth_step(np.log10(np.maximum(grid_leak, 1.0) / 470e3), 0.25, 1.5)
    made = (
        -(0.33 + held) * at_grid * smooth_step(grid_leak, 0.0, 200e3) * np.minimum(grid_leak / 470e3, 1.0) ** 0.15
    )
    bias = np.where(emission(run, output, "output") > 0.02, made + rise, rise - 0.45 * at_grid)
    bias = np.minimum(bias, 2.0 + 0.02 * bias)
    run.keep(output_bias_v=bias, output_drive_v=at_grid)
    run.put("horizontal-output-grid", "dc", bias, 0.12 * grid_leak)
    run.put("horizontal-output-grid", "pp", at_grid)


def output_stage(run: Run) -> None:
    """Run the output tube, flyback and damper; keeps the boosted rail and the scan."""
    supply, screen_v = _supply_and_screen(run)
    peak, drive_a, steady_a = _tube_current(run, screen_v)
    winding = _winding(run)
    line = run.calc(
        retrace,
        "retrace",
        scan_v=1.0,
        inductance_h=winding["henries"],
        tuning_f=winding["tuning"],
        line_hz=winding["rate"],
        loss_ohm=winding["shunt"],
    )
    loss = scan_loss_ohm(
        trace_s=line.trace_s,
        pulse_ratio=line.ratio,
        line_hz=winding["rate"],
        shunt_ohm=winding["shunt"],
        yoke_ohm=winding["yoke_ohm"],
        yoke_h=winding["yoke_h"],
        yoke_share=run.figure("yoke_share", 0.8),
    )
    found = run.calc(
        boost,
        "boosted B+",
        supply_v=supply,
        drive_a=drive_a,
        plate_ratio=run.figure("plate_ratio", 1.8),
        loss_ohm=loss,
        load_ohm=_boost_load(run),
        inductance_h=winding["henries"],
        trace_s=line.trace_s,
        line_hz=winding["rate"],
        knee_v=run.figure("knee_v", 45.0),
        damper_ohm=_damper_ohm(run),
        peak_a=peak,
        leak_ohm=_boost_leak(run),
        pulse_load_a=run.figure("beam_a", 120e-6) * run.figure("high_voltage_ratio", 6.0) * line.ratio,
        steady_a=steady_a,
        boost_f=_boost_farads(run),
        returned_share=line.returned_share,
    )
    _keep_output(run, found, line, winding, steady_a)


def _supply_and_screen(run: Run) -> tuple[Floats, Floats]:
    stage, batch = "horizontal-output", run.batch
    drive_share = np.clip(run.inner["output_drive_v"] / 90.0, 0.0, 1.0)
    lost = 1.0 - drive_share * smooth_step(run.inner["output_bias_v"], -4.0, -25.0)
    tube = emission(run, stage, "output")
    starved = run.inside("plate_starved")
    screen_ohm = 16.7e3 / np.maximum(tube * (1.0 + 1.2 * lost + 2.0 * starved), 1e-5)
    lower = parallel_ohm(screen_ohm, batch.leak(stage, "screen-bypass"))
    fused = run.inner["b_plus_volts"] * (batch.contact(stage, "fuse") < 1e5)
    fused = np.where(run.inside("branch_fuse_blown") > 0.5, 0.0, fused)
    screen = run.calc(
        divided_v, "screen", supply_v=fused, upper_ohm=batch.ohms(stage, "screen-dropper"), lower_ohm=lower
    )
    run.put("horizontal-output-screen", "dc", screen)
    bypass = batch.farads(stage, "screen-bypass")
    kept = bypass / (bypass + 2e-9)
    run.keep(screen_bypassed=kept, screen_a=screen / screen_ohm, branch_supply_v=fused)
    return run.full(fused), run.full(screen * (0.75 + 0.25 * kept))


def _tube_current(run: Run, screen_v: Floats) -> tuple[Floats, Floats, Floats]:
    """Return peak, useful average and uninterrupted current of the output tube."""
    tube = emission(run, "horizontal-output", "output")
    peak = tube * run.figure("output_peak_a", 0.34) * (np.maximum(screen_v, 0.0) / 150.0) ** 1.5
    cut_off = np.maximum(screen_v / 3.3, 0.5)
    drive_v, bias = run.inner["output_drive_v"], run.inner["output_bias_v"]
    top = np.minimum(bias + 0.45 * drive_v, 3.0)
    low = top - drive_v
    open_share = np.clip((top + cut_off) / np.maximum(drive_v, 1.0), 0.0, 1.0)
    useful = peak * open_share / 2.0 * np.clip((top + cut_off) / cut_off, 0.0, 1.1) ** 1.5
    steady = peak * np.clip((low + cut_off) / cut_off, 0.0, 1.0) ** 1.5
    useful = useful * np.clip(drive_v / cut_off, 0.0, 1.0)
    contact = run.batch.contact("horizontal-output", "output")
    kept = 1.0 / (1.0 + contact / 800.0)
    return peak * kept, useful * kept, steady * kept


def _winding(run: Run) -> dict[str, Value]:
    batch, stage = run.batch, "flyback-transformer"
    rate = np.clip(run.inner["line_free_hz"], 0.75 * line_rate(run), 1.35 * line_rate(run))
    rate = np.where(np.abs(rate / line_rate(run) - 1.0) < 0.05, line_rate(run), rate)
    open_yoke = batch.opened("horizontal-yoke", "winding") + batch.contact("horizontal-yoke", "connector")
    short = np.minimum(
        batch.parameter("horizontal-yoke", "winding", "turns_shorted")
        + 0.5 * (batch.leak("horizontal-yoke", "balance-capacitor") < 5e3),
        0.9,
    )
    yoke_h = batch.henries("horizontal-yoke", "winding") * (1.0 - 0.75 * short) + open_yoke * 3e-5
    width_h = batch.henries(stage, "width-coil", 1e3) * (0.4 + 1.2 * run.position(stage, "width-coil"))
    width_h = width_h * (1 - 0.8 * batch.parameter(stage, "width-coil", "turns_shorted"))
    width_h = width_h + batch.opened(stage, "width-coil")
    henries = effective_inductance_h(
        primary_h=batch.henries(stage, "transformer"),
        yoke_h=yoke_h,
        yoke_share=run.figure("yoke_share", 0.8),
        width_h=width_h,
        width_share_of_turns=run.figure("width_share", 0.12),
    )
    turns = batch.parameter(stage, "transformer", "turns_shorted")
    shorted = shorted_turns(henries, np.minimum(0.04 * turns, 0.9), 0.4, 0.97, 50e3)
    loss = np.where(turns > 0, shorted.loss_ohm, 1e12)
    core = parallel_ohm(run.figure("core_ohm", 60e3), loss)
    core = parallel_ohm(core, np.where(short > 0, 4e3 / np.maximum(short, 0.05), 1e12))
    core = parallel_ohm(core, np.maximum(batch.leak(stage, "insulation") * 0.3, 1e3))
    henries = np.where(turns > 0, shorted.inductance_h, henries)
    return {
        "rate": rate,
        "henries": henries,
        "tuning": run.figure("tuning_f", 560e-12) * np.ones(1),
        "shunt": core,
        "yoke_h": yoke_h,
        "yoke_ohm": run.figure("horizontal_yoke_ohm", 14.0) * (1 - 0.5 * short) + open_yoke,
        "short": short,
        "open": open_yoke,
    }


def _boost_farads(run: Run) -> Value:
    return run.batch.farads("damper-boost", "boost-capacitor") + 300e-12


def _boost_leak(run: Run) -> Value:
    return np.maximum(run.batch.leak("damper-boost", "boost-capacitor"), 1.0)


def _boost_load(run: Run) -> Value:
    """Return what the boosted rail feeds: filter, vertical charging, first anode."""
    batch = run.batch
    users: Value = parallel_ohm(
        run.figure("boost_users_ohm", 450e3), batch.leak("damper-boost", "filter-capacitor")
    )
    first_anode = batch.ohms("picture-tube-supplies", "first-anode-feed") + batch.leak(
        "picture-tube-supplies", "first-anode-bypass"
    )
    users = parallel_ohm(users, first_anode)
    run.keep(boost_users_ohm=users)
    return batch.ohms("damper-boost", "filter-resistor") + users


def _damper_ohm(run: Run) -> Value:
    stage, batch = "damper-boost", run.batch
    tube = np.maximum(emission(run, stage, "damper"), 1e-7)
    coil = batch.opened(stage, "linearity-coil") + 20.0
    return np.minimum(70.0 / tube**1.3 + coil + batch.contact(stage, "damper"), 1e9)


def _keep_output(run: Run, found: Boost, line: Retrace, winding: dict[str, Value], steady_a: Floats) -> None:
    boost_v, scan_v, plate_a = (np.asarray(v) for v in (found.boost_v, found.scan_v, found.plate_a))
    open_plate = run.batch.opened("flyback-transformer", "transformer") > 1e3
    breakdown = run.batch.parameter("damper-boost", "damper", "heater_cathode_ohm") < 1e6
    scan_v = np.where(open_plate, 0.0, scan_v) * np.where(breakdown, 0.25, 1.0)
    supply = run.inner["branch_supply_v"]
    boost_v = np.where(open_plate | breakdown, np.minimum(0.97 * supply, boost_v), boost_v)
    plate_a = np.where(open_plate, 0.0, plate_a)
    users = run.inner["boost_users_ohm"]
    filtered = boost_v * users / (users + run.batch.ohms("damper-boost", "filter-resistor"))
    ratio, trace, retrace_s = line.ratio, line.trace_s, line.retrace_s
    yoke_v = scan_v * run.figure("yoke_share", 0.8)
    current = yoke_current_a(yoke_v, winding["yoke_h"], trace, np.minimum(winding["yoke_ohm"], 1e9))
    starved = (boost_v < 0.5 * supply) | open_plate
    cathode = plate_a + run.inner["screen_a"]
    run.keep(
        boost_raw_v=boost_v,
        boosted_v=filtered,
        scan_v=scan_v,
        pulse_v=scan_v * ratio,
        yoke_pp_a=current,
        plate_starved=starved,
        output_cathode_a=cathode,
        retrace_s=retrace_s,
        yoke_short=winding["short"],
        output_plate_w=plate_a * np.clip(found.plate_low_v, 0.0, None) + steady_a * np.maximum(boost_v, 0) * 0.5,
        branch_fuse_blown=cathode > run.figure("branch_fuse_trips_a", 0.42),
    )
    run.put(
        "boosted-b-plus", "dc", filtered, parallel_ohm(users, run.batch.ohms("damper-boost", "filter-resistor"))
    )
    run.put("horizontal-output-cathode-current", "amp", cathode)
    blanking = 0.17 / line_rate(run)
    run.show(
        output_plate_glow=smooth_step(steady_a, 0.05, 0.15) * ~starved
        + smooth_step(run.inner["output_plate_w"], 18.0, 28.0) * ~starved,
        fold_left=folded_share(retrace_s, blanking, line_rate(run)),
        whistle=np.where(run.inner["line_alive"] > 0.5, np.minimum(scan_v / 150.0, 1.5) + 0.02, 0.0),
    )
    run.picture["output_plate_glow"] = np.clip(run.picture["output_plate_glow"], 0.0, 1.0)
    yoke_ohm = run.figure("horizontal_yoke_ohm", 14.0) * (1 - 0.5 * winding["short"]) + winding["open"]
    run.put("horizontal-yoke-resistance", "ohm", np.minimum(yoke_ohm, 1e9))
    flyback_ohm = run.figure("flyback_ohm", 32.0) * (
        1 - 0.04 * run.batch.parameter("flyback-transformer", "transformer", "turns_shorted")
    )
    run.put("flyback-resistance", "ohm", flyback_ohm + run.batch.opened("flyback-transformer", "transformer"))


def high_voltage(run: Run) -> None:
    """Rectify the retrace pulse into the anode voltage."""
    stage, batch = "high-voltage", run.batch
    pulse = run.inner["pulse_v"] * run.figure("high_voltage_ratio", 6.0)
    filament_ohm = batch.ohms(stage, "filament-resistor", 1e-3)
    whole = batch.parameter(stage, "rectifier", "heater")
    filament = whole * run.inner["pulse_v"] / run.figure("nominal_pulse_v", 2300.0) * 7.0 / (3.7 + filament_ohm)
    tube = batch.emission(stage, "rectifier") * smooth_step(filament, 0.45, 0.85)
    inner = run.figure("high_voltage_ohm", 6e6) + 1.5e6 / np.maximum(tube, 1e-6) - 1.5e6
    inner = np.minimum(inner + 2e6 * batch.parameter(stage, "rectifier", "gas_a") * 1e3, 1e14)
    leak = parallel_ohm(np.maximum(batch.leak(stage, "filter-capacitor") * 30.0, 1.0), 3e10)
    lead = batch.contact(stage, "anode-lead")
    volts = pulse * leak / (leak + inner)
    volts = np.where(batch.parameter(stage, "rectifier", "gas_a") > 3e-4, 0.6 * volts, volts)
    run.keep(
        anode_open_v=volts, anode_ohm=np.minimum(inner, 1e13) + lead, nominal_anode_v=run.figure("anode_v", 14e3)
    )
    run.show(
        high_voltage_filament=np.clip(filament, 0.0, 1.5),
        arcing=np.where((lead > 1e5) | (batch.leak("flyback-transformer", "insulation") < 1e6), 0.7, 0.0),
        corona=np.where(batch.leak("flyback-transformer", "insulation") < 1e7, 0.8, 0.0),
    )
