"""Faults as written by a person, and what the dictionary can tell of them."""

from __future__ import annotations

import pytest

from backporch.engine.chassis.faults import read_fault
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base."""
    return shipped()


@pytest.fixture(scope="module")
def plover(library: Library) -> Chassis:
    """Give the receiver with a power transformer."""
    return load_chassis("plover-17", library)


class TestReading:
    """A fault is a part, a mode and perhaps a value."""

    def test_a_value_is_taken_as_it_is(self, plover: Chassis, library: Library) -> None:
        """A leak of one megohm is one megohm at any severity."""
        fault = read_fault("C36=leaky:1M", plover, library)
        result = simulate(plover, healthy_batch(plover, [fault], severity=0.9))
        low = simulate(plover, healthy_batch(plover, [fault], severity=0.1))

        assert result.values["vertical-output-grid.dc"] == low.values["vertical-output-grid.dc"]

    def test_a_tube_may_be_named_as_a_whole(self, plover: Chassis, library: Library) -> None:
        """A heater belongs to the whole tube."""
        assert read_fault("V11=heater-open", plover, library).part == "V11A"

    @pytest.mark.parametrize(
        ("text", "error", "message"),
        [
            ("C36", BadInput, "part=mode"),
            ("C36=", BadInput, "part=mode"),
            ("C936=leaky", UnknownWord, "C36"),
            ("C36=leeky", UnknownWord, "leaky"),
            ("C36=leaky:1H", BadInput, "ohm"),
        ],
    )
    def test_refusals(
        self, plover: Chassis, library: Library, text: str, error: type[Exception], message: str
    ) -> None:
        """What cannot be understood is said with an example or the nearest word."""
        with pytest.raises(error, match=message):
            read_fault(text, plover, library)
