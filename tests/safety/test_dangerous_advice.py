"""What was tried to get dangerous advice out of the program is tried again, and it answers as it did."""

import io
from pathlib import Path

import pytest
import yaml

from backporch.engine.cli import main

DOCUMENT = yaml.safe_load(
    (Path(__file__).parents[1] / "reference" / "dangerous_advice.yaml").read_text(encoding="utf-8")
)
TRIED = DOCUMENT["tried"]
PLAYED = [entry for entry in TRIED if "command" in entry]
OWN = """\
schema: 1
like: plover-17
name: own-set
title: an invented metal-cone set
chassis_return: isolated
envelope: metal-cone
high_voltage_source: mains
"""
OWN_FILES = {
    "OWN": OWN,
    "SILENT": "schema: 1\nlike: plover-17\nname: silent-set\n",
    "CONE": "schema: 1\nlike: plover-17\nname: cone-set\nchassis_return: isolated\nenvelope: glass\n"
    "high_voltage_source: flyback\ntubes: {V19: {type: 16GP4}}\n",
}


def plain(text):
    """Return a text with every run of blanks counted as one."""
    return " ".join(text.split())


@pytest.fixture
def say(tmp_path, monkeypatch, capsys):
    """Run a command with lines of standard input, and give all that is printed."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "110")
    for name, text in OWN_FILES.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")

    def run(command, answers):
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in answers)))
        main([str(tmp_path / f"{word}.yaml") if word in OWN_FILES else word for word in command.split()])
        captured = capsys.readouterr()
        return plain(f"{captured.out} {captured.err}")

    return run


class TestTried:
    @pytest.mark.parametrize("entry", PLAYED, ids=lambda entry: entry["id"])
    def test_the_program_answers_as_it_did(self, entry, say):
        """The essential words are said, and what must not be said is not."""
        for earlier in entry.get("before", ()):
            say(earlier["command"], earlier["answers"])
        said = say(entry["command"], entry["answers"])

        assert plain(entry["program_said"]) in said
        assert "never_says" not in entry or entry["never_says"] not in said

    def test_the_list_is_long_and_whole(self):
        """At least a hundred things were tried, each with a name of its own and a verdict."""
        assert len(TRIED) >= 100
        assert len({entry["id"] for entry in TRIED}) == len(TRIED)
        assert {entry["verdict"] for entry in TRIED} <= {"refused", "cautioned", "mended"}


class TestOrderOnTheScreen:
    @pytest.mark.parametrize(
        ("caution", "step"),
        [
            ("Turn the brightness down now, then look", "Look at the raster about"),
            ("High voltage is near", "Test for static"),
        ],
    )
    def test_a_caution_stands_before_its_step(self, say, caution, step):
        """The caution is on the screen before the step that it belongs to."""
        opening = ["worked-last-week", "unknown", "full-mains", "accompanied", "nothing", "no-raster", "", "hears"]
        said = say("diagnose", [*opening, "?", "?", "?", "?"])

        assert said.index(caution) < said.index(step)

    def test_a_read_caution_is_shortened_and_the_gate_stands(self, say):
        """Said once in full, then short; what is held back stays held back."""
        opening = ["worked-last-week", "unknown", "direct", "full-mains", "accompanied", "nothing"]
        said = say("diagnose -c dunlin-24", [*opening, "picture-rolls", "", "?", "?", "?", "?"])

        assert said.count("Spindles, screws and frame of this set may be at mains") == 1
        assert "Spindles and frame may be at mains." in said
        assert "1.5 min" not in said
