"""The tables of tube fits and picture tubes are read and checked like every other file of the knowledge base."""

import shutil
from pathlib import Path

import pytest

import backporch.kb
from backporch.engine.chassis.load import load_chassis
from backporch.engine.circuits.tube_fits import diode_model, tube_model
from backporch.engine.errors import BadFile
from backporch.engine.knowledge.library import Library, shipped

LIBRARY = shipped()


def _with(folder, file, old, new):
    """Return a library with one text of one file replaced."""
    text = (Path(next(iter(backporch.kb.__path__))) / file).read_text(encoding="utf-8")
    assert old in text
    shutil.copy(Path(next(iter(backporch.kb.__path__))) / file, folder)
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    return Library(folder)


class TestTubeFits:
    @pytest.mark.parametrize("name", LIBRARY.tube_fits)
    def test_become_tubes(self, name):
        """The numbers of each type are those of a tube that the circuits take."""
        fit = LIBRARY.tube_fits[name]
        tube = diode_model(fit.model) if fit.kind == "diode" else tube_model(fit.model)

        assert fit.kind == "diode" or tube.screened == (fit.kind == "pentode")

    @pytest.mark.parametrize("name", LIBRARY.tube_fits)
    def test_cite_known_sources(self, name):
        """Every published point cites a source of the knowledge base."""
        assert {point.source for point in LIBRARY.tube_fits[name].points} <= set(LIBRARY.sources)

    @pytest.mark.parametrize(
        ("old", "new", "said"),
        [
            ("kind: triode", "kind: tetrode", "Did you mean 'triode'"),
            ("use: datum", "use: edge", "one of its points, and only one"),
            ("use: edge", "use: inner", "made without it"),
            ("use: apart", "use: edge", "and no other, must say why"),
            ("error: {plate_a: 0.001, ", "error: {", "the same quantities"),
        ],
    )
    def test_mistakes_are_named(self, tmp_path, old, new, said):
        """A mistake in a fit is told with file, line and field."""
        with pytest.raises(BadFile) as caught:
            _ = _with(tmp_path, "tube_fits.yaml", old, new).tube_fits

        assert said in str(caught.value)
        assert "tube_fits.yaml:" in str(caught.value)


class TestPictureTubes:
    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_hold_the_tube_of_each_shipped_chassis(self, name):
        """The picture tube of every shipped chassis is in the table, with the envelope and trap of the chassis."""
        chassis = load_chassis(name, LIBRARY)
        tube = LIBRARY.picture_tubes[chassis.tubes[chassis.picture_tube].type]

        assert (tube.envelope, tube.ion_trap) == (chassis.envelope, chassis.ion_trap)

    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_pins_are_those_of_the_test_points(self, name):
        """Where the chassis places a test point on an electrode of the tube, it names the pin of the table."""
        chassis = load_chassis(name, LIBRARY)
        tube = LIBRARY.picture_tubes[chassis.tubes[chassis.picture_tube].type]
        named = {"cathode": tube.pins.cathode, "grid": tube.pins.grid, "first-anode": tube.pins.first_anode}

        for electrode, pin in named.items():
            assert chassis.test_points[f"picture-tube-{electrode}"].at == f"{chassis.picture_tube} pin {pin}"

    @pytest.mark.parametrize(
        ("old", "new", "said"),
        [
            ('least: "27 V"', 'least: "270 V"', "must rise in this order"),
            ("envelope: metal-cone", "envelope: metal", "Did you mean 'metal-cone'"),
            ('usual: "9 kV"', 'usual: "90 kV"', "outside"),
            ("shape: round", "form: round", "unknown field 'form'"),
        ],
    )
    def test_mistakes_are_named(self, tmp_path, old, new, said):
        """A mistake in a picture tube is told with file, line and field."""
        with pytest.raises(BadFile) as caught:
            _ = _with(tmp_path, "picture_tubes.yaml", old, new).picture_tubes

        assert said in str(caught.value)
        assert "picture_tubes.yaml:" in str(caught.value)
