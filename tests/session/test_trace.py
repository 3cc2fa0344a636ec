"""Signal tracing incriminates and clears stages, and waits inside closed loops."""

import pytest

from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.facts import Fed, Feeds, Member, Traced, Trait
from backporch.engine.inference import Inference
from backporch.engine.session.trace import read_trace
from backporch.rules import BOOKS

RULES = Inference(BOOKS)


def _findings(*facts):
    """Return the findings that follow from facts, as (stage, direction)."""
    found = RULES.run(facts).findings
    return {(d.concluded.get("stage"), d.concluded.get("direction")) for d in found}


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
            Feeds(upstream="video-output", downstream="sync-separator"),
            Member(group="ahead-of-sync-separator", stage="video-output"),
        )

        assert ("video-output", "against") in found

    def test_tracing_waits_inside_a_closed_loop(self):
        """Inside the AGC loop a missing output says nothing until the loop is opened."""
        facts = [
            Traced(stage="if-amplifier", port="in", state="good"),
            Traced(stage="if-amplifier", port="supply", state="good"),
            Traced(stage="if-amplifier", port="out", state="absent"),
            Member(group="loop-agc", stage="if-amplifier"),
        ]

        assert ("if-amplifier", "for") not in _findings(*facts)
        assert ("if-amplifier", "for") in _findings(*facts, Trait(name="loop-agc-opened", value="yes"))

    def test_two_stages_without_supply_blame_their_rail(self):
        """Two stages on one rail without supply incriminate the maker of the rail."""
        found = _findings(
            Traced(stage="sync-separator", port="supply", state="absent"),
            Traced(stage="vertical-output", port="supply", state="absent"),
            Fed(stage="sync-separator", rail="b-plus", maker="low-voltage-supply"),
            Fed(stage="vertical-output", rail="b-plus", maker="low-voltage-supply"),
        )

        assert ("low-voltage-supply", "for") in found
