# SPDX-License-Identifier: MIT
"""The picture tube: drive, beam and light, and what the brightness control can do.

Chains electrodes, mean beam, light and ion trap of the circuits.
Limits: the pattern has as much of each grey.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.electrodes import (
    NEW_CATHODE_A,
    RATED_FIRST_ANODE_V,
    GunNow,
    put_electrodes,
    settled_gun,
)
from backporch.engine.circuits.picture_tube import brightness_share, mean_beam_a
from backporch.engine.circuits.picture_tube_electrodes import GunState
from backporch.engine.circuits.picture_tube_ion_trap import ion_trap

__all__ = ["coupling", "picture_tube"]

Floats = NDArray[np.float64]

_STEPS = (0.0, 0.15, 0.4, 0.7, 1.0)
"""Parts of the way that is left to turn the brightness control up."""
_BLACK_ABOVE_MEAN = 0.34
_PICTURE_SHARE = 0.75
"""Black to white over the whole signal at the cathode."""
_MAGNET_REACH_M = 0.02
_MAGNET_FURTHEST_M = 0.03
_DARK_V = 2e3


def coupling(run: Run) -> None:
    """Carry the video to the cathode of the picture tube."""
    batch, stage = run.batch, "video-coupling"
    track = batch.ohms(stage, "contrast")
    share = _contrast_share(run, track)
    farads = batch.farads(stage, "coupling", 1e-3)
    passed = farads / (farads + 1.5e-9) / (1.0 + run.inner["series_path_ohm"] / 60e3)
    socket = 1.0 + batch.contact("picture-tube", "socket") / 4e5
    sync_now = run.inner["video_sync_v"] / np.maximum(np.abs(run.inner["video_pp_v"]), 0.5)
    turns = np.asanyarray((track < 1e6) & (batch.contact(stage, "contrast") < 1.5e6))
    run.keep(
        drive_v=run.inner["video_pp_v"] * share * passed / socket,
        contrast_range=passed * turns,
        sync_at_full_contrast=run.inner["sync_purity"] * (1 - 0.9 * run.picture["overload"]),
    )
    carried = np.clip(run.inner["video_noise_gain"] / 20.0, 0.0, 1.0) * np.clip(passed * share / 0.5, 0.0, 1.0)
    low_cut = 1.0 - farads / (farads + 6e-9)
    noise = run.picture["snow_without_signal"] * smooth_step(carried, 0.05, 0.3)
    run.show(
        smear=np.clip(run.picture["smear"] + 0.6 * low_cut, 0, 1),
        snow=np.minimum(run.picture["snow"], noise),
        snow_without_signal=noise,
        sync_on_screen=np.clip(sync_now / 0.286, 0.0, 1.6) * np.asanyarray(run.inner["video_pp_v"] > 0),
    )


def _contrast_share(run: Run, track: Value) -> Value:
    """Return the share of the signal that the contrast control passes."""
    batch, stage = run.batch, "video-coupling"
    share = (0.12 + 0.88 * run.position(stage, "contrast")) / (1.0 + batch.contact(stage, "contrast") / 60e3)
    design = batch.value(stage, "contrast", 5e3)
    risen = 1.0 + np.maximum(track / design - 1.0, 0.0) * 0.15
    return share * np.where(np.asanyarray(track) > 1e6, 0.08, 1.0) / risen


def picture_tube(run: Run) -> None:
    """Find beam, light and what the brightness control can do."""
    gun = settled_gun(run)
    passed = _passed(run)
    swing, slider = run.inner["brightness_swing_v"], run.inner["slider"]
    up = swing * (1.0 - slider)
    shifts = np.stack([*(up * step for step in _STEPS), -swing * slider])
    state = gun.at(shifts)
    put_electrodes(run, gun, state)
    beam = _beam(run, gun, state) * passed
    anode = _under_load(run, beam)
    rated = run.figure("beam_a", 90e-6)
    light = np.asanyarray(brightness_share(beam, rated, anode, run.inner["nominal_anode_v"], dead_v=_DARK_V))
    bright = _under_load(run, np.minimum(beam[-2], 2.2 * rated))
    told = run.solved(
        anode[0],
        "anode voltage under load",
        "open_v / (1 + x + x * x), x = beam_a * source_ohm / open_v",
        open_v=run.inner["anode_open_v"],
        beam_a=_told(run, beam[0], gun.emission),
        source_ohm=run.inner["anode_ohm"],
    )
    run.keep(beam_a=beam[0], anode_v=told, anode_bright_v=bright)
    run.show(
        brightness=light[0],
        brightness_most=light[:-1].max(axis=0),
        brightness_least=np.minimum(light[-1], light[0]),
        anode_v=anode[0],
    )
    _gun_looks(run, gun)
    run.put("anode-voltage", "dc", run.inner["anode_v"])


def _beam(run: Run, gun: GunNow, state: GunState) -> Floats:
    """Return the mean beam of the pattern for each setting of the brightness control, (steps, draws) [A]."""
    drive = gun.drive_v
    beam = run.calc(
        mean_beam_a,
        "mean beam",
        grid_v=state.grid_v,
        cathode_v=np.asanyarray(state.cathode_v) + _BLACK_ABOVE_MEAN * drive,
        first_anode_v=state.first_anode_v,
        rated_cut_off_v=gun.cut_off_v,
        rated_first_anode_v=RATED_FIRST_ANODE_V,
        cathode_drive_v=_PICTURE_SHARE * drive,
        emission_share=gun.emission,
        most_a=NEW_CATHODE_A,
    )
    return np.asanyarray(beam, dtype=float)


def _told(run: Run, beam: Floats, emission: Value) -> Value:
    """Return the beam current with the way to it."""
    if not run.bench.record:
        return beam
    black = _BLACK_ABOVE_MEAN * run.inner["drive_v"]
    told: Value = run.solved(
        beam,
        "beam current",
        "(1 - 0.24) * mean, for u from 0 to 1, of 3e-6 * emission_share * max(0, grid_v - cathode_v - black_v"
        " + u * white_v + Vc)**2.5 / Vc, Vc = cut_off_v * (first_anode_v - cathode_v - black_v + u * white_v)"
        " / rated_first_anode_v",
        grid_v=run.values["picture-tube-grid.dc"],
        cathode_v=run.values["picture-tube-cathode.dc"],
        first_anode_v=run.values["picture-tube-first-anode.dc"],
        cut_off_v=run.figure("cut_off_v", 50.0),
        rated_first_anode_v=RATED_FIRST_ANODE_V,
        black_v=black,
        white_v=_PICTURE_SHARE * run.inner["drive_v"],
        emission_share=emission,
    )
    return told


def _under_load(run: Run, beam: Floats) -> Floats:
    """Return the anode voltage under a beam: the flyback gives no more than some watts."""
    opened = run.inner["anode_open_v"]
    load = run.inner["anode_ohm"] * np.minimum(beam, 3e-3) / np.maximum(opened, 1.0)
    return np.asanyarray(opened / (1.0 + load + load * load), dtype=float)


def _gun_looks(run: Run, gun: GunNow) -> None:
    spring = run.batch.contact("picture-tube", "coating-spring") > 1e6
    gas = run.batch.own_gas("picture-tube", "tube")
    run.show(
        arcing=np.maximum(run.picture["arcing"], 0.7 * np.asanyarray(spring)),
        highlights_silver=smooth_step(-gun.emission, -0.55, -0.2) * (run.picture["tube_heater"] > 0.8),
        warm_up=1.0 + 2.0 * smooth_step(-gun.emission, -0.6, -0.2),
        contrast=gun.drive_v * np.minimum(gun.emission / 0.6, 1.0),
        gas_glow=np.clip(gas / 1e-5, 0, 1),
        ion_burn=0.0,
    )


def _passed(run: Run) -> Floats:
    """Return the share of the beam that ion trap and gas let through."""
    gas = 1.0 / (1.0 + run.batch.own_gas("picture-tube", "tube") / 2e-5)
    if run.chassis.ion_trap == "none":
        run.keep(mark_ion_trap=0.0)
        run.show(corner_shadow=0.0)
        return run.full(gas)
    found = run.calc(
        ion_trap,
        "ion trap",
        moved_m=_MAGNET_FURTHEST_M * run.position("neck-magnets", "ion-trap"),
        strength_share=run.batch.parameter("neck-magnets", "ion-trap", "gain"),
        reach_m=_MAGNET_REACH_M,
    )
    passed = np.asanyarray(found.brightness_share)
    run.keep(mark_ion_trap=np.asanyarray(passed < 0.8))
    run.show(corner_shadow=0.3 * smooth_step(np.asanyarray(found.shadow_share), 0.1, 0.9))
    return run.full(passed * gas)
