"""A faulty set shows what a person at the bench would say of it, and nothing that he would not."""

from __future__ import annotations

import numpy as np
import pytest

from backporch.engine.chassis.fault_text import find_fault
from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import with_fault_draws
from backporch.engine.chassis.simulator import adjusted, simulate
from backporch.engine.chassis.words import symptom_flags
from backporch.engine.knowledge.library import shipped

LIBRARY = shipped()
FACTS = (
    ("plover-17", "R2=open", "blank-raster-no-snow", "blank-raster-with-snow", "the first IF tubes are dead too"),
    (
        "plover-17",
        "R7=open",
        "blank-raster-with-snow",
        "blank-raster-no-snow",
        "the IF amplifier still makes noise",
    ),
    (
        "plover-17",
        "V1=heater-open",
        "blank-raster-with-snow",
        "blank-raster-no-snow",
        "the mixer still makes noise",
    ),
    ("plover-17", "G1=no-output", "blank-raster-with-snow", "blank-raster-no-snow", "the set itself is sound"),
    ("plover-17", "V7=heater-open", "blank-raster-no-snow", "blank-raster-with-snow", "no noise reaches the tube"),
    ("plover-17", "F1=blown", "set-dead", "fuse-blows-at-once", "a new fuse holds"),
    ("plover-17", "C2=shorted", "fuse-blows-at-once", "one-heater-dark", "a new fuse goes as well"),
    ("dunlin-24", "C2=shorted:10", "fuse-blows-at-once", "sound-good", "a rectifier then shorts the mains"),
    ("plover-17", "V20=heater-open", "one-heater-dark", "set-dead", "its heater has a winding of its own"),
    ("plover-17", "J2=open", "some-heaters-dark", "set-dead", "the rectifier glows"),
    ("plover-17", "C45=shorted", "burning-smell", "sound-hum", "the filter resistor takes the boosted rail"),
    ("plover-17", "C46=open", "vertical-bars-left", "ringing", "the yoke rings, the picture does not"),
    ("plover-17", "R23=open", "ringing", "vertical-bars-left", "the picture rings, the yoke does not"),
    ("plover-17", "V19=heater-cathode-leak:500", "brightness-stuck-bright", "no-raster", "nothing holds the beam"),
    ("plover-17", "V6A=shorted-electrodes", "picture-overloaded", "sound-good", "the AGC is lost"),
    ("plover-17", "V16=weak:0.5", "width-too-small", "no-raster", "it drives the flyback less"),
    ("dunlin-24", "C16=shorted", "picture-overloaded", "no-raster", "the dark screen is turned up to look"),
    ("teal-14", "C30=open", "diagonal-bars", "whistle-missing", "no line sync reaches the oscillator"),
    ("teal-14", "R1=high", "sound-good", "diagonal-bars", "a little less B+ does not cost the sync"),
)


@pytest.mark.parametrize(("chassis", "fault", "shown", "never", "why"), FACTS, ids=lambda v: str(v)[:22])
def test_the_set_says_what_one_sees(chassis: str, fault: str, shown: str, never: str, why: str) -> None:
    """Most sets with the fault show the one symptom, and none the other."""
    kept = load_chassis(chassis, LIBRARY)
    draws = 5
    batch = with_fault_draws(
        adjusted(kept, draws, seed=5), [find_fault(fault, all_hypotheses(kept, LIBRARY))[1]], seed=3
    )
    flags = symptom_flags(simulate(kept, batch).picture, LIBRARY.picture_words)

    assert np.mean(flags[shown]) > 0.5, why
    assert not np.any(flags[never]), why
