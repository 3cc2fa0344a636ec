"""A multivibrator whose second half is the output tube: what each part does to rate, height and linearity."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.vertical_output_coupled import (
    OutputCoupled,
    OutputCoupledParts,
    output_coupled_multivibrator,
)
from backporch.engine.errors import OutOfRange

PARTS = OutputCoupledParts(
    *(1.32e6, 0.01e-6, 4.7e-9, 33e3, 1.57e6, 0.068e-6, 6.8e3, 0.1e-6, 2.2e6, 1110.0, 8.0, 20.0, 0.04, 50.0)
)
FIRST, LAST = model_of("10DE7", "oscillator"), model_of("10DE7", "output")
LEAKS = tuple(
    field.name for field in fields(PARTS) if field.name.endswith("leak_ohm") and "grid_leak" not in field.name
)


def together(changes: list[dict[str, float]], first: float = 1.0, last: float = 1.0) -> OutputCoupled:
    """Solve several sets of parts in one pass."""
    table = {f.name: np.array([c.get(f.name, getattr(PARTS, f.name)) for c in changes]) for f in fields(PARTS)}
    tubes = replace(FIRST, emission_share=first), replace(LAST, emission_share=last)
    return output_coupled_multivibrator(OutputCoupledParts(**table), *tubes, 460.0, 230.0)


def test_each_part_acts_for_its_own_reason() -> None:
    """More timing runs slower, less feedback faster; a leak to the output grid loads the sawtooth."""
    drawn, slow, less, leaky, bare = range(5)
    found = together(
        [{}, {"grid_ohm": 2e6}, {"feedback_f": 2.2e-9}, {"coupling_leak_ohm": 10e6}, {"bypass_f": 1e-9}]
    )
    rate, saw = np.asarray(found.frequency_hz), np.asarray(found.sawtooth_v)
    foot, yoke, cathode = (np.asarray(v) for v in (found.foot_v, found.yoke_pp_a, found.cathode_v))

    assert rate[slow] < 0.85 * rate[drawn] < rate[drawn] < 0.75 * rate[less]
    assert saw[less] < 0.75 * saw[drawn]
    assert saw[leaky] < saw[drawn]
    assert foot[leaky] < foot[drawn]
    assert cathode[leaky] > 1.2 * cathode[drawn]
    assert yoke[bare] < 0.7 * yoke[drawn]


def test_an_open_loop_stands_still() -> None:
    """Without feedback, coupling or timing capacitor, or with a dead output tube, nothing repeats itself."""
    broken = together([{name: 1e-12} for name in ("feedback_f", "coupling_f", "grid_f")])
    dead = together([{}], last=1e-4)

    assert np.all(np.asarray(broken.frequency_hz) == 0.0)
    assert np.all(np.asarray(broken.yoke_pp_a) == 0.0)
    assert float(np.ravel(dead.frequency_hz)[0]) == 0.0


def test_any_part_open_or_shorted_gives_a_number() -> None:
    """With each part a million times too large or too small, or a capacitor shorted, there is a number."""
    changes = [{f.name: getattr(PARTS, f.name) * by} for f in fields(PARTS) for by in (1e6, 1e-6)]
    found = together([*changes, *({name: 10.0} for name in LEAKS)])

    for field in fields(found):
        assert np.all(np.isfinite(np.asarray(getattr(found, field.name)))), field.name


def test_refuses_a_part_of_no_value() -> None:
    """A capacitor of nothing is refused by its name."""
    with pytest.raises(OutOfRange, match="feedback_f"):
        together([{"feedback_f": 0.0}])
