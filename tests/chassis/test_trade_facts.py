"""Facts of the trade that the virtual receivers must show."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Bench, Result, simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.knowledge.library import Library, shipped

Shows = Callable[..., Result]


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base."""
    return shipped()


@pytest.fixture(scope="module")
def plover(library: Library) -> Chassis:
    """Give the receiver with a power transformer."""
    return load_chassis("plover-17", library)


@pytest.fixture(scope="module")
def shows(plover: Chassis, library: Library) -> Shows:
    """Simulate the receiver with the named faults."""
    known = {h.id: h for h in all_hypotheses(plover, library)}

    def run(*faults: str, severity: float = 0.5, bench: Bench | None = None) -> Result:
        made = [known[name].fault for name in faults]
        return simulate(plover, healthy_batch(plover, [f for f in made if f], severity=severity), bench)

    return run


def one(result: Result, key: str) -> float:
    """Return a single value of a result, from points or picture."""
    source = result.values if "." in key else result.picture
    return float(source[key][0])


class TestVertical:
    """Rolling, hold and height."""

    @pytest.mark.parametrize("fault", ["R34:open", "C26:shorted", "C28:open"])
    def test_without_sync_it_rolls_at_the_difference(self, shows: Shows, fault: str) -> None:
        """With the vertical sync path dead the picture rolls at field rate less free-running rate."""
        result = shows(fault)
        free = float(result.inner["field_free_hz"][0])

        assert one(result, "roll_hz") == pytest.approx(60.0 - free, abs=1e-6)
        assert one(result, "line_error_hz") == 0.0

    def test_slow_rolls_up_and_fast_rolls_down(self, shows: Shows) -> None:
        """A field oscillator slower than the signal rolls the picture up, a faster one down."""
        assert one(shows("R41:high"), "roll_hz") > 0 > one(shows("R41:low"), "roll_hz")

    def test_a_leaky_coupling_capacitor_pulls_the_grid_up(self, shows: Shows) -> None:
        """Its leak lifts the next grid until it draws current, and folds the bottom of the picture."""
        result = shows("C36:leaky", severity=0.3)

        assert one(result, "vertical-output-grid.dc") > 3.0
        assert one(result, "fold_bottom") > 0.05
        assert one(result, "vertical_nonlinearity") > 0.3
        assert one(result, "vertical_nonlinearity") > 0.1

    def test_a_dead_oscillator_leaves_a_line(self, shows: Shows) -> None:
        """Without oscillation there is light but no height."""
        result = shows("C34:shorted")

        assert one(result, "height") < 0.05
        assert one(result, "brightness") > 0.3


class TestHorizontal:
    """Drive, boost and high voltage."""

    def test_drive_lost_gives_no_bias(self, shows: Shows) -> None:
        """With grid-leak bias the lost drive takes the bias with it, and the plate glows."""
        result = shows("C40:open")

        assert abs(one(result, "horizontal-output-grid.dc")) < 3.0
        assert one(result, "output_plate_glow") > 0.8
        assert one(result, "anode-voltage.dc") < 1000

    def test_boost_lost_leaves_about_b_plus(self, shows: Shows) -> None:
        """Without drive the boosted rail falls to about B+ while the damper conducts."""
        result = shows("C40:open")

        assert one(result, "boosted-b-plus.dc") == pytest.approx(one(result, "b-plus.dc"), rel=0.15)

    def test_an_open_damper_leaves_nearly_nothing(self, shows: Shows) -> None:
        """With the damper open the boosted rail is near zero and the plate does not glow."""
        result = shows("V17:heater-open")

        assert one(result, "boosted-b-plus.dc") < 15.0
        assert one(result, "output_plate_glow") < 0.1

    def test_a_dead_horizontal_stage_takes_the_height(self, shows: Shows) -> None:
        """The vertical sawtooth is charged from the boosted rail."""
        assert one(shows("C39:shorted"), "vertical-sawtooth.pp") < 0.7 * one(shows(), "vertical-sawtooth.pp")

    def test_a_leaky_boost_filter_takes_height_and_light(self, shows: Shows) -> None:
        """A leak on the boosted rail lowers height and brightness together."""
        healthy, leaky = shows(), shows("C45:leaky", severity=0.0)

        assert one(leaky, "height") < 0.95 * one(healthy, "height")
        assert one(leaky, "brightness") < 0.95 * one(healthy, "brightness")

    def test_a_slow_line_oscillator_leans_the_bars_left(self, shows: Shows) -> None:
        """Bars run down to the left where the line oscillator is slow: its error is negative."""
        result = shows("R51:high", severity=0.0)

        assert one(result, "line_error_hz") < 0


