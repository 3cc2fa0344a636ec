"""The table of picture-tube types is complete, marked and of a piece with the arithmetic."""

from pathlib import Path

import pytest
import yaml

from backporch.engine.circuits.picture_tube import cut_off_v
from backporch.engine.knowledge.library import shipped
from backporch.engine.units import parse

KB = Path(__file__).parents[2] / "kb"
TUBES = yaml.safe_load((KB / "picture_tubes.yaml").read_text(encoding="utf-8"))["picture_tubes"]
REQUIRED = {
    "title",
    "size",
    "shape",
    "angle_degrees",
    "envelope",
    "ion_trap",
    "focus",
    "heater",
    "base",
    "cut_off",
}
REQUIRED |= {"anode", "first_anode_most", "sources", "limits"}
MEMORY = "from memory, to verify"


@pytest.mark.parametrize("name", TUBES)
class TestEachType:
    def test_says_all_that_is_asked(self, name):
        """Each type has every figure that a rig or a session asks for, and no other key."""
        assert REQUIRED <= set(TUBES[name]) <= REQUIRED | {"pins", "coating"}

    def test_every_figure_has_a_source(self, name):
        """Each figure has a source in the table, or says that it is from memory."""
        sources = TUBES[name]["sources"]
        cited = {source for source in sources.values() if source != MEMORY}

        assert sources["every-other-figure"] == MEMORY
        assert cited <= set(shipped().sources)

    def test_words_are_known(self, name):
        """Envelope, ion trap, shape and focus are words that the chassis files know."""
        tube = TUBES[name]

        assert tube["envelope"] in ("glass", "metal-cone")
        assert tube["ion_trap"] in ("none", "single", "double")
        assert tube["shape"] in ("round", "rectangular")
        assert tube["focus"] in ("magnetic", "low-voltage electrostatic", "self-focusing")

    def test_values_read_as_values(self, name):
        """Values read in their units, and lie in order."""
        tube = TUBES[name]
        least, most = (parse(tube["cut_off"][key], "V") for key in ("least", "most"))

        assert 0 < least < most < parse(tube["cut_off"]["first_anode"], "V")
        assert parse(tube["anode"]["usual"], "V") < parse(tube["anode"]["most"], "V") < 25e3
        assert parse(tube["heater"]["voltage"], "V") * parse(tube["heater"]["current"], "A") < 5.0

    def test_cut_off_at_one_voltage_is_of_one_kind(self, name):
        """Read across to 300 V every type cuts off somewhere between 25 and 90 V."""
        stated = TUBES[name]["cut_off"]
        volts = [
            cut_off_v(300.0, parse(stated[key], "V"), parse(stated["first_anode"], "V"))
            for key in ("least", "most")
        ]

        assert 25.0 < volts[0] < volts[1] < 90.0

    def test_metal_cone_has_no_outer_coating(self, name):
        """No type with a metal cone is listed with an outer coating."""
        assert TUBES[name]["envelope"] == "glass" or "coating" not in TUBES[name]

    def test_magnetic_focus_has_no_focus_pin(self, name):
        """A type focused by a magnet has no pin for a focus electrode."""
        assert TUBES[name]["focus"] != "magnetic" or "focus" not in TUBES[name].get("pins", {})


class TestTheWhole:
    @pytest.mark.parametrize("angle", [53, 70, 90, 110])
    def test_each_class_of_angle_is_there(self, angle):
        """Every class of deflection angle has a type."""
        assert any(tube["angle_degrees"] == angle for tube in TUBES.values())

    def test_wide_tubes_have_no_ion_trap(self):
        """No type of 110 degrees has an ion trap."""
        assert all(tube["ion_trap"] == "none" for tube in TUBES.values() if tube["angle_degrees"] >= 110)

    def test_wiring_is_warned_of(self):
        """The file says at its head that pins are to be proved before they are wired."""
        assert "prove every pin" in (KB / "picture_tubes.yaml").read_text(encoding="utf-8").split("schema")[0]
