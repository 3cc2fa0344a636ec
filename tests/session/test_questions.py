"""Answers and commands are recognised as people type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.session.questions import Option, Question, choose, command_in

BAR = Question(
    id="bar",
    kind="outcome",
    title="Look at the bar",
    options=(Option("sync-darker", "Yes, the sync is darker"), Option("same-grey", "No, the same grey")),
)


class TestCommandIn:
    @pytest.mark.parametrize("text", ["can't", "cant", "can\u2019t", "CAN'T", " cannot "])
    def test_knows_cannot_in_every_spelling(self, text):
        """Every way of typing can't is the same command."""
        assert command_in(text).name == "can't"

    @pytest.mark.parametrize("text", ["-18", "1", "sync darker", "", "?"])
    def test_leaves_answers_alone(self, text):
        """An answer is no command."""
        assert command_in(text) is None

    def test_takes_the_term_after_what_is(self):
        """The term asked about comes without the question mark."""
        assert command_in("what is boosted B+?").rest == "boosted B+"


class TestChoose:
    @pytest.mark.parametrize("text", ["1", "sync-darker", "Sync darker", "yes", "y", "Yes, the"])
    def test_picks_by_number_key_or_beginning(self, text):
        """An option is picked by number, key or the beginning of its label."""
        assert choose(BAR, text) == "sync-darker"

    @pytest.mark.parametrize("text", ["?", "not sure", "Don\u2019t know"])
    def test_not_sure_is_an_answer(self, text):
        """Not sure is an answer to everything."""
        assert choose(BAR, text) == "unsure"

    def test_refuses_a_number_that_is_not_there(self):
        """A number past the last option is refused with the range."""
        with pytest.raises(BadInput, match="from 1 to 2"):
            choose(BAR, "3")

    def test_offers_the_nearest_answer(self):
        """A misspelt answer is refused with the nearest one."""
        with pytest.raises(UnknownWord, match="same-grey"):
            choose(BAR, "same-gray")

    @given(st.text(max_size=30))
    def test_anything_typed_is_an_option_or_a_refusal(self, text):
        """Whatever is typed picks an option, is unsure, or is refused clearly."""
        try:
            got = choose(BAR, text)
        except BadInput:
            return
        assert got in ("sync-darker", "same-grey", "unsure")
