"""The expect command recomputes for meter, mains, parts, standard and signal, and explains bad values in a sentence."""

import json

import pytest

from backporch.engine.cli import main
from backporch.engine.knowledge.library import shipped

CHASSIS = shipped().chassis_names()


def _points(capsys, *arguments):
    """Return what expect says, by point and quantity."""
    assert main(["expect", *arguments, "--json"]) == 0
    points = json.loads(capsys.readouterr().out)["points"]
    return {f"{p['point']}.{p['quantity']}": p for p in points if "quantity" in p}


@pytest.mark.parametrize("name", CHASSIS)
class TestRecomputes:
    def test_for_the_meter(self, capsys, name):
        """A meter of 1 k per volt pulls the AGC line down and leaves B+ nearly alone."""
        usual, heavy = (_points(capsys, name, "--meter", meter) for meter in ("10M", "1k"))

        assert abs(heavy["agc-line.dc"]["shown"]) < 0.3 * abs(usual["agc-line.dc"]["shown"])
        assert heavy["b-plus.dc"]["shown"] > 0.97 * usual["b-plus.dc"]["shown"]
        assert heavy["agc-line.dc"]["value"] == usual["agc-line.dc"]["value"]

    def test_for_the_mains(self, capsys, name):
        """A tenth less mains takes about a tenth off B+ and the heaters."""
        usual = _points(capsys, name, "b-plus")["b-plus.dc"]["value"]
        mains = _points(capsys, name, "mains-at-set")["mains-at-set.rms"]["value"]
        low = _points(capsys, name, "--mains", str(round(0.9 * mains)))

        assert 0.82 < low["b-plus.dc"]["value"] / usual < 0.96
        assert low["picture-tube-heater.rms"]["value"] < 6.2

    def test_for_a_part(self, capsys, name):
        """A coupling capacitor a tenth as large, or a rail resistor twice as large, moves its point."""
        usual = _points(capsys, name, "rail-sync")["rail-sync.dc"]["value"]
        dropper = next(
            part
            for part, data in shipped_parts(name).items()
            if (data.stage, data.role) == ("rail-decoupling", "dropper-sync")
        )
        more = _points(capsys, name, "rail-sync", "--set", f"{dropper}=100k")["rail-sync.dc"]["value"]

        assert more < 0.8 * usual

    def test_for_no_signal(self, capsys, name):
        """Without a signal the separator makes no bias and the AGC line goes to about zero."""
        dark = _points(capsys, name, "--signal", "none")

        assert abs(dark["sync-separator-grid.dc"]["value"]) < 1.0
        assert abs(dark["agc-line.dc"]["value"]) < 0.5
        assert dark["sync-separator-plate.pp"]["value"] < 1.0

    def test_for_a_standard(self, capsys, name):
        """On another standard the steps name another rate, and drive at the line rate changes."""
        other = "625" if "525" in str(load(name).standard) else "525"
        usual, changed = _points(capsys, name), _points(capsys, name, "--standard", other)

        assert changed["horizontal-drive.pp"]["value"] != usual["horizontal-drive.pp"]["value"]

    def test_the_sheet_fits_a_terminal(self, capsys, monkeypatch, name):
        """The bench sheet has boxes and fits 80 columns."""
        monkeypatch.setenv("COLUMNS", "80")

        assert main(["expect", name, "--sheet"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(map(len, lines)) <= 80
        assert sum("[        ]" in line for line in lines) > 50


def load(name):
    """Return a shipped chassis."""
    from backporch.engine.chassis.load import load_chassis

    return load_chassis(name, shipped())


def shipped_parts(name):
    """Return its parts."""
    return load(name).parts


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
