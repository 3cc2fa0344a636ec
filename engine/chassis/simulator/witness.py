# SPDX-License-Identifier: MIT
"""What is smelt, felt and heard beside the picture: heat, fuses, current, and what tapping or turning changes.

Limits: heat is judged from the power in a few parts that are known to burn.
"""

from __future__ import annotations

import numpy as np

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Run

__all__ = ["burning", "marks"]

_SOUNDING = (
    ("tuner", "rf"),
    ("tuner", "oscillator"),
    ("if-amplifier", "amplifier-1"),
    ("if-amplifier", "amplifier-2"),
    ("video-output", "amplifier"),
)
"""Tubes whose loose electrodes show as sound in the picture."""


def burning(run: Run) -> None:
    """Say what overheats, what has blown and how much the set takes."""
    batch = run.batch
    blown = np.asanyarray(run.inner["mains_short"] > 0.5)
    gone = np.asanyarray(blown | (batch.contact("mains-input", "fuse") > 1e6))
    power = np.minimum(run.inner["b_plus_current"] / run.figure("b_plus_current_a", 0.25), 4.0)
    shares = 0.45 * power + 0.55 * run.picture["heaters_lit"]
    taken = np.maximum(shares, _idle(run)) * run.inner["mains_ratio"]
    run.show(
        burning=np.clip(np.max([run.full(h) for h in _heats(run)], axis=0), 0, 1) * ~gone,
        fuse_blown=blown,
        supply_current=np.where(gone, 0.0, taken),
        b_plus=run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v,
    )
    run.put("mains-current", "amp", run.picture["supply_current"] * run.figure("mains_current_a", 1.7))


def _idle(run: Run) -> float:
    """Return what a set with a mains transformer takes with all else dead: its iron, and heaters of their own."""
    return 0.15 if run.chassis.supply == "transformer" else 0.0


def _heats(run: Run) -> list[Value]:
    """Return how far each part that may overheat does so, 0 to 1."""
    batch, rails = run.batch, "rail-decoupling"
    heats: list[Value] = []
    for name in ("tuner", "video", "sync", "horizontal", "vertical"):
        rated = batch.watts(rails, f"dropper-{name}", 1e3)
        ohms = np.maximum(batch.ohms(rails, f"dropper-{name}", 1e9), 1.0)
        loss = (run.inner["b_plus_volts"] - run.inner[f"rail:{name}"]) ** 2 / ohms
        heats.append(smooth_step(loss, 1.4 * rated, 3.0 * rated))
    line_filter = run.inner["mains_at_set"] ** 2 / np.maximum(batch.leak("mains-input", "line-filter"), 1.0)
    across = run.inner["branch_supply_v"] - run.values["horizontal-output-screen.dc"]
    screen = across**2 / np.maximum(batch.ohms("horizontal-output", "screen-dropper"), 1.0)
    turns = batch.parameter("low-voltage-supply", "transformer", "turns_shorted")
    heater_turns = batch.parameter("heater-supply", "winding", "turns_shorted")
    boosted = (run.inner["boost_raw_v"] - run.inner["boosted_v"]) ** 2
    boosted = boosted / np.maximum(batch.ohms("damper-boost", "filter-resistor", 1e9), 1.0)
    boosted_w = batch.watts("damper-boost", "filter-resistor", 1.0)
    return [
        *heats,
        smooth_step(line_filter, 2.0, 6.0),
        smooth_step(screen, 5.5, 9.0),
        np.where(np.asanyarray(turns) > 0.04, 0.9, 0.0),
        np.where(np.asanyarray(heater_turns) > 0.04, 0.9, 0.0),
        smooth_step(boosted, 1.4 * boosted_w, 3.0 * boosted_w),
        smooth_step(run.inner["b_plus_current"], 0.45, 0.7),
        run.picture["corona"] * 0.6,
    ]


def marks(run: Run) -> None:
    """Note what wiggling, tapping and turning would change."""
    contact, control, tap, heat = (np.zeros(run.batch.draws) for _ in range(4))
    names = run.batch.names
    for (index, parameter), values in run.batch.faults.items():
        kind = names.kinds[index]
        if parameter == "onset_minutes":
            heat = np.maximum(heat, (values > 0) * 0.9)
        elif parameter == "contact_ohm" and kind in ("control", "preset"):
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
    _haze(run)
    run.keep(mark_contact=contact, mark_control=control, mark_tap=tap)
    run.show(unrest_tapped=np.maximum(tap, contact), unrest_control=control, unrest_heat=heat)
    _microphonic(run)


def _haze(run: Run) -> None:
    """Show the violet haze of a gassy output tube beside that of the picture tube."""
    haze: Value = run.picture["gas_glow"]
    for stage in ("horizontal-output", "vertical-output", "sound"):
        haze = np.maximum(haze, np.clip(run.batch.own_gas(stage, "output") / 4e-5, 0.0, 1.0))
    run.show(gas_glow=haze)


def _microphonic(run: Run) -> None:
    """Let loose tubes of the signal path answer to the loudspeaker."""
    loose: Value = 0.0
    for stage, role in _SOUNDING:
        loose = np.maximum(loose, 1.0 - run.batch.parameter(stage, role, "present"))
    motorboating = 0.6 * run.inner["undecoupled:tuner"]
    run.show(sound_in_picture=np.clip(np.maximum(loose * run.picture["sound"], motorboating), 0.0, 1.0))
