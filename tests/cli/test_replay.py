"""Every scenario that is shipped comes out as it says."""

from collections import Counter
from pathlib import Path

import pytest

from backporch.engine.cli.replay import run_one
from backporch.engine.cli.setup import make_workbench
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.patient import Patient
from backporch.engine.session.scenario import load_scenario

SCENARIOS = sorted((Path(__file__).parent.parent.parent / "scenarios").rglob("*.yaml"))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_the_scenario_is_found(path):
    """The expected stage and part are found within the minutes allowed, and no part is changed twice."""
    _, outcome = run_one(path)
    changed = [entry.key for entry in outcome.entries if entry.kind == "repair"]

    assert outcome.difference == ""
    assert len(set(changed)) == len(changed)


class TestCollection:
    def test_there_are_enough_over_all_stages(self):
        """At least sixty scenarios end in every stage at least twice, on every shipped chassis."""
        scenarios = [load_scenario(p) for p in SCENARIOS]
        ends = Counter(s.expect.stage for s in scenarios)

        assert len(scenarios) >= 60
        assert [stage for stage in shipped().stages if ends[stage] < 2] == []
        assert set(shipped().chassis_names()) == {s.chassis for s in scenarios}

    def test_every_family_is_seen_often(self):
        """At least eight scenarios show a symptom of each of the five families."""
        seen = Counter()
        shelf = {}
        for scenario in map(load_scenario, SCENARIOS):
            bench = shelf.get(scenario.chassis) or shelf.setdefault(
                scenario.chassis, make_workbench(scenario.chassis)
            )
            hypotheses = bench.faults.hypotheses
            patient = Patient(bench.chassis, bench.library, hypotheses, scenario.faults, scenario.seed)
            seen.update({bench.library.symptoms[name].family for name in patient.symptoms})

        assert all(seen[family] >= 8 for family in ("raster", "sync", "video", "high-voltage", "heater"))

    def test_the_hard_cases_are_there(self):
        """Two faults at once, wrong answers, a poor bench and a substitute picture tube all occur."""
        scenarios = [load_scenario(p) for p in SCENARIOS]

        assert any(len(s.faults) > 1 for s in scenarios)
        assert any(s.faults and s.answers for s in scenarios)
        assert any(s.bench.lacking for s in scenarios)
        assert any(s.bench.rig for s in scenarios)

    def test_six_rolling_pictures_end_in_six_places(self):
        """Six scenarios of a rolling picture have six different faulty parts."""
        rolling = [load_scenario(p) for p in SCENARIOS if p.stem.startswith("rolls")]

        assert len({s.expect.part for s in rolling}) >= 6
