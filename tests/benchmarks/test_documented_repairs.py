"""How often the diagnosis names, from what was seen alone, the stage that somebody really found at fault."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
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


_ADDED_FROM = "r076"
"""The cases from here on were added and mapped after the rules had been mended on the others."""
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
    for place, word in stated.get("parts", {}).items():
        yield from (Entry("answer", f"part-test@{part}", word) for part in _parts(bench, place))
    for place, word in stated.get("repairs", {}).items():
        yield from (Entry("repair", owner, word) for owner in _parts(bench, place) or _tubes(bench, place))
    for stage, word in stated.get("tubes", {}).items():
        yield from (Entry("answer", f"test-tube@{tube}", word) for tube in _tubes(bench, f"{stage}.tube"))
    for place, word in stated.get("exchanges", {}).items():
        full = place if "." in place else f"{place}.tube"
        yield from (Entry("answer", f"exchange-tube@{tube}", word) for tube in _tubes(bench, full))


def _parts(bench, place):
    """Return the parts of a stage that have a role; all of them for ``*``."""
    stage, _, role = place.partition(".")
    parts = bench.chassis.parts.items()
    return [name for name, part in parts if part.stage == stage and role in ("*", part.role)]


def _tubes(bench, place):
    """Return the tubes with a section in a stage: any of them where ``place`` ends with tube, else of its role."""
    stage, _, role = place.partition(".")
    tubes = bench.chassis.tubes.items()
    return [
        n
        for n, tube in tubes
        if any(s.stage == stage and role in ("tube", s.role) for s in tube.sections.values())
    ]


def _place(bench, entries, right):
    once = dict.fromkeys(entries)  # one tube may serve two stages, and was exchanged only once
    ranking = assess(bench, [*SAID, *once]).ranking
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


@dataclass(frozen=True)
class _Scores:
    """At which place the right stage stands in each case, and which stage is first after all readings."""

    alone: dict[str, int]
    first: dict[str, int]
    full: dict[str, int]
    leads: dict[str, str]
    told: frozenset[str]

    def report(self, title, names, reread=False):
        """Print the rows of some of the cases; ``reread`` where readings were mapped in two goes."""
        told = [name for name in names if name in self.told]
        _report(f"{title}, symptoms alone", [self.alone[name] for name in names])
        if reread:
            _report(f"{title}, after the first readings", [self.first[name] for name in names])
        _report(f"{title}, after all readings", [self.full[name] for name in names])
        _report(f"{title}, with a reading: before", [self.alone[name] for name in told])
        _report(f"{title}, with a reading: after", [self.full[name] for name in told])

    def __or__(self, other):
        """Join the scores of two sets of cases."""
        return _Scores(*(getattr(self, field.name) | getattr(other, field.name) for field in fields(self)))


def _score(benches, cases, mapping, answers, stated, later):
    alone, first, full, leads = {}, {}, {}, {}
    for case in cases:
        name, bench = case["id"], benches[_chassis(case)]
        seen = [Entry("symptom", symptom) for symptom in mapping[name]]
        right = _right(answers[name])
        read = list(_entries_of_readings(bench, stated.get(name, {})))
        more = list(_entries_of_readings(bench, later.get(name, {})))
        alone[name], _ = _place(bench, seen, right)
        first[name], _ = _place(bench, [*seen, *read], right)
        full[name], leads[name] = _place(bench, [*seen, *read, *more], right)
    return _Scores(alone, first, full, leads, frozenset(stated) | frozenset(later))


def _tell_misses(scores, mapping, reasons):
    for name, place in scores.full.items():
        if place > 1 and name in scores.told:
            print(f"read {name}: place {scores.alone[name]} before, {place} after, first {scores.leads[name]}")
    for name, place in scores.full.items():
        if place > 3:
            why = f": {reasons.get(name, '?')}" if reasons else ""
            print(f"miss {name}: place {place}, first {scores.leads[name]}, from {mapping[name]}{why}")


@pytest.mark.benchmark
def test_repairs_are_scored_twice(benches):
    """Every mapped case is ranked from its symptoms, and again with what was read; each miss is told, and why."""
    cases, mapping = _load("documented_repairs.yaml")["cases"], _load("documented_mapping.yaml")["mapping"]
    answers = _load("documented_repairs_answers.yaml")["answers"]
    stated = _load("documented_readings_mapping.yaml")["mapping"]
    later = _load("documented_readings_later.yaml")["mapping"]
    scores = _score(benches, cases, mapping, answers, stated, later)
    new_cases = _load("documented_repairs_2.yaml")["cases"]
    new_mapping = _load("documented_mapping_2.yaml")["mapping"]
    new_answers = _load("documented_repairs_2_answers.yaml")["answers"]
    new_stated = _load("documented_readings_mapping_2.yaml")["mapping"]
    new_scores = _score(benches, new_cases, new_mapping, new_answers, new_stated, {})

    kinds = {case["id"]: case["kind"] for case in cases}
    for kind in ("single", "two-fault", "experience"):
        _report(f"{kind}, symptoms alone", [scores.alone[name] for name in kinds if kinds[name] == kind])
    scores.report("first 75", [name for name in kinds if name < _ADDED_FROM], reread=True)
    scores.report("later fifteen", [name for name in kinds if name >= _ADDED_FROM], reread=True)
    scores.report("first set", list(kinds), reread=True)
    new_scores.report("second set", list(new_mapping))
    (scores | new_scores).report("both sets", [*kinds, *new_mapping])
    _tell_misses(scores, mapping, _load("documented_misses.yaml")["reasons"])
    _tell_misses(new_scores, new_mapping, {})

    assert len(scores.full) == len(cases) >= 60
    assert len(new_scores.full) == len(new_cases) == len(new_mapping)
