# SPDX-License-Identifier: MIT
"""The picture tube: drive, electrodes, beam and light.

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

__all__ = ["coupling", "picture_tube"]

Floats = NDArray[np.float64]
_FIRST_ANODE_OHM = 60e6
_SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
"""Grey steps of the pattern, from black to white."""


def coupling(run: Run) -> None:
    """Carry the video to the cathode of the picture tube."""
    batch, stage = run.batch, "video-coupling"
    track = batch.ohms(stage, "contrast")
    share = _contrast_share(run, track)
    farads = batch.farads(stage, "coupling", 1e-3)
    passed = farads / (farads + 1.5e-9) / (1.0 + run.inner["series_path_ohm"] / 60e3)
    socket = 1.0 + batch.contact("picture-tube", "socket") / 4e5
    sync_now = run.inner["video_sync_v"] / np.maximum(np.abs(run.inner["video_pp_v"]), 0.5)
    turns = np.asarray((track < 1e6) & (batch.contact(stage, "contrast") < 1.5e6))
    run.keep(
        drive_v=run.inner["video_pp_v"] * share * passed / socket,
        contrast_range=passed * turns,
        sync_at_full_contrast=run.inner["sync_purity"] * (1 - 0.9 * run.picture["overload"]),
    )
    carried = np.clip(run.inner["video_gain"] / 20.0, 0.0, 1.0) * np.clip(passed * share / 0.5, 0.0, 1.0)
    low_cut = 1.0 - farads / (farads + 6e-9)
    run.show(
        smear=np.clip(run.picture["smear"] + 0.6 * low_cut, 0, 1),
        snow_without_signal=run.picture["snow_without_signal"] * smooth_step(carried, 0.05, 0.3),
        sync_on_screen=np.clip(sync_now / 0.286, 0.0, 1.6) * np.asarray(run.inner["video_pp_v"] > 0),
    )


def _contrast_share(run: Run, track: Value) -> Value:
    """Return the share of the signal that the contrast control passes."""
    batch, stage = run.batch, "video-coupling"
    share = (0.12 + 0.88 * run.position(stage, "contrast")) / (1.0 + batch.contact(stage, "contrast") / 60e3)
    design = batch.value(stage, "contrast", 5e3)
    risen = 1.0 + np.maximum(track / design - 1.0, 0.0) * 0.15
    return share * np.where(np.asarray(track) > 1e6, 0.08, 1.0) / risen


@dataclass(frozen=True)
class _Electrode:
    """A voltage and the resistance behind it."""

    volts: Value
    ohms: Value


def _electrodes(run: Run) -> tuple[Floats, Floats, Floats]:
    """Return cathode, grid and first-anode voltages, and set their points."""
    batch, stage = run.batch, "picture-tube-supplies"
    cathode, grid = _exchanged(run, _cathode(run), _grid(run))
    short = batch.parameter("picture-tube", "tube", "leakage_ohm")
    both = cathode.ohms + grid.ohms
    joined = (grid.volts * cathode.ohms + cathode.volts * grid.ohms) / both
    mix = both / (both + short)
    grid_v = grid.volts + (joined - grid.volts) * mix
    cathode_v = cathode.volts + (joined - cathode.volts) * mix
    grid_v = grid_v + batch.parameter("picture-tube", "tube", "gas_a") * np.minimum(grid.ohms, 2e6)
    grid_v = grid_v + (cathode_v - 8.0 - grid_v) * grid.ohms / (grid.ohms + 15e6)
    lifted = batch.ohms("video-coupling", "cathode-return", 1e-3)
    cathode_v = cathode_v + 45.0 * smooth_step(np.log10(np.maximum(lifted, 1.0)), 6.2, 7.5)
    series = batch.ohms(stage, "first-anode-feed")
    bypass = parallel_ohm(batch.leak(stage, "first-anode-bypass"), _FIRST_ANODE_OHM)
    first = run.calc(divided_v, "first anode", supply_v=run.inner["boosted_v"], upper_ohm=series, lower_ohm=bypass)
    run.put("picture-tube-cathode", "dc", cathode_v, cathode.ohms)
    run.put("picture-tube-grid", "dc", grid_v, grid.ohms)
    run.put("picture-tube-first-anode", "dc", first, parallel_ohm(series, bypass))
    _focus_volts(run)
    leak = batch.parameter("picture-tube", "tube", "heater_cathode_ohm")
    run.keep(drive_kept=short / (short + 60e3) * leak / (leak + 30e3))
    return run.full(cathode_v), run.full(grid_v), run.full(first)


def _exchanged(run: Run, cathode: _Electrode, grid: _Electrode) -> tuple[_Electrode, _Electrode]:
    """Return cathode and grid where a socket has them exchanged; the picture turns negative."""
    wrong = np.asarray(run.batch.parameter("picture-tube", "socket", "gain")) < 0
    run.keep(drive_v=np.where(wrong, -1.0, 1.0) * run.inner["drive_v"])
    swapped = [
        _Electrode(np.where(wrong, a.volts, b.volts), np.where(wrong, a.ohms, b.ohms))
        for a, b in ((grid, cathode), (cathode, grid))
    ]
    return swapped[0], swapped[1]


def _cathode(run: Run) -> _Electrode:
    batch, stage = run.batch, "picture-tube-supplies"
    if run.circuit("video-coupling") == "direct-to-cathode":
        volts, ohms = run.inner["video_mean_v"], batch.ohms("video-coupling", "cathode-feed")
    else:
        upper, lower = batch.ohms(stage, "cathode-feed"), batch.ohms(stage, "cathode-divider")
        volts = run.calc(
            divided_v, "cathode", supply_v=run.inner["b_plus_volts"], upper_ohm=upper, lower_ohm=lower
        )
        ohms = parallel_ohm(upper, lower) + batch.ohms("video-coupling", "cathode-return", 1e-3)
        leak = batch.leak("video-coupling", "coupling")
        volts = volts + (run.inner["video_mean_v"] - volts) * ohms / (ohms + leak)
    heater = batch.parameter("picture-tube", "tube", "heater_cathode_ohm")
    return _Electrode(volts * heater / (heater + ohms), ohms)


def _grid(run: Run) -> _Electrode:
    batch, stage = run.batch, "picture-tube-supplies"
    track, feed = batch.ohms(stage, "brightness"), batch.ohms(stage, "brightness-feed")
    supply, slider = run.inner["b_plus_volts"], run.position(stage, "brightness")
    opened = np.asarray(track) > 1e6
    top = run.calc(divided_v, "brightness control", supply_v=supply, upper_ohm=feed, lower_ohm=track)
    leak = batch.leak(stage, "brightness-bypass")
    volts = np.where(opened, supply * 0.02, top * slider) * leak / (leak + 1e5)
    ohms = batch.ohms("retrace-blanking", "grid-resistor", 1e5) + batch.contact(stage, "brightness")
    run.keep(brightness_swing_v=np.where(opened, 0.0, top), slider=slider)
    return _Electrode(volts * (1.0 - ohms / (ohms + batch.leak("retrace-blanking", "coupling"))), ohms)


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
