"""Fit the tube models of kb/tube_fits.yaml to the published points that stand there, and write them back.

Run it after a point has been added or corrected: ``python tests/benchmarks/fit_tubes.py [TYPE ...]``.
One rule for all types.  Every published point of a type is used for the numbers that are shipped; the datum weighs
most.  How well a tube is met where nothing was published is then found by leaving points out: each inner point in
turn is withheld, the type is fitted again to the rest, and ``left_out`` is how far that fit is from it.  Points at
the edge of where a tube works (grid at zero, knee, cut-off, :func:`at_the_edge`) are never withheld, since no
other point tells of them; of them the currents are used and the slopes never: those slopes are withheld always.
Weak expectations keep the numbers that the points say nothing about where tubes of their kind have them.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import yaml
from scipy.optimize import brentq, least_squares

from backporch.engine.circuits.tube_curves import Currents, TubeModel, currents
from backporch.engine.circuits.tube_fits import tube_model

FITS = Path(__file__).parents[2] / "kb" / "tube_fits.yaml"
WEIGHTS = {
    "plate_a": 0.01,
    "screen_a": 0.02,
    "transconductance_a_per_v": 0.03,
    "plate_resistance_ohm": 0.03,
    "amplification": 0.04,
    "grid_v": 0.05,
}
SLOPES = ("transconductance_a_per_v", "plate_resistance_ohm", "amplification")
LINEAR = ("contact_v",)
EXPECTED = {
    "triode": {"mu": 0.15, "exponent": 0.08, "kg1": 9.0, "kp": 1.0, "kvb": 1.2, "contact_v": 0.5},
    "pentode": {
        "mu": 0.12,
        "exponent": 0.08,
        "kg1": 9.0,
        "kp": 1.0,
        "kvb": 1.0,
        "contact_v": 0.3,
        "kg2": 9.0,
        "returned_share": 0.5,
        "plate_share": 1.2,
    },
}
TAIL = {"tail_share": 2.0, "tail_mu": 1.0}
GRADED = {"tail_share": 0.5, "tail_mu": 0.1}
"""For large tubes, whose cut-off is softer than an even grid gives; less so than in remote cut-off."""


def predicted(model: TubeModel, point: dict) -> dict[str, float]:
    """Return what the model gives for each quantity that a point publishes."""
    at, published = point["at"], point["published"]
    if "grid_v" in published:
        return {"grid_v": _grid(model, at)}
    found = _at(model, at, at["grid_v"] if "grid_v" in at else _self_biased(model, at))
    slope, resistance = float(found.by_grid), 1.0 / float(found.by_plate)
    every = {
        "plate_a": float(found.plate),
        "screen_a": float(found.screen),
        "transconductance_a_per_v": slope,
        "plate_resistance_ohm": resistance,
        "amplification": slope * resistance,
    }
    return {name: every[name] for name in published}


def _at(model: TubeModel, at: dict, grid: float) -> Currents:
    return currents(model, *(np.array(float(v)) for v in (at["plate_v"], grid, at.get("screen_v", 0.0))))


def _self_biased(model: TubeModel, at: dict) -> float:
    """Return the grid voltage that the cathode resistor of a published point makes of the model's own current."""

    def excess(grid: float) -> float:
        found = _at(model, at, grid)
        return grid + at["cathode_ohm"] * float(found.plate + found.screen)

    return brentq(excess, -100.0, 0.0)


def _grid(model: TubeModel, at: dict) -> float:
    """Return the grid voltage at which plate current or mutual conductance has the value given."""

    def excess(grid: float) -> float:
        found = _at(model, at, grid)
        value, wanted = (
            (found.plate, "plate_a") if "plate_a" in at else (found.by_grid, "transconductance_a_per_v")
        )
        return math.log(float(value) + 1e-30) - math.log(at[wanted])

    return brentq(excess, -400.0, -0.01) if excess(-0.01) > 0 > excess(-400.0) else -0.01


def at_the_edge(tube: dict, point: dict) -> bool:
    """Say whether a point lies where a tube stops working: grid at zero, knee, cut-off or nearly so."""
    at, datum = point["at"], _datum(tube)["published"]
    cut_off = "grid_v" in point["published"] or point["published"]["plate_a"] < 0.25 * datum["plate_a"]
    knee = at["plate_v"] < 0.6 * at.get("screen_v", 0.0)
    return cut_off or knee or at.get("grid_v") == 0.0


def used(tube: dict, point: dict, withheld: dict | None = None) -> dict[str, float]:
    """Return the figures of a point that a fit uses; none of the one withheld, no slopes at the edge."""
    if point["use"] == "apart" or point is withheld:
        return {}
    edge = point["use"] != "datum" and at_the_edge(tube, point)
    return {k: v for k, v in point["published"].items() if not (edge and k in SLOPES)}


