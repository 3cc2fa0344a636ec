"""Waveforms have the height, the rate and the shape that the simulated set and the trade say."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import shipped
from backporch.engine.picture.scope import graticule, scope_file, scope_lines
from backporch.engine.picture.shapes import SHAPES, Patch
from backporch.engine.picture.waveform import Wave, scope_wave, sweeps_of

LIBRARY = shipped()
NAMES = LIBRARY.chassis_names()
KINDS = {
    "composite video at the separator grid": "sync-separator-grid",
    "separated sync": "sync-separator-plate",
    "integrator steps": "integrator-output",
    "sawtooth": "vertical-sawtooth",
    "trapezoid at the yoke": "vertical-yoke",
    "drive": "horizontal-drive",
    "AFC pulses": "afc-reference-pulse",
    "boost ripple": "boosted-b-plus",
    "heater hum": "picture-tube-heater",
    "supply ripple": "reservoir",
}


@pytest.fixture(scope="module", params=NAMES)
def patch(request):
    """A healthy set of each chassis."""
    chassis = load_chassis(request.param, LIBRARY)
    return Patch(chassis, simulate(chassis, healthy_batch(chassis)))


@pytest.fixture(scope="module")
def plover():
    """A healthy set with power transformer."""
    chassis = load_chassis("plover-17", LIBRARY)
    return Patch(chassis, simulate(chassis, healthy_batch(chassis)))


class TestEveryChassis:
    def test_height_is_that_of_the_simulated_set(self, patch):
        """Over a whole period a trace is as high as the simulated reading, at every point of every chassis."""
        for point in SHAPES:
            if f"{point}.pp" not in patch.result.values:
                continue
            wave = scope_wave(patch, point, sweeps_of(point)[-1] if point != "integrator-output" else "field")

            assert np.ptp(wave.volts) == pytest.approx(abs(patch.result.values[f"{point}.pp"][0]), rel=0.08), point

    def test_all_named_kinds_are_drawn(self, patch):
        """Each kind of waveform of the trade is drawn where the chassis has the circuit."""
        without = {"afc-reference-pulse"} if patch.chassis.stages["horizontal-afc"].circuit == "direct" else set()
        for point in set(KINDS.values()) - without:
            wave = scope_wave(patch, point, sweeps_of(point)[0])

            assert np.isfinite(wave.volts).all()
            assert np.ptp(wave.volts) > 0


def _crests(volts: np.ndarray) -> int:
    """Return how often a trace rises through its upper quarter."""
    high = volts > volts.min() + 0.75 * np.ptp(volts)
    return int(np.count_nonzero(np.diff(high.astype(int)) == 1))


class TestShapes:
    def test_separator_grid_has_its_tips_up_and_flat(self, plover):
        """At the separator grid the sync tips are the most positive part and are held flat."""
        wave = scope_wave(plover, "sync-separator-grid", "line")
        top = wave.volts > wave.volts.max() - 0.02 * np.ptp(wave.volts)

        assert 0.05 < top.mean() < 0.10

    def test_separated_sync_has_no_picture(self, plover):
        """Behind the separator the trace is at one of two levels."""
        wave = scope_wave(plover, "sync-separator-plate", "line")
        place = (wave.volts - wave.volts.min()) / np.ptp(wave.volts)

        assert np.mean((place > 0.1) & (place < 0.85)) < 0.02

    def test_integrator_climbs_in_the_field_sync(self, plover):
        """The integrator has one crest a field and climbs over some lines."""
        wave = scope_wave(plover, "integrator-output", "field")
        near = scope_wave(plover, "integrator-output", "line")
        crest_s = near.time_s[near.volts.argmax()] - 3 * plover.of.line_s

        assert _crests(wave.volts) in (2, 3)
        assert 100e-6 < crest_s < 260e-6

    def test_yoke_has_ramp_and_spike(self, plover):
        """The yoke shows a straight ramp most of the time and a spike in the retrace."""
        wave = scope_wave(plover, "vertical-yoke", "field")
        slopes = np.sign(np.diff(wave.volts))

        assert np.mean(slopes < 0) > 0.9
        assert np.median(wave.volts) < wave.volts.max() - 0.5 * np.ptp(wave.volts)

    def test_reservoir_ripples_twice_a_cycle_behind_a_full_wave_rectifier(self, plover):
        """Two and a half cycles of the mains show five crests of ripple."""
        assert _crests(scope_wave(plover, "reservoir", "mains").volts) in (5, 6)

    def test_hum_of_the_heater_is_its_voltage(self, plover):
        """The heater winding shows a sine of 2.83 times its effective voltage."""
        wave = scope_wave(plover, "heater-winding", "mains")

        assert wave.pp_v == pytest.approx(2 * np.sqrt(2) * plover.result.values["heater-winding.rms"][0], rel=1e-6)

    def test_a_rolling_set_scans_at_its_own_rate(self, plover):
        """A set whose field oscillator runs slow shows a longer sawtooth."""
        slow = Patch(
            plover.chassis,
            type(plover.result)(**{**vars(plover.result), "picture": {"roll_hz": np.array([12.0])}}),
        )

        assert slow.field_hz == pytest.approx(48.0)
        fewer = _crests(scope_wave(slow, "vertical-sawtooth", "field").volts)
        assert fewer <= _crests(scope_wave(plover, "vertical-sawtooth", "field").volts)

    def test_a_plate_that_must_not_be_touched_has_no_waveform(self):
        """Points that no probe may touch are not among those with a waveform."""
        forbidden = {name for name, rating in LIBRARY.points.items() if rating.rating == "forbidden"}

        assert forbidden & set(SHAPES) == set()

    def test_a_point_without_waveform_is_refused(self, plover):
        """A point that is read with a meter alone is refused with the nearest that has a waveform."""
        with pytest.raises(UnknownWord, match="vertical-yoke"):
            scope_wave(plover, "vertical-yok", "field")

    def test_a_point_of_another_circuit_is_refused(self, plover):
        """A point that this chassis does not have is refused."""
        with pytest.raises(BadInput, match="no point agc-gate-pulse"):
            scope_wave(plover, "agc-gate-pulse", "line")


class TestDrawing:
    @pytest.mark.parametrize("colour", [True, False])
    def test_the_screen_fits_eighty_columns(self, plover, colour):
        """A scope in text is at most as wide as asked, for every point."""
        for point in ("reservoir", "rail-sync", "sync-separator-plate"):
            traces = {n: scope_wave(plover, point, sweeps_of(point)[0]) for n in ("healthy", "this set")}

            assert max(line.cell_len for line in scope_lines(traces, 80, colour=colour)) <= 80

    def test_without_colour_each_set_has_its_own_screen(self, plover):
        """Where colours cannot tell them apart, healthy and faulty are drawn one below the other."""
        wave = scope_wave(plover, "reservoir", "mains")
        text = [line.plain for line in scope_lines({"healthy": wave, "this set": wave}, 80, colour=False)]

        assert "healthy:" in text
        assert "this set:" in text

    def test_ascii_is_ascii(self, plover):
        """A terminal that has ASCII alone gets nothing else."""
        wave = scope_wave(plover, "reservoir", "mains")
        lines = scope_lines({"healthy": wave, "sick": wave}, 80, colour=False, blocks=False)

        assert "".join(line.plain for line in lines).isascii()

    def test_graticule_goes_in_steps(self):
        """Volts a division are 1, 2 or 5 times a power of ten, and the trace fits eight of them."""
        time = np.linspace(0, 1e-4, 10)
        for height in (0.013, 0.7, 3.0, 42.0, 950.0):
            wave = Wave("b-plus", "line", time, np.linspace(-height / 2, height / 2, 10), height, None)
            setting = graticule({"one": wave})

            assert f"{setting.volts:.0e}"[0] in "125"
            assert 3 < height / setting.volts <= 8

    @pytest.mark.parametrize(("kind", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
    def test_files_are_drawn(self, plover, kind, begins):
        """A scope is drawn to PNG and SVG."""
        pytest.importorskip("matplotlib")
        wave = scope_wave(plover, "reservoir", "mains")

        assert scope_file("t", {"mains": {"healthy": wave}}, kind).startswith(begins)

    def test_a_missing_library_is_said(self, plover, monkeypatch):
        """Without the plotting library one sentence tells how to get it."""
        monkeypatch.setitem(sys.modules, "matplotlib", None)
        for name in [n for n in sys.modules if n.startswith("matplotlib.")]:
            monkeypatch.setitem(sys.modules, name, None)
        wave = scope_wave(plover, "reservoir", "mains")

        with pytest.raises(BadInput, match="pip install"):
            scope_file("t", {"mains": {"healthy": wave}}, "png")
