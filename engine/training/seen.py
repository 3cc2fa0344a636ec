# SPDX-License-Identifier: MIT
"""What a learner sees and hears of the hidden set, in words with a few figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from backporch.engine.chassis.simulator import Result
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.knowledge.library import Library
from backporch.engine.units import show

__all__ = ["Seen", "figures", "rolling", "seen_and_heard"]

Seen = tuple[list[str], list[str]]
_COUNTED_HZ = 30.0
"""Pictures that pass faster than this are not told apart by any eye [Hz]."""
_RAGGED, _TORN = 0.02, 0.05
"""From where torn lines are seen at upright edges, up to where the words of the picture speak of tearing."""
_VAGUE = {"picture-rolls": frozenset({"picture-rolls-up", "picture-rolls-down"})}
"""Symptoms that say less than others that are seen too."""


def seen_and_heard(library: Library, result: Result) -> Seen:
    """Return what is seen, and what is heard, each as sentences."""
    seen: list[str] = []
    heard: list[str] = []
    shown = symptoms_of(result.picture, library.picture_words)
    for name in (n for n in shown if n not in _VAGUE or not _VAGUE[n] & set(shown)):
        symptom = library.symptoms[name]
        sound = symptom.family == "sound" or name.startswith("whistle")
        (heard if sound else seen).append(f"{symptom.title}: {symptom.seen}")
    return seen or ["A picture without anything that strikes the eye."], heard or ["Nothing special is heard."]


def figures(result: Result) -> list[str]:
    """Return sizes and rates that a person could judge by eye, where they differ from a healthy set."""
    return list(_figures({name: float(np.ravel(values)[0]) for name, values in result.picture.items()}))


def _figures(p: Mapping[str, float]) -> Iterator[str]:
    if not _lit(p):
        return
    if 0.05 < abs(p["roll_hz"]) < _COUNTED_HZ and _has_picture(p):
        way = "up" if p["roll_hz"] > 0 else "down"
        yield f"It rolls {way}, {show(abs(p['roll_hz']), '', 2)} pictures a second."
    if abs(p["height"] - 1) > 0.08:
        yield f"The raster is {p['height'] * 100:.0f} % as high as the mask."
    if abs(p["width"] - 1) > 0.08:
        yield f"The raster is {p['width'] * 100:.0f} % as wide as the mask."
    if _RAGGED < p["line_tear"] <= _TORN and _has_picture(p):
        yield "Upright edges look ragged."
    if p["hum_bars"] > 0.5 and p["hum_depth"] > 0.06:
        yield f"Dark bars across it: {p['hum_bars']:.0f}."


def _lit(p: Mapping[str, float]) -> bool:
    """Tell whether there is a raster of some size, as the words of the picture have it."""
    return p["brightness"] >= 0.06 and p["width"] >= 0.08 and p["height"] >= 0.08


def _has_picture(p: Mapping[str, float]) -> bool:
    """Tell whether a picture stands on the raster, so that its motion can be seen."""
    return _lit(p) and abs(p["contrast"]) > 0.12


def rolling(result: Result) -> str:
    """Return how the roll follows from the two rates, by the numbers of this set."""
    if not _has_picture({name: float(np.ravel(values)[0]) for name, values in result.picture.items()}):
        return "Without a picture on the screen no rate can be seen."
    sent, free = float(np.ravel(result.inner["field_hz"])[0]), float(np.ravel(result.inner["field_free_hz"])[0])
    roll = float(np.ravel(result.picture["roll_hz"])[0])
    if abs(roll) < 0.05:
        return f"The source sends {sent:.1f} Hz, the oscillator alone would run at {free:.1f} Hz: sync holds it."
    return (
        f"The source sends {sent:.1f} Hz, the oscillator runs at {free:.1f} Hz: "
        f"{sent:.1f} - {free:.1f} = {roll:.1f} pictures a second."
    )
