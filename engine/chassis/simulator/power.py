# SPDX-License-Identifier: MIT
"""From the mains plug to the rails, and the heaters.

The B+ network is solved with each user as a resistance; the run goes round twice, the second time with
the currents that the stages really took.  A fuse that blows takes all of its branch with it.
Limits: hum is carried as its fundamental; a shorted rail is not followed to smoke.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import (
    Value,
    divided_v,
    emission_at_heater,
    low_pass_share,
    parallel_ohm,
    smooth_step,
)
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.circuits.quick_root import quick_root

__all__ = ["emission", "heaters", "mains", "rails", "tube_type"]

Floats = NDArray[np.float64]

RAILS = ("tuner", "video", "sync", "horizontal", "vertical")
_SHORT_OHM = 5e3
"""Below this a cold B+ line is looked on as shorted; our judgement, no source."""
_ROOM_OHM = 12.0


def mains(run: Run) -> None:
    """Take the mains through cord, switch, fuse and interlock to the set."""
    batch, stage = run.batch, "mains-input"
    volts = run.known("mains_v", run.bench.mains_v or run.chassis.mains_v) * batch.mains
    contacts = sum(batch.contact(stage, role) for role in ("cord", "switch", "fuse", "interlock", "tap"))
    short = (batch.leak(stage, "line-filter") < 60.0) | (run.inner.get("b_plus_short", np.zeros(1)) > 0.5)
    set_ohm = run.figure("set_ohm", 65.0)
    at_set = run.calc(divided_v, "mains at the set", supply_v=volts, upper_ohm=contacts, lower_ohm=set_ohm)
    at_set = np.where(short, 0.0, at_set)
    run.keep(
        mains_at_set=at_set,
        mains_ratio=at_set / run.known("rated_mains_v", run.chassis.mains_v),
        mains_short=short,
    )
    run.put("mains-at-set", "rms", at_set)


def heaters(run: Run) -> None:
    """Heat the tubes; keeps ``heat:<tube>`` as heater volts over rated for each tube."""
    if run.circuit("heater-supply") == "series-string":
        from backporch.engine.chassis.simulator.string import heat_string

        heat_string(run)
    else:
        _parallel_heaters(run)
    _heater_looks(run)


def _parallel_heaters(run: Run) -> None:
    batch, stage = run.batch, "heater-supply"
    rated = run.figure("heater_v", 6.3)
    load_ohm = rated / run.figure("heater_current_a", 8.2)
    series = batch.contact(stage, "feed") + batch.contact(stage, "return") + batch.opened(stage, "winding")
    sound = 1.0 - 0.6 * batch.parameter(stage, "winding", "turns_shorted")
    supply = batch.value(stage, "winding", rated) * run.inner["mains_ratio"] * sound
    volts = run.calc(divided_v, "heater winding", supply_v=supply, upper_ohm=series, lower_ohm=load_ohm)
    run.put("heater-winding", "rms", volts)
    for name, tube in run.chassis.tubes.items():
        own = tube.heater in ("own-winding", "flyback")
        ratio = run.inner["mains_ratio"] if own else volts / rated
        run.inner[f"heat:{name}"] = run.full(ratio * _heater_whole(run, name))


def _heater_whole(run: Run, tube: str) -> Value:
    section = next(iter(run.chassis.tubes[tube].sections.values()))
    return run.batch.parameter(section.stage, section.role, "heater")


def _heater_looks(run: Run) -> None:
    counted = [n for n, t in run.chassis.tubes.items() if t.heater != "flyback"]
    stack = np.vstack([run.inner[f"heat:{name}"] for name in counted])
    dark = (stack < 0.5).sum(axis=0)
    run.keep(heaters_dark=dark)
    run.show(heaters_lit=1.0 - dark / len(counted), heaters_bright=stack.max(axis=0))
    tube = run.chassis.picture_tube
    contact = run.batch.contact("picture-tube", "socket")
    heat = run.inner[f"heat:{tube}"] * 10.5 / (10.5 + np.minimum(contact, 1e6))
    run.inner[f"heat:{tube}"] = run.full(heat)
    run.show(tube_heater=heat)
    run.put("picture-tube-heater", "rms", 6.3 * run.inner[f"heat:{tube}"])
    rectifier = _tube_in(run, "low-voltage-supply", "rectifier")
    run.keep(rectifier_heater=run.inner.get(f"heat:{rectifier}", np.ones(1)))


def _tube_in(run: Run, stage: str, role: str) -> str:
    names = run.batch.names
    index = names.by_role.get((stage, role))
    return "" if index is None else names.tube_of.get(names.names[index], "")


def tube_type(run: Run, stage: str, role: str) -> str:
    """Return the registered type of the tube in a role, or ""."""
    name = _tube_in(run, stage, role)
    return run.chassis.tubes[name].type if name else ""


def emission(run: Run, stage: str, role: str) -> Floats:
    """Return the emission of a tube section with its heater as it is, 1 for a good tube."""
    tube = _tube_in(run, stage, role)
    heat = run.inner.get(f"heat:{tube}", np.ones(1))
    return run.full(run.batch.emission(stage, role) * emission_at_heater(heat))


def rails(run: Run, currents: Mapping[str, Value]) -> None:
    """Make reservoir, B+ and rails.

    Args:
        run: The simulation.
        currents: Current drawn from each rail at its nominal voltage, by the end of the rail's name, and
            from "b-plus" itself [A].
    """
    upward = {name: _rail_ohm(run, name, currents) for name in RAILS}
    ohms = {name: 1.0 / (1.0 / (up + down)) for name, (up, down) in upward.items()}
    direct = run.chassis.rails["b-plus"].nominal_v / np.maximum(currents["b-plus"], 1e-5)
    b_plus_ohm: Value = parallel_ohm(direct, run.batch.leak("rail-decoupling", "b-plus-capacitor"))
    for value in ohms.values():
        b_plus_ohm = parallel_ohm(b_plus_ohm, value)
    reservoir = _reservoir(run, b_plus_ohm)
    choke = _choke_ohm(run)
    b_plus = run.calc(divided_v, "B+", supply_v=reservoir, upper_ohm=choke, lower_ohm=b_plus_ohm)
    run.put("b-plus", "dc", b_plus)
    _cold_ohms(run)
    run.keep(b_plus_volts=b_plus)
    _ripple(run, b_plus)
    for name in RAILS:
        _rail(run, name, b_plus, *upward[name])


def _rail_ohm(run: Run, name: str, currents: Mapping[str, Value]) -> tuple[Value, Value]:
    """Return the resistance into a rail, and from it to chassis."""
    stage, rail = "rail-decoupling", f"rail-{name}"
    nominal = run.chassis.rails[rail].nominal_v if rail in run.chassis.rails else 200.0
    load = nominal / np.maximum(currents.get(name, 1e-6), 1e-7)
    down = parallel_ohm(load, run.batch.leak(stage, f"capacitor-{name}"))
    return run.batch.ohms(stage, f"dropper-{name}"), down


def _choke_ohm(run: Run) -> Value:
    stage = "rail-decoupling"
    if run.batch.has(stage, "choke"):
        return run.figure("choke_ohm", 60.0) + run.batch.opened(stage, "choke")
    return run.batch.ohms(stage, "resistor")


def _reservoir(run: Run, b_plus_ohm: Value) -> Floats:
    """Return the reservoir voltage where what the rectifier gives meets what the set takes."""
    stage = "low-voltage-supply"
    batch = run.batch
    leak = parallel_ohm(batch.leak(stage, "reservoir"), batch.leak("rail-decoupling", "choke"))
    load = parallel_ohm(_choke_ohm(run) + b_plus_ohm, leak)
    source = _source_ohm(run)
    peak = np.sqrt(2.0) * _secondary_v(run)
    kind = run.chassis.rectifier
    most = run.full(peak * (2.0 if "doubler" in kind else 1.0))
    pulses = _pulses(run)
    volts = quick_root(lambda v: _rectified_a(v, peak, source, pulses) - v / load, 0.0 * most, most, within=1e-8)
    law = (
        "v = stages * peak_v * cos(x),"
        " v / load_ohm = pulses * peak_v / (3.1416 * source_ohm) * (sin(x) - x * cos(x))"
    )
    known = {"peak_v": peak, "source_ohm": source, "load_ohm": load, "stages": pulses[0], "pulses": pulses[1]}
    volts = run.full(run.solved(volts, "reservoir before its ripple", law, **known))
    current = volts / load
    short = (current > run.figure("fuse_trips_a", 0.9)) | (np.asanyarray(_shorted_rectifier(run)) < 0.5)
    short = short | (np.asanyarray(batch.leak(stage, "series-capacitor")) < 60.0)
    run.keep(b_plus_current=current, b_plus_short=short)
    ripple = _reservoir_ripple(run, current, volts, peak)
    volts = np.maximum(volts - 0.1 * ripple - _series_drop(run, current), 0.0)
    run.keep(reservoir_ripple=ripple)
    run.put("reservoir", "dc", volts)
    if "doubler" in kind:
        run.put("doubler-middle", "dc", 0.5 * volts)
    run.put("reservoir", "pp", ripple)
    gas = batch.parameter(stage, "rectifier", "gas_a") > 0.0
    run.show(rectifier_glow=np.where(gas | (current > 0.6), 1.0, 0.0))
    return volts


def _series_drop(run: Run, current: Value) -> Value:
    """Return what the series capacitor of a cascade doubler loses between its charges."""
    if run.chassis.rectifier != "cascade-doubler":
        return 0.0
    farads = run.batch.farads("low-voltage-supply", "series-capacitor")
    lost: Value = 0.78 * current / (run.known("mains_hz", run.chassis.mains_hz) * farads)
    return lost / (1.0 + lost / 150.0)


def _secondary_v(run: Run) -> Floats:
    if run.batch.has("low-voltage-supply", "transformer"):
        turns = 1.0 - 0.8 * run.batch.parameter("low-voltage-supply", "transformer", "turns_shorted")
        return run.full(run.batch.value("low-voltage-supply", "transformer") * run.inner["mains_ratio"] * turns)
    return run.full(run.inner["mains_at_set"])


def _source_ohm(run: Run) -> Value:
    """Return the resistance in the charging path, rectifier included."""
    stage, batch = "low-voltage-supply", run.batch
    tube: Value = 0.0
    extra: Value = 0.0
    for role in ("rectifier", "rectifier-2"):
        if batch.has(stage, role):
            emitted = np.maximum(emission(run, stage, role), 1e-4)
            tube = np.maximum(tube, run.figure("rectifier_ohm", 95.0) / emitted**1.2)
            extra = extra + batch.contact(stage, role) + batch.opened(stage, role)
    extra = extra + batch.ohms(stage, "dropper", 0.0) + batch.ohms(stage, "thermistor", 0.0)
    source = run.figure("source_ohm", 85.0) + batch.ohms(stage, "surge-resistor", 0.0)
    return source + tube + extra + batch.opened(stage, "transformer")


def _pulses(run: Run) -> tuple[float, Value]:
    """Return stages of multiplication, and charging pulses in each cycle of the mains."""
    kind = run.chassis.rectifier
    return 2.0 if "doubler" in kind else 1.0, _shorted_rectifier(run) * (
        2.0 if kind in ("full-wave", "bridge") else 1.0
    )


def _rectified_a(volts: Floats, peak: Value, source: Value, kind: tuple[float, Value]) -> Floats:
    """Return the average current that the rectifier brings into a reservoir at ``volts``."""
    stages, pulses = kind
    ratio = np.clip(volts / stages / np.maximum(peak, 1e-6), 0.0, 1.0)
    angle = np.arccos(ratio)
    return np.asanyarray(pulses * peak / (np.pi * source) * (np.sin(angle) - angle * ratio), dtype=float)


def _shorted_rectifier(run: Run) -> Value:
    """Return 0 where a selenium rectifier is shorted and passes both half-waves, else 1."""
    stage = "low-voltage-supply"
    shorted: Value = 1.0
    for role in ("rectifier", "rectifier-2"):
        shorted = np.where(np.asanyarray(run.batch.leak(stage, role)) < 1e3, 0.0, shorted)
    return shorted


def _reservoir_ripple(run: Run, current: Value, volts: Value, peak: Value) -> Floats:
    """Return the ripple of the reservoir: the charge of the part of a cycle in which the rectifier brings more
    than the set takes.

    A tenth more stands for the lag of the peaks behind the mains, from comparison with circuit simulation.
    """
    stages = 2.0 if "doubler" in run.chassis.rectifier else 1.0
    source, level = _source_ohm(run), volts / stages
    omega = 2.0 * np.pi * run.known("mains_hz", run.chassis.mains_hz)
    angle = np.arccos(np.clip((level + current * source) / np.maximum(peak, 1e-6), 0.0, 1.0))
    brought = (2.0 * peak * np.sin(angle) - 2.0 * level * angle) / (source * omega) - 2.0 * current * angle / omega
    farads = run.batch.farads("low-voltage-supply", "reservoir")
    raw = 1.1 * np.maximum(brought, 0.0) / farads
    return np.asanyarray(raw / np.sqrt(1.0 + (raw / np.maximum(1.2 * volts, 1.0)) ** 2), dtype=float)


def _ripple(run: Run, b_plus: Value) -> None:
    """Carry the ripple through the choke to B+."""
    pulses = 2.0 if run.chassis.rectifier in ("full-wave", "bridge", "full-wave-doubler") else 1.0
    rate = pulses * run.known("mains_hz", run.chassis.mains_hz)
    stage, batch = "rail-decoupling", run.batch
    farads = batch.farads(stage, "b-plus-capacitor")
    if batch.has(stage, "choke"):
        left = 1.0 - batch.parameter(stage, "choke", "turns_shorted")
        series = 2 * np.pi * rate * np.maximum(batch.henries(stage, "choke") * left, 1e-4)
    else:
        series = batch.ohms(stage, "resistor")
    load = np.maximum(b_plus, 1.0) / np.maximum(run.inner["b_plus_current"], 1e-4)
    shunt = 1.0 / np.sqrt((1.0 / load) ** 2 + (2 * np.pi * rate * farads) ** 2)
    passed = shunt / np.sqrt(shunt**2 + series**2)
    ripple = run.inner["reservoir_ripple"] * passed
    run.keep(b_plus_ripple=ripple, ripple_hz=np.full(1, rate))
    run.put("b-plus", "pp", ripple)


def _rail(run: Run, name: str, b_plus: Value, up: Value, down: Value) -> None:
    stage, point = "rail-decoupling", f"rail-{name}"
    if point not in run.chassis.rails:
        run.inner[f"rail:{name}"] = run.full(b_plus)
        run.inner[f"rail_ripple:{name}"] = run.inner["b_plus_ripple"]
        return
    volts = run.calc(divided_v, point.replace("-", " "), supply_v=b_plus, upper_ohm=up, lower_ohm=down)
    run.put(point, "dc", volts)
    run.inner[f"rail:{name}"] = run.full(volts)
    farads = run.batch.farads(stage, f"capacitor-{name}")
    passed = low_pass_share(run.inner["ripple_hz"], parallel_ohm(up, down), farads)
    ripple = run.inner["b_plus_ripple"] * passed * down / (up + down)
    run.inner[f"rail_ripple:{name}"] = run.full(ripple)
    missing = smooth_step(-farads, -0.3 * run.batch.value(stage, f"capacitor-{name}", 1e-5), 0.0)
    run.inner[f"undecoupled:{name}"] = run.full(missing)
    run.put(point, "pp", ripple + missing * run.figure(f"crosstalk_{name}_v", 2.0))


def _cold_ohms(run: Run) -> None:
    """Say what an ohmmeter finds from B+ to the return with the set off and discharged."""
    batch, stage = run.batch, "rail-decoupling"
    rest = parallel_ohm(batch.leak(stage, "b-plus-capacitor"), run.figure("cold_ohm", 45e3))
    rest = parallel_ohm(rest, _choke_ohm(run) + batch.leak("low-voltage-supply", "reservoir"))
    rest = parallel_ohm(rest, batch.leak(stage, "choke"))
    branches = []
    for name in RAILS:
        down = batch.leak(stage, f"capacitor-{name}")
        branches.append(run.full(batch.ohms(stage, f"dropper-{name}") + down))
        rest = parallel_ohm(rest, branches[-1])
    run.put("b-plus-to-return", "ohm", rest)
    lowest = np.min(branches, axis=0)
    run.keep(cold_short=np.where(run.full(rest) > _SHORT_OHM, 0.0, 1.0))
    run.keep(cold_short_feed=np.where(lowest < 3.0 * run.full(rest), np.argmin(branches, axis=0) + 1.0, 0.0))
