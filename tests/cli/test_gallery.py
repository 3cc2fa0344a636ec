"""The gallery shows symptoms by name, by everyday words and by family."""

from __future__ import annotations

import json

import pytest

from backporch.engine.cli import main


class TestGallery:
    def test_a_symptom_is_drawn_with_its_words(self, capsys):
        """A symptom asked for by name is told and drawn."""
        assert main(["gallery", "single-horizontal-line"]) == 0

        shown = capsys.readouterr().out
        assert "A bright line across" in shown
        assert len(shown.splitlines()) > 15

    def test_everyday_words_find_it(self, capsys):
        """Everyday words find the symptom."""
        main(["gallery", "bright horizontal line", "--json"])

        found = json.loads(capsys.readouterr().out)
        assert found["symptoms"][0]["symptom"] == "single-horizontal-line"

    def test_smoke_is_said_in_words(self, capsys):
        """What is not seen on the screen is told and has no picture."""
        main(["gallery", "smoke"])

        assert "no picture" in capsys.readouterr().out

    @pytest.mark.parametrize("arguments", [["--family", "rastr"], ["qqqqqq"]])
    def test_unknown_words_are_refused(self, arguments, capsys):
        """An unknown family or symptom is refused in a sentence, with exit code 2."""
        assert main(["gallery", *arguments]) == 2

        assert "There is no" in capsys.readouterr().err
