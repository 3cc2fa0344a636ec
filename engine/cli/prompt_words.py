# SPDX-License-Identifier: MIT
"""What the words do that may be typed at every prompt: undo, correct, repaired, note, watch and the others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from backporch.engine.chassis.offers import Offer
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.session.correct import correctable, corrected, numbered, question_of
from backporch.engine.session.described import describe
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.moment import moment_of
from backporch.engine.session.questions import Command, Question
from backporch.engine.session.record import Record
from backporch.engine.session.repairs import pending, repaired_part
from backporch.engine.session.trace import read_trace
from backporch.engine.session.watch import said_by_log, speaks_for, watched

__all__ = ["PromptWords", "left_open"]

_MOST_UNDONE = 10_000


class PromptWords:
    """Carries out the words; each returns whether the question is left for what comes next."""

    def __init__(
        self,
        interview: Interview,
        record: Record,
        source: AnswerSource,
        pages: Pages,
        find: Callable[[str], Sequence[str]],
    ) -> None:
        """Act on ``record``, ask through ``source`` and show through ``pages``."""
        self._interview = interview
        self._record = record
        self._source = source
        self._pages = pages
        self._find = find
        self._does: dict[str, Callable[[str, Turn, Question], bool]] = {
            "skip": self._leave_out,
            "can't": self._leave_out,
            "undo": self._undo,
            "correct": self._correct,
            "note": self._note,
            "photo": self._photo,
            "now": self._now,
            "!": self._happening,
            "quiet": self._quiet,
            "watch": self._watch,
            "repaired": self._repaired,
            "not cured": self._not_cured,
            "trace": self._trace,
            "what is": self._term,
            "why": self._why,
            "stages": self._stages,
            "diagram": self._diagram,
            "help": self._help,
        }

    def do(self, command: Command, turn: Turn, question: Question) -> bool:
        """Do what a word says; return whether the question is left.

        Raises:
            BadInput: what stands behind the word is not understood, or the word has no place here.
        """
        if command.name == "can't":
            return self._leave_out("cannot", turn, question)
        return self._does[command.name](command.rest, turn, question)

    def _leave_out(self, rest: str, _turn: Turn, question: Question) -> bool:
        if question.kind == "symptoms":
            raise BadInput("The symptoms are needed. Type ? if you cannot tell what you see.")
        if question.kind == "check":
            raise BadInput("A cold check is not skipped: no power before it. Answer it, or quit; all is kept.")
        if question.kind == "returned" or question.id == "moment":
            raise BadInput(f"Only you can tell. Type a number from 1 to {len(question.options)}.")
        if question.kind == "repair":
            self._record.keep(left_open(self._record, question.id))
        else:
            self._record.keep(Entry("cannot" if rest == "cannot" else "skip", question.id))
        return True

    def _undo(self, rest: str, _turn: Turn, _question: Question) -> bool:
        times = int(rest) if rest.isascii() and rest.isdigit() and len(rest) < 6 else 0 if rest else 1
        if not 1 <= times <= _MOST_UNDONE:
            raise BadInput("Write undo, or undo and how many answers to take back: undo 3.")
        if not any(e.kind not in ("start", "caution", "resumed", "found") for e in self._record.standing):
            raise BadInput("There is nothing to take back yet.")
        gone = self._record.take_back(times)
        self._pages.undone([describe(self._pages.library, e) for e in gone if e.kind != "caution"])
        if any(e.kind == "alarm" for e in self._record.standing):
            self._pages.alarm_stands()
        return True

    def _correct(self, rest: str, _turn: Turn, _question: Question) -> bool:
        standing = self._record.standing
        if not rest:
            self._pages.answers([describe(self._pages.library, e) for e in correctable(standing)])
            return False
        number, _, line = rest.partition(" ")
        entry = numbered(standing, number)
        workbench = self._interview.workbench
        if not line:
            asked = None if entry.kind == "trace" else question_of(workbench, entry)
            self._pages.asked_again(describe(self._pages.library, entry), asked)
            answer = self._source.ask(self._pages.prompt)
            if answer is None or not answer.strip():
                self._pages.unchanged()
                return False
            self._pages.echo(answer, shown=self._source.interactive)
            line = answer
        self._record.keep(corrected(workbench, entry, line, self._find))
        self._pages.put_right()
        return True

    def _note(self, rest: str, _turn: Turn, _question: Question) -> bool:
        if not rest:
            raise BadInput("Write the note behind the word: note yoke plug is loose.")
        self._record.keep(Entry("note", "", rest))
        self._pages.noted()
        return False

    def _photo(self, rest: str, _turn: Turn, _question: Question) -> bool:
        if not rest:
            raise BadInput("Write where the photo lies: photo pictures/chassis-below.jpg.")
        self._record.keep(Entry("photo", "", rest))
        self._pages.noted("" if _is_there(rest) else "There is no such file here yet.")
        return False

    def _now(self, rest: str, _turn: Turn, _question: Question) -> bool:
        self._record.keep(Entry("circumstance", *self._interview.changed_to(rest)))
        self._pages.noted()
        return True

    def _repaired(self, rest: str, _turn: Turn, _question: Question) -> bool:
        if not rest:
            raise BadInput("Write which part was changed: repaired C41.")
        if " " in rest or "," in rest:
            raise BadInput("One part at a time, with a run in between, or it cannot be told which one it was.")
        self._record.keep(Entry("repair", repaired_part(self._interview.workbench, rest), "open"))
        return True

    def _not_cured(self, _rest: str, _turn: Turn, _question: Question) -> bool:
        last = next((e for e in reversed(self._record.standing) if e.kind == "repair"), None)
        if last is None:
            raise BadInput("No part was changed yet. Write which one was: repaired C41.")
        self._record.keep(Entry("repair", last.key, "not-cured", of=last.name))
        self._pages.noted()
        return True

    def _trace(self, rest: str, _turn: Turn, _question: Question) -> bool:
        self._record.keep(read_trace(rest, self._pages.stage_names))
        self._pages.noted()
        return True

    def _happening(self, rest: str, turn: Turn, _question: Question) -> bool:
        left = self._left_in_place(turn)
        self._came_or_went("happening")
        if rest and left is None:
            raise BadInput("It is marked. No meter was left in place, so write the reading with its place.")
        if rest and left is not None:
            self._record.keep(Entry("answer", left.id, self._pages.checked_reading(left, rest)))
        elif left is not None:
            self._pages.log((f"What the meter left there shows ({left.measurement.title}) goes behind it: ! 62.",))
        return True

    def _left_in_place(self, turn: Turn) -> Offer | None:
        """Return what the meter that was left in place reads, also just after it happened."""
        standing = self._record.standing
        if moment_of(standing) == "happening":
            asleep = (n for n, e in enumerate(standing) if (e.key, e.value) == ("moment", "quiet"))
            turn = self._interview.turn(standing[: max(asleep, default=-1) + 1])
        return turn.offer if turn.question is not None and turn.question.kind == "watch" else None

    def _quiet(self, _rest: str, _turn: Turn, _question: Question) -> bool:
        self._came_or_went("quiet")
        return True

    def _came_or_went(self, moment: str) -> None:
        self._record.keep(Entry("circumstance", "moment", moment))
        self._pages.log(said_by_log(self._record.standing))
        for name in speaks_for(self._record.standing):
            self._record.keep(Entry("symptom", name))
            self._pages.chosen(name)

    def _watch(self, rest: str, _turn: Turn, question: Question) -> bool:
        if rest:
            self._record.keep(watched(rest))
        self._pages.log(said_by_log(self._record.standing))
        if question.kind != "watch" and not rest:
            self._record.keep(Entry("circumstance", "moment", "quiet"))
            return True
        return False

    def _term(self, rest: str, _turn: Turn, _question: Question) -> bool:
        self._pages.term(rest)
        return False

    def _why(self, _rest: str, turn: Turn, _question: Question) -> bool:
        self._pages.why(turn, self._record.standing, self._interview)
        return False

    def _stages(self, _rest: str, turn: Turn, _question: Question) -> bool:
        self._pages.stages(turn)
        return False

    def _diagram(self, _rest: str, turn: Turn, _question: Question) -> bool:
        self._pages.diagram(turn)
        return False

    def _help(self, _rest: str, _turn: Turn, _question: Question) -> bool:
        self._pages.help()
        return False


def _is_there(path: str) -> bool:
    try:
        return Path(path).expanduser().exists()
    except (OSError, RuntimeError, ValueError):
        return False


def left_open(record: Record, part: str) -> Entry:
    """Return the entry where nobody can say whether changing ``part`` cured it: it is new, and that is all."""
    if pending(record.standing) == part:
        return Entry("repair", part, "renewed", of=f"repair {part}")
    return Entry("skip", part)
