"""A lesson while it goes on: answers, minutes, danger, naming."""

import pytest

from backporch.engine.errors import BadInput
from backporch.engine.training.act import Act
from backporch.engine.training.advice import tool_plan
from backporch.engine.training.choices import Choices
from backporch.engine.training.debrief import debrief
from backporch.engine.training.hints import hint, why_useless
from backporch.engine.training.seen import figures
from backporch.engine.training.support import SUPPORT

OFF = (Act("bench", "plug-out"), Act("bench", "discharge"))


def _after(course, *acts):
    run = course.start()
    for act in acts:
        run = course.do(run, act)
    return run


class TestTests:
    def test_answers_what_the_hidden_set_shows(self, course):
        """The cathode of an output tube without plate current stands near nothing."""
        made = course("T8=open-winding")
        run = _after(made, Act("test", "read-vertical-output-cathode"))

        assert made.patient().reading(made.offer("read-vertical-output-cathode")) < 0.5
        assert run.moments[-1].answer.endswith(" mV") or run.moments[-1].answer == "0 V"

    def test_access_is_paid_once(self, course):
        """The first reading pays for opening the chassis, the second only for itself."""
        run = _after(course("T8=open-winding"), Act("test", "read-b-plus"), Act("test", "read-rail-vertical"))

        assert run.moments[0].minutes > 5
        assert run.moments[1].minutes == pytest.approx(0.7)
        assert run.clock == pytest.approx(run.moments[0].minutes + 0.7)

    def test_the_minutes_are_those_of_the_planner(self, course):
        """Minutes of a lesson are the planner's, access among them."""
        made = course("C8=open")
        acts = [Act("test", t) for t in ("turn-vertical-hold", "read-b-plus", "ripple-at-rail-vertical")]
        run = _after(made, *acts)

        tests, _ = made.interview.minutes_spent(run.entries)

        assert run.clock == pytest.approx(tests)

    def test_refuses_to_ask_the_same_twice(self, course):
        """A test that was made is not paid for again."""
        made = course("T8=open-winding")
        run = _after(made, Act("test", "read-b-plus"))

        with pytest.raises(BadInput, match="You know this already"):
            made.do(run, Act("test", "read-b-plus"))


class TestControls:
    @pytest.mark.parametrize("where", ["0", "0.25", "0.8", "1"])
    def test_the_roll_is_the_difference_of_two_rates(self, course, where):
        """With its sync lost, a picture rolls at field rate minus the rate that the hold control gives."""
        made = course("C26=shorted")
        run = _after(made, Act("turn", "P4", where))
        result = made.patient().at(dict(run.positions))

        assert result.picture["roll_hz"][0] == pytest.approx(
            result.inner["field_hz"][0] - result.inner["field_free_hz"][0]
        )

    def test_turning_the_hold_up_slows_the_oscillator(self, course):
        """More resistance at the hold control lowers the free rate and turns the roll round."""
        made = course("C26=shorted")
        low, high = (_after(made, Act("turn", "P4", w)) for w in ("0.2", "0.9"))
        roll = [made.patient().at(dict(r.positions)).picture["roll_hz"][0] for r in (low, high)]

        assert roll[0] < 0 < roll[1]

    def test_turning_a_control_is_its_test(self, course):
        """Who holds a control somewhere has made the test of that control, and pays for it once."""
        made = course("C26=shorted")
        run = _after(made, Act("turn", "P4", "0.2"), Act("turn", "P4", "0.9"))

        assert made.answered(run, "turn-vertical-hold") == "stops-but-slips"
        assert [round(m.minutes, 2) for m in run.moments] == [0.6, 0.1, 0.1]

    def test_no_roll_is_told_where_no_picture_is_seen(self, course):
        """On an empty raster nobody sees that the rate is off."""
        made = course("V3=heater-open")
        shown = made.patient().at()

        assert abs(shown.picture["roll_hz"][0]) > 1
        assert not [line for line in figures(shown) if "rolls" in line]


