# SPDX-License-Identifier: MIT
"""Where answers come from: a person at a terminal, a file, or a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from backporch.engine.errors import BadInput
from backporch.engine.knowledge.yaml_file import read_text

__all__ = ["AnswerSource", "FileAnswers", "PipedAnswers", "TypedAnswers", "answer_source"]

_LONGEST = 2000


class AnswerSource(Protocol):
    """Gives one line for each prompt."""

    interactive: bool

    def ask(self, prompt: str) -> str | None:
        """Return the next line, or None when there are no more."""


class TypedAnswers:
    """A person at a terminal."""

    interactive = True

    def ask(self, prompt: str) -> str | None:
        """Show the prompt and wait for a line; end of input gives None."""
        try:
            return _checked(input(prompt))
        except EOFError:
            return None
        except UnicodeDecodeError as error:
            raise BadInput("This line is not UTF-8 text. Type it again.") from error


class PipedAnswers:
    """Lines of standard input; never waits for a person."""

    interactive = False

    def ask(self, prompt: str) -> str | None:  # noqa: ARG002
        """Return the next line of standard input that is no comment."""
        try:
            for line in sys.stdin:
                if not line.lstrip().startswith("#"):
                    return _checked(line.rstrip("\r\n"))
        except UnicodeDecodeError as error:
            raise BadInput("The answers are not UTF-8 text. Save them as UTF-8; what was read is kept.") from error
        return None


class FileAnswers:
    """Lines of a file; a line beginning with # is a comment."""

    interactive = False

    def __init__(self, path: Path) -> None:
        """Read the whole file at once."""
        self._lines: Iterator[str] = iter(read_text(path).splitlines())

    def ask(self, prompt: str) -> str | None:  # noqa: ARG002
        """Return the next line that is no comment."""
        for line in self._lines:
            if not line.lstrip().startswith("#"):
                return _checked(line)
        return None


def answer_source(path: Path | None) -> AnswerSource:
    """Return where answers come from: the file at ``path``, a person at a terminal, or a pipe."""
    if path is not None:
        return FileAnswers(path)
    return TypedAnswers() if sys.stdin is not None and sys.stdin.isatty() else PipedAnswers()


def _checked(line: str) -> str:
    if len(line) > _LONGEST:
        raise BadInput(f"This line has {len(line)} characters; an answer has at most {_LONGEST}.")
    return line.encode("utf-8", "replace").decode()
