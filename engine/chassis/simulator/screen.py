# SPDX-License-Identifier: MIT
"""The picture tube: drive, bias, beam, size, sharpness, blanking; and what can be smelt.

Beam current follows the drive above cut-off to the power 3.5, cut-off follows the first-anode voltage.
Sources: from memory, to verify (Moss, on cathode-ray guns): I = 3 Vd^3.5 / Vco^2 in microamperes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import (
    Value,
    divided_v,
    emission_at_heater,
    parallel_ohm,
    smooth_step,
)
from backporch.engine.chassis.simulator.bench import Run

__all__ = ["burning", "coupling", "marks", "picture_tube", "size"]

Floats = NDArray[np.float64]
_FIRST_ANODE_OHM = 60e6
_SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
"""Grey steps of the pattern, from black to white."""
_SOUNDING = (
    ("tuner", "rf"),
    ("tuner", "oscillator"),
    ("if-amplifier", "amplifier-1"),
    ("if-amplifier", "amplifier-2"),
    ("video-output", "amplifier"),
)
"""Tubes whose loose electrodes show as sound in the picture."""


def coupling(run: Run) -> None:
    """Carry the video to the cathode of the picture tube."""
    batch, stage = run.batch, "video-coupling"
    position = run.position(stage, "contrast")
    share = 0.12 + 0.88 * position
    track = batch.ohms(stage, "contrast")
    base = batch.value(stage, "contrast", 5e3)
    share = share / (1.0 + batch.contact(stage, "contrast") / 60e3) * np.where(track > 1e6, 0.08, 1.0)
    share = share / (1.0 + np.maximum(track / base - 1.0, 0.0) * 0.15)
    farads = batch.farads(stage, "coupling", 1e-3)
    passed = farads / (farads + 1.5e-9) / (1.0 + run.inner["series_path_ohm"] / 60e3)
    contact = batch.contact("picture-tube", "socket")
    pp = run.inner["video_pp_v"] * share * passed / (1.0 + contact / 4e5)
    sync_now = run.inner["video_sync_v"] / np.maximum(np.abs(run.inner["video_pp_v"]), 0.5)
    run.keep(
        drive_v=pp,
        contrast_range=passed * (track < 1e6) * (batch.contact(stage, "contrast") < 1.5e6),
        sync_at_full_contrast=run.inner["sync_purity"] * (1 - 0.9 * run.picture["overload"]),
    )
    low_cut = 1.0 - farads / (farads + 6e-9)
    run.picture["smear"] = np.clip(run.picture["smear"] + 0.6 * low_cut, 0, 1)
    carried = np.clip(run.inner["video_gain"] / 20.0, 0.0, 1.0) * np.clip(passed * share / 0.5, 0.0, 1.0)
    run.picture["snow_without_signal"] = run.picture["snow_without_signal"] * smooth_step(carried, 0.05, 0.3)
    run.show(
        sync_on_screen=np.clip(sync_now / 0.286, 0.0, 1.6) * np.sign(np.maximum(run.inner["video_pp_v"], 0.0))
    )


def _electrodes(run: Run) -> tuple[Floats, Floats, Floats]:
    """Return cathode, grid and first-anode voltages, and set their points."""
    batch, stage = run.batch, "picture-tube-supplies"
    supply = run.inner["b_plus_volts"]
    upper, lower = batch.ohms(stage, "cathode-feed"), batch.ohms(stage, "cathode-divider")
    cathode = divided_v(supply, upper, lower)
    source = parallel_ohm(upper, lower) + batch.ohms("video-coupling", "cathode-return", 1e-3)
    if run.circuit("video-coupling") == "direct-to-cathode":
        cathode, source = run.inner["video_mean_v"], batch.ohms("video-coupling", "cathode-feed")
    leak = batch.leak("video-coupling", "coupling")
    cathode = cathode + (run.inner["video_mean_v"] - cathode) * source / (source + leak)
    heater_leak = batch.parameter("picture-tube", "tube", "heater_cathode_ohm")
    cathode = cathode * heater_leak / (heater_leak + source)
    track = batch.ohms(stage, "brightness")
    feed = batch.ohms(stage, "brightness-feed")
    slider = run.position(stage, "brightness")
    bypass = batch.leak(stage, "brightness-bypass")
    opened = track > 1e6
    grid = np.where(opened, supply * 0.02, divided_v(supply, feed, track) * slider) * bypass / (bypass + 1e5)
    grid_source = batch.ohms("retrace-blanking", "grid-resistor", 1e5) + batch.contact(stage, "brightness")
    blanking_leak = batch.leak("retrace-blanking", "coupling")
    grid = grid + (run.inner["rail:vertical"] * 0.0 - grid) * grid_source / (grid_source + blanking_leak)
    shorted = batch.parameter("picture-tube", "tube", "leakage_ohm")
    joined = (grid * source + cathode * grid_source) / (grid_source + source)
    mix = (source + grid_source) / (source + grid_source + shorted)
    grid, cathode = grid + (joined - grid) * mix, cathode + (joined - cathode) * mix
    gas = batch.parameter("picture-tube", "tube", "gas_a") * np.minimum(grid_source, 2e6)
    floating = grid_source / (grid_source + 15e6)
    grid = grid + gas + (cathode - 8.0 - grid) * floating
    lifted = batch.ohms("video-coupling", "cathode-return", 1e-3)
    cathode = cathode + 45.0 * smooth_step(np.log10(np.maximum(lifted, 1.0)), 6.2, 7.5)
    series = batch.ohms(stage, "first-anode-feed")
    bypass = parallel_ohm(batch.leak(stage, "first-anode-bypass"), _FIRST_ANODE_OHM)
    first = run.calc(divided_v, "first anode", supply_v=run.inner["boosted_v"], upper_ohm=series, lower_ohm=bypass)
    run.put("picture-tube-cathode", "dc", cathode, source)
    run.put("picture-tube-grid", "dc", grid, grid_source)
    run.put("picture-tube-first-anode", "dc", first, parallel_ohm(series, bypass))
    _focus_volts(run)
    kept = shorted / (shorted + 60e3) * heater_leak / (heater_leak + 30e3)
    run.keep(
        drive_kept=kept, brightness_swing_v=np.where(opened, 0.0, divided_v(supply, feed, track)), slider=slider
    )
    return run.full(cathode), run.full(grid), run.full(first)


def _focus_volts(run: Run) -> None:
    """Find the focus voltage of an electrostatic gun and how far it is from the best."""
    batch, stage = run.batch, "picture-tube-supplies"
    if not batch.has(stage, "focus"):
        run.keep(focus_off_v=0.0)
        return
    track, feed = batch.ohms(stage, "focus"), batch.ohms(stage, "focus-feed")
    leak = parallel_ohm(batch.leak(stage, "focus-bypass"), _FIRST_ANODE_OHM)
    top = divided_v(run.inner["boosted_v"], feed, parallel_ohm(track, leak)) * (track < 2e7)
    volts = top * run.position(stage, "focus") / (1.0 + batch.contact(stage, "focus") / 2e7)
    run.put("picture-tube-focus", "dc", volts, parallel_ohm(feed, track))
    run.keep(focus_off_v=volts - run.figure("focus_v", 150.0), focus_swing_v=top)


def picture_tube(run: Run) -> None:
    """Find beam, light and what the brightness control can do."""
    cathode, grid, first = _electrodes(run)
    run.put("picture-tube-cathode", "pp", np.abs(run.inner["drive_v"] * run.inner["drive_kept"]))
    gun = _gun(run, first)
    bias = grid - cathode + run.trim("brightness") - 1.0
    beam, anode, light = _light(run, gun, bias)
    swing, slider = run.inner["brightness_swing_v"], run.inner["slider"]
    steps = [_light(run, gun, bias + swing * (1.0 - slider) * share) for share in (0.15, 0.4, 0.7, 1.0)]
    least = _light(run, gun, bias - swing * slider)[2]
    rated = run.figure("beam_a", 90e-6)
    bright = np.minimum(steps[-1][0], 2.2 * rated)
    fallen = run.inner["anode_open_v"] - run.inner["anode_ohm"] * bright
    run.keep(beam_a=beam, anode_v=anode, anode_bright_v=np.maximum(fallen, 0.05 * run.inner["anode_open_v"]))
    run.show(
        brightness=light / rated,
        brightness_most=np.max([light, *(step[2] for step in steps)], axis=0) / rated,
        brightness_least=np.minimum(least, light) / rated,
        anode_v=anode,
    )
    _gun_looks(run, gun)
    run.put("anode-voltage", "dc", anode)


def _gun_looks(run: Run, gun: _Gun) -> None:
    spring = run.batch.contact("picture-tube", "coating-spring") > 1e6
    gas = run.batch.parameter("picture-tube", "tube", "gas_a")
    run.show(
        arcing=np.maximum(run.picture["arcing"], 0.7 * np.asarray(spring)),
        highlights_silver=smooth_step(-gun.emitted, -0.55, -0.2) * (run.picture["tube_heater"] > 0.8),
        warm_up=1.0 + 2.0 * smooth_step(-gun.emitted, -0.6, -0.2),
        contrast=gun.drive_v * np.minimum(gun.emitted / 0.6, 1.0),
        gas_glow=np.clip(gas / 1e-5, 0, 1),
        ion_burn=0.0,
    )


@dataclass(frozen=True)
class _Gun:
    """The gun as it is now."""

    drive_v: Floats
    cut_off_v: Value
    emitted: Value
    passed: Floats
    """Share of the beam that ion trap and gas let through."""


def _gun(run: Run, first: Floats) -> _Gun:
    batch, stage = run.batch, "picture-tube"
    emitted = batch.emission(stage, "tube") * emission_at_heater(run.picture["tube_heater"])
    emitted = np.clip(emitted / (1.0 + batch.contact(stage, "socket") / 2e5), 0.0, 1.2)
    emitted = emitted * smooth_step(first, 25.0, 130.0)
    gas = batch.parameter(stage, "tube", "gas_a")
    return _Gun(
        drive_v=run.inner["drive_v"] * run.inner["drive_kept"],
        cut_off_v=np.maximum(first / 300.0 * run.figure("cut_off_v", 50.0), 2.0),
        emitted=emitted,
        passed=np.asarray(_ion_trap(run) / (1.0 + gas / 2e-5)),
    )


def _light(run: Run, gun: _Gun, bias: Floats) -> tuple[Floats, Floats, Floats]:
    """Return beam, anode voltage under it, and light (in amperes at the rated anode voltage)."""
    beam = _mean_beam(bias, gun.drive_v, gun.cut_off_v, gun.emitted) * gun.passed
    opened = run.inner["anode_open_v"]
    anode = np.maximum(opened - run.inner["anode_ohm"] * np.minimum(beam, 3e-3), 0.05 * opened)
    light = beam * np.minimum(anode / run.inner["nominal_anode_v"], 1.3) ** 1.8
    return beam, anode, np.where(anode < 3e3, 0.0, light)


def _mean_beam(bias: Floats, drive: Floats, cut_off: Value, emitted: Value) -> Floats:
    """Return the beam averaged over the grey steps of the pattern [A]."""
    total: Value = 0.0
    for share in _SHARES:
        over = np.clip(bias + cut_off - drive * (share - 0.55) * 0.75, 0.0, 1.25 * cut_off)
        wanted = 3e-6 * over**3.5 / cut_off**2
        most = 2.2e-3 * emitted**1.5 + 1e-12
        total = total + wanted / (1.0 + wanted / most)
    return np.asarray(total / len(_SHARES) * np.minimum(emitted / 0.5, 1.0), dtype=float)


def _ion_trap(run: Run) -> Floats:
    if run.chassis.ion_trap == "none":
        run.keep(mark_ion_trap=0.0)
        run.show(corner_shadow=0.0)
        return np.ones(run.batch.draws)
    away = run.position("neck-magnets", "ion-trap")
    strength = run.batch.parameter("neck-magnets", "ion-trap", "gain")
    passed = np.exp(-((away / 0.38) ** 2)) * smooth_step(strength, 0.2, 0.85)
    run.keep(mark_ion_trap=passed < 0.8)
    run.show(corner_shadow=np.clip(0.25 * smooth_step(away, 0.2, 0.5), 0, 1))
    return run.full(passed)


def size(run: Run) -> None:
    """Find size, place and sharpness of the raster, and whether the retrace is dark."""
    batch = run.batch
    anode = np.maximum(run.inner["anode_v"], 0.3 * run.inner["nominal_anode_v"])
    ratio = np.sqrt(run.inner["nominal_anode_v"] / anode)
    height = run.inner["vertical_pp_a"] / run.figure("vertical_full_a", 0.33) * ratio
    width = run.inner["yoke_pp_a"] / run.figure("horizontal_full_a", 1.04) * ratio * run.trim("width")
    run.keep(
        width_range=0.05
        * (batch.opened("flyback-transformer", "width-coil") < 1e3)
        * (1 - batch.parameter("flyback-transformer", "width-coil", "turns_shorted"))
    )
    bright = np.maximum(run.inner["anode_bright_v"], 500.0)
    bloom = np.sqrt(anode / bright) - 1.0
    focus = run.position("neck-magnets", "focus") if batch.has("neck-magnets", "focus") else 0.0
    focus_gain = batch.parameter("neck-magnets", "focus", "gain")
    blur = (
        1.0
        + 2.5 * np.maximum(focus - 0.1, 0.0)
        + 3.0 * np.abs(focus_gain - 1.0)
        + 2.5 * np.abs(np.sqrt(anode / run.inner["nominal_anode_v"]) - 1.0)
    )
    blur = blur * (1.0 + 0.3 * np.maximum(run.picture["brightness"] - 2.0, 0.0))
    blur = blur + np.abs(run.inner["focus_off_v"]) / 130.0
    turns = smooth_step(run.inside("focus_swing_v", 300.0), 60.0, 200.0)
    run.keep(focus_range=turns)
    moved = run.position("neck-magnets", "centring") if batch.has("neck-magnets", "centring") else 0.0
    centring = batch.parameter("neck-magnets", "centring", "gain")
    coil = batch.parameter("damper-boost", "linearity-coil", "inductance")
    line_cap = batch.farads("damper-boost", "linearity-capacitor", 4.7e-8)
    uneven = (
        0.12 * (coil - 1.0)
        + 0.1 * (1 - line_cap / (line_cap + 6e-9))
        + 0.08
        * smooth_step(-np.log10(np.maximum(batch.leak("damper-boost", "linearity-capacitor"), 1.0)), -5.5, -2.0)
    )
    balance = batch.farads("horizontal-yoke", "balance-capacitor", 5.6e-11)
    run.show(
        height=height,
        width=width,
        blooming=np.clip(bloom, 0.0, 1.5),
        focus_blur=np.clip(blur, 0.7, 6.0),
        shift_horizontal=np.clip(0.25 * moved + 0.06 * (1 - centring), 0, 0.5),
        keystone_horizontal=np.clip(0.4 * run.inner["yoke_short"], 0, 0.6),
        horizontal_nonlinearity=np.clip(uneven, -0.5, 0.5),
        fold_right=0.1 * smooth_step(run.inner["output_bias_v"], -12.0, -3.0),
    )
    run.picture["ringing"] = np.clip(run.picture["ringing"] + 0.3 * (1 - balance / (balance + 1e-11)), 0, 1)
    _blanking(run)
    _hum(run)


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
    both = run.inner["ripple_hz"] > 1.5 * run.chassis.mains_hz
    rail_bars = np.where(both, 2.0, 1.0)
    bigger_mains = mains > rail
    depth = np.clip(0.9 * np.maximum(mains, rail) / drive, 0.0, 1.0)
    field = run.inner["field_hz"]
    bars = np.where(depth > 0.04, np.where(bigger_mains, 1.0, rail_bars), 0.0)
    mains_hz = run.chassis.mains_hz
    run.show(hum_depth=depth, hum_bars=bars, hum_drift_hz=np.abs(mains_hz - field) * bars)


def burning(run: Run) -> None:
    """Say what overheats, what has blown and how much the set takes."""
    batch = run.batch
    heat: Value = 0.0
    for name in ("tuner", "video", "sync", "horizontal", "vertical"):
        loss = (run.inner["b_plus_volts"] - run.inner[f"rail:{name}"]) ** 2 / np.maximum(
            batch.ohms("rail-decoupling", f"dropper-{name}", 1e9), 1.0
        )
        rated = batch.watts("rail-decoupling", f"dropper-{name}", 1e3)
        heat = np.maximum(heat, smooth_step(loss, 1.4 * rated, 3.0 * rated))
    filter_w = run.inner["mains_at_set"] ** 2 / np.maximum(batch.leak("mains-input", "line-filter"), 1.0)
    heat = np.maximum(heat, smooth_step(filter_w, 2.0, 6.0))
    screen = (run.inner["branch_supply_v"] - run.values["horizontal-output-screen.dc"]) ** 2 / np.maximum(
        batch.ohms("horizontal-output", "screen-dropper"), 1.0
    )
    heat = np.maximum(heat, smooth_step(screen, 5.5, 9.0))
    heat = np.maximum(heat, (batch.parameter("low-voltage-supply", "transformer", "turns_shorted") > 0.04) * 0.9)
    heat = np.maximum(heat, smooth_step(run.inner["b_plus_current"], 0.45, 0.7))
    blown = (run.inner["mains_short"] > 0.5) | (run.batch.contact("mains-input", "fuse") > 1e6)
    heat = np.maximum(heat, run.picture["corona"] * 0.6)
    power = np.minimum(run.inner["b_plus_current"] / run.figure("b_plus_current_a", 0.25), 4.0)
    lit = run.picture["heaters_lit"]
    ratio = (0.45 * power + 0.55 * lit) * run.inner["mains_ratio"]
    run.show(
        burning=np.clip(heat, 0, 1) * ~blown,
        fuse_blown=blown,
        supply_current=np.where(blown, 0.0, ratio),
        b_plus=run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v,
    )
    run.put("mains-current", "amp", run.picture["supply_current"] * run.figure("mains_current_a", 1.7))


def marks(run: Run) -> None:
    """Note what wiggling, tapping and turning would change."""
    contact, control, tap = (np.zeros(run.batch.draws) for _ in range(3))
    names = run.batch.names
    for (index, parameter), values in run.batch.faults.items():
        kind = names.kinds[index]
        if parameter == "contact_ohm" and kind in ("control", "preset"):
            control = np.maximum(control, (values > 0) * 0.9)
        elif parameter == "contact_ohm" and kind in ("switch",):
            control = np.maximum(control, ((values > 0) & (values < 1e6)) * 0.8)
        elif parameter == "contact_ohm" and kind not in ("fuse", "cord"):
            contact = np.maximum(contact, ((values > 0) & (values < 1e6)) * 0.9)
            tap = np.maximum(tap, ("tube" in kind) * ((values > 0) & (values < 1e6)) * 0.9)
        elif parameter == "present" and "tube" in kind:
            tap = np.maximum(tap, (values < 1.0) * 0.9)
        elif parameter == "gain" and kind == "signal lead":
            contact = np.maximum(contact, ((values < 1) & (values > 3e-3)) * 0.8)
    run.keep(mark_contact=contact, mark_control=control, mark_tap=tap)
    run.show(unrest_tapped=np.maximum(tap, contact), unrest_control=control)
    _microphonic(run)


def _microphonic(run: Run) -> None:
    """Let loose tubes of the signal path answer to the loudspeaker."""
    loose: Value = 0.0
    for stage, role in _SOUNDING:
        loose = np.maximum(loose, 1.0 - run.batch.parameter(stage, role, "present"))
    motorboating = 0.6 * run.inner["undecoupled:tuner"]
    run.show(sound_in_picture=np.clip(np.maximum(loose * run.picture["sound"], motorboating), 0.0, 1.0))
