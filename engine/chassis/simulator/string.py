# SPDX-License-Identifier: MIT
"""The series heater string: one current through all heaters, dropper and thermistor.

A heater that is open puts the mains across its break and leaves all others dark; a leak from heater to
cathode takes current out of the string where it happens, so that what lies towards the mains runs too
bright and what lies beyond runs dark.
Limits: the hot state; heater resistance goes with the 0.62th power of its current (from memory, to verify).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import parallel_ohm
from backporch.engine.chassis.simulator.bench import Run

__all__ = ["heater_string"]

Floats = NDArray[np.float64]

_EXPONENT = 0.62
_CATHODE_OHM = 150.0
"""What stands between a typical cathode and the return."""


def heater_string(run: Run) -> None:
    """Heat a series string from the mains end (place 1) to the chassis end."""
    order = _order(run)
    rated_a = run.figure("string_a", 0.3)
    currents = [run.full(rated_a) for _ in order]
    for _ in range(12):
        currents, nodes = _ladder(run, order, currents, rated_a)
    for tube, current in zip(order, currents, strict=True):
        heat = (current / rated_a) ** (1.0 + _EXPONENT) * _whole(run, tube)
        run.inner[f"heat:{tube}"] = run.full(np.minimum(heat, 3.0))
    for place, node in enumerate(nodes, start=1):
        run.put(f"heater-string-{place}", "rms", node, 100.0)
    for name, other in run.chassis.tubes.items():
        if other.heater != "string":
            run.inner[f"heat:{name}"] = run.full(run.inner["mains_ratio"] * _whole(run, name))


def _order(run: Run) -> list[str]:
    placed = [(t.string_place or 0, n) for n, t in run.chassis.tubes.items() if t.heater == "string"]
    return [name for _, name in sorted(placed)]


def _whole(run: Run, tube: str) -> Value:
    section = next(iter(run.chassis.tubes[tube].sections.values()))
    return run.batch.parameter(section.stage, section.role, "heater")


def _leak(run: Run, tube: str) -> Value:
    """Return the leak from a tube's heater to the return through any of its cathodes."""
    leak: Value = 1e12
    for section in run.chassis.tubes[tube].sections.values():
        own = run.batch.parameter(section.stage, section.role, "heater_cathode_ohm")
        leak = parallel_ohm(leak, own + _CATHODE_OHM)
    return leak


def _ohms(run: Run, tube: str, current: Floats, rated_a: float) -> Value:
    hot = run.chassis.tubes[tube].heater_v / rated_a
    warm = hot * np.clip(current / rated_a, 0.02, 3.0) ** _EXPONENT
    return np.where(_whole(run, tube) > 0.5, warm, 1e9)


def _feed_ohm(run: Run, current: Floats) -> Value:
    """Return dropper, thermistor and contacts at the mains end."""
    stage, batch = "heater-supply", run.batch
    series = batch.ohms(stage, "dropper") + batch.contact(stage, "feed") + batch.contact(stage, "return")
    if batch.has(stage, "thermistor"):
        share = np.clip(current / run.figure("string_a", 0.3), 0.02, 2.0)
        broken = batch.parameter(stage, "thermistor", "resistance_ohm")
        warm = batch.value(stage, "thermistor") * batch.parameter(stage, "thermistor", "resistance")
        series = series + np.where(np.asarray(broken) > 0, broken, warm * share**-1.6)
    return series


def _ladder(
    run: Run, order: list[str], currents: list[Floats], rated_a: float
) -> tuple[list[Floats], list[Floats]]:
    """Return the current in each heater and the voltage at the mains end of each."""
    below: Value = 1e-3
    ohms, seen = [], []
    for tube, current in zip(reversed(order), reversed(currents), strict=True):
        own = _ohms(run, tube, current, rated_a)
        ohms.append(own)
        below = parallel_ohm(own + below, _leak(run, tube))
        seen.append(below)
    feed = _feed_ohm(run, currents[0])
    flowing = run.inner["mains_at_set"] / (feed + below)
    node = flowing * below
    found, nodes = [], []
    rest = [*list(reversed(seen))[1:], run.full(1e-3)]
    for own, beyond, old in zip(reversed(ohms), rest, currents, strict=True):
        nodes.append(run.full(node))
        through = node / (own + beyond)
        found.append(run.full(np.sqrt(np.maximum(through, 1e-9) * np.maximum(old, 1e-9))))
        node = through * beyond
    return found, nodes
