# SPDX-License-Identifier: MIT
"""The conversation of a diagnosis: shows a question, understands the line, saves it, shows what it changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime

from backporch.engine.cli.pages import Pages
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.safety.never import forbidden_in
from backporch.engine.session.alarms import ALARM_ANSWERS, ALARM_SYMPTOMS, alarm_in
from backporch.engine.session.assess import Assessment
from backporch.engine.session.by_hand import searched
from backporch.engine.session.cold_check import check_value
from backporch.engine.session.entry import Entry, EntryKind, live
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.questions import UNSURE, Command, Question, choose_or_amount, command_in
from backporch.engine.session.reading import read_reading
from backporch.engine.session.symptom_choice import Choosing, take_line
from backporch.engine.session.trace import read_trace

__all__ = ["Conversation", "Outcome"]

_MOST_WRONG = 20
_KINDS: dict[str, EntryKind] = {
    "choice": "circumstance",
    "outcome": "answer",
    "repair": "repair",
}


@dataclass(frozen=True)
class Outcome:
    """How the conversation ended."""

    entries: tuple[Entry, ...]
    turn: Turn
    ended: str
    """"cured", "nothing-left", "quit" or "input-ended"."""


class Conversation:
    """One run through the questions."""

    def __init__(
        self,
        interview: Interview,
        entries: Sequence[Entry],
        save: Callable[[Entry], None],
        source: AnswerSource,
        pages: Pages,
        find: Callable[[str], Sequence[str]],
    ) -> None:
        """Go on from ``entries``; ``save`` puts an entry on the disk before it returns."""
        self._interview = interview
        self._all = list(entries)
        self._save = save
        self._source = source
        self._pages = pages
        self._find = find
        self._hits: tuple[str, ...] = ()
        self._told: set[str] = set()

    def run(self) -> Outcome:
        """Ask until the end, and return how it ended."""
        before: Assessment | None = None
        while True:
            standing = live(self._all)
            turn = self._interview.turn(standing)
            if turn.assessment is not None:
                self._pages.changed(turn.assessment, before)
                before = turn.assessment
            if turn.question is None:
                self._pages.ending(turn, standing, self._interview)
                return Outcome(standing, turn, turn.ending)
            self._told |= self._pages.held_back(turn.held, self._told)
            for key in self._pages.cautions(turn, standing):
                self._keep(Entry("caution", key))
            self._pages.question(turn, standing, self._interview)
            ended = self._answer(turn, turn.question, standing)
            if ended:
                return Outcome(live(self._all), turn, ended)

    def _answer(self, turn: Turn, question: Question, standing: Sequence[Entry]) -> str:
        """Ask until the question is answered or left; return how the conversation ended, or ""."""
        wrong = 0
        while True:
            line = self._source.ask(self._pages.prompt)
            if line is None:
                self._pages.stopped(turn, input_ended=True)
                return "input-ended"
            self._pages.echo(line, shown=self._source.interactive)
            never = forbidden_in(line, self._pages.library.never)
            self._pages.never(never)
            try:
                sign = alarm_in(line)
                if sign is not None and self._alarmed(sign, question, line):
                    return ""
                command = command_in(line)
                if command is not None:
                    if command.name == "quit":
                        self._pages.stopped(turn, input_ended=False)
                        return "quit"
                    if self._command(command, turn, question, standing):
                        return ""
                    continue
                if self._take(question, line):
                    return ""
            except BadInput as error:
                if never is not None:
                    continue
                wrong += 1
                if not self._source.interactive or wrong >= _MOST_WRONG:
                    raise
                self._pages.refused(error)

    def _alarmed(self, sign: str, question: Question, line: str) -> bool:
        """Say first to pull the plug, and keep the sign; return whether the question is left for it."""
        self._pages.alarm(ALARM_SYMPTOMS[sign])
        self._keep(Entry("alarm", sign))
        if question.kind == "symptoms":
            return False
        command = command_in(line)
        with suppress(BadInput):
            if command is None and question.kind in ("outcome", "check"):
                self._take(question, line)
        if command is not None and command.name == "note":
            self._keep(Entry("note", "", command.rest))
        self._keep(Entry("symptom", sign))
        return True

    def _command(self, command: Command, turn: Turn, question: Question, standing: Sequence[Entry]) -> bool:
        """Do what a command says; return whether the question is left."""
        if command.name in ("skip", "can't"):
            kind: EntryKind = "skip" if command.name == "skip" else "cannot"
            if question.kind == "symptoms":
                raise BadInput("The symptoms are needed. Type ? if you cannot tell what you see.")
            if question.kind == "check":
                raise BadInput("A cold check is not skipped: no power before it. Answer it, or quit; all is kept.")
            self._keep(Entry(kind, question.id))
            return True
        if command.name == "undo":
            self._hits = ()
            if not any(e.kind not in ("start", "caution") for e in standing):
                raise BadInput("There is nothing to take back yet.")
            self._keep(Entry("undo", ""))
            self._pages.undone()
            if any(e.kind == "alarm" for e in standing):
                self._pages.alarm_stands()
            return True
        if command.name == "note":
            if not command.rest:
                raise BadInput("Write the note behind the word: note yoke plug is loose.")
            self._keep(Entry("note", "", command.rest))
            self._pages.noted()
        elif command.name == "now":
            self._keep(Entry("circumstance", *self._interview.changed_to(command.rest)))
            self._pages.noted()
            return True
        elif command.name == "trace":
            self._keep(read_trace(command.rest, self._pages.stage_names))
            self._pages.noted()
            return True
        elif command.name == "what is":
            self._pages.term(command.rest)
        elif command.name == "why":
            self._pages.why(turn)
        elif command.name == "stages":
            self._pages.stages(turn)
        elif command.name == "diagram":
            self._pages.diagram(turn)
        elif command.name == "pictures":
            if command.rest:
                self._hits = tuple(self._find(command.rest))
            said = tuple(e.key for e in live(self._all) if e.kind == "symptom")
            self._pages.pictures(self._hits or said, pick=bool(self._hits) and question.kind == "symptoms")
        else:
            self._pages.help()
        return False

    def _take(self, question: Question, line: str) -> bool:
        """Understand an answer and save it; return whether the question is answered."""
        if question.kind == "symptoms":
            return self._take_symptoms(line)
        if question.kind == "reading":
            reading = read_reading(line, question.unit)
            self._keep(Entry("answer", question.id, UNSURE if reading.shape == "unsure" else line.strip()))
            return True
        if question.kind == "check":
            return self._take_check(question, line)
        key = choose_or_amount(question, line)
        if question.kind == "search":
            self._keep(searched(question, key))
            return True
        kind = _KINDS[question.kind]
        if kind == "repair" and key == UNSURE:
            self._keep(Entry("skip", question.id))
            return True
        self._keep(Entry(kind, question.id, key))
        if (question.id, key) in ALARM_ANSWERS:
            self._pages.alarm(ALARM_ANSWERS[question.id, key])
        return True

    def _take_check(self, question: Question, line: str) -> bool:
        if question.barred:
            raise BadInput(f"Not now. {question.stop}")
        value = check_value(self._pages.library, question, line)
        self._keep(Entry("check", question.id, value))
        self._pages.check_note(question.id, value)
        return True

    def _take_symptoms(self, line: str) -> bool:
        symptoms = self._pages.library.symptoms
        chosen = tuple(e.key for e in live(self._all) if e.kind == "symptom")
        result = take_line(Choosing(chosen, self._hits), line, tuple(symptoms), self._find)
        self._hits = result.state.hits
        for name in result.added:
            self._keep(Entry("symptom", name))
            if name in ALARM_SYMPTOMS:
                self._keep(Entry("alarm", name))
            for key in self._pages.chosen(name):
                self._keep(Entry("caution", key))
        if result.done:
            self._keep(Entry("symptoms-done", "", UNSURE if result.unsure else ""))
            return True
        if result.state.hits:
            self._pages.hits(result.state.hits)
        return False

    def _keep(self, entry: Entry) -> None:
        stamped = Entry(entry.kind, entry.key, entry.value, datetime.now(UTC).isoformat(timespec="seconds"))
        self._save(stamped)
        self._all.append(stamped)
