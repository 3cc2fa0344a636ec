# SPDX-License-Identifier: MIT
"""Walks through the cold checks one by one, and stops at whatever must be mended first."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from backporch.engine.cli.pages import Pages
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadInput
from backporch.engine.safety.never import forbidden_in
from backporch.engine.session.alarms import ALARM_SYMPTOMS, alarm_in
from backporch.engine.session.cold_check import check_value
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.questions import command_in

__all__ = ["Walk"]


class Walk:
    """One walk through the checks."""

    def __init__(
        self,
        interview: Interview,
        entries: Sequence[Entry],
        save: Callable[[Entry], None],
        source: AnswerSource,
        pages: Pages,
    ) -> None:
        """Go on from ``entries``; ``save`` puts an entry on the disk before it returns."""
        self._interview = interview
        self._all = list(entries)
        self._save = save
        self._source = source
        self._pages = pages

    def run(self) -> str:
        """Ask every check; return what must be mended first, "unfinished" where answers end, or ""."""
        while True:
            question = self._interview.next_check(live(self._all))
            if question is None:
                return ""
            self._pages.question(Turn(question), live(self._all), self._interview)
            line = self._source.ask(self._pages.prompt)
            if line is None:
                return question.stop or "unfinished"
            self._pages.echo(line, shown=self._source.interactive)
            never = forbidden_in(line, self._pages.library.never)
            self._pages.never(never)
            sign = alarm_in(line)
            if sign is not None:
                self._pages.alarm(ALARM_SYMPTOMS[sign])
                self._keep(Entry("alarm", sign))
                continue
            command = command_in(line)
            if command is not None and command.name == "quit":
                return question.stop or "unfinished"
            try:
                self._take(question.id, line, command.name if command else "")
            except BadInput as error:
                if never is not None:
                    continue
                if not self._source.interactive:
                    raise
                self._pages.refused(error)

    def _take(self, check: str, line: str, command: str) -> None:
        if command == "undo":
            self._keep(Entry("undo", ""))
        elif command == "help":
            self._pages.help()
        elif command in ("skip", "can't"):
            raise BadInput("A cold check is not skipped. Answer it, or type ? if you are not sure, or quit.")
        elif command:
            raise BadInput("Here only answers, undo, help and quit are understood.")
        else:
            question = self._interview.next_check(live(self._all))
            if question is None:
                return
            if question.barred:
                raise BadInput(f"Not now. {question.stop}")
            value = check_value(self._pages.library, question, line)
            self._keep(Entry("check", check, value))
            self._pages.check_note(check, value)

    def _keep(self, entry: Entry) -> None:
        self._save(entry)
        self._all.append(entry)
