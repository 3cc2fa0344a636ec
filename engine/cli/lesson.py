# SPDX-License-Identifier: MIT
"""Steps through a scenario as a lesson: each question, why it was asked, the answer, and what it changed."""

from __future__ import annotations

from rich.console import Console

from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.source import AnswerSource
from backporch.engine.session.assess import Assessment, assess
from backporch.engine.session.described import ANSWERS, Described, describe
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.patient import Patient
from backporch.engine.session.replay import Replayed, replay
from backporch.engine.session.scenario import Scenario

__all__ = ["Lesson"]


class _Left(Exception):
    """The person has seen enough."""


class Lesson:
    """One scenario, shown step by step."""

    def __init__(
        self,
        console: Console,
        source: AnswerSource,
        scenario: Scenario,
        interview: Interview,
        patient: Patient | None,
    ) -> None:
        """Show ``scenario`` on ``console``; at a terminal ``source`` is waited for between the steps."""
        self._screen = Screen(console, interview.workbench)
        self._pages = Pages(self._screen)
        self._source = source
        self._scenario = scenario
        self._interview = interview
        self._patient = patient
        self._before: Assessment | None = None

    def run(self) -> Replayed | None:
        """Show the whole lesson; return what came of it, or None where it was left."""
        scenario = self._scenario
        self._screen.heading(scenario.title, scenario.chassis)
        if scenario.story:
            self._screen.say(f"  {scenario.story.strip()}")
        try:
            self._recorded()
            outcome = replay(scenario, self._interview, self._patient, self._step)
        except _Left:
            return None
        self._ending(outcome)
        return outcome

    def _recorded(self) -> None:
        """Show what was said in a session, in its order."""
        for n, entry in enumerate(self._scenario.said, 1):
            if entry.kind not in (*ANSWERS, "note", "watch"):
                continue
            self._answer(describe(self._pages.library, entry))
            so_far = live(self._scenario.said[:n])
            if any(e.kind == "symptoms-done" for e in so_far) and entry.kind in ("answer", "trace", "repair"):
                self._changed(assess(self._interview.workbench, so_far))
                self._wait()

    def _step(self, turn: Turn, value: str) -> None:
        if turn.assessment is not None:
            self._changed(turn.assessment)
            self._wait()
        question = turn.question
        if question is None:
            return
        standing = turn.assessment.entries if turn.assessment is not None else ()
        self._pages.cautions(turn, standing)
        self._pages.question(turn, standing, self._interview)
        if question.kind == "symptoms":
            seen = self._scenario.symptoms or (self._patient.symptoms if self._patient else ())
            for name in seen:
                self._answer(describe(self._pages.library, Entry("symptom", name)))
        else:
            label = next((o.label for o in question.options if o.key == value), value)
            self._answer(Described("", label or "left out"))

    def _answer(self, words: Described) -> None:
        self._screen.labelled([(">", str(words))])

    def _changed(self, now: Assessment) -> None:
        self._pages.changed(now, self._before)
        self._before = now

    def _wait(self) -> None:
        """At a terminal, wait until the person wants to see the next step."""
        if self._source.interactive:
            line = self._source.ask("Enter for the next step, q to leave: ")
            if line is None or line.strip().lower() in ("q", "quit"):
                raise _Left

    def _ending(self, outcome: Replayed) -> None:
        standing = outcome.entries
        turn = self._interview.turn(standing)
        if turn.assessment is not None and turn.assessment is not self._before:
            self._changed(turn.assessment)
        if turn.question is None:
            self._pages.ending(turn, standing, self._interview)
        else:
            self._pages.stopped(turn, input_ended=False)
        expect = self._scenario.expect
        if expect is not None:
            verdict = outcome.difference or "as it was expected"
            self._screen.say(f"  Expected {expect.stage} {expect.part or ''}: {verdict}.".replace(" :", ":"))
        if self._scenario.teaches:
            self._screen.labelled([("Learn", self._scenario.teaches.strip())])
