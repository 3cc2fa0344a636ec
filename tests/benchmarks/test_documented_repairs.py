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


SAID = [Entry("circumstance", "supply-aid", "full-mains"), Entry("circumstance", "hearing", "hears")]
"""Those who write a repair up ran the set at full mains, and whoever names a whistle can hear one."""
SHARES = {"none": 0.0, "low": 0.7, "good": 1.0, "high": 1.25}
"""What a word for a reading stands for, as a share of the middle of the healthy band."""


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


def _reading(bench, offer, word):
    """Return what a word for a reading stands for on this receiver, as it would be typed."""
    band, unit = bench.faults.bins(offer), bench.faults.offers[offer].measurement.reading.unit
    return f"{SHARES[word] * (band.low + band.high) / 2:.6g} {unit}"


def _entries_of_readings(bench, stated):
    """Give the entries of what was read; what this receiver has no place for is left out."""
    for offer, word in stated.get("answers", {}).items():
        if offer in bench.faults.offers:
            numeric = bench.faults.offers[offer].measurement.reading is not None
            yield Entry("answer", offer, _reading(bench, offer, word) if numeric else word)
    for port, state in stated.get("traces", {}).items():
        if port.partition(".")[0] in bench.chassis.stages:
            yield Entry("trace", port, state)


def _place(bench, entries, right):
    ranking = assess(bench, [*SAID, *entries]).ranking
    order = [stage for stage, _ in ranking.stages]
    return min((order.index(stage) + 1 for stage in right if stage in order), default=99), order[0]


def _report(title, places):
    for most in (1, 3):
        share = sum(place <= most for place in places) / max(len(places), 1)
        error = math.sqrt(share * (1 - share) / max(len(places), 1))
        print(f"{title:34s} n={len(places):3d} within {most}: {share:.2f} +- {error:.2f}")


@pytest.fixture(scope="module")
def benches():
    """Set up the shipped receivers once."""
    return {name: make_workbench(name) for name in ("plover-17", "dunlin-24", "curlew-19", "teal-14")}


@pytest.mark.benchmark
def test_repairs_are_scored_twice(benches):
    """Every mapped case is ranked from its symptoms, and again with what was read; each miss is told, and why."""
    cases, mapping = _load("documented_repairs.yaml")["cases"], _load("documented_mapping.yaml")["mapping"]
    answers = _load("documented_repairs_answers.yaml")["answers"]
    stated = _load("documented_readings_mapping.yaml")["mapping"]
    reasons = _load("documented_misses.yaml")["reasons"]
    first, second, leads = {}, {}, {}
    for case in cases:
        name, bench = case["id"], benches[_chassis(case)]
        seen = [Entry("symptom", symptom) for symptom in mapping[name]]
        right = _right(answers[name])
        first[name], _ = _place(bench, seen, right)
        second[name], leads[name] = _place(
            bench, [*seen, *_entries_of_readings(bench, stated.get(name, {}))], right
        )
    kinds = {case["id"]: case["kind"] for case in cases}
    for kind in ("single", "two-fault", "experience"):
        _report(f"{kind}, symptoms alone", [place for name, place in first.items() if kinds[name] == kind])
    _report("all, symptoms alone", list(first.values()))
    _report("all, after the stated readings", list(second.values()))
    _report("with a reading, symptoms alone", [first[name] for name in stated])
    _report("with a reading, after it", [second[name] for name in stated])
    for name, place in second.items():
        if place > 3:
            print(
                f"miss {name}: place {place}, first {leads[name]}, from {mapping[name]}: {reasons.get(name, '?')}"
            )

    assert len(second) == len(cases) >= 60
