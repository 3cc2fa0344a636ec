"""The waveform command draws, lists, writes and refuses."""

from __future__ import annotations

import json

from backporch.engine.cli import main


class TestWaveform:
    def test_healthy_and_faulty_are_told(self, capsys):
        """A dried-out reservoir is drawn beside a healthy one, with both heights."""
        assert main(["waveform", "plover-17", "reservoir", "--fault", "C2=low-capacitance", "--json"]) == 0

        rows = json.loads(capsys.readouterr().out)["traces"]
        assert [row["set"] == "healthy" for row in rows] == [True, False]
        assert rows[1]["peak_to_peak_v"] > 1.2 * rows[0]["peak_to_peak_v"]

    def test_points_are_listed(self, capsys):
        """Without a point those with a waveform are listed."""
        main(["waveform", "plover-17"])

        assert "vertical-sawtooth" in capsys.readouterr().out

    def test_a_forbidden_point_says_what_to_do_instead(self, capsys):
        """No probe goes to a flyback plate; what to read instead is said."""
        assert main(["waveform", "plover-17", "horizontal-output-plate"]) == 2

        assert "cathode current" in capsys.readouterr().err

    def test_a_file_is_written(self, tmp_path, capsys):
        """A drawing is written where it was asked for."""
        path = tmp_path / "wave.svg"
        main(["waveform", "plover-17", "reservoir", "--svg", str(path)])

        assert path.read_bytes().startswith(b"<?xml")
        assert str(path) in capsys.readouterr().out

    def test_an_unknown_sweep_is_refused(self, capsys):
        """A sweep that does not exist is refused with those that do."""
        assert main(["waveform", "plover-17", "reservoir", "--sweep", "lines"]) == 2

        assert "'line'" in capsys.readouterr().err
