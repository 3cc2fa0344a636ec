# SPDX-License-Identifier: MIT
"""The series heater string: one current through all heaters, dropper and thermistor.

A heater that is open puts the mains across its break and leaves all others dark; a leak from heater to
cathode takes current out of the string where it happens, so that what lies towards the mains runs too
bright and what lies beyond runs dark.  The ladder itself is solved in the circuits.
Limits: the settled state.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import parallel_ohm
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.memo import RowMemo, rounded
from backporch.engine.circuits.heaters import Thermistor, heater_current_a, heater_ohm, thermistor_ohm
from backporch.engine.circuits.heaters_string import Heater, StringFeed, heater_string

__all__ = ["heat_string", "string_order"]

Floats = NDArray[np.float64]

_CATHODE_OHM = 2.0
"""What stands between a cathode that goes straight to the return and the return."""
_OPEN_OHM = 1e9
_CURRENT_LAW = "mains_v / (dropper_ohm + thermistor_now_ohm + heaters_now_ohm), the latter two at this current"
_FEED_COLUMNS = 4


def heat_string(run: Run) -> None:
    """Heat a series string from the mains end (place 1) to the chassis end."""
    order = string_order(run.chassis)
    found = _MEMO(run.chassis)(_rows(run, order)).T.reshape(3, len(order), -1)
    told = zip(*_told(run, order, found), strict=True)
    for place, (tube, (across, node), source) in enumerate(zip(order, told, found[2], strict=True), start=1):
        run.inner[f"heat:{tube}"] = np.minimum(across / run.chassis.tubes[tube].heater_v, 3.0)
        run.put(f"heater-string-{place}", "rms", node, np.minimum(source, 1e9))
    for name, other in run.chassis.tubes.items():
        if other.heater != "string":
            run.inner[f"heat:{name}"] = run.full(run.inner["mains_ratio"] * _whole(run, name))


def _told(run: Run, order: list[str], found: Floats) -> tuple[list[Value], list[Value]]:
    """Return the voltage across each heater and at its mains end, in a recorded run with the way to them."""
    if not run.bench.record or not order:
        return list(found[0]), list(found[1])
    batch, stage, rated = run.batch, "heater-supply", run.figure("string_a", 0.3)
    tubes = [run.chassis.tubes[tube] for tube in order]
    flowing = heater_current_a(float(found[0][0][0]), tubes[0].heater_v, float(np.ravel(rated)[0]))
    warm: Value = 0.0
    if batch.has(stage, "thermistor"):
        kind = Thermistor(hot_ohm=batch.value(stage, "thermistor"), rated_a=rated)
        warm = run.calc(thermistor_ohm, "thermistor_now_ohm", current_a=flowing, thermistor=kind)
    rated_v = run.known("heaters_rated_v", sum(tube.heater_v for tube in tubes))
    hot = run.calc(heater_ohm, "heaters_now_ohm", current_a=flowing, rated_v=rated_v, rated_a=rated)
    mains, dropper = run.inner["mains_at_set"], batch.ohms(stage, "dropper")
    given = {"mains_v": mains, "dropper_ohm": dropper, "thermistor_now_ohm": warm, "heaters_now_ohm": hot}
    current = run.solved(np.full(1, flowing), "string_now_a", _CURRENT_LAW, **given)
    node = mains - current * (dropper + warm)
    volts: list[Value] = []
    nodes: list[Value] = []
    for n, tube in enumerate(tubes):
        own = {"current_a": current, "rated_v": tube.heater_v, "rated_a": rated}
        across = current * run.calc(heater_ohm, f"heater_of_{order[n]}_ohm", **own)
        nodes.append(run.way(found[1][n], node))
        volts.append(run.way(found[0][n], across))
        node = node - across
    return volts, nodes


def string_order(chassis: Chassis) -> list[str]:
    """Return the tubes of the string, the one next to the mains first."""
    placed = [(t.string_place or 0, n) for n, t in chassis.tubes.items() if t.heater == "string"]
    return [name for _, name in sorted(placed)]


def _rows(run: Run, order: list[str]) -> Floats:
    """Return for each set what decides its string: feed, then contact and leak of each heater."""
    stage, batch = "heater-supply", run.batch
    dropper = batch.ohms(stage, "dropper") + batch.contact(stage, "feed")
    hot: Value = 0.0
    if batch.has(stage, "thermistor"):
        dropper = dropper + batch.opened(stage, "thermistor")
        hot = batch.value(stage, "thermistor") * batch.parameter(stage, "thermistor", "resistance")
    columns = [
        rounded(np.maximum(run.full(run.inner["mains_at_set"]), 1e-3), 2000.0),
        rounded(run.full(dropper), 2000.0),
        run.full(batch.contact(stage, "return")),
        rounded(run.full(hot), 500.0),
        *(run.full(np.where(np.asanyarray(_whole(run, tube)) > 0.5, 0.0, _OPEN_OHM)) for tube in order),
        *(rounded(run.full(_leak(run, tube)), 200.0) for tube in order),
    ]
    return np.stack(columns, axis=1)


def _whole(run: Run, tube: str) -> Value:
    section = next(iter(run.chassis.tubes[tube].sections.values()))
    return run.batch.parameter(section.stage, section.role, "heater")


def _leak(run: Run, tube: str) -> Value:
    """Return the leak from a tube's heater to the return through any of its cathodes."""
    leak: Value = 1e12
    for section in run.chassis.tubes[tube].sections.values():
        own = run.batch.parameter(section.stage, section.role, "heater_cathode_ohm")
        leak = parallel_ohm(leak, own + _cathode_ohm(run, section.stage, section.role))
    return leak


def _cathode_ohm(run: Run, stage: str, role: str) -> Value:
    """Return what stands between a cathode and the return."""
    own = role.replace("amplifier", "cathode")
    for name in (own, "cathode", "cathode-load"):
        if name != role and run.batch.has(stage, name):
            return run.batch.ohms(stage, name)
    return _CATHODE_OHM


def _memo(chassis: Chassis) -> RowMemo:
    order = string_order(chassis)
    rated_a = float(chassis.figures.get("string_a", 0.3))

    def compute(rows: Floats) -> Floats:
        mains, dropper, back, hot = rows.T[:_FEED_COLUMNS]
        breaks, leaks = rows.T[_FEED_COLUMNS:].reshape(2, len(order), -1)
        heaters = [
            Heater(chassis.tubes[tube].heater_v, rated_a, series_ohm=breaks[n], cathode_ohm=leaks[n])
            for n, tube in enumerate(order)
        ]
        warm = Thermistor(hot_ohm=np.maximum(hot, 1.0), rated_a=rated_a) if hot.max() > 0 else None
        found = heater_string(mains, heaters, StringFeed(dropper, back, warm))
        stack = np.stack([found.heater_v, found.node_v, found.node_source_ohm])
        return stack.reshape(-1, len(rows)).T

    return RowMemo(compute)


_MEMO = PerChassis(_memo)
