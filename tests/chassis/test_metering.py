"""The meter of the bench loads the points it reads, and readings are judged as that meter shows them."""

import math

import numpy as np
import pytest

from backporch.engine.chassis.dictionary import Dictionary
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.metering import BENCH_METERS, bench_meter, read_by
from backporch.engine.chassis.tables import build_tables
from backporch.engine.circuits.meters import DIGITAL_10_M, NEEDLE_1_K, NEEDLE_20_K
from backporch.engine.cli.setup import make_bench
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.needs import needs_of
from backporch.engine.session.workbench import Workbench

LIBRARY = shipped()
PLOVER = load_chassis("plover-17", LIBRARY)


@pytest.fixture(scope="module")
def tables():
    """Return few draws of every fault."""
    return build_tables(PLOVER, LIBRARY, draws=4)


class TestMeters:
    def test_each_is_an_instrument_of_the_same_rating(self):
        """Every meter that may be in hand is an instrument of the knowledge base, with that rating."""
        for name, meter in BENCH_METERS.items():
            assert LIBRARY.instruments[name].max_v == f"{meter.max_v:g} V"

    def test_the_stiffer_meter_is_reached_for(self):
        """Of several meters the one that loads least is taken; without any there is none."""
        assert bench_meter({"cheap-meter", "needle-meter"}) == "needle-meter"
        assert bench_meter({"eyes"}) == ""

    def test_usual_meter_changes_nothing(self):
        """What the usual meter shows is what it shows."""
        assert read_by(DIGITAL_10_M, [10.0, -3.0], [1e6, 2e6]).tolist() == [10.0, -3.0]

    @pytest.mark.parametrize(("meter", "own_ohm"), [(NEEDLE_20_K, 5e6), (NEEDLE_1_K, 250e3)])
    def test_a_weak_point_sags(self, meter, own_ohm):
        """A needle meter on its 250 V range pulls 200 V behind a megohm down by its own resistance."""
        usual = 200.0 * 10.0 / 11.0

        assert math.isclose(200.0 * own_ohm / (own_ohm + 1e6), read_by(meter, usual, 1e6), rel_tol=1e-9)


class TestDictionary:
    def test_healthy_band_is_that_of_the_meter(self, tables):
        """A reading behind a high resistance is healthy at a lower figure with a needle meter."""
        usual = Dictionary(PLOVER, LIBRARY, tables)
        needle = Dictionary(PLOVER, LIBRARY, tables, meter=NEEDLE_20_K)
        key = max(tables.healthy_source_ohm, key=lambda k: float(np.median(tables.healthy_source_ohm[k])))

        assert abs(float(np.median(needle.healthy(key)))) < 0.99 * abs(float(np.median(usual.healthy(key))))

    def test_stiff_points_stay(self, tables):
        """B+ reads the same with any meter."""
        usual = Dictionary(PLOVER, LIBRARY, tables)
        needle = Dictionary(PLOVER, LIBRARY, tables, meter=NEEDLE_1_K)

        np.testing.assert_allclose(needle.healthy("b-plus.dc"), usual.healthy("b-plus.dc"), rtol=0.01)


class TestBench:
    def test_another_meter_stands_in(self):
        """Without the digital meter a needle meter is read; without any meter nothing is measured."""
        needle = make_bench(LIBRARY, ["needle-meter"], ["meter"])

        assert needle.meter == "needle-meter"
        assert "meter" in needle.instruments
        assert "meter" not in make_bench(LIBRARY, [], ["meter"]).instruments

    def test_its_rating_counts(self, tables):
        """A step is judged by the rating of the meter in hand, not by that of the usual one."""
        bench = make_bench(LIBRARY, ["cheap-meter"], ["meter"])
        faults = Dictionary(PLOVER, LIBRARY, tables, meter=BENCH_METERS[bench.meter])
        workbench = Workbench(LIBRARY, PLOVER, bench, lambda: None, lambda: faults)
        offer = next(o for o in faults.offers.values() if o.measurement.instruments == ("meter",))

        assert needs_of(workbench, offer).instrument_max_v == 500.0
