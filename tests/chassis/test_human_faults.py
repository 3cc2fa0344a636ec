"""Faults that people make, and faults of boards, switches, sockets and joints: each exists and shows."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Bench, Result, simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.knowledge.library import Library, shipped

Shows = Callable[..., Result]


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base."""
    return shipped()


@pytest.fixture(scope="module")
def shows(library: Library) -> Shows:
    """Simulate plover-17 with one fault, its worst or mildest as asked."""
    chassis = load_chassis("plover-17", library)
    known = {h.id: h for h in all_hypotheses(chassis, library)}

    def run(fault: str, severity: float = 0.5, minutes: float | None = None) -> Result:
        found = known[fault].fault
        assert found is not None
        return simulate(chassis, healthy_batch(chassis, [found], severity=severity), Bench(minutes=minutes))

    return run


HUMAN = [
    ("J6:swapped", 0.5, "picture-negative"),
    ("W4:open", 0.5, "high-voltage-arcing"),
    ("L9:reversed", 0.5, "picture-mirrored"),
    ("L6:reversed", 0.5, "picture-upside-down"),
    ("T8:reversed", 0.5, "picture-upside-down"),
    ("T7:reversed", 0.5, "single-horizontal-line"),
    ("R41:wrong-value", 0.5, "rolls-fast"),
    ("C3:reversed", 0.0, "burning-smell"),
    ("V14:transposed", 0.0, "height-too-small"),
    ("P4:misadjusted", 1.0, "rolls-fast"),
    ("P7:misadjusted", 0.0, "diagonal-bars"),
    ("M1:misplaced", 0.9, "no-raster"),
    ("S1:open", 0.5, "set-dead"),
    ("S2:misadjusted", 0.5, "no-sound"),
    ("J4:open", 0.5, "single-horizontal-line"),
    ("J6:open", 0.5, "no-raster"),
    ("B1:leaky", 0.0, "high-voltage-corona"),
    ("V7:bad-contact", 0.0, "changes-when-tapped"),
]
"""Fault of plover-17, where in its range, and one symptom that must show."""


@pytest.mark.parametrize(("fault", "severity", "symptom"), HUMAN)
def test_it_shows(shows: Shows, library: Library, fault: str, severity: float, symptom: str) -> None:
    """A fault that a person made shows as such a fault does."""
    assert symptom in symptoms_of(shows(fault, severity).picture, library.picture_words)


def test_leakage_between_two_nodes_moves_the_one_with_less_behind_it(shows: Shows) -> None:
    """A board that leaks from B+ to the AGC line takes the AGC away and leaves B+."""
    healthy, leaky = shows("M2:weak"), shows("B2:leaky")

    assert healthy.values["agc-line.dc"][0] < -1.0
    assert leaky.values["agc-line.dc"][0] > 0.5
    assert leaky.values["b-plus.dc"][0] > 0.95 * healthy.values["b-plus.dc"][0]


class TestWarmth:
    """Faults that come as the set warms."""

    @pytest.mark.parametrize("minutes", [0.0, 1.9])
    def test_before_its_time_nothing_shows(self, shows: Shows, library: Library, minutes: float) -> None:
        """A cold set is a healthy set."""
        result = shows("V13:heater-opens-when-hot", minutes=minutes)

        assert symptoms_of(result.picture, library.picture_words) == ("sound-good",)

    def test_later_it_is_the_plain_fault(self, shows: Shows) -> None:
        """A heater that has opened by heat is an open heater."""
        hot, plain = shows("V13:heater-opens-when-hot", minutes=120.0), shows("V13:heater-open")

        np.testing.assert_allclose(hot.values["vertical-sawtooth.pp"], plain.values["vertical-sawtooth.pp"])
        assert hot.picture["unrest_heat"][0] > 0.5 > plain.picture["unrest_heat"][0]

    def test_the_worse_it_is_the_later_it_comes_or_sooner(self, shows: Shows) -> None:
        """Within one fault the onset is spread over its range of minutes."""
        early, late = (shows("V13:heater-opens-when-hot", at, minutes=10.0) for at in (0.1, 0.95))

        assert early.picture["height"][0] < 0.05
        assert late.picture["height"][0] > 0.9
