"""The bench sheet has every point once, on its pin, for the meter in use; what must not be measured says so."""

import html
import re

import pytest

from backporch.engine.chassis.bench_sheet import bench_sheet
from backporch.engine.chassis.expected import METERS
from backporch.engine.chassis.forbidden import never_points
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.pin_places import electrode_words
from backporch.engine.knowledge.library import shipped
from backporch.engine.picture.sheet_page import sheet_page
from backporch.engine.picture.socket import BASES

LIBRARY = shipped()
CHASSIS = {name: load_chassis(name, LIBRARY) for name in LIBRARY.chassis_names()}
SHEETS = {
    name: bench_sheet(LIBRARY, chassis, meter=METERS["10M"], needed_v={"anode-voltage": 20e3})
    for name, chassis in CHASSIS.items()
}


def _rows(sheet):
    return [*(row for tube in sheet.tubes for row in tube.rows), *sheet.others]


@pytest.mark.parametrize("name", SHEETS)
class TestEverySheet:
    def test_every_named_pin_is_on_its_socket(self, name):
        """Every pin that the chassis file names has a row on the socket of its tube."""
        tubes = {tube.name: tube for tube in SHEETS[name].tubes}
        named = [re.fullmatch(r"(V\d+) pin (\d+)", place.at) for place in CHASSIS[name].test_points.values()]

        for found in filter(None, named):
            if found[1] in tubes:
                assert int(found[2]) in tubes[found[1]].pins
            else:
                assert any(f"{found[1]} " in row.place for row in SHEETS[name].others)

    def test_pins_exist_on_their_socket(self, name):
        """No row stands on a pin that the socket does not have."""
        for tube in SHEETS[name].tubes:
            if tube.base:
                assert all(row.pin is None or 1 <= row.pin <= BASES[tube.base][0] for row in tube.rows)

    def test_named_pins_are_those_of_the_tube(self, name):
        """The pin that a chassis file gives for a plate, grid, screen, cathode or heater is that of the type."""
        chassis = CHASSIS[name]
        for point, place in chassis.test_points.items():
            found = re.fullmatch(r"(V\d+) pin (\d+)", place.at)
            if not found:
                continue
            words = electrode_words(LIBRARY, chassis.tubes[found[1]])
            electrode = "heater" if "heater" in point else point.rpartition("-")[2]
            signal_grid = electrode == "grid" and chassis.tubes[found[1]].type == "3CS6"
            if electrode in ("plate", "grid", "screen", "cathode", "heater"):
                assert words[int(found[2]) - 1].startswith("suppressor" if signal_grid else electrode), point

    def test_heaters_at_high_voltage_have_no_row(self, name):
        """A heater that rides on its cathode, hundreds of volts up, is not asked for."""
        floating = {n for n, t in CHASSIS[name].tubes.items() if t.heater in ("flyback", "own-winding")}
        for tube in SHEETS[name].tubes:
            if tube.name in floating:
                assert not any(row.place == "heater" for row in tube.rows)

    def test_forbidden_points_have_their_substitute(self, name):
        """Points that no meter may touch say so and what to read instead, and show no figure."""
        barred = [row for row in _rows(SHEETS[name]) if row.never]
        wanted = {f"Instead: {one.instead}" for one in never_points(LIBRARY, CHASSIS[name]).values()}

        assert {row.note for row in barred} == wanted
        assert {row.reads for row in barred} == {"do not measure"}

    def test_rated_points_name_the_rating(self, name):
        """The anode voltage is not for an ordinary meter, and the row says what else to do."""
        row = next(row for row in SHEETS[name].others if row.place.startswith("anode voltage"))

        assert "not with this meter" in row.reads
        assert "rated for 20 kV" in row.note

    def test_the_page_holds_every_row(self, name):
        """The printed page has every row with its figure, and one box for each that may be read."""
        page = sheet_page(SHEETS[name])
        rows = _rows(SHEETS[name])

        assert all(html.escape(row.reads) in page for row in rows)
        assert page.count("<td class='box'>") == sum(not row.never for row in rows)

    def test_the_page_fetches_nothing(self, name):
        """The page is whole in itself: no link, script, picture or font from elsewhere."""
        page = sheet_page(SHEETS[name])

        assert not re.search(r"https?:|src=|href=|url\(|@import|<script|<link", page)

    def test_the_page_is_no_wider_than_both_papers(self, name):
        """The text is 190 mm wide between margins of 10 mm, within A4 and Letter."""
        page = sheet_page(SHEETS[name])

        assert "width: 190mm" in page
        assert "margin: 10mm" in page
        assert min(210, 216) >= 190 + 2 * 10


class TestMeterAndMains:
    def test_a_loading_meter_shows_less(self):
        """At a high resistance a meter of 1 k per volt shows far less than one of 10 M."""
        light, heavy = (
            bench_sheet(LIBRARY, CHASSIS["plover-17"], meter=METERS[meter], points=["agc-line"]).others[0].reads
            for meter in ("10M", "1k")
        )

        assert light.startswith("-2.")
        assert heavy.startswith("-2")
        assert heavy.endswith("mV")

    def test_low_mains_lower_the_rails(self):
        """With 100 V of mains instead of 117 V the B+ on the sheet is lower."""
        rated, low = (
            bench_sheet(LIBRARY, CHASSIS["plover-17"], meter=METERS["10M"], mains_v=mains, points=["b-plus"])
            for mains in (None, 100.0)
        )

        assert float(low.others[0].reads.split()[0]) < 0.9 * float(rated.others[0].reads.split()[0])

    def test_no_signal_stands_beside_the_pattern(self):
        """Where the signal makes the voltage, the sheet gives the one without it too."""
        tubes = {tube.name: tube for tube in SHEETS["plover-17"].tubes}

        assert tubes["V11"].pins[2].reads.startswith("-")
        assert tubes["V11"].pins[2].no_signal not in ("", tubes["V11"].pins[2].reads)


@pytest.mark.parametrize("name", [name for name, kind in LIBRARY.tubes.items() if kind.pins])
def test_pins_fill_the_base(name):
    """A type with known pins names one thing for each pin of its base, and two heater pins or more."""
    kind = LIBRARY.tubes[name]
    pins = kind.pins.split()

    assert len(pins) == {"octal": 8, "miniature-7": 7, "noval": 9}[kind.base]
    assert pins.count("h") == 2