def fitted(name: str, tube: dict, withheld: dict | None = None) -> dict[str, float]:
    """Return the numbers of the best fit, to all points or to all but one."""
    spread = dict(EXPECTED[tube["kind"]])
    if any("transconductance_a_per_v" in point["at"] for point in tube["points"]):
        spread |= TAIL
    if tube.get("graded"):
        spread |= GRADED
    start = _start(tube, spread)
    first = np.array([start[k] if k in LINEAR else math.log(start[k]) for k in spread])

    def misses(values: np.ndarray) -> np.ndarray:
        model = tube_model(_numbers(spread, values))
        rows = [
            math.log(max(predicted(model, p)[k] / v, 1e-6)) / WEIGHTS[k] / (1.0 if p["use"] == "datum" else 2.5)
            for p in tube["points"]
            for k, v in used(tube, p, withheld).items()
        ]
        return np.concatenate([rows, (values - first) / list(spread.values())])

    best = least_squares(misses, first, max_nfev=400)
    print(f"{name}: cost {best.cost:.2f}")
    kept = {k: v for k, v in tube["model"].items() if k not in spread}
    return {k: float(f"{v:.4g}") for k, v in (_numbers(spread, best.x) | kept).items()}


def misses_of(numbers: dict[str, float], point: dict) -> dict[str, float]:
    """Return model over published less one, for each quantity of a point."""
    found = predicted(tube_model(numbers), point)
    return {k: round(found[k] / v - 1.0, 3) for k, v in point["published"].items()}


def _datum(tube: dict) -> dict:
    return next(p for p in tube["points"] if p["use"] == "datum")


def _numbers(names: dict, values: np.ndarray) -> dict[str, float]:
    return {k: float(v) if k in LINEAR else math.exp(v) for k, v in zip(names, values, strict=True)}


def _start(tube: dict, spread: dict) -> dict[str, float]:
    """Return where tubes of the kind stand, scaled to the datum."""
    datum = _datum(tube)["published"]
    mu = tube.get("start_mu") or datum.get(
        "amplification", datum["transconductance_a_per_v"] * datum.get("plate_resistance_ohm", 1e4)
    )
    if tube["kind"] == "triode":
        start = {"mu": 1.08 * mu, "exponent": 1.35, "kg1": 1000.0, "kp": 150.0, "kvb": 400.0, "contact_v": 0.0}
    else:
        start = {"mu": mu, "exponent": 1.38, "kg1": 800.0, "kp": 60.0 if mu < 15 else 150.0, "kvb": 8.0}
        start |= {"contact_v": 0.0, "kg2": 4000.0, "returned_share": 0.3, "plate_share": 0.02}
    if tube.get("graded"):
        start |= {"mu": 1.3 * mu, "tail_share": 0.2, "tail_mu": mu / 1.4}
    elif "tail_mu" in spread:
        start |= {"tail_share": 0.011, "tail_mu": mu / 8}
    found = predicted(tube_model(start), _datum(tube))
    start["kg1"] *= found["plate_a"] / datum["plate_a"]
    if "screen_a" in datum:
        start["kg2"] *= max(found["screen_a"] / datum["screen_a"], 0.05)
    return start


def main(names: list[str]) -> None:
    """Refit the tubes named, or all, and write the file."""
    text = FITS.read_text(encoding="utf-8")
    head = text[: text.index("tube_fits:")]
    content = yaml.safe_load(text)
    for name, tube in content["tube_fits"].items():
        if tube["kind"] != "diode" and (not names or name in names):
            tube["model"] = fitted(name, tube)
            for point in tube["points"]:
                point |= _stated(name, tube, point)
    FITS.write_text(head + "tube_fits:\n" + "".join(map(_shown, content["tube_fits"].items())), encoding="utf-8")


def _stated(name: str, tube: dict, point: dict) -> dict[str, object]:
    """Return the use of a point, how far the shipped fit is from it, and a fit that has not seen it."""
    error = misses_of(tube["model"], point)
    if point["use"] in ("datum", "apart"):
        return {"error": error}
    if at_the_edge(tube, point):
        slopes = {k: v for k, v in error.items() if k in SLOPES}
        return {"use": "edge", "error": error} | ({"left_out": slopes} if slopes else {})
    blind = fitted(f"{name} without {point['at']}", tube, withheld=point)
    return {"use": "inner", "error": error, "left_out": misses_of(blind, point)}


def _shown(item: tuple[str, dict]) -> str:
    name, tube = item
    lines = [f'  "{name}":']
    for key, value in tube.items():
        if key == "points":
            lines += ["    points:", *(f"      - {_flow(point)}" for point in value)]
        else:
            lines.append(f"    {key}: {_flow(value)}")
    return "\n".join(lines) + "\n"


def _flow(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(v) for v in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return np.format_float_positional(value + 0.0, trim="-")
    if isinstance(value, str) and (" " in value or value[:1].isdigit()):
        return f'"{value}"'
    return str(value)


if __name__ == "__main__":
    main(sys.argv[1:])
