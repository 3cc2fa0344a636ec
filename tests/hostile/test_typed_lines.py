"""Whatever is typed at the prompts, the conversation goes on or ends in words, and the session stays readable."""

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from backporch.engine.cli.conversation import Conversation
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.questions import COMMANDS
from backporch.engine.session.reading import read_reading
from backporch.engine.session.recorded import entries_of, scenario_of

OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]
REST = st.sampled_from(
    ["", " 1", " 3", " C26", " V5", " locks", " 62 V", " sync-separator out good", " none", " -1", " 99"]
)
WORDS = st.builds(lambda word, rest: word + rest, st.sampled_from(sorted(set(COMMANDS) - {"quit"})), REST)
ANSWERS = st.sampled_from(
    [
        "1",
        "2",
        "3",
        "?",
        "",
        "62",
        "picture rolls",
        "V11 pin1 40, b+ 280",
        "here",
        "there",
        "cured",
        "partly",
        "tap V5",
    ]
)
LINES = st.lists(WORDS | ANSWERS | st.text(max_size=30), max_size=6)


class Typed:
    """A person who types these lines, and then no more."""

    interactive = True

    def __init__(self, lines):
        """Take the lines."""
        self.lines = iter(lines)

    def ask(self, prompt):  # noqa: ARG002
        """Give the next line."""
        return next(self.lines, None)


@pytest.fixture(scope="module")
def interview():
    """An interview over a shipped chassis."""
    return Interview(make_workbench("plover-17"))


@given(LINES)
@settings(max_examples=10, deadline=None)
def test_any_lines_are_taken_or_refused_in_words(interview, lines):
    """No line makes the program fail; what is kept is a session that can be written and read."""
    start = Entry("start", "chassis", "plover-17")
    kept = [start]
    pages = Pages(Screen(Console(quiet=True), interview.workbench))
    find = lambda text: find_symptoms(interview.workbench.library, text)  # noqa: E731
    with suppress(BackporchError):
        Conversation(
            interview, [start], kept.append, Typed([*OPENING, "picture-rolls-up", "", *lines]), pages, find
        ).run()
    standing = live(kept)

    assert len(kept) >= len(OPENING)
    assert entries_of(scenario_of(entries_of(scenario_of(standing)))) == entries_of(scenario_of(standing))


@given(st.text(max_size=40), st.sampled_from(["V", "ohm", "A", "Hz"]))
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_reading_or_refused(text, unit):
    """Whatever is typed for a reading gives bounds in order, or a sentence."""
    with suppress(BackporchError):
        reading = read_reading(text, unit)
        assert reading.low <= reading.high
