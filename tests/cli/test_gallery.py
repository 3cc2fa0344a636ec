"""The gallery shows symptoms by name, by everyday words and by family."""

from __future__ import annotations

import io
import json

import pytest
from PIL import Image
from rich.console import Console
from rich.text import Text

from backporch.engine.cli import main
from backporch.engine.cli.gallery import print_symptom
from backporch.engine.knowledge.library import shipped

OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]


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

    def test_pictures_are_written(self, tmp_path):
        """A still, a film and a sheet of the family are written for a picture that moves."""
        assert main(["gallery", "picture-rolls-up", "--png", str(tmp_path / "new")]) == 0

        names = sorted(p.name for p in (tmp_path / "new").iterdir())
        assert names == ["picture-rolls-up-moving.png", "picture-rolls-up.png", "sheet-sync.png"]
        with Image.open(tmp_path / "new" / "picture-rolls-up-moving.png") as film:
            assert film.n_frames > 10

    def test_a_page_is_written(self, tmp_path):
        """The page holds the pictures themselves, each with words for those who do not see them."""
        page = tmp_path / "g.html"
        main(["gallery", "single-spot", "smoke", "--html", str(page)])

        text = page.read_text(encoding="utf-8")
        assert "<script" not in text
        assert text.count("data:image/png;base64,") == text.count('alt="Drawn screen: ') == 1

    def test_a_place_that_cannot_be_written_is_said(self, tmp_path, capsys):
        """A path below a file is refused in a sentence."""
        (tmp_path / "file").write_text("x")

        assert main(["gallery", "single-spot", "--html", str(tmp_path / "file" / "g.html")]) == 2
        assert "Choose another place" in capsys.readouterr().err

    def test_words_alone_are_not_drawn(self, tmp_path, capsys):
        """A folder of pictures is refused for what is only smelt."""
        assert main(["gallery", "smoke", "--png", str(tmp_path)]) == 2
        assert "nothing to draw" in capsys.readouterr().err


class TestPictures:
    def test_pictures_of_what_was_found(self, run):
        """At the symptom question the word pictures draws what the words found, with the numbers that pick."""
        _, out, _ = run("diagnose", lines=[*OPENING, "picture keeps slipping", "pictures", "quit"])

        assert "1 Picture rolls" in out
        assert "a moment later" in out

    def test_pictures_for_a_word_can_be_picked(self, run):
        """Behind the word pictures a description finds symptoms, and their numbers pick."""
        _, out, _ = run("diagnose", lines=[*OPENING, "pictures bright line across", "1", "quit"])

        assert "Noted: A bright line across" in out

    def test_pictures_of_what_was_chosen(self, run):
        """With a symptom chosen and nothing searched the word pictures draws the chosen one."""
        _, out, _ = run("diagnose", lines=[*OPENING, "single-spot", "pictures", "quit"])

        assert out.count("A bright spot") == 2

    def test_pictures_without_words_says_how(self, run):
        """Before anything is described the word pictures says how to get some."""
        _, out, _ = run("diagnose", lines=["pictures", "quit"])

        assert "backporch gallery" in out


class TestLook:
    @pytest.mark.parametrize("colours", ["truecolor", "256", "standard", None])
    def test_drawings_fit_eighty_columns(self, colours):
        """Drawings fit 80 columns with every kind of colour, and without colour there is no escape sequence."""
        console = Console(width=80, color_system=colours, force_terminal=True, highlight=False, file=io.StringIO())
        for name in ("picture-rolls-up", "brightness-stuck-dim", "single-spot", "slow-picture"):
            print_symptom(console, shipped(), name, roomy=name == "single-spot")
        text = console.file.getvalue()

        assert max(Text.from_ansi(line).cell_len for line in text.splitlines()) <= 80
        assert ("\x1b" in text) == (colours is not None)

    def test_no_color_is_kept(self):
        """On a terminal that should not be coloured drawings are made of shades, and nothing is coloured."""
        console = Console(
            width=80,
            color_system="truecolor",
            no_color=True,
            force_terminal=True,
            highlight=False,
            file=io.StringIO(),
        )
        print_symptom(console, shipped(), "picture-rolls-up")

        assert "38;" not in console.file.getvalue()
        assert "\u2580" not in console.file.getvalue()
        assert "\u2591" in console.file.getvalue()