class TestPower:
    """Rails, hum and heaters."""

    def test_a_low_rail_shrinks_everything(self, shows: Shows) -> None:
        """A weak rectifier lowers B+, width, height, high voltage and light."""
        healthy, weak = shows(), shows("V20:weak", severity=0.7)

        for name in ("b_plus", "width", "height", "brightness"):
            assert one(weak, name) < 0.97 * one(healthy, name), name
        assert one(weak, "anode-voltage.dc") < one(healthy, "anode-voltage.dc")

    def test_full_wave_ripple_shows_two_bars(self, shows: Shows) -> None:
        """An open filter capacitor after a full-wave rectifier gives two bars."""
        result = shows("C3:open")

        assert one(result, "hum_bars") == 2.0
        assert one(result, "hum_depth") > 0.04

    def test_a_heater_to_cathode_leak_shows_one_bar(self, shows: Shows) -> None:
        """Heater hum is at mains rate: one bar."""
        assert one(shows("V7:heater-cathode-leak", severity=0.0), "hum_bars") == 1.0

    def test_an_open_heater_darkens_one_tube(self, shows: Shows) -> None:
        """With parallel heaters all others stay lit."""
        result = shows("V11A:heater-open")

        assert float(result.inner["heaters_dark"][0]) == 1.0
        assert one(result, "vertical_sync") < 0.05


class TestSignal:
    """AGC, separator and blanking bar."""

    def test_no_signal_takes_the_bias_of_the_separator(self, shows: Shows) -> None:
        """Grid-leak bias comes from the signal."""
        assert one(shows(bench=Bench(signal="none")), "sync-separator-grid.dc") > -1.5

    def test_lost_agc_crushes_the_sync(self, shows: Shows) -> None:
        """A shorted AGC line overloads the IF, sync on the screen turns as grey as blanking."""
        result = shows("C15:shorted")

        assert one(result, "overload") > 0.5
        assert one(result, "sync_on_screen") < 0.45

    def test_clamping_the_agc_cures_it(self, shows: Shows) -> None:
        """With the line held by a bias supply the picture comes back."""
        assert one(shows("C15:shorted", bench=Bench().with_clamp("agc")), "overload") < 0.1

    def test_separator_faults_leave_sync_on_the_screen(self, shows: Shows) -> None:
        """Behind the video tube the blanking bar still shows good sync."""
        result = shows("C23:open")

        assert one(result, "sync_on_screen") > 0.9
        assert one(result, "vertical_sync") < 0.1


@pytest.fixture(scope="module")
def others(library: Library) -> dict[str, Chassis]:
    """Load the receivers with a series string."""
    return {name: load_chassis(name, library) for name in ("dunlin-24", "curlew-19", "teal-14")}


def faulty(chassis: Chassis, library: Library, fault: str, severity: float = 0.5) -> Result:
    """Simulate one fault of another receiver."""
    found = next(h for h in all_hypotheses(chassis, library) if h.id == fault).fault
    return simulate(chassis, healthy_batch(chassis, [found] if found else [], severity=severity))


class TestIntegrator:
    """What reaches the vertical oscillator."""

    @pytest.mark.parametrize("name", ["plover-17", "dunlin-24", "curlew-19", "teal-14"])
    def test_no_sync_passes_an_open_resistor(self, library: Library, name: str) -> None:
        """With any series resistor of the integrator open nothing arrives and the picture rolls."""
        chassis = load_chassis(name, library)
        healthy = one(simulate(chassis, healthy_batch(chassis)), "integrator-output.pp")
        resistors = [
            n for n, p in chassis.parts.items() if p.stage == "vertical-integrator" and "resistor" in p.kind
        ]

        assert len(resistors) >= 2
        for resistor in resistors:
            result = faulty(chassis, library, f"{resistor}:open")

            assert one(result, "integrator-output.pp") < 0.01 * healthy
            assert one(result, "vertical_sync") < 0.01
            assert one(result, "roll_hz") > 1.0

    def test_mean_of_the_pulses_is_not_sync(self, plover: Chassis) -> None:
        """What passes the coupling capacitor is less than the crest above the reference, and ten volts or so."""
        result = simulate(plover, healthy_batch(plover))

        assert float(result.inner["vertical_pulse_v"][0]) < one(result, "integrator-output.pp")
        assert 7.0 < one(result, "integrator-output.pp") < 13.0


