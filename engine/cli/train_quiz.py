# SPDX-License-Identifier: MIT
"""The quiz: a question on the arithmetic, the answer of the learner, the worked solution; on and on."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from itertools import count
from pathlib import Path
from typing import Any

from rich.console import Console

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.source import AnswerSource, answer_source
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.questions import plain_words
from backporch.engine.training.quiz import Quiz, Told, judge, make_quiz
from backporch.engine.units import parse

__all__ = ["run_quiz"]

_SKIP = {"?", "skip", "not sure", "solution", "i don't know", "dont know"}


def run_quiz(
    chassis: str | None, seed: int | None, questions: int | None, answers: Path | None, *, as_json: bool
) -> int:
    """Ask question after question until the learner stops; return 0, or 1 where an answer was wrong.

    Raises:
        BackporchError: the chassis is unknown, or a line that came from a file is no reading.
    """
    library = shipped()
    names = [chassis] if chassis is not None else library.chassis_names()
    sets = {name: load_chassis(name, library) for name in names}
    source = answer_source(answers)
    console = make_console(error=as_json)
    if as_json and not source.interactive:
        console = Console(quiet=True)
    found = _asked(sets, seed or 1, questions, source, console)
    right = sum(told.right for _, _, told in found)
    if as_json:
        print(json.dumps(_document(found), indent=2, ensure_ascii=False))
    elif found:
        console.print(f"\n{right} of {len(found)} right. Go on with: backporch train --quiz --seed {_next(found)}")
    return 0 if right == len(found) else 1


def _asked(
    sets: Mapping[str, Chassis], seed: int, questions: int | None, source: AnswerSource, console: Console
) -> list[tuple[Quiz, str, Told]]:
    found: list[tuple[Quiz, str, Told]] = []
    for number in count(seed):
        if questions is not None and len(found) >= questions:
            break
        quiz = make_quiz(sets, shipped(), number)
        _show(console, quiz)
        answer = _answer(source, console, quiz)
        if answer is None:
            break
        line, told = answer
        console.print(f"  [bold]{harmless(told.text)}[/]")
        for step in quiz.steps:
            console.print(f"    {harmless(step.quantity)} = {harmless(step.formula)}")
            console.print(f"      = {harmless(step.numbers)} = {harmless(step.result)}")
        found.append((quiz, line, told))
    return found


def _show(console: Console, quiz: Quiz) -> None:
    console.print(f"\n[bold cyan]Question {quiz.seed}[/]")
    console.print(f"  {harmless(quiz.question)}")
    for line in quiz.given:
        console.print(f"    {harmless(line)}", style="dim")
    console.print(f"  Type the reading in {quiz.unit}, ? for the solution, quit to stop.", style="dim")


def _answer(source: AnswerSource, console: Console, quiz: Quiz) -> tuple[str, Told] | None:
    """Return what was answered and how it was; None where the learner stops or no more answers come."""
    while True:
        line = source.ask("> ")
        if line is None or plain_words(line) in ("quit", "exit", "q"):
            return None
        if not source.interactive:
            console.print(f"> {harmless(line)}")
        if plain_words(line) in _SKIP:
            return line, Told(False, judge(quiz, float("inf")).text)
        try:
            return line, judge(quiz, parse(line, quiz.unit))
        except BadInput as error:
            if not source.interactive:
                raise
            console.print(f"  {harmless(error)}")


def _next(found: Sequence[tuple[Quiz, str, Told]]) -> int:
    return found[-1][0].seed + 1


def _document(found: Sequence[tuple[Quiz, str, Told]]) -> dict[str, Any]:
    rows = [{**asdict(quiz), "answered": line, "right": told.right} for quiz, line, told in found]
    return {"schema": 1, "kind": "quiz", "right": sum(t.right for _, _, t in found), "questions": rows}