class TestDanger:
    @pytest.mark.parametrize(
        ("acts", "check"),
        [
            ((Act("test", "part-test@C26"),), "set-on"),
            ((Act("bench", "plug-out"), Act("test", "read-flyback-ohms")), "not-discharged"),
            ((*OFF, Act("bench", "switch-on"), Act("test", "part-test@C26")), "set-on"),
            ((Act("forbidden", "horizontal-output-plate"),), "forbidden-point"),
            ((Act("forbidden", "flyback-taps"),), "forbidden-point"),
        ],
    )
    def test_the_first_unsafe_step_ends_the_lesson(self, course, acts, check):
        """Work inside a charged set and a meter on a flyback plate end the lesson and count."""
        run = _after(course("C26=shorted"), *acts)

        assert (run.ending, run.unsafe.check) == ("unsafe", check)
        assert all(s.count(".") == 1 and s.endswith(".") for s in run.unsafe.sentences)

    @pytest.mark.parametrize(
        ("test", "check"), [("ripple-at-b-plus", "earthed-instrument"), ("read-b-plus", "live-")]
    )
    def test_a_live_chassis_and_an_earthed_instrument(self, course, test, check):
        """A mains-connected chassis on an earthed oscilloscope, or under a meter, ends the lesson."""
        run = _after(course("C26=shorted", chassis="dunlin-24", isolation="direct"), Act("test", test))

        assert run.ending == "unsafe"
        assert check in run.unsafe.check

    def test_an_isolating_transformer_lets_the_oscilloscope_on(self, course):
        """From an isolating transformer the same step is allowed."""
        made = course("C26=shorted", chassis="dunlin-24", isolation="direct")
        run = _after(made, Act("bench", "isolate"), Act("test", "ripple-at-b-plus"))

        assert run.ending == ""

    def test_discharging_with_power_on_is_refused(self, course):
        """Discharging is not taken for done while the set has power."""
        made = course("C26=shorted")

        with pytest.raises(BadInput, match="plug out"):
            made.do(made.start(), Act("bench", "discharge"))

    def test_nothing_goes_on_after_the_end(self, course):
        """A lesson that has ended takes no more acts."""
        made = course("C26=shorted")
        run = _after(made, Act("forbidden", "flyback-taps"))

        with pytest.raises(BadInput, match="has ended"):
            made.do(run, Act("test", "read-b-plus"))


class TestNaming:
    def test_a_guess_counts_for_nothing(self, course):
        """The right part, named before the answers support it, is a guess."""
        run = _after(course("C26=shorted"), Act("name", "C26", "vertical-integrator"))

        assert run.ending == "unsupported"

    def test_a_supported_name_ends_the_lesson(self, course):
        """The right part with answers behind it ends the lesson."""
        made = course("C26=shorted")
        tests = ("turn-vertical-hold", "vertical-sync-at-integrator")
        run = _after(made, *(Act("test", t) for t in tests), *OFF, Act("test", "part-test@C26"))

        assert made.support(run, "C26") >= SUPPORT
        assert made.do(run, Act("name", "C26", "vertical-integrator")).ending == "found"

    def test_a_part_proved_bad_may_be_named(self, course):
        """A part that was lifted and found bad is supported, whatever the odds say."""
        made = course("C26=shorted")
        run = _after(made, *OFF, Act("test", "part-test@C26"))

        assert made.support(run, "C26") < SUPPORT
        assert made.do(run, Act("name", "C26", "vertical-integrator")).ending == "found"
        assert made.do(run, Act("name", "C27", "vertical-integrator")).ending == "wrong"

    def test_the_tool_names_what_was_proved(self, course):
        """After a part was proved bad the deepest hint asks for no more tests."""
        made = course("C26=shorted")
        run = _after(made, *OFF, Act("test", "part-test@C26"))

        assert hint(made, run, 3) == "No test is needed any more: your answers point to C26. Name it."

    def test_the_only_dark_tube_may_be_named(self, course):
        """Who looks at the tubes sees which one is dark, and may name it."""
        made = course("V14=heater-open")
        run = _after(made, Act("test", "look-at-the-heaters"))

        assert run.moments[-1].answer == "One is dark: V14"
        assert made.do(run, Act("name", "V14", "vertical-output")).ending == "found"

    @pytest.mark.parametrize(
        ("stage", "ending"), [("sync-separator", "found"), ("sync-amplifier", "found"), ("sound", "wrong")]
    )
    def test_a_fault_of_the_whole_tube_counts_in_each_of_its_stages(self, course, stage, ending):
        """A double tube that is dark is at fault in the stages of both its sections."""
        made = course("V11A=heater-open")
        run = _after(made, Act("test", "look-at-the-heaters"))

        assert made.do(run, Act("name", "V11", stage)).ending == ending

    @pytest.mark.parametrize(("part", "stage"), [("C26", "vertical-output"), ("C27", "vertical-integrator")])
    def test_wrong_part_or_stage_is_wrong(self, course, part, stage):
        """Both part and stage must be right."""
        assert _after(course("C26=shorted"), Act("name", part, stage)).ending == "wrong"

    def test_of_two_faults_the_second_stays(self, course):
        """When the first of two faults is changed the set shows what the other one does."""
        made = course("C26=shorted", "C49=open")
        run = _after(made, Act("test", "vertical-sync-at-integrator"), *OFF, Act("test", "part-test@C26"))
        run = made.do(run, Act("name", "C26", "vertical-integrator"))
        symptoms = {e.key for e in run.entries if e.kind == "symptom"}

        assert {"picture-rolls-up", "retrace-lines"} <= set(made.patient().symptoms)
        assert (run.ending, symptoms) == ("", {"retrace-lines", "sound-good"})


