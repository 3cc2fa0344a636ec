"""The expect command recomputes for meter, mains, parts, standard and signal, and explains bad input in a line."""

import json
from functools import cache

import pytest

from backporch.engine.chassis.expected import METERS, expected
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.simulator import Bench
from backporch.engine.cli import main
from backporch.engine.knowledge.library import shipped

CHASSIS = {name: load_chassis(name, shipped()) for name in shipped().chassis_names()}


@cache
def _points(name, meter="10M", mains_v=None, signal="pattern", change=(), standard=None):
    """Return what is expected of a chassis, by point and quantity."""
    chassis = CHASSIS[name].with_changes(dict(change), standard=standard)
    return expected(chassis, Bench(mains_v=mains_v, signal=signal), meter=METERS[meter], draws=2)


def _dropper(name):
    """Return the part that feeds the rail of the sync stages."""
    parts = CHASSIS[name].parts.items()
    return next(n for n, p in parts if (p.stage, p.role) == ("rail-decoupling", "dropper-sync"))


@pytest.mark.parametrize("name", CHASSIS)
class TestRecomputes:
    def test_for_the_meter(self, name):
        """A meter of 1 k per volt pulls the AGC line down and leaves B+ nearly alone."""
        usual, heavy = _points(name), _points(name, meter="1k")

        assert abs(heavy["agc-line.dc"].shown) < 0.3 * abs(usual["agc-line.dc"].shown)
        assert heavy["b-plus.dc"].shown > 0.97 * usual["b-plus.dc"].shown
        assert heavy["agc-line.dc"].value == usual["agc-line.dc"].value

    def test_for_the_mains(self, name):
        """A tenth less mains takes about a tenth off B+ and the heaters."""
        usual, low = _points(name), _points(name, mains_v=0.9 * CHASSIS[name].mains_v)

        assert 0.82 < low["b-plus.dc"].value / usual["b-plus.dc"].value < 0.96
        assert low["picture-tube-heater.rms"].value < 0.97 * usual["picture-tube-heater.rms"].value

    def test_for_a_part(self, name):
        """A dropper of 100 k takes the rail that it feeds down, and the others hardly."""
        usual, more = _points(name), _points(name, change=((_dropper(name), "100k"),))

        assert more["rail-sync.dc"].value < 0.8 * usual["rail-sync.dc"].value
        assert more["rail-vertical.dc"].value > 0.99 * usual["rail-vertical.dc"].value

    def test_for_no_signal(self, name):
        """Without a signal the separator makes no bias and the AGC line goes to about zero."""
        dark = _points(name, signal="none")

        assert abs(dark["sync-separator-grid.dc"].value) < 1.0
        assert abs(dark["agc-line.dc"].value) < 0.5
        assert dark["sync-separator-plate.pp"].value < 1.0

    def test_for_a_standard(self, name):
        """On a standard with another field rate the vertical sawtooth has another height."""
        other = "625/50" if CHASSIS[name].standard == "525/60" else "525/60"
        changed, usual = (
            _points(name, standard=other)["vertical-sawtooth.pp"],
            _points(name)["vertical-sawtooth.pp"],
        )

        assert changed.value > 1.04 * usual.value if other == "625/50" else changed.value < 0.96 * usual.value


class TestBand:
    def test_pulses_have_room_for_their_arithmetic(self):
        """The boosted rail's band is wider, either way, than the five in a hundred by which it may be off."""
        found = expected(CHASSIS["plover-17"])["boosted-b-plus.dc"]

        assert found.low < 0.95 * found.shown
        assert found.high > 1.05 * found.shown


class TestCommandLine:
    @pytest.mark.parametrize(
        ("arguments", "given"),
        [
            (["--meter", "1k"], {"meter": "1k"}),
            (["--mains", "110"], {"mains_v": 110.0}),
            (["--set", "R21=100k"], {"change": (("R21", "100k"),)}),
            (["--signal", "none"], {"signal": "none"}),
            (["--standard", "625"], {"standard": "625/50"}),
        ],
    )
    def test_each_option_reaches_the_arithmetic(self, capsys, arguments, given):
        """What is typed is what is computed."""
        assert main(["expect", "plover-17", "sync-separator-plate", "--json", *arguments]) == 0
        (dc, *_) = json.loads(capsys.readouterr().out)["points"]

        assert dc["shown"] == pytest.approx(_points("plover-17", **given)["sync-separator-plate.dc"].shown)

    def test_the_sheet_fits_a_terminal(self, capsys, monkeypatch):
        """The bench sheet has boxes and fits 80 columns."""
        monkeypatch.setenv("COLUMNS", "80")

        assert main(["expect", "curlew-19", "--sheet"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(map(len, lines)) <= 80
        assert sum("[        ]" in line for line in lines) > 50

    def test_the_page_is_written(self, capsys, tmp_path):
        """The page of one stage is a file that a browser opens."""
        page = tmp_path / "sheet.html"

        assert main(["expect", "teal-14", "video-output", "--page", str(page)]) == 0
        assert str(page) in capsys.readouterr().out
        assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


class TestForbidden:
    @pytest.mark.parametrize("point", ["vertical-output-plate", "horizontal-output-plate", "damper-cathode"])
    def test_points_say_what_to_read_instead(self, capsys, point):
        """Asked for a point that no meter may touch, it gives no figure but what to read instead."""
        assert main(["expect", "plover-17", point]) == 0
        said = capsys.readouterr().out

        assert "Do not measure here." in said
        assert "Instead: Read" in said
        assert "healthy sets" not in said


class TestBadInput:
    @pytest.mark.parametrize(
        ("arguments", "said"),
        [
            (["--set", "C34"], "PART=VALUE"),
            (["--set", "C999=1n"], "There is no part 'C999'"),
            (["--set", "C34=five"], "is not a number"),
            (["--set", "C34=-1n"], "must be above zero"),
            (["--standard", "441"], "Known: 405, 525, 625, 819"),
            (["--mains", "many"], "--mains many"),
            (["--mains", "1000"], "from 20 V to 300 V"),
            (["--signal", "music"], "Known: none, pattern"),
            (["--meter", "5k"], "Known: 10M, 11M, 1k, 20k"),
            (["vertical-outptu"], "Did you mean 'vertical-output'"),
            (["--sheet", "--json"], "without --sheet"),
            (["--page", "no/such/folder/sheet.html"], "Name another file"),
        ],
    )
    def test_is_one_sentence(self, capsys, arguments, said):
        """A bad value is told in one line that says how to mend it, and ends with exit code 2."""
        assert main(["expect", "plover-17", *arguments]) == 2
        error = capsys.readouterr().err

        assert said in error
        assert len(error.strip().splitlines()) == 1
