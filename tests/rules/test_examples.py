"""Every rule has facts under which it fires and a near miss."""

from __future__ import annotations

import pytest

from backporch.engine.chassis.hypotheses import all_hypotheses, priors
from backporch.engine.chassis.load import load_chassis
from backporch.engine.facts import Fact, Fed, Looped, Passed, Traced
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.ranking import weigh_findings
from backporch.engine.rule_study import example_of, fires, left_without, without_rule
from backporch.engine.rulebook import rule_shapes
from backporch.engine.session.evidence import chassis_facts
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = rule_shapes(BOOKS)
GOOD_VIDEO = Traced(stage="video-output", port="out", state="good")
NO_SYNC = Traced(stage="sync-amplifier", port="out", state="absent")
BY_HAND: dict[str, tuple[list[Fact], Fact]] = {
    "two_dead_stages_on_one_rail_blame_the_rail": (
        [
            *(Fed(stage=stage, rail="r", maker="rail-decoupling") for stage in ("tuner", "video-output")),
            Traced(stage="tuner", port="supply", state="absent"),
        ],
        Traced(stage="video-output", port="supply", state="absent"),
    ),
    "good_further_on_clears_what_was_passed": (
        [Passed(first="if-amplifier", stage="video-output", port="out")],
        GOOD_VIDEO,
    ),
    "bad_further_on_may_be_lost_before": (
        [Passed(first="sync-separator", stage="sync-amplifier", port="out")],
        NO_SYNC,
    ),
    "bad_out_in_a_loop_may_be_made_anywhere_in_it": (
        [Looped(stage="if-amplifier", other="agc")],
        Traced(stage="if-amplifier", port="out", state="weak"),
    ),
    "good_before_and_bad_out_is_lost_up_to_here": (
        [Passed(first="video-output", stage="sync-amplifier", port="out"), NO_SYNC],
        GOOD_VIDEO,
    ),
    "good_before_and_bad_behind_is_lost_between": (
        [
            Passed(first="sync-separator", stage="sync-amplifier", port="out"),
            Passed(first="video-output", stage="sync-amplifier", port="out"),
            NO_SYNC,
        ],
        GOOD_VIDEO,
    ),
}
"""Rules that compare two stages, which no pattern tells: facts, and the one without which they stay silent."""
COMPANY = ("raster-dim", "sound-hum", "picture-rolls", "no-raster", "height-too-small", "smeared", "blooming")
"""Signs put beside an example, as a second fault would show them."""


@pytest.fixture(scope="module")
def inference():
    """Build the rule base once."""
    return Inference(BOOKS, LIBRARY.usual_suspects)


@pytest.fixture(scope="module")
def chassis():
    """Give the circumstances of the shipped receivers, with their priors and the stages of these."""
    found = {}
    for name in ("plover-17", "teal-14", "dunlin-24"):
        one = load_chassis(name, LIBRARY)
        hypotheses = all_hypotheses(one, LIBRARY)
        stages = [h.stage for h in hypotheses]
        found[name] = (list(chassis_facts(LIBRARY, one)), priors(hypotheses, LIBRARY), stages)
    return found


def _example(shape, inference, chassis):
    """Return an example of a rule with the chassis that it is for, or None."""
    for name, (circumstances, _, _) in chassis.items():
        example = example_of(shape, SHAPES, inference, circumstances)
        if example is not None:
            return name, example
    return None


class TestExamples:
    @pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.__name__)
    def test_each_rule_fires_and_has_a_near_miss(self, book, inference, chassis):
        """Every rule of the book fires on some facts, and with one of them left out it does not."""
        shapes = [s for s in SHAPES if s.book == book.__name__ and s.name not in BY_HAND]

        assert [s.name for s in shapes if _example(s, inference, chassis) is None] == []

    @pytest.mark.parametrize("name", BY_HAND)
    def test_a_rule_that_compares_two_stages_fires(self, name, inference):
        """A rule on two stages needs what is known of both."""
        facts, last = BY_HAND[name]

        assert fires(name, inference.run([*facts, last]))
        assert not fires(name, inference.run(facts))


class TestStandards:
    @pytest.mark.parametrize("start", range(4))
    def test_a_rule_fires_on_every_standard_that_it_claims(self, start, inference):
        """Of every eleventh rule: its example fires on 525, 625 and 405 lines, unless it asks for other ones.

        Left out are rules that deny a way of building a set, such as a gun without an ion trap.
        """
        lame = []
        for name in ("plover-17", "curlew-19", "teal-14"):
            circumstances = list(chassis_facts(LIBRARY, load_chassis(name, LIBRARY)))
            for shape in SHAPES[start * 3 :: 11]:
                denies = any(c.negated and c.one_of[0].kind == "Trait" for c in shape.clauses)
                if shape.name in BY_HAND or shape.standards != "all" or denies:
                    continue
                if example_of(shape, SHAPES, inference, circumstances) is None:
                    lame.append((name, shape.name))

        assert lame == []

    def test_some_rules_are_bound_to_a_standard(self):
        """Rules on specks, pairing and empty screens say which modulation or standard they are for."""
        bound = {shape.name: shape.standards for shape in SHAPES if shape.standards != "all"}

        assert bound["white_specks_are_interference_with_positive_modulation"] == "positive"
        assert bound["pairing_alone_is_common_without_equalizing_pulses"] == "405/50"


class TestRemoval:
    def test_leaving_a_rule_out_of_the_books_agrees_with_the_study(self, inference, chassis):
        """A rule base built without a rule concludes what the study says that it would."""
        shape = next(s for s in SHAPES if s.name == "narrow_alone_clears_the_vertical")
        _, example = _example(shape, inference, chassis)
        built = Inference(without_rule(BOOKS, shape.name), LIBRARY.usual_suspects).run(example.facts)

        assert built.deductions == left_without(inference.run(example.facts), shape.name).deductions


class TestStrength:
    @pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.__name__)
    def test_what_is_joined_says_no_less_than_its_parts(self, book, inference, chassis):
        """In its example a rule moves its stage in its own direction, at least as far as the single signs would.

        Half a word of strength is let pass: beyond conclusive there is no word.
        """
        lame = []
        for shape in SHAPES:
            if shape.book != book.__name__ or shape.name in BY_HAND or shape.concludes.kind != "Finding":
                continue
            _, example = _example(shape, inference, chassis)
            conclusion = inference.run(example.facts)
            with_it, without = _sums(conclusion), _sums(left_without(conclusion, shape.name))
            sign = 1.0 if shape.concludes.get("direction") == "for" else -1.0
            told = {d.concluded.get("stage") for d in conclusion.deductions if d.rule == shape.name}
            if any(sign * (with_it.get(s, 0.0) - without.get(s, 0.0)) < -0.6 for s in told):
                lame.append(shape.name)

        assert lame == []


def _sums(conclusion):
    sums: dict[str, float] = {}
    for finding in weigh_findings(conclusion, LIBRARY.strengths):
        if finding.counted:
            sums[finding.stage] = sums.get(finding.stage, 0.0) + finding.log_ratio
    return sums
