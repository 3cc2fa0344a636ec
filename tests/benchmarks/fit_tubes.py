"""Fit the tube models of kb/tube_fits.yaml to the published points that stand there, and write them back.

Run it after a point has been added or corrected: ``python tests/benchmarks/fit_tubes.py [TYPE ...]``.
Points marked datum weigh most, those marked fitted less, those marked check not at all; weak expectations keep the
numbers that the points say nothing about where tubes of their kind have them.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import yaml
from scipy.optimize import brentq, least_squares

from backporch.engine.circuits.tube_curves import TubeModel, currents
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
LINEAR = ("contact_v",)
EXPECTED = {
    "triode": {"mu": 0.15, "exponent": 0.08, "kg1": 9.0, "kp": 1.0, "kvb": 1.2, "contact_v": 0.2},
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


def predicted(model: TubeModel, point: dict) -> dict[str, float]:
    """Return what the model gives for each quantity that a point publishes."""
    at, published = point["at"], point["published"]
    if "grid_v" in published:
        return {"grid_v": _grid(model, at)}
    grid = at.get("grid_v")
    if grid is None:
        grid = -at["cathode_ohm"] * (published["plate_a"] + published.get("screen_a", 0.0))
    found = currents(model, *(np.array(float(v)) for v in (at["plate_v"], grid, at.get("screen_v", 0.0))))
    slope, resistance = float(found.by_grid), 1.0 / float(found.by_plate)
    every = {
        "plate_a": float(found.plate),
        "screen_a": float(found.screen),
        "transconductance_a_per_v": slope,
        "plate_resistance_ohm": resistance,
        "amplification": slope * resistance,
    }
    return {name: every[name] for name in published}


def _grid(model: TubeModel, at: dict) -> float:
    """Return the grid voltage at which plate current or mutual conductance has the value given."""

    def excess(grid: float) -> float:
        found = currents(model, *(np.array(float(v)) for v in (at["plate_v"], grid, at.get("screen_v", 0.0))))
        value, wanted = (
            (found.plate, "plate_a") if "plate_a" in at else (found.by_grid, "transconductance_a_per_v")
        )
        return math.log(float(value) + 1e-30) - math.log(at[wanted])

    return brentq(excess, -400.0, -0.01) if excess(-0.01) > 0 > excess(-400.0) else -0.01


def fitted(name: str, tube: dict) -> dict[str, float]:
    """Return the numbers of the best fit."""
    spread = dict(EXPECTED[tube["kind"]])
    if any("transconductance_a_per_v" in point["at"] for point in tube["points"]):
        spread |= TAIL
    start = _start(tube, spread)
    first = np.array([start[k] if k in LINEAR else math.log(start[k]) for k in spread])
    used = [p for p in tube["points"] if p["use"] != "check"]

    def misses(values: np.ndarray) -> np.ndarray:
        model = tube_model(_numbers(spread, values))
        rows = [
            math.log(max(predicted(model, p)[k] / v, 1e-6)) / WEIGHTS[k] / (1.0 if p["use"] == "datum" else 2.5)
            for p in used
            for k, v in p["published"].items()
        ]
        return np.concatenate([rows, (values - first) / list(spread.values())])

    best = least_squares(misses, first, max_nfev=400)
    print(f"{name}: cost {best.cost:.2f}")
    kept = {k: v for k, v in tube["model"].items() if k not in spread}
    return {k: float(f"{v:.4g}") for k, v in (_numbers(spread, best.x) | kept).items()}


def _numbers(names: dict, values: np.ndarray) -> dict[str, float]:
    return {k: float(v) if k in LINEAR else math.exp(v) for k, v in zip(names, values, strict=True)}


def _start(tube: dict, spread: dict) -> dict[str, float]:
    """Return where tubes of the kind stand, scaled to the datum."""
    datum = next(p for p in tube["points"] if p["use"] == "datum")["published"]
    mu = tube.get("start_mu") or datum.get(
        "amplification", datum["transconductance_a_per_v"] * datum.get("plate_resistance_ohm", 1e4)
    )
    if tube["kind"] == "triode":
        start = {"mu": 1.08 * mu, "exponent": 1.35, "kg1": 1000.0, "kp": 150.0, "kvb": 400.0, "contact_v": 0.0}
    else:
        start = {"mu": mu, "exponent": 1.38, "kg1": 800.0, "kp": 60.0 if mu < 15 else 150.0, "kvb": 15.0}
        start |= {"contact_v": 0.0, "kg2": 4000.0, "returned_share": 0.3, "plate_share": 0.02}
    start |= {"tail_share": 0.011, "tail_mu": mu / 8} if "tail_mu" in spread else {}
    found = predicted(tube_model(start), next(p for p in tube["points"] if p["use"] == "datum"))
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
                found = predicted(tube_model(tube["model"]), point)
                point["error"] = {k: round(found[k] / v - 1.0, 3) for k, v in point["published"].items()}
    FITS.write_text(head + "tube_fits:\n" + "".join(map(_shown, content["tube_fits"].items())), encoding="utf-8")


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
    if isinstance(value, float):
        return np.format_float_positional(value + 0.0, trim="-")
    if isinstance(value, str) and (" " in value or value[0].isdigit()):
        return f'"{value}"'
    return str(value)


if __name__ == "__main__":
    main(sys.argv[1:])