@pytest.fixture(scope="module")
def choices(course):
    """What may be chosen on one set."""
    return Choices(course("C28=open"))


class TestChoices:
    @pytest.mark.parametrize(
        ("words", "key"),
        [
            ("do the tubes glow", "look-at-the-heaters"),
            ("scope on the sawtooth", "sawtooth-at-capacitor"),
            ("lift C8", "part-test@C8"),
            ("swap the B+ rectifier", "exchange-tube@V20"),
            ("read B+", "read-b-plus"),
            ("resistance of the vertical yoke", "read-vertical-yoke-ohms"),
            ("put the meter on the anode", "anode-voltage"),
            ("meter on the flyback plate", "horizontal-output-plate"),
        ],
    )
    def test_everyday_words_find_a_test(self, choices, words, key):
        """What a newcomer says finds the test among the first three."""
        assert key in [choice.act.key for choice in choices.find(words)[:3]]

    def test_the_beginning_of_one_title_names_it(self, choices):
        """The first words of a title are enough where no other test begins with them."""
        found = choices.find("read the cathode of the vertical output")

        assert [choice.act.key for choice in found] == ["read-vertical-output-cathode"]
        assert len(choices.find("read the plate of the")) > 1

    def test_what_fits_nothing_is_said_to(self, choices):
        """Words that fit nothing are answered with what there is."""
        with pytest.raises(BadInput, match="looks, sounds, controls"):
            choices.find("xyzzy plugh")


class TestHints:
    def test_three_depths_say_more_and_more(self, course):
        """The first hint is the teacher's, the second names a stage, the third a test."""
        made = course("C28=open")
        first, second, third = (hint(made, made.start(), depth) for depth in (1, 2, 3))

        assert first == made.lesson.think
        assert "this stage:" in second
        assert third.endswith("min.")

    def test_a_useless_test_is_explained(self, course):
        """After a part test far away from the fault it says how many sets would have answered so."""
        made = course("C28=open")
        run = _after(made, *OFF, Act("test", "part-test@R9"))

        assert run.moments[-1].useless
        assert "in 100 of the sets" in why_useless(made, run)

    def test_no_test_no_reason(self, course):
        """Before any test there is nothing to explain."""
        made = course("C28=open")

        with pytest.raises(BadInput, match="No test was made"):
            why_useless(made, made.start())


class TestDebrief:
    def test_names_the_deciding_reading_with_its_formula(self, course):
        """The reading that spoke most for the part comes with the computation of its healthy value."""
        made = course("C35=leaky")
        tool = tool_plan(made)
        told = debrief(made, tool.run, tool)

        assert told.enough is not None
        assert told.enough == told.tool_enough
        assert told.deciding is not None
        assert told.deciding.steps
        assert told.read
