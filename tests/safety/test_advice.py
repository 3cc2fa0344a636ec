"""Whatever is shown passes one door: hints on suspects, expected points, answers through a limiter, alarms."""

from __future__ import annotations

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.safety.advice import advice, together
from backporch.engine.safety.gate import Needs
from backporch.engine.safety.set_facts import state_of_set
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.alarms import alarm_in
from backporch.engine.session.assess import assess
from backporch.engine.session.danger import safety_state
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.needs import needs_of_point
from backporch.engine.session.suspects import proof_of

AIDS = {
    "lamp": [("supply-aid", "lamp-limiter"), ("lamp-power", "60 W")],
    "unsure": [("supply-aid", "unsure")],
    "nothing said": [],
    "low": [("supply-aid", "variable"), ("variable-volts", "90 V")],
    "volts unknown": [("supply-aid", "variable")],
}
FULL = {
    "full": [("supply-aid", "full-mains")],
    "variable at its rating": [("supply-aid", "variable"), ("variable-volts", "115 V")],
}


@pytest.fixture(scope="module")
def plover():
    """Give a workbench over plover-17."""
    return make_workbench("plover-17")


def stages(workbench, aid, answer=True):
    """Return the odds of the stages after one symptom, and a reading of no B+ if asked."""
    entries = [Entry("circumstance", "condition", "worked-last-week"), Entry("symptom", "no-raster")]
    entries += [Entry("circumstance", key, value) for key, value in aid]
    entries += [Entry("answer", "read-b-plus", "3 V")] if answer else []
    return dict(assess(workbench, entries).ranking.stages)


class TestThroughALimiter:
    @pytest.mark.parametrize("aid", AIDS)
    def test_a_reading_moves_no_stage(self, plover, aid):
        """Through a lamp, at low mains, or where nobody said what there is, a reading with power tells nothing."""
        assert stages(plover, AIDS[aid]) == stages(plover, AIDS[aid], answer=False)

    @pytest.mark.parametrize("aid", FULL)
    def test_at_full_mains_it_does(self, plover, aid):
        """The same reading at the rated mains moves the stages."""
        assert stages(plover, FULL[aid]) != stages(plover, FULL[aid], answer=False)


class TestHints:
    def test_a_hint_with_power_is_withheld_after_an_alarm(self, plover):
        """The hint on a rectifier that is proved by another one is withheld after an alarm, and says why."""
        said = [Entry("circumstance", "supply-aid", "full-mains"), Entry("circumstance", "company", "accompanied")]
        said += [Entry("circumstance", "condition", "worked-last-week")]
        calm, word = proof_of(plover, "V20", safety_state(plover, said))
        held, hold = proof_of(plover, "V20", safety_state(plover, [*said, Entry("alarm", "smoke")]))

        assert (word.allowed, hold.allowed) == (True, False)
        assert word.before
        assert "Not now" not in calm
        assert held.startswith("Not now: Smoke")

    def test_cautions_are_gathered_once(self, plover):
        """Shown together, each caution and each reason is said once."""
        state, known = state_of_set(plover.chassis), plover.library.cautions
        words = [advice(needs_of_point(plover, point, 1000.0), state, known) for point in ("b-plus", "rail-sync")]

        assert together(words).before == words[0].before
        assert len(together(words).holds) == len(words[0].holds)

    def test_what_no_bench_lifts_is_told_apart(self):
        """A metal cone bars a step for good; a cold check that is due only for now."""
        near = Needs("focus", "control", "on", frozenset({"implosion"}))
        cone = SafetyState("isolated", envelope="metal-cone", high_voltage_source="flyback")
        glass = SafetyState("isolated", envelope="glass", high_voltage_source="flyback")

        assert advice(near, cone, {}).never.check == "metal-cone"
        assert advice(near, glass, {}).never is None
        assert not advice(near, glass, {}).allowed


class TestAlarms:
    @pytest.mark.parametrize("after", [Entry("undo", ""), Entry("edited", ""), Entry("resumed", "")])
    def test_nothing_but_a_mended_cause_ends_an_alarm(self, plover, after):
        """Neither undo nor an edited file nor a pause ends an alarm; a mended cause does."""
        entries = [Entry("alarm", "smoke"), Entry("symptom", "smoke"), after]
        mended = Entry("circumstance", "alarm-cause", "mended")

        assert safety_state(plover, live(entries)).alarms == {"smoke"}
        assert not safety_state(plover, live([*entries[::2], mended])).alarms

    @pytest.mark.parametrize("reading", ["400 mA", ">0.3"])
    def test_far_too_high_a_reading_is_one(self, plover, reading):
        """A current in the output tube that none stands puts the set off at the plug."""
        entries = [Entry("answer", "read-line-output-current", reading)]

        assert safety_state(plover, entries).alarms == {"far-too-much"}

    @pytest.mark.parametrize(
        ("text", "sign"),
        [
            ("there is smoke coming out", "smoke"),
            ("no smoke", None),
            ("sparks in the picture", None),
            ("a plate turns cherry red", "output-plate-red"),
            ("what is arcing", None),
        ],
    )
    def test_signs_are_heard_in_any_words(self, text, sign):
        """A sign is heard in a sentence, and is none where it is denied, asked for, or in the picture."""
        assert alarm_in(text) == sign
