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
    console.print(
        harmless(
            f"A set like {like.title}. Plug out for all of this. Before you touch, "
            "discharge, and measure with a meter proved on a known source."
        )
    )
    console.print("Enter keeps the value shown. Your answers are written when all are given.\n")
    safety = {field: _choose(field, source, console) for field in SAFETY_QUESTIONS}
    values = _values(like, library, source, console)
    _write(file, owner_file(owner_name(file.stem), like, safety, values))
    console.print(harmless(f"\nWritten: {file}"))
    found = oddities(load_chassis(str(file), library), library, like)
    print_oddities(found, console)
    return 1 if found else 0


def _write(file: Path, text: str) -> None:
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except OSError as error:
        raise BadFile(f"{file}: cannot be written ({error.strerror}). Choose another folder.") from error


def _line(prompt: str, source: AnswerSource, console: Console) -> str:
    line = source.ask(prompt)
    if line is None:
        raise BadInput("The answers ended before all questions were answered; nothing was written.")
    if not source.interactive:
        console.print(harmless(f"{prompt}{line}"))
    return line.strip()


def _choose(field: str, source: AnswerSource, console: Console) -> str:
    ask, options = SAFETY_QUESTIONS[field]
    words = list(options)
    console.print(harmless(ask))
    for number, (word, means) in enumerate(options.items(), 1):
        console.print(harmless(f"  {number} {word}: {means}"))
    while True:
        line = _line("> ", source, console)
        if line in ("", "?"):
            return words[-1]
        if line in options:
            return line
        if line.isdecimal() and 1 <= int(line) <= len(words):
            return words[int(line) - 1]
        _refuse(
            BadInput(f"Type a number from 1 to {len(words)}, or Enter when you are not sure."), source, console
        )


def _values(like: Chassis, library: Library, source: AnswerSource, console: Console) -> dict[str, str]:
    found: dict[str, str] = {}
    for question in owner_questions(like):
        console.print(harmless(f"{question.ask} ({like.name} has {question.usual})"))
        doubted = ""
        while line := _line("> ", source, console):
            try:
                doubt = unusual(question, line, like, library)
            except BadInput as error:
                _refuse(error, source, console)
                continue
            if doubt is None or line == doubted:
                found[question.key] = line
                break
            doubted = line
            console.print(harmless(f"{doubt} Type it again to keep it."))
    return found


def _refuse(error: BadInput, source: AnswerSource, console: Console) -> None:
    if not source.interactive:
        raise error
    console.print(harmless(error))
