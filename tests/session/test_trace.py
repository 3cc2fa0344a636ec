"""Signal tracing incriminates and clears stages, and waits inside closed loops."""

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.facts import Fed, Looped, Member, Passed, Traced, Trait
from backporch.engine.inference import Inference
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.trace import read_trace
from backporch.rules import BOOKS

RULES = Inference(BOOKS)


def _findings(*facts):
    """Return the findings that follow from facts, as (stage, direction)."""
    found = RULES.run(facts).findings
    return {(d.concluded.get("stage"), d.concluded.get("direction")) for d in found}


def _strengths(stage, *facts):
    """Return how strongly the findings speak for a stage."""
    told = (d.concluded for d in RULES.run(facts).findings)
    return {c.get("strength") for c in told if (c.get("stage"), c.get("direction")) == (stage, "for")}


class TestReadTrace:
    def test_reads_stage_port_and_state(self):
        """A trace is read with or without hyphens in the stage."""
        assert read_trace("vertical output in good", ["vertical-output"]).key == "vertical-output.in"

    @pytest.mark.parametrize(("text", "error"), [("out good", BadInput), ("tuner out fine", UnknownWord)])
    def test_refuses_what_is_no_trace(self, text, error):
        """A trace with a word missing or unknown is refused."""
        with pytest.raises(error):
            read_trace(text, ["tuner"])


class TestTracingRules:
    GOOD_IN = Traced(stage="sync-separator", port="in", state="good")
    SUPPLY = Traced(stage="sync-separator", port="supply", state="good")

    def test_good_in_and_bad_out_incriminates(self):
        """Good in, good supply and nothing out: the stage is suspected."""
        out = Traced(stage="sync-separator", port="out", state="absent")

        assert ("sync-separator", "for") in _findings(self.GOOD_IN, self.SUPPLY, out)

    def test_good_out_clears_what_lies_ahead(self):
        """Good sync out of the separator clears the stages before it."""
        found = _findings(
            Traced(stage="sync-separator", port="out", state="good"),
            Passed(first="video-output", stage="sync-separator", port="out"),
        )

        assert ("video-output", "against") in found

    def test_tracing_waits_inside_a_closed_loop(self):
        """Inside the AGC loop a missing output blames all of the loop alike; opened, it blames the stage."""
        facts = [
            Traced(stage="if-amplifier", port="in", state="good"),
            Traced(stage="if-amplifier", port="supply", state="good"),
            Traced(stage="if-amplifier", port="out", state="absent"),
            Member(group="loop-agc", stage="if-amplifier"),
            Looped(stage="if-amplifier", other="agc"),
        ]

        assert _strengths("if-amplifier", *facts) == _strengths("agc", *facts) == {"moderate"}
        assert "conclusive" in _strengths("if-amplifier", *facts, Trait(name="loop-agc-opened", value="yes"))

    def test_two_stages_without_supply_blame_their_rail(self):
        """Two stages on one rail without supply incriminate the maker of the rail."""
        found = _findings(
            Traced(stage="sync-separator", port="supply", state="absent"),
            Traced(stage="vertical-output", port="supply", state="absent"),
            Fed(stage="sync-separator", rail="b-plus", maker="low-voltage-supply"),
            Fed(stage="vertical-output", rail="b-plus", maker="low-voltage-supply"),
        )

        assert ("low-voltage-supply", "for") in found


class TestTracingAlongTheSignal:
    """On a whole receiver what is good in one place and bad in the next finds the stage."""

    @staticmethod
    def _shares(*traces, chassis="teal-14", seen=("both-sync-lost",)):
        """Return each stage's share before and after some traces."""
        bench = make_workbench(chassis)
        entries = [Entry("symptom", name) for name in seen]
        traced = [Entry("trace", f"{stage}.{port}", state) for stage, port, state in traces]
        return [dict(assess(bench, e).ranking.stages) for e in (entries, [*entries, *traced])]

    @pytest.mark.parametrize("chassis", ["plover-17", "dunlin-24", "curlew-19", "teal-14"])
    def test_good_here_and_missing_there_finds_the_stage(self, chassis):
        """A whole picture signal at the video amplifier and no sync behind the separator: the separator."""
        _, after = self._shares(
            ("video-output", "out", "good"), ("sync-separator", "out", "absent"), chassis=chassis
        )

        assert max(after, key=after.get) == "sync-separator"

    def test_a_bad_output_leaves_what_lies_behind_out(self):
        """Nothing at the separator's output: the stages before it gain on those behind it."""
        before, after = self._shares(("sync-separator", "out", "absent"))

        for ahead, behind in (("if-amplifier", "horizontal-oscillator"), ("video-output", "vertical-integrator")):
            assert after[ahead] / after[behind] > 3 * before[ahead] / before[behind]

    def test_an_oscillator_that_beats_says_nothing_of_its_sync(self):
        """A good output of the vertical oscillator clears it and leaves the sync that should lock it suspected."""
        before, after = self._shares(("vertical-oscillator", "out", "good"), seen=("picture-rolls",))

        assert after["vertical-oscillator"] < before["vertical-oscillator"]
        assert after["vertical-integrator"] >= before["vertical-integrator"]

    def test_sync_at_the_oscillator_clears_its_path(self):
        """Good sync into the vertical oscillator clears the whole path of the sync."""
        before, after = self._shares(("vertical-oscillator", "in", "good"), seen=("picture-rolls",))

        for stage in ("vertical-integrator", "sync-separator", "if-amplifier"):
            assert after[stage] < before[stage]
