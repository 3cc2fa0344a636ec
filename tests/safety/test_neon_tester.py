"""What a neon tester is used for: whether there is voltage, within its rating and through the gate."""

import math
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
STEPS = [(chassis, name) for chassis, bench in BENCHES.items() for name in NEON if name in bench.faults.offers]


def needs(chassis, name):
    """Return what a step with the neon tester needs on a chassis."""
    return needs_of(BENCHES[chassis], BENCHES[chassis].faults.offers[name])


class TestRating:
    def test_there_is_a_handful(self):
        """Some tests use a neon tester, each proves it first and is trusted less than a meter."""
        assert 5 <= len(NEON) <= 14
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
        assert math.sqrt(2.0) * 1.1 * BENCHES[chassis].chassis.mains_v <= RATED_V
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
        """Each test but those of a dark heater string glows on every healthy set, so that a dark lamp tells."""
        tables = BENCHES[chassis].faults.tables
        always = {name: m.observe for name, m in NEON.items() if not m.needs_any}

        assert [name for name, seen in always.items() if tables.healthy_outcomes[seen][0] < 1.0] == []

    @pytest.mark.parametrize("chassis", [c for c, b in BENCHES.items() if b.chassis.supply == "series-string"])
    def test_an_open_string_is_halved(self, chassis):
        """With one heater open the lamp glows ahead of the break and is dark behind it."""
        faults = BENCHES[chassis].faults
        places = [n for n in (1, 5, 8, 9, 13) if f"neon-at-heater-string-{n}" in faults.offers]
        tables = [faults.outcome_table(f"neon-at-heater-string-{n}")[1][0] for n in places]
        broken = [k for k, h in enumerate(faults.hypotheses) if h.id.endswith(":heater-open")]
        kinds = {tuple(bool(table[k] > 0.5) for table in tables) for k in broken}

        assert len(places) > 1
        assert all(list(kind) == sorted(kind, reverse=True) for kind in kinds)
        assert len(kinds) > 1

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
