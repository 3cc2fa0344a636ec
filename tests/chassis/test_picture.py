"""The picture state: every quantity named, explained, and taken out of a simulation."""

from __future__ import annotations

import dataclasses

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import draw_batch
from backporch.engine.chassis.picture_state import PICTURE, PictureState
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.knowledge.library import shipped


@pytest.fixture(scope="module")
def result() -> Result:
    """Simulate three healthy sets."""
    return simulate(load := load_chassis("plover-17", shipped()), draw_batch(load, 3, seed=1))


def test_every_quantity_has_a_meaning() -> None:
    """Each quantity is explained and has a healthy value."""
    assert all(quantity.meaning for quantity in PICTURE.values())
    assert {field.name for field in dataclasses.fields(PictureState)} == set(PICTURE)


def test_a_simulation_gives_every_quantity(result: Result) -> None:
    """The simulator says nothing that the picture state does not know, and all that it does know."""
    assert set(result.picture) == set(PICTURE)


def test_one_set_is_taken_out_of_a_batch(result: Result) -> None:
    """The state of one draw has that draw's numbers, and cannot be changed."""
    state = result.state(2)

    assert state.height == result.picture["height"][2]
    with pytest.raises(dataclasses.FrozenInstanceError):
        state.height = 2.0  # type: ignore[misc]
