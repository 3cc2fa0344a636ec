"""Runs the program as a person or a script would, with a home of its own."""

import io

import pytest

from backporch.engine.cli import main


@pytest.fixture
def home(tmp_path, monkeypatch):
    """A folder of its own for sessions."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path / "home"


@pytest.fixture
def run(home, monkeypatch, capsys):  # noqa: ARG001
    """Run a command with lines of standard input; give exit code, output and errors."""

    def go(*arguments, lines=()):
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        code = main(list(arguments))
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return go
