"""A leak between any two named points of a chassis moves both and is followed by the stages."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from backporch.engine.chassis.fault_text import find_fault
from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import shipped

LIBRARY = shipped()
PLOVER = load_chassis("plover-17", LIBRARY)
HYPOTHESES = all_hypotheses(PLOVER, LIBRARY)


def with_fault(*texts: str) -> Result:
    """Return the nominal set with the faults that the texts name."""
    return simulate(PLOVER, healthy_batch(PLOVER, [find_fault(text, HYPOTHESES, PLOVER)[1] for text in texts]))


def direct(result: Result) -> Mapping[str, float]:
    """Return all direct voltages."""
    return {key.removesuffix(".dc"): float(v[0]) for key, v in result.values.items() if key.endswith(".dc")}


def test_a_leak_between_two_points_does_what_the_same_leak_as_a_part_does() -> None:
    """B+ leaking into the AGC line is the carbonised tag strip, however it is named."""
    named, part = with_fault("b-plus/agc-line=leaky:1M"), with_fault("B2=leaky:1M")

    assert symptoms_of(named.picture, LIBRARY.picture_words) == symptoms_of(part.picture, LIBRARY.picture_words)
    assert direct(named)["agc-line"] == pytest.approx(direct(part)["agc-line"], abs=0.2)


def test_a_pin_names_the_point_on_it() -> None:
    """V11 pin 2 of plover-17 is the grid of the sync separator."""
    by_pin, by_name = with_fault("V7.8/V11.2=leaky:1M"), with_fault("video-screen/sync-separator-grid=leaky:1M")

    assert direct(by_pin) == direct(by_name)


def test_current_into_a_grid_is_followed_by_its_stage() -> None:
    """A rail that leaks into the grid of the vertical output tube lifts it and folds the scan over."""
    healthy, leaking = direct(with_fault()), with_fault("rail-video/vertical-output-grid=leaky:1M")

    assert direct(leaking)["vertical-output-grid"] > healthy["vertical-output-grid"] + 5.0
    assert float(leaking.picture["fold_bottom"][0]) > 0.02


def test_a_leak_to_chassis_loads_a_rail_and_what_hangs_on_it() -> None:
    """The boosted rail sags through its filter resistor, and the picture loses height."""
    healthy, leaking = with_fault(), with_fault("boosted-b-plus/chassis=leaky:200k")

    assert direct(leaking)["boosted-b-plus"] < 0.95 * direct(healthy)["boosted-b-plus"]
    assert leaking.picture["height"][0] < healthy.picture["height"][0]


def test_points_that_no_stage_follows_move_towards_each_other() -> None:
    """Ohm's law holds for the two readings: plate of the video tube to its cathode, 10 k across."""
    healthy, leaking = direct(with_fault()), direct(with_fault("video-plate/video-cathode=leaky:10k"))
    source = 68.0
    current = (healthy["video-plate"] - healthy["video-cathode"]) / (10e3 + source)

    assert leaking["video-cathode"] == pytest.approx(healthy["video-cathode"] + current * source, rel=0.02)


@pytest.mark.parametrize("ohms", ["200k", "2M", "20M"])
def test_a_lower_leak_moves_a_grid_further(ohms: str) -> None:
    """The grid of the sync separator stands higher for ten times less resistance."""
    tenth = f"{ohms.removesuffix('k').removesuffix('M')}0{ohms[-1]}"
    near, far = (direct(with_fault(f"b-plus/sync-separator-grid=leaky:{value}")) for value in (ohms, tenth))

    assert near["sync-separator-grid"] >= far["sync-separator-grid"]


def test_two_leaks_and_a_part_stand_side_by_side() -> None:
    """Several faults of one set are all laid in; what they do is finite everywhere."""
    result = with_fault("b-plus/agc-line=leaky:2M", "rail-sync/afc-line=leaky:5M", "C26=shorted")

    assert all(np.isfinite(v).all() for v in [*result.values.values(), *result.picture.values()])


def test_a_wrong_point_is_named_with_the_nearest_right_one() -> None:
    """A misspelt point, a pin without a test point, and a leak to itself are refused in one sentence."""
    with pytest.raises(UnknownWord, match="agc-line"):
        find_fault("b-plus/agc-lime=leaky", HYPOTHESES, PLOVER)
    with pytest.raises(BadInput, match="V7 pin 3"):
        find_fault("b-plus/V7.3=leaky", HYPOTHESES, PLOVER)
    with pytest.raises(BadInput, match="itself"):
        find_fault("b-plus/b-plus=leaky", HYPOTHESES, PLOVER)
    with pytest.raises(BadInput, match="no direct voltage"):
        with_fault("mains-at-set/agc-line=leaky")
