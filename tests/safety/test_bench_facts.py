"""What the bench and the file of a chassis say to the gate; what they do not say counts as the worst."""

from __future__ import annotations

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.offers import all_offers
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import gate
from backporch.engine.safety.points import class_of, volts_at
from backporch.engine.safety.set_facts import state_of_set, unstated
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.cold_check import next_check, with_cold_readings
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.needs import needs_of
from backporch.engine.session.questions import Question, choose_or_amount
from backporch.engine.session.workbench import Bench, Workbench
from backporch.engine.units import parse

LIBRARY = shipped()
SAID = "chassis_return: isolated\nenvelope: glass\nhigh_voltage_source: flyback\n"


@pytest.fixture
def own(tmp_path):
    """Give a way to load a file of one's own that is like plover-17."""

    def load(text):
        path = tmp_path / "own.yaml"
        path.write_text(f"schema: 1\nlike: plover-17\nname: own\n{text}", encoding="utf-8")
        return load_chassis(str(path), LIBRARY)

    return load


class TestOwnFile:
    def test_what_the_gate_goes_by_is_not_inherited(self, own):
        """A file that is like another and says nothing of its danger counts as the worst, and is told so."""
        state = state_of_set(own(""))

        assert (state.chassis_return, state.envelope, state.high_voltage_source) == ("unknown",) * 3
        assert "chassis_return, envelope and high_voltage_source" in unstated(own(""))

    def test_what_it_says_counts(self, own):
        """A file that says what its set is counts as that, and nothing is told."""
        assert unstated(own(SAID)) == ""
        assert not state_of_set(own(SAID)).live_chassis

    def test_a_type_with_a_metal_cone_has_one(self, own):
        """A registered type with a metal cone has one whatever the file says of the envelope."""
        assert own(SAID + "tubes: {V19: {type: 16GP4}}\n").envelope == "metal-cone"

    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_every_shipped_chassis_says_it_all(self, name):
        """No shipped chassis leaves open what the gate goes by."""
        assert unstated(load_chassis(name, LIBRARY)) == ""


class TestSupplyAid:
    def test_watts_and_volts_are_kept_until_the_aid_changes(self):
        """Lamp watts and transformer volts stand in the state, and are unknown again with another aid."""
        lamp = [Event("said", "supply-aid", "lamp-limiter"), Event("said", "lamp-power", "60 W")]
        state = after(SafetyState(), lamp)

        assert state.limiter_w == 60.0
        assert after(state, [Event("said", "supply-aid", "lamp-limiter")]).limiter_w == 0.0

    @pytest.mark.parametrize(("volts", "full"), [("117 V", True), ("106 V", True), ("104 V", False), ("?", False)])
    def test_nine_tenths_of_the_rated_mains_count_as_full(self, volts, full):
        """A variable transformer counts as full mains from nine tenths of the rating on, if known."""
        events = [Event("said", "supply-aid", "variable"), Event("said", "variable-volts", volts)]

        assert after(SafetyState(rated_v=117.0), events).full_mains is full

    @pytest.mark.parametrize(("typed", "kept"), [("2", "60 W"), ("75", "75 W"), ("0.1 kW", "100 W")])
    def test_an_amount_is_typed_or_picked(self, typed, kept):
        """A number of the list picks, anything else is an amount."""
        opening = LIBRARY.opening["lamp-power"]
        from backporch.engine.session.questions import Option

        options = tuple(Option(k, v) for k, v in opening.options.items())
        question = Question("lamp-power", "choice", opening.ask, options, unit="W")

        assert choose_or_amount(question, typed) == kept


def _readings(name):
    chassis = load_chassis(name, LIBRARY)
    workbench = Workbench(LIBRARY, chassis, Bench(frozenset(LIBRARY.instruments)), None, None)
    for offer in all_offers(chassis, LIBRARY).values():
        reading = offer.measurement.reading
        if reading is not None and reading.quantity in ("dc", "pp", "rms"):
            yield offer, reading.point, needs_of(workbench, offer), workbench.volts_at.get(reading.point, 0.0)


class TestPoints:
    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_no_reading_passes_the_rating_of_its_instrument(self, name):
        """Where direct voltage and peak pass what meter or probe is rated for, the gate refuses the reading."""
        good = after(
            state_of_set(load_chassis(name, LIBRARY)),
            [
                Event("said", "isolation", "isolated"),
                Event("said", "supply-aid", "full-mains"),
                Event("said", "company", "accompanied"),
                Event("cold-check", value="passed"),
            ],
        )
        checked = 0
        for offer, _, needs, volts in _readings(name):
            most = max(parse(LIBRARY.instruments[i].max_v or "0 V", "V") for i in needs.instruments)
            checked += 1
            assert volts <= most or not gate(needs, good).allowed, offer.id
        assert checked > 20

    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_every_point_above_a_probe_is_rated_or_forbidden(self, name):
        """A point whose computed volts pass the 600 V of an ordinary probe is named in the table of points."""
        chassis = load_chassis(name, LIBRARY)
        high = {point for point, volts in volts_at(chassis).items() if volts > 600.0}

        assert high <= set(LIBRARY.points)
        assert "anode-voltage" in high

    def test_a_point_that_is_computed_higher_needs_more(self):
        """The rating follows the computed voltage where that is above the usual one."""
        assert class_of(LIBRARY.points["boosted-b-plus"], 1200.0).rated_v > 1200.0
        assert class_of(LIBRARY.points["boosted-b-plus"], 500.0).rated_v == 1000.0


class TestColdReadings:
    def test_an_ohm_reading_of_the_cold_check_is_an_answer(self):
        """The ohms from B+ to the return count in the diagnosis, since they were read without power."""
        entries = with_cold_readings(LIBRARY, [Entry("check", "b-plus-ohms", "low = 800")])

        assert [(e.kind, e.key, e.value) for e in entries[1:]] == [("answer", "read-b-plus-cold", "800")]

    def test_a_later_reading_replaces_it(self):
        """After another reading of the same check only the last one counts."""
        entries = [Entry("check", "b-plus-ohms", "low = 800"), Entry("check", "b-plus-ohms", "high = 47k")]

        assert [e.value for e in with_cold_readings(LIBRARY, entries) if e.kind == "answer"] == ["47k"]

    def test_an_alarm_asks_for_its_cause_first(self):
        """After a sign of danger the cold check asks for the cause before anything else, undo or not."""
        chassis = load_chassis("plover-17", LIBRARY)
        entries = live([Entry("check", "replaced", "nothing"), Entry("alarm", "smoke"), Entry("undo", "")])

        assert next_check(LIBRARY, chassis, entries).id == "cause"
