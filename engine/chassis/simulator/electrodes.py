# SPDX-License-Identifier: MIT
"""The electrodes of the picture tube: what feeds them, and where they settle with their leaks and the beam.

Limits: the picture is taken at its mean level while the electrodes settle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, emission_at_heater, parallel_ohm
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.circuits.picture_tube_electrodes import Gun, GunState, gun_state

__all__ = ["GunNow", "put_electrodes", "settled_gun"]

Floats = NDArray[np.float64]

_FIRST_ANODE_OHM = 60e6
"""What first anode, socket and wiring leak."""
RATED_FIRST_ANODE_V = 300.0
NEW_CATHODE_A = 1.5e-3
"""Most that a good cathode of the time gives; common practice, no source."""


@dataclass(frozen=True)
class GunNow:
    """The gun with its supplies, ready to be asked at several settings of the brightness control."""

    supplies: Gun
    emission: Floats
    drive_v: Floats
    """Video at the cathode that is left, white to sync tip."""
    cut_off_v: float
    behind_ohm: tuple[Value, Value, Value]
    """Resistance that a meter finds behind grid, cathode and first anode."""

    def at(self, shift_v: Floats) -> GunState:
        """Return where the electrodes settle with the grid's supply moved by ``shift_v`` (steps, draws)."""
        moved = replace(self.supplies, grid_v=self.supplies.grid_v + shift_v)
        return gun_state(moved, self.cut_off_v, RATED_FIRST_ANODE_V, self.emission, most_a=NEW_CATHODE_A)


@dataclass(frozen=True)
class _Electrode:
    """A voltage and the resistance behind it."""

    volts: Value
    ohms: Value


def settled_gun(run: Run) -> GunNow:
    """Return the gun as it is now."""
    batch, stage = run.batch, "picture-tube-supplies"
    cathode, grid = _exchanged(run, _cathode(run), _grid(run))
    series = batch.ohms(stage, "first-anode-feed")
    leak = parallel_ohm(batch.leak(stage, "first-anode-bypass"), _FIRST_ANODE_OHM)
    short = batch.parameter("picture-tube", "tube", "leakage_ohm")
    heater = batch.parameter("picture-tube", "tube", "heater_cathode_ohm")
    supplies = Gun(
        grid_v=run.full(grid.volts + run.trim("brightness") - 1.0),
        grid_ohm=np.minimum(grid.ohms, 1e9),
        cathode_v=run.full(cathode.volts),
        cathode_ohm=np.minimum(cathode.ohms, 1e9),
        first_anode_v=np.maximum(run.inner["boosted_v"], 0.0),
        first_anode_ohm=np.minimum(series, 1e9),
        grid_cathode_leak_ohm=np.minimum(short, 1e11),
        heater_cathode_leak_ohm=np.minimum(heater, 1e11),
        first_anode_leak_ohm=leak,
        gas_a=batch.parameter("picture-tube", "tube", "gas_a"),
    )
    kept = short / (short + 60e3) * heater / (heater + 30e3)
    return GunNow(
        supplies=supplies,
        emission=_emission(run),
        drive_v=run.full(run.inner["drive_v"] * kept),
        cut_off_v=run.figure("cut_off_v", 50.0),
        behind_ohm=(supplies.grid_ohm, supplies.cathode_ohm, parallel_ohm(series, leak)),
    )


def _emission(run: Run) -> Floats:
    """Return the emission of the cathode, 1 when new."""
    batch, stage = run.batch, "picture-tube"
    emitted = batch.emission(stage, "tube") * emission_at_heater(run.picture["tube_heater"])
    return run.full(np.clip(emitted / (1.0 + batch.contact(stage, "socket") / 2e5), 0.0, 1.0))


def put_electrodes(run: Run, gun: GunNow, settled: GunState) -> None:
    """Set the points of the electrodes from where they settle, the first row as the control stands."""
    grid, cathode, first = (
        np.asanyarray(v)[0] for v in (settled.grid_v, settled.cathode_v, settled.first_anode_v)
    )
    if run.bench.record:
        made = run.calc(
            gun_state,
            "electrodes and beam at the mean level",
            gun=gun.supplies,
            rated_cut_off_v=gun.cut_off_v,
            rated_first_anode_v=RATED_FIRST_ANODE_V,
            emission_share=gun.emission,
            most_a=NEW_CATHODE_A,
        )
        grid, cathode = run.way(grid, made.grid_v), run.way(cathode, made.cathode_v)
        first = run.way(first, made.first_anode_v)
    grid_ohm, cathode_ohm, first_ohm = gun.behind_ohm
    run.put("picture-tube-cathode", "dc", cathode, cathode_ohm)
    run.put("picture-tube-grid", "dc", grid, grid_ohm)
    run.put("picture-tube-first-anode", "dc", first, first_ohm)
    run.put("picture-tube-cathode", "pp", np.abs(gun.drive_v))
    _focus_volts(run)


def _exchanged(run: Run, cathode: _Electrode, grid: _Electrode) -> tuple[_Electrode, _Electrode]:
    """Return cathode and grid where a socket has them exchanged; the picture turns negative."""
    wrong = np.asanyarray(run.batch.parameter("picture-tube", "socket", "gain")) < 0
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
    return _Electrode(volts, ohms)


def _grid(run: Run) -> _Electrode:
    batch, stage = run.batch, "picture-tube-supplies"
    track, feed = batch.ohms(stage, "brightness"), batch.ohms(stage, "brightness-feed")
    supply, slider = run.inner["b_plus_volts"], run.position(stage, "brightness")
    opened = np.asanyarray(track) > 1e6
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
