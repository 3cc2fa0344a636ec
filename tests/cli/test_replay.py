"""Every scenario that is shipped comes out as it says."""

from pathlib import Path

import pytest

from backporch.engine.cli.replay import run_one
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.scenario import load_scenario

SCENARIOS = sorted((Path(__file__).parent.parent.parent / "scenarios").rglob("*.yaml"))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_the_scenario_is_found(path):
    """The expected stage and part are found within the minutes allowed."""
    _, outcome = run_one(path)

    assert outcome.difference == ""


class TestCollection:
    def test_there_are_enough_over_all_families(self):
        """At least twelve scenarios cover all five families of the design."""
        stages = shipped().stages
        sections = {stages[load_scenario(p).expect.stage].section for p in SCENARIOS}

        assert len(SCENARIOS) >= 12
        assert {"vertical", "sync", "signal", "horizontal", "heater"} <= sections

    def test_six_rolling_pictures_end_in_six_places(self):
        """Six scenarios of a rolling picture have six different faulty parts."""
        rolling = [load_scenario(p) for p in SCENARIOS if p.stem.startswith("rolls")]

        assert len({s.expect.part for s in rolling}) >= 6