class TestHumAndString:
    """Half-wave supplies, strings of heaters, interactions over several stages."""

    def test_half_wave_ripple_shows_one_bar(self, others: dict[str, Chassis], library: Library) -> None:
        """An open filter capacitor after a half-wave rectifier gives one bar."""
        chassis = others["curlew-19"]
        filtered = next(n for n, p in chassis.parts.items() if p.role == "b-plus-capacitor")

        assert one(faulty(chassis, library, f"{filtered}:open"), "hum_bars") == 1.0

    @pytest.mark.parametrize(("mains_hz", "drift"), [(60.0, 0.0), (50.0, 10.0), (59.0, 1.0)])
    def test_hum_bars_drift_at_the_difference(
        self, plover: Chassis, library: Library, mains_hz: float, drift: float
    ) -> None:
        """Hum at mains rate drifts at the difference between mains and field rate."""
        chassis = plover.model_copy(update={"mains_hz": mains_hz})

        result = faulty(chassis, library, "V7:heater-cathode-leak", 0.0)

        assert one(result, "hum_bars") == 1.0
        assert one(result, "hum_drift_hz") == pytest.approx(drift)

    @pytest.mark.parametrize("name", ["dunlin-24", "curlew-19", "teal-14"])
    def test_heaters_and_dropper_add_up_to_the_mains(self, others: dict[str, Chassis], name: str) -> None:
        """The voltage at the head of the string is what the heaters take; the dropper takes the rest."""
        chassis = others[name]
        result = simulate(chassis, healthy_batch(chassis))
        heaters = sum(
            t.heater_v * float(result.inner[f"heat:{n}"][0])
            for n, t in chassis.tubes.items()
            if t.heater == "string"
        )
        head = float(result.values["heater-string-1.rms"][0])

        assert heaters == pytest.approx(head, rel=0.01)
        assert head < chassis.mains_v

    @pytest.mark.parametrize(("name", "fault"), [("dunlin-24", "V11"), ("curlew-19", "V6A"), ("teal-14", "V6")])
    def test_a_heater_cathode_short_makes_some_bright_and_some_dark(
        self, others: dict[str, Chassis], library: Library, name: str, fault: str
    ) -> None:
        """Towards the mains the string is overrun, beyond the short it is dark, and the set says so."""
        result = faulty(others[name], library, f"{fault}:heater-cathode-short", 0.1)

        assert one(result, "heaters_bright") > 1.2
        assert one(result, "heaters_lit") < 0.7
        assert "some-bright-some-dark" in symptoms_of(result.picture, library.picture_words)

    def test_a_leaky_boost_capacitor_takes_height_width_and_light(self, shows: Shows) -> None:
        """The capacitor on the boosted rail that feeds height and first anode takes width with it."""
        healthy, leaky = shows(), shows("C45:leaky", severity=0.0)

        for name in ("height", "width", "brightness"):
            assert one(leaky, name) < 0.97 * one(healthy, name), name

    @pytest.mark.parametrize("name", ["dunlin-24", "curlew-19", "teal-14"])
    def test_a_lower_mains_shrinks_everything(self, others: dict[str, Chassis], name: str) -> None:
        """Ten per cent less mains makes the raster smaller both ways and dimmer."""
        chassis = others[name]
        full, low = (
            simulate(chassis, healthy_batch(chassis), Bench(mains_v=share * chassis.mains_v))
            for share in (1.0, 0.9)
        )

        for quantity in ("height", "width", "brightness", "b_plus"):
            assert one(low, quantity) < one(full, quantity), quantity
