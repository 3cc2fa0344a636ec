"""Why a stage leads: at most six steps, the newest conclusion first, down to what was seen."""

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry

FULL = Entry("circumstance", "supply-aid", "full-mains")
SEEN = {
    "sync": ["both-sync-lost", "picture-overloaded", "sound-buzz"],
    "dark": ["no-raster", "sound-good", "no-high-voltage-signs"],
    "roll": ["picture-rolls-up", "hold-drifts", "sound-hum", "hum-bars-two"],
    "all": "height-too-small top-stretched width-too-small raster-dim sound-hum smeared worse-when-warm".split(),
}


@pytest.fixture(scope="module")
def workbench():
    """Give a bench with one chassis."""
    return make_workbench("plover-17")


@pytest.mark.parametrize("name", SEEN)
class TestReasons:
    def test_at_most_six_steps(self, workbench, name):
        """All chains together have at least one and at most six steps."""
        chains = assess(workbench, [FULL, *(Entry("symptom", s) for s in SEEN[name])]).reasons()

        assert 1 <= sum(map(len, chains)) <= 6

    def test_each_chain_begins_with_its_conclusion(self, workbench, name):
        """The first step of a chain speaks of a stage, and each later one is what an earlier one rests on."""
        chains = assess(workbench, [FULL, *(Entry("symptom", s) for s in SEEN[name])]).reasons()

        for chain in chains:
            resting = {s for step in chain for s in step.because}
            assert chain[0].concluded.kind == "Finding"
            assert all(step.concluded in resting for step in chain[1:])
