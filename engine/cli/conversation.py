# SPDX-License-Identifier: MIT
"""The conversation of a diagnosis: shows a question, understands the line, saves it, shows what it changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass

from backporch.engine.cli.found_readings import FoundReadings
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.progress import busy
from backporch.engine.cli.prompt_words import PromptWords, left_open
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.safety.never import forbidden_in
from backporch.engine.session.alarms import ALARM_ANSWERS, ALARM_SYMPTOMS, FAR_TOO_MUCH, alarm_in
from backporch.engine.session.assess import Assessment
from backporch.engine.session.cold_check import check_value
from backporch.engine.session.danger import safety_state
from backporch.engine.session.entry import Entry, EntryKind
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.moment import moment_of
from backporch.engine.session.questions import UNSURE, Command, Question, choose, choose_or_amount, command_in
from backporch.engine.session.record import Record
from backporch.engine.session.repairs import pending, remaining_symptoms
from backporch.engine.session.search_entry import searched
from backporch.engine.session.symptom_choice import Choosing, take_line
from backporch.engine.session.watch import said_by_log, watched

__all__ = ["Conversation", "Outcome"]

_MOST_WRONG = 20
_KINDS: dict[str, EntryKind] = {
    "choice": "circumstance",
    "outcome": "answer",
    "repair": "repair",
    "returned": "repair",
}
_NOTHING = Question("watch", "watch", "")


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
        self._record = Record(entries, save)
        self._source = source
        self._pages = pages
        self._find = find
        self._words = PromptWords(interview, self._record, source, pages, find)
        self._found = FoundReadings(interview, self._record, source, pages, find)
        self._hits: tuple[str, ...] = ()
        self._told: set[str] = set()

    def run(self) -> Outcome:
        """Ask until the end, and return how it ended."""
        before: Assessment | None = None
        while True:
            standing = self._record.standing
            with busy("Weighing the next step") if before is not None else nullcontext():
                turn = self._interview.turn(standing)
            if FAR_TOO_MUCH in safety_state(self._interview.workbench, standing).alarms - self._told:
                self._pages.alarm(FAR_TOO_MUCH)
                self._told.add(FAR_TOO_MUCH)
            if turn.assessment is not None:
                if before is None or not _alike(turn.assessment, before):
                    self._pages.changed(turn.assessment, before)
                before = turn.assessment
            if turn.question is None:
                self._pages.ending(turn, standing, self._interview)
                return Outcome(standing, turn, turn.ending)
            self._told |= self._pages.held_back(turn.held, self._told)
            for key in self._pages.cautions(turn, standing):
                self._record.keep(Entry("caution", key))
            self._pages.question(turn, standing, self._interview)
            ended = self._answer(turn, turn.question)
            if ended:
                return Outcome(self._record.standing, turn, ended)

    def _answer(self, turn: Turn, question: Question) -> str:
        """Ask until the question is answered or left; return how the conversation ended, or ""."""
        wrong = 0
        while True:
            line = self._source.ask(self._pages.prompt)
            if line is None:
                if question.kind == "returned":
                    return "cured"
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
                if command is not None and command.name == "quit":
                    self._pages.stopped(turn, input_ended=False)
                    return "quit"
                if command is not None and command.name == "pictures":
                    self._pictures(command.rest, question)
                    continue
                if command is not None:
                    if self._words.do(command, turn, question):
                        self._hits = ()
                        return ""
                    continue
                if question.kind == "returned" and choose(question, line) == "cured":
                    return "cured"
                if self._found.take(question, line) or self._take(question, line):
                    return ""
            except BadInput as error:
                if never is not None:
                    continue
                wrong += 1
                if not self._source.interactive or wrong >= _MOST_WRONG:
                    raise
                self._pages.refused(error)

    def _pictures(self, words: str, question: Question) -> None:
        """Draw the symptoms that words find, or those on the screen or chosen; the numbers may be picked."""
        if words:
            self._hits = tuple(self._find(words))
        said = tuple(e.key for e in remaining_symptoms(self._record.standing))
        self._pages.pictures(self._hits or said, pick=bool(self._hits) and question.kind == "symptoms")

    def _alarmed(self, sign: str, question: Question, line: str) -> bool:
        """Say first to pull the plug, and keep the sign; return whether the question is left for it."""
        self._pages.alarm(ALARM_SYMPTOMS[sign])
        self._record.keep(Entry("alarm", sign))
        if question.kind == "symptoms":
            return False
        command = command_in(line)
        with suppress(BadInput):
            if command is None and question.kind in ("outcome", "check"):
                self._take(question, line)
        if command is not None and command.name == "note":
            self._record.keep(Entry("note", "", command.rest))
        self._record.keep(Entry("symptom", sign))
        return True

    def _take(self, question: Question, line: str) -> bool:
        """Understand an answer and save it; return whether the question is answered."""
        if question.kind == "symptoms":
            return self._take_symptoms(line)
        if question.kind == "watch":
            return self._take_watch(line)
        if question.kind == "reading":
            return self._found.take_asked(question, line)
        if question.kind == "check":
            return self._take_check(question, line)
        key = choose_or_amount(question, line)
        if question.kind == "search":
            for entry in searched(question, key):
                self._record.keep(entry)
            return True
        if question.kind == "repair" and key == UNSURE:
            self._record.keep(left_open(self._record, question.id))
            return True
        if key == UNSURE and (question.kind == "returned" or question.id == "moment"):
            raise BadInput(f"Only you can tell. Type a number from 1 to {len(question.options)}.")
        self._keep_choice(question, key)
        return True

    def _keep_choice(self, question: Question, key: str) -> None:
        changed = question.kind == "returned" or pending(self._record.standing) == question.id
        of = f"repair {question.id}" if changed and question.kind in ("repair", "returned") else ""
        entry = Entry(_KINDS[question.kind], question.id, key, of=of)
        self._record.keep(entry)
        if question.kind == "outcome":
            self._pages.asleep(counts=moment_of(self._record.standing) != "quiet")
        if (question.id, key) in ALARM_ANSWERS:
            self._pages.alarm(ALARM_ANSWERS[question.id, key])

    def _take_check(self, question: Question, line: str) -> bool:
        if question.barred:
            raise BadInput(f"Not now. {question.stop}")
        value = check_value(self._pages.library, question, line)
        self._record.keep(Entry("check", question.id, value))
        self._pages.check_note(question.id, value)
        return True

    def _take_watch(self, line: str) -> bool:
        """Take what is typed while waiting: an empty line marks that it happens."""
        if not line.strip():
            return self._words.do(Command("!"), Turn(None), _NOTHING)
        self._record.keep(watched(line))
        self._pages.log(said_by_log(self._record.standing))
        return False

    def _take_symptoms(self, line: str) -> bool:
        symptoms = self._pages.library.symptoms
        chosen = tuple(e.key for e in remaining_symptoms(self._record.standing))
        result = take_line(Choosing(chosen, self._hits), line, tuple(symptoms), self._find)
        self._hits = result.state.hits
        for name in result.added:
            self._record.keep(Entry("symptom", name))
            if name in ALARM_SYMPTOMS:
                self._record.keep(Entry("alarm", name))
            for key in self._pages.chosen(name):
                self._record.keep(Entry("caution", key))
        if result.done:
            self._record.keep(Entry("symptoms-done", "", UNSURE if result.unsure else ""))
            return True
        if result.state.hits:
            self._pages.hits(result.state.hits)
        return False


def _alike(now: Assessment, before: Assessment) -> bool:
    """Tell whether nothing was learnt since: the same odds, and no new finding."""
    return now.ranking.stages == before.ranking.stages and now.ranking.findings == before.ranking.findings
