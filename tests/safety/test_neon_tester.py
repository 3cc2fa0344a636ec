"""What a neon tester is used for: whether there is voltage, within its rating and through the gate."""

from dataclasses import replace

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import gate
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.needs import needs_of
from backporch.engine.units import parse

LIBRARY = shipped()
NEON = {name: m for name, m in LIBRARY.measurements.items() if "neon-tester" in m.instruments}
RATED_V = parse(LIBRARY.instruments["neon-tester"].max_v, "V")
READY = SafetyState(
    chassis_return="one-mains-leg",
    envelope="glass",
    high_voltage_source="flyback",
    isolation="isolated",
    supply_aid="full-mains",
    company="accompanied",
    cold_check_due=False,
)
BENCHES = {name: make_workbench(name, ("neon-tester",), ("meter",)) for name in LIBRARY.chassis_names()}
STEPS = [(chassis, name) for chassis in BENCHES for name in NEON]


def needs(chassis, name):
    """Return what a step with the neon tester needs on a chassis."""
    return needs_of(BENCHES[chassis], BENCHES[chassis].faults.offers[name])


class TestRating:
    def test_there_is_a_handful(self):
        """Some tests use a neon tester, each proves it first and is trusted less than a meter."""
        assert 5 <= len(NEON) <= 10
        assert all("tester-proved" in m.access and m.reliability <= 0.9 for m in NEON.values())

    @pytest.mark.parametrize("name", NEON)
    def test_no_rated_or_pulsed_point_is_touched(self, name):
        """It touches no point that asks for more than an ordinary meter, and nothing of the output stage."""
        assert NEON[name].touches not in LIBRARY.points
        assert (NEON[name].touches is None) == ("high-voltage" in NEON[name].hazards)

    @pytest.mark.parametrize(("chassis", "name"), STEPS)
    def test_every_point_stays_within_its_rating(self, chassis, name):
        """No point of a shipped chassis can reach what the tester is rated for, and the gate knows the point."""
        step = needs(chassis, name)

        assert step.instrument_max_v == RATED_V or step.point is None
        assert step.point is None or 0 < step.point.rated_v <= RATED_V
        assert gate(step, READY).allowed

    @pytest.mark.parametrize(("chassis", "name"), STEPS)
    def test_a_higher_point_is_refused(self, chassis, name):
        """Were the point above the rating of the tester, the gate would refuse it."""
        step = needs(chassis, name)
        if step.point is not None:
            high = replace(step, point=replace(step.point, rated_v=RATED_V + 1))

            assert gate(high, READY).check == "rated-point"

    @pytest.mark.parametrize(("chassis", "name"), STEPS)
    def test_nothing_is_touched_on_a_live_chassis(self, chassis, name):
        """Without an isolating transformer no step with a neon tester is given on a mains-connected chassis."""
        assert gate(needs(chassis, name), replace(READY, isolation="direct")).check == "live-chassis"

    @pytest.mark.parametrize("chassis", BENCHES)
    def test_near_the_cage_nobody_is_alone(self, chassis):
        """The lamp is held near the closed cage only with somebody near who can pull the plug."""
        assert gate(needs(chassis, "neon-near-the-cage"), replace(READY, company="alone")).check == "alone"


class TestWhatItSays:
    @pytest.mark.parametrize("chassis", BENCHES)
    def test_a_healthy_set_lights_it_everywhere(self, chassis):
        """Each test glows on every healthy set, so that a dark lamp means something."""
        tables = BENCHES[chassis].faults.tables

        assert [n for n, m in NEON.items() if tables.healthy_outcomes[m.observe][0] < 1.0] == []

    def test_a_blown_fuse_leaves_it_dark(self):
        """With the fuse open there is neither mains nor B+, and no field at the cage."""
        faults = BENCHES["plover-17"].faults
        n = next(n for n, h in enumerate(faults.hypotheses) if h.id == "F1:blown")

        for name in ("neon-at-the-mains", "neon-at-b-plus", "neon-near-the-cage"):
            _, table = faults.outcome_table(name)
            assert table[1, n] > 0.8

    def test_without_a_neon_tester_it_is_not_asked_for(self):
        """The common bench has none, and no test of it is offered there."""
        assert not LIBRARY.instruments["neon-tester"].common
