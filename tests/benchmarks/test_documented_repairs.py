"""How often the diagnosis names, from what was seen alone, the stage that somebody really found at fault."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import yaml

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry

REFERENCE = Path(__file__).parent.parent / "reference"
STAGES = {
    "signal_source": ["signal-source"],
    "mains_input": ["mains-input"],
    "power_supply": ["low-voltage-supply", "rail-decoupling"],
    "heater_chain": ["heater-supply"],
    "tuner": ["tuner"],
    "if_amplifier": ["if-amplifier"],
    "video_detector": ["video-detector"],
    "agc": ["agc"],
    "sound": ["sound"],
    "video_amplifier": ["video-output", "video-coupling"],
    "sync_separator": ["sync-separator", "sync-amplifier"],
    "vertical_sync_path": ["vertical-integrator", "sync-amplifier"],
    "horizontal_afc": ["horizontal-afc"],
    "vertical_oscillator": ["vertical-oscillator"],
    "vertical_drive": ["vertical-sawtooth", "vertical-oscillator"],
    "vertical_output": ["vertical-output"],
    "horizontal_oscillator": ["horizontal-oscillator"],
    "horizontal_drive": ["horizontal-drive"],
    "horizontal_output": ["horizontal-output", "flyback-transformer"],
    "damper_boost": ["damper-boost"],
    "high_voltage_rectifier": ["high-voltage"],
    "deflection_yoke": ["horizontal-yoke", "vertical-yoke"],
    "picture_tube": ["picture-tube"],
    "picture_tube_supplies": ["picture-tube-supplies"],
    "neck_magnets": ["neck-magnets"],
    "controls": ["picture-tube-supplies"],
}


def _load(name):
    return yaml.safe_load((REFERENCE / name).read_text(encoding="utf-8"))


def _chassis(case):
    """Return the shipped receiver that is most like the set of a case."""
    if case["standard"].startswith("405") or case["standard"] == "819":
        return "teal-14"
    if case["standard"] == "625":
        return "curlew-19"
    return "dunlin-24" if case.get("supply") == "series" else "plover-17"


def _right(answer):
    words = [answer["stage"], *answer.get("stage_also", []), *filter(None, [answer.get("second_stage")])]
    return {stage for word in words for stage in STAGES[word]}


@pytest.mark.benchmark
def test_symptoms_alone_are_scored():
    """Every mapped case is ranked from its symptoms alone; the table of misses is printed."""
    cases, mapping = _load("documented_repairs.yaml")["cases"], _load("documented_mapping.yaml")["mapping"]
    answers = _load("documented_repairs_answers.yaml")["answers"]
    benches = {name: make_workbench(name) for name in ("plover-17", "dunlin-24", "curlew-19", "teal-14")}
    places = {}
    for case in cases:
        entries = [Entry("symptom", name) for name in mapping[case["id"]]]
        ranking = assess(benches[_chassis(case)], entries).ranking
        order = [stage for stage, _ in ranking.stages]
        here = [order.index(stage) + 1 for stage in _right(answers[case["id"]]) if stage in order]
        places[case["id"]] = (min(here, default=99), order[0], case["kind"])
    for kind in ("single", "two-fault", "experience", ""):
        found = [place for place, _, k in places.values() if kind in ("", k)]
        for most in (1, 3):
            share = sum(p <= most for p in found) / len(found)
            error = math.sqrt(share * (1 - share) / len(found))
            print(f"{kind or 'all':10s} n={len(found):3d} within {most}: {share:.2f} +- {error:.2f}")
    for name, (place, first, _) in places.items():
        if place > 3:
            print(f"miss {name}: right stage in place {place}, first was {first}; symptoms {mapping[name]}")

    assert len(places) == len(cases) >= 60
