"""The pages that the program writes open without a word, print, and are read without eyes."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from backporch.engine.cli import main

SESSION = """\
schema: 2
title: a farm set
chassis: plover-17
said:
- {circumstance: condition, value: worked-last-week, at: "2030-05-01T10:00:00+00:00"}
- {circumstance: supply-aid, value: full-mains, at: "2030-05-01T10:00:00+00:00"}
- {circumstance: source, value: generator, at: "2030-05-01T10:00:00+00:00"}
- {symptom: picture-rolls-up, at: "2030-05-01T10:01:00+00:00"}
- {symptoms-done: "", at: "2030-05-01T10:01:00+00:00"}
- {note: "", value: "<script>alert(1)</script> wax & tar on C26", at: "2030-05-01T10:02:00+00:00"}
- {caution: stored-charge, at: "2030-05-01T10:02:00+00:00"}
- {answer: turn-vertical-hold, value: stops-but-slips, at: "2030-05-01T10:03:00+00:00"}
- {answer: vertical-sync-at-integrator, value: "0.1 Vpp", at: "2030-05-01T10:09:00+00:00"}
- {repair: C26, value: cured, at: "2030-05-01T10:20:00+00:00"}
"""
VOID = {"meta", "link", "img", "br", "source", "use", "path", "rect"}


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """The job sheet of a session in which somebody typed what a page must not run."""
    folder = tmp_path_factory.mktemp("report")
    (folder / "farm.yaml").write_text(SESSION, encoding="utf-8")
    assert main(["report", str(folder / "farm.yaml"), "--html", str(folder / "farm.html")]) == 0
    return folder / "farm.html"


class Reader(HTMLParser):
    """Reads headings, pictures and what is left open."""

    def __init__(self):
        super().__init__()
        self.levels, self.pictures, self.open, self.ids, self.named = [], [], [], [], []

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if re.fullmatch(r"h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if tag == "img":
            self.pictures.append(values.get("alt", ""))
        if "aria-labelledby" in values:
            self.named.append(values["aria-labelledby"])
        if "id" in values:
            self.ids.append(values["id"])
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag


def _read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    return reader


class TestJobSheet:
    def test_every_part_of_the_sheet_is_there(self, sheet):
        """Set, cautions, complaint, path, ranking, place, conclusion, parts and proof stand in this order."""
        headings = re.findall(r"<h2[^>]*>(.*?)</h2>", sheet.read_text(encoding="utf-8"))

        assert headings == [
            "The set",
            "Before anybody opens it again",
            "The complaint",
            "What was done",
            "How the ranking narrowed",
            "Where in the set",
            "Conclusion",
            "Parts changed",
            "Proof of repair",
        ]
        assert "Signature" in sheet.read_text(encoding="utf-8")

    def test_what_was_typed_is_escaped(self, sheet):
        """A note that looks like a script is shown as text."""
        text = sheet.read_text(encoding="utf-8")

        assert "<script" not in text
        assert "&lt;script&gt;alert(1)&lt;/script&gt; wax &amp; tar" in text

    def test_expected_stands_beside_found(self, sheet):
        """The path tells what a healthy set shows beside what was found."""
        text = re.sub(r"\s+", " ", sheet.read_text(encoding="utf-8"))

        assert "It stops for a moment and slips on" in text
        assert "0.1 Vpp" in text
        assert "how the healthy value is computed" in text
        assert "Found and cured by C26" in text
        assert "The picture locks and stays over a good part of the travel." in text

    def test_a_stage_that_led_once_stays_in_the_ranking(self, sheet):
        """What was likeliest before the first test stands in the table of odds, however low it fell."""
        text = re.sub(r"\s+", " ", sheet.read_text(encoding="utf-8"))
        table = text[text.index("How the ranking narrowed") : text.index("Where in the set")]

        assert "Vertical oscillator" in table

    def test_nothing_is_fetched(self, sheet):
        """The page holds everything itself."""
        addresses = re.findall(r"(?:src|href|srcset)=\"([^\"]*)\"", sheet.read_text(encoding="utf-8"))

        assert all(a.startswith(("data:", "#")) for a in addresses)

    def test_it_is_well_formed_and_named(self, sheet):
        """Every element is closed, headings go down one level at a time, sections are named by theirs."""
        read = _read(sheet.read_text(encoding="utf-8"))

        assert read.open == []
        assert read.levels[0] == 1
        assert all(b <= a + 1 for a, b in zip(read.levels, read.levels[1:], strict=False))
        assert set(read.named) <= set(read.ids)
        assert all(len(alt) > 20 for alt in read.pictures)

    @pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
    def test_it_prints_and_says_nothing(self, sheet, browser, paper, points):
        """In a browser the sheet prints on few pages of either paper, and the console stays empty."""
        opened = browser(sheet, paper)

        assert opened.console == ()
        assert 2 <= opened.pages <= 6
        assert opened.size_points == pytest.approx(points, abs=1)

    def test_an_unknown_session_is_refused(self, capsys, tmp_path, monkeypatch):
        """A session that does not exist is refused in a sentence."""
        monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))

        assert main(["report", "nosuch"]) == 2
        assert "There is no session 'nosuch'" in capsys.readouterr().err


class TestBrowser:
    def test_a_page_that_speaks_is_heard(self, tmp_path, browser):
        """A page with a message for the console does not pass for a silent one."""
        page = tmp_path / "loud.html"
        page.write_text("<!doctype html><style></style><p>x</p><script>console.error('loud')</script>")

        assert "loud" in "".join(browser(page, "A4").console)


class TestContrast:
    @pytest.mark.parametrize("scheme", ["light", "dark"])
    def test_text_stands_out(self, sheet, scheme):
        """Ink, quiet ink and accent stand out from the paper by 4.5 to 1 or more, on light and on dark."""
        blocks = re.findall(r":root \{([^}]*)\}", sheet.read_text(encoding="utf-8"))
        light = dict(re.findall(r"--(\w+): (#\w+)", blocks[0]))
        colours = light if scheme == "light" else {**light, **dict(re.findall(r"--(\w+): (#\w+)", blocks[1]))}

        for name in ("ink", "quiet", "accent"):
            for ground in ("paper", "tint"):
                assert _contrast(colours[name], colours[ground]) >= 4.5


def _contrast(one: str, other: str) -> float:
    """Return the contrast of two colours by the formula of WCAG 2."""
    lights = sorted(_light(colour) for colour in (one, other))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def _light(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


class TestGalleryPage:
    def test_it_prints_and_says_nothing(self, tmp_path, browser):
        """The gallery opens in a browser without a word."""
        page = tmp_path / "g.html"
        main(["gallery", "picture-rolls-up", "single-spot", "smoke", "--html", str(page)])

        assert browser(page, "A4").console == ()

    def test_headings_and_pictures_are_in_order(self, tmp_path):
        """Headings go down one level at a time, and every picture has words."""
        page = tmp_path / "g.html"
        main(["gallery", "picture-rolls-up", "smoke", "--html", str(page)])
        read = _read(page.read_text(encoding="utf-8"))

        links = set(re.findall(r'href="#([^"]+)"', page.read_text(encoding="utf-8")))

        assert read.levels == [1, 2, 3, 2, 3]
        assert links <= set(read.ids)
        assert all(read.pictures)
