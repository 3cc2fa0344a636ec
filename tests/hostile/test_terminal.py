"""Escape codes from elsewhere never reach the terminal, whichever way they come in."""

import io
import json

import pytest

from backporch.engine.cli import main

CODES = ("\x1b", "\x9b", "\u202e")
OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run a command with lines of standard input; give all that it printed."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))

    def go(*arguments, lines=()):
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        main(list(arguments))
        captured = capsys.readouterr()
        return captured.out, captured.out + captured.err

    return go


def harmless(text):
    """Tell whether a text has none of the codes."""
    return not any(code in text for code in CODES)


class TestNeverRaw:
    @pytest.mark.parametrize("code", CODES)
    def test_typed_words_are_shown_without_codes(self, run, code):
        """What is typed or piped in is echoed, refused and kept without codes on the screen."""
        lines = [*OPENING, f"note x{code}[2Jgone", f"photo {code}]0;x", "correct", f"{code}[31mpicture"]

        assert harmless(run("diagnose", lines=lines)[1])

    @pytest.mark.parametrize("code", CODES)
    def test_a_chassis_file_cannot_write_to_the_terminal(self, run, tmp_path, code):
        """Codes in title and places of a chassis file are not shown raw."""
        path = tmp_path / f"set{code}[2J.yaml"
        title = json.dumps(f"Barn{code}[2J set")
        facts = "chassis_return: isolated\nenvelope: glass\nhigh_voltage_source: flyback\n"
        path.write_text(f"schema: 1\nlike: plover-17\ntitle: {title}\n{facts}", encoding="utf-8")

        assert harmless(run("diagnose", "--chassis", str(path), lines=["quit"])[1])
        assert harmless(run("sessions")[1])
        assert harmless(run("expect", str(path), "b-plus")[1])

    @pytest.mark.parametrize("code", CODES)
    def test_a_scenario_file_cannot_write_to_the_terminal(self, run, tmp_path, code):
        """Codes in the name, the title and the mistakes of a scenario are not shown raw."""
        path = tmp_path / f"one{code}[2J.yaml"
        title = json.dumps(f"Rolls{code}[2J")
        path.write_text(
            f"schema: 2\ntitle: {title}\nchassis: plover-17\nsymptoms: [no-raster]\nodd{code}: 1\n",
            encoding="utf-8",
        )
        assert harmless(run("replay", str(path))[1])
        answers = "answers: {look-at-the-raster: line}\nsymptoms: [no-raster]\n"
        good = f"schema: 2\ntitle: {title}\nchassis: plover-17\n{answers}"
        path.write_text(good, encoding="utf-8")
        out, everything = run("replay", str(path), "--json")

        assert harmless(everything)
        assert json.loads(out)["scenarios"][0]["title"] == f"Rolls{code}[2J"

    def test_letters_of_every_tongue_are_left_as_they_are(self, run):
        """Plain letters beyond ASCII come through unharmed."""
        assert "Größe Ω 漢" in run("diagnose", lines=["note Größe Ω 漢", "quit"])[0]

    def test_bytes_that_are_no_text_are_told_in_a_sentence(self, tmp_path, monkeypatch, capsys):
        """A pipe with bytes that are no UTF-8 ends with a sentence and exit code 2."""
        monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"note \xff\xfe\n"), encoding="utf-8"))
        assert main(["diagnose"]) == 2
        assert "UTF-8" in capsys.readouterr().err
