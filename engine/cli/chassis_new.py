# SPDX-License-Identifier: MIT
"""Guides an owner to a chassis file of their own."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.owner_file import (
    SAFETY_QUESTIONS,
    owner_file,
    owner_name,
    owner_questions,
    unusual,
)
from backporch.engine.chassis.plausible import oddities
from backporch.engine.cli.chassis_pages import print_oddities
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.source import AnswerSource, answer_source
from backporch.engine.errors import BadFile, BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped

__all__ = ["run_new"]


def run_new(file: Path, like_name: str, answers: Path | None) -> int:
    """Ask for what differs, write the file, check it; return 1 when something in it is implausible.

    Raises:
        BackporchError: the receiver is unknown, the file exists, an answer from a file is wrong, or answers end.
    """
    library = shipped()
    if like_name not in library.chassis_names():
        raise UnknownWord("shipped chassis", like_name, library.chassis_names())
    if file.suffix not in (".yaml", ".yml"):
        raise BadInput(f"{file}: a chassis file ends in .yaml; write {file}.yaml.")
    if file.exists():
        raise BadFile(f"{file}: exists already. Choose another name, or edit it.")
    like, source, console = load_chassis(like_name, library), answer_source(answers), make_console()
    try:
        answered = _Interview(like, library, source, console).run()
    except KeyboardInterrupt:
        console.print("\nStopped; nothing was written.")
        return 130
    safety = {field: answered.pop(field) for field in SAFETY_QUESTIONS}
    _write(file, owner_file(owner_name(file.stem), like, safety, {k: v for k, v in answered.items() if v}))
    console.print(harmless(f"\nWritten: {file}"))
    found = oddities(load_chassis(str(file), library), library, like)
    print_oddities(found, console)
    console.print(harmless(f"Change the file with any editor, and look again: backporch chassis check {file}"))
    console.print(harmless(f"Find a fault of this set: backporch diagnose --chassis {file}"))
    return 1 if found else 0


def _write(file: Path, text: str) -> None:
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except OSError as error:
        raise BadFile(f"{file}: cannot be written ({error.strerror}). Choose another folder.") from error


class _Interview:
    """The questions to an owner, one after the other, with a way back."""

    def __init__(self, like: Chassis, library: Library, source: AnswerSource, console: Console) -> None:
        self._like, self._library, self._source, self._console = like, library, source, console
        self._values = {question.key: question for question in owner_questions(like)}

    def run(self) -> dict[str, str]:
        """Return an answer to each question by its key; "" where a value stays as it is."""
        self._opening()
        keys = [*SAFETY_QUESTIONS, *self._values]
        answered: dict[str, str] = {}
        at = 0
        while at < len(keys):
            self._say(f"\n{at + 1} of {len(keys)}. ", end="")
            answer = self._choose(keys[at]) if keys[at] in SAFETY_QUESTIONS else self._value(keys[at])
            if answer is None:
                at = max(at - 1, 0)
            else:
                answered[keys[at]] = answer
                at += 1
        return answered

    def _opening(self) -> None:
        count, values = len(SAFETY_QUESTIONS), len(self._values)
        self._say(
            f"A set like {self._like.title}. {count} questions about what can hurt you, then {values} values that "
            "you read from the parts of your set. Plug out for all of this. Before you touch, discharge, and "
            "measure with a meter proved on a known source."
        )
        self._say(
            "Enter where you are not sure; back for the question before; what is WORD for a term of the trade. "
            "The file is written when all is answered."
        )

    def _choose(self, field: str) -> str | None:
        """Return the answer to a question of safety, None to go back."""
        ask, options = SAFETY_QUESTIONS[field]
        words = list(options)
        self._say(ask)
        for number, (word, means) in enumerate(options.items(), 1):
            self._say(f"  {number} {word}: {means}")
        while (line := self._line()) != "back":
            if line in ("", "?"):
                self._say(f"Not sure: taken as {words[-1]}, the worst of them.")
                return words[-1]
            if line in options:
                return line
            if line.isdecimal() and 1 <= int(line) <= len(words):
                return words[int(line) - 1]
            self._refuse(f"Type a number from 1 to {len(words)}, or Enter when you are not sure.")
        return None

    def _value(self, key: str) -> str | None:
        """Return a value as it was typed, "" where it stays as it is, None to go back."""
        question, doubted = self._values[key], ""
        self._say(f"{question.ask}: {self._like.name} has {question.usual}")
        while (line := self._line()) != "back":
            if line in ("?", "help"):
                place = "the plate at the back" if key == "mains_v" else "the part, printed or in coloured rings"
                self._say(f"Read it from {place}. Enter leaves {question.usual}.")
                continue
            try:
                doubt = unusual(question, line, self._like, self._library) if line else None
            except BadInput as error:
                self._refuse(str(error))
                continue
            if doubt is None or line == doubted:
                return line
            doubted = line
            self._say(f"{doubt} Type it again to keep it.")
        return None

    def _line(self) -> str:
        """Return the next line; questions about terms are answered on the way."""
        while True:
            line = self._source.ask("> ")
            if line is None:
                raise BadInput("The answers ended before all questions were answered; nothing was written.")
            if not self._source.interactive:
                self._say(f"> {line}")
            line = line.strip()
            if not line.lower().startswith("what is "):
                return line.lower() if line.lower() in ("back", "help") else line
            try:
                name, term = self._library.term(line[8:].rstrip("?"))
                self._say(f"{name}: {term.means}.")
            except UnknownWord as error:
                self._say(str(error))

    def _refuse(self, why: str) -> None:
        if not self._source.interactive:
            raise BadInput(why)
        self._say(why)

    def _say(self, text: str, end: str = "\n") -> None:
        self._console.print(harmless(text), end=end)
