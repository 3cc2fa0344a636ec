# SPDX-License-Identifier: MIT
"""Rewrites what scenarios expect, after showing the difference; nothing else in a file is touched."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from backporch.engine.cli.console import clean
from backporch.engine.cli.replay_report import Result
from backporch.engine.cli.source import AnswerSource
from backporch.engine.errors import BadFile
from backporch.engine.knowledge.yaml_file import read_text
from backporch.engine.session.atomic import replace_file
from backporch.engine.session.replay import Replayed
from backporch.engine.session.scenario import Expectation
from backporch.engine.session.scenario_text import expect_block

__all__ = ["new_expectation", "update_expectations", "with_expectation"]

_BLOCK = re.compile(r"^expect:.*\n(?:(?:[ \t]+.*|#.*|[ \t]*)\n)*?(?=\S|\Z)", re.M)
_SPARE = 1.25
"""Room left above the minutes that were taken, so that a small change is no difference."""


def update_expectations(results: Sequence[Result], source: AnswerSource, console: Console) -> int:
    """Show what would be expected from now on, and write it; at a terminal only after a yes.

    Returns:
        0 where every file is up to date now, 1 where it was left as it is.
    """
    changes = [(result.path, *_texts(result)) for result in results if _outdated(result)]
    if not changes:
        console.print("Nothing to update.")
        return 0
    for path, old, new in changes:
        _show(console, path, old, new)
    if source.interactive:
        answer = source.ask(f"Write {len(changes)} file{'s' if len(changes) > 1 else ''}? y or n: ")
        if (answer or "").strip().lower() not in ("y", "yes"):
            console.print("Nothing was written.")
            return 1
    for path, _, new in changes:
        try:
            replace_file(path, new)
        except OSError as error:
            raise BadFile(f"{path}: cannot be written ({error.strerror}).") from error
    console.print(f"{len(changes)} updated.")
    return 0


def new_expectation(before: Expectation | None, outcome: Replayed) -> Expectation:
    """Return what a scenario expects once its present outcome is taken as right.

    A limit of minutes that still holds stays as it is.
    """
    most = before.within_minutes if before else None
    if most is None or outcome.minutes > most:
        most = float(math.ceil(outcome.minutes * _SPARE / 5.0) * 5)
    return Expectation(stage=outcome.found_stage, part=outcome.found_part or None, rank=1, within_minutes=most)


def with_expectation(text: str, expect: Expectation) -> str:
    """Return the text of a scenario file with another expectation; all else stays, remarks too.

    Example:
        >>> old = "title: Rolls  # mine\\nexpect: {stage: tuner, within_minutes: 5}\\n"
        >>> print(with_expectation(old, Expectation(stage="agc", within_minutes=5)), end="")
        title: Rolls  # mine
        expect:
          stage: agc
          within_minutes: 5
    """
    data = expect.model_dump(mode="json", exclude_none=True)
    if data["rank"] == 1:
        del data["rank"]
    block = expect_block(data)
    text = text if text.endswith("\n") else text + "\n"
    found = _BLOCK.search(text)
    if found is None:
        return text + block
    return text[: found.start()] + block + text[found.end() :]


def _outdated(result: Result) -> bool:
    return bool(result.outcome.difference) or result.scenario.expect is None


def _texts(result: Result) -> tuple[str, str]:
    old = read_text(result.path)
    return old, with_expectation(old, new_expectation(result.scenario.expect, result.outcome))


def _show(console: Console, path: Path, old: str, new: str) -> None:
    before, after = old.splitlines(), new.splitlines()
    lines = difflib.unified_diff(before, after, clean(path), clean(path), lineterm="", n=1)
    for line in lines:
        style = "green" if line.startswith("+") else "red" if line.startswith("-") else "dim"
        console.print(Text(clean(line), style=style))
