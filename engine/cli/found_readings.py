# SPDX-License-Identifier: MIT
"""Takes readings: the one that was asked for, and those typed as found; asks back where the pin may be wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from backporch.engine.cli.pages import Pages
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.session.alarms import ALARM_SYMPTOMS
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.found import Found, compared, looks_found, read_found
from backporch.engine.session.interview import Interview
from backporch.engine.session.moment import moment_of
from backporch.engine.session.questions import UNSURE, Option, Question, choose
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.record import Record
from backporch.engine.session.said_reading import in_figures
from backporch.engine.session.workbench import Offer
from backporch.engine.session.wrong_pin import Suspicion, likelier_pin

__all__ = ["FoundReadings"]


class FoundReadings:
    """Understands readings, checks them against the other pins of the tube, and keeps them."""

    def __init__(
        self,
        interview: Interview,
        record: Record,
        source: AnswerSource,
        pages: Pages,
        find: Callable[[str], Sequence[str]],
    ) -> None:
        """Keep readings in ``record``; ask through ``source`` and show through ``pages``."""
        self._interview = interview
        self._record = record
        self._source = source
        self._pages = pages
        self._find = find

    def take(self, question: Question, line: str) -> bool:
        """Take a line that says by itself where it was read; return whether it was one.

        Raises:
            BadInput: it names places and one of them, or its reading, is not understood.
        """
        if looks_found(line):
            self._keep_all(read_found(self._interview.workbench, line, self._find))
            return True
        if question.kind == "symptoms" or not any(c.isdigit() for c in line) or not any(c.isalpha() for c in line):
            return self._perhaps(line) if question.kind == "symptoms" else False
        if question.kind == "reading" and _is_reading(line, question.unit):
            return False
        return self._perhaps(line)

    def take_asked(self, question: Question, line: str) -> bool:
        """Take the reading that was asked for; return whether the question is answered."""
        line = in_figures(line, self._interview.workbench.faults.bins(question.id), question.unit)
        reading = read_reading(line, question.unit)
        if reading.shape == "unsure":
            self._record.keep(Entry("answer", question.id, UNSURE))
            return True
        key = self._believed(self._interview.workbench.faults.offers[question.id], reading)
        if not key:
            return False
        self._record.keep(Entry("answer", key, line.strip()))
        self._pages.asleep(counts=moment_of(self._record.standing) != "quiet")
        return True

    def _perhaps(self, line: str) -> bool:
        """Take a line that may be readings with named places; a line that is not is left for the question."""
        try:
            found = read_found(self._interview.workbench, line, self._find)
        except BadInput:
            return False
        self._keep_all(found)
        return True

    def _keep_all(self, found: Sequence[Found]) -> None:
        kept = []
        for one in found:
            believed = self._checked(one)
            if believed is None:
                continue
            self._record.keep(believed.entry)
            kept.append(believed)
            if believed.symptom in ALARM_SYMPTOMS:
                self._pages.alarm(ALARM_SYMPTOMS[believed.symptom])
                self._record.keep(Entry("alarm", believed.symptom))
            if believed.symptom:
                for key in self._pages.chosen(believed.symptom):
                    self._record.keep(Entry("caution", key))
        workbench = self._interview.workbench
        self._pages.found([(one, compared(workbench, one)) for one in kept])
        if kept:
            self._pages.decides(self._interview.decisive(self._record.standing))

    def _checked(self, one: Found) -> Found | None:
        """Return a found reading as it is believed, or None where the probe is to be put on again."""
        if one.offer is None or one.reading is None:
            return one
        key = self._believed(one.offer, one.reading)
        return replace(one, offer=self._interview.workbench.faults.offers[key]) if key else None

    def _believed(self, offer: Offer, reading: TypedReading) -> str:
        """Return at which place a reading is taken to be, or "" where it is to be read again."""
        workbench = self._interview.workbench
        belief = assess(workbench, self._record.standing).ranking.hypotheses
        doubt = likelier_pin(workbench, offer, reading, belief)
        if doubt is None:
            return offer.id
        question = _which_pin(doubt)
        self._pages.doubts(doubt, reading, question)
        while True:
            line = self._source.ask(self._pages.prompt)
            if line is None:
                return ""
            self._pages.echo(line, shown=self._source.interactive)
            try:
                key = choose(question, line)
            except BadInput as error:
                if not self._source.interactive:
                    raise
                self._pages.refused(error)
                continue
            return {"here": offer.id, "there": doubt.offer.id}.get(key, "")


def _which_pin(doubt: Suspicion) -> Question:
    options = (
        Option("here", f"On {doubt.asked}: the reading stands as it is"),
        Option("there", f"On {doubt.other}: take it as that"),
        Option("again", "I am not sure: I read it again"),
    )
    return Question("which-pin", "choice", "Where was the probe?", options)


def _is_reading(line: str, unit: str) -> bool:
    try:
        read_reading(line, unit)
    except BadInput:
        return False
    return True
