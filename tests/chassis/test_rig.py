"""A bench rig: what is refused, what comes first, what looks different, and what rules hear of it."""

import json
import math

import pytest
from typer.testing import CliRunner

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.rig import rig_report
from backporch.engine.chassis.rig_figures import detail_share_of, foil_wanted_m2, ripple_share_of, scan_of
from backporch.engine.cli.app import app
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import shipped
from backporch.engine.knowledge.rigs import Rig, read_area
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry

LIBRARY = shipped()
PLOVER, DUNLIN, TEAL = (load_chassis(name, LIBRARY) for name in ("plover-17", "dunlin-24", "teal-14"))
OWN = LIBRARY.picture_tubes["17BP4A"]
RUN = CliRunner()


def _report(chassis, **fields):
    return rig_report(chassis, Rig(**{"tube": "17BP4A", "adapter": "checked", **fields}), LIBRARY)


class TestRefusals:
    def test_a_tube_rated_below_the_unloaded_voltage_is_refused(self):
        """The unloaded anode voltage decides, and it is above the voltage in use."""
        report = _report(DUNLIN, tube="17BP4A")

        assert not report.will_do
        assert report.anode_open_v > OWN.anode.most

    def test_the_same_tube_may_do_on_another_chassis(self):
        """A chassis that gives less is no reason to refuse it."""
        assert _report(PLOVER).will_do

    def test_a_heater_for_less_current_is_refused_in_the_string(self):
        """A 0.3 A heater in a 0.6 A string would burn out."""
        assert not _report(DUNLIN, tube="AW53-88", heater="in-string").will_do
        assert _report(DUNLIN, tube="AW53-88", heater="own-supply").will_do

    def test_a_diagnosis_on_a_refused_rig_does_not_begin(self, tmp_path):
        """The diagnosis refuses such a rig and says why."""
        path = tmp_path / "small.yaml"
        path.write_text("schema: 1\ntube: 10BP4A\n", encoding="utf-8")

        with pytest.raises(BadInput, match="unloaded"):
            make_workbench("dunlin-24", rig=str(path))


class TestCoating:
    def test_a_foil_band_over_a_quarter_of_the_flare_is_enough(self):
        """A band of 300 cm2 leaves a small part of a per cent of ripple."""
        assert _report(TEAL, tube="MW36-44", coating="none", foil="300 cm2").ripple_share < 0.005

    def test_a_tube_without_any_coating_still_shows_a_picture(self):
        """Without coating the ripple is seen, but the tube is not called useless."""
        report = _report(TEAL, tube="MW36-44", coating="none")

        assert report.will_do
        assert 0.005 < report.ripple_share < 0.1

    def test_more_foil_leaves_less_ripple(self):
        """The foil that is asked for brings the ripple down to what is asked."""
        rig, scan, tube = Rig(tube="MW36-44", coating="none"), scan_of(TEAL), LIBRARY.picture_tubes["MW36-44"]
        area = foil_wanted_m2(TEAL, rig, tube, scan, 0.002)
        with_foil = ripple_share_of(TEAL, rig.model_copy(update={"foil": area}), tube, scan)

        assert with_foil <= 0.002 < ripple_share_of(TEAL, rig, tube, scan)

    def test_a_loose_coating_sparks(self):
        """A coating that is not bonded explains sparks, and bonding it comes first."""
        report = _report(PLOVER, coating="loose")

        assert "high-voltage-arcing" in report.explains
        assert any("Bond" in step for step in report.first)


class TestSize:
    def test_the_own_tube_and_yoke_change_nothing(self):
        """On its own kind of tube and yoke the picture keeps its size."""
        report = _report(PLOVER)

        assert math.isclose(report.width, 1.0, abs_tol=0.01)
        assert math.isclose(report.height, 1.0, abs_tol=0.01)

    def test_a_yoke_of_more_inductance_narrows_and_slows(self):
        """More inductance gives less width and a longer retrace."""
        report = _report(PLOVER, horizontal_yoke="16 mH")

        assert report.width < 0.97
        assert any(d.about == "retrace" for d in report.differences)

    def test_a_tube_for_a_wider_angle_is_not_filled(self):
        """A tube for 90 degrees is not filled by scans for 70."""
        report = _report(PLOVER, tube="21ALP4A")

        assert report.width < 0.85
        assert "raster-too-small" in report.explains

    def test_a_yoke_for_less_angle_shadows_the_corners(self):
        """Under a yoke for 70 degrees the dark corners of a tube for 90 are no fault; one for 90 makes none."""
        less, enough = (_report(PLOVER, tube="21ALP4A", yoke_angle=degrees) for degrees in (70, 90))

        assert "neck-shadow" in less.explains
        assert not any(d.about == "yoke" for d in enough.differences)

    def test_dark_corners_under_a_yoke_of_unknown_angle_point_to_the_rig(self):
        """Where nobody said for what angle the other yoke is made, shadowed corners are the rig's first."""
        report = _report(PLOVER, tube="21EP4A", horizontal_yoke="12 mH")

        assert dict(report.traits)["rig-angle"] == "unknown"


class TestLeadsAndHeater:
    def test_a_longer_cathode_lead_takes_detail(self):
        """Half a metre leaves more than half of the detail, a metre less than half a metre does."""
        shares = [detail_share_of(PLOVER, Rig(tube="17BP4A", lead=lead)) for lead in ("0 m", "50 cm", "1 m")]

        assert shares[0] == 1.0
        assert 0.5 < shares[1] < 1.0
        assert shares[2] < shares[1]

    @pytest.mark.parametrize(("chassis", "ohm"), [(DUNLIN, "10.5 ohm"), (TEAL, "21 ohm")])
    def test_the_string_gets_a_resistor(self, chassis, ohm):
        """In a series string a resistor of the right value stands in for the tube's heater."""
        tube = {"dunlin-24": "24DP4A", "teal-14": "MW36-44"}[chassis.name]

        assert any(ohm in step for step in _report(chassis, tube=tube).first)

    def test_a_heater_for_more_current_stays_dim_in_the_string(self):
        """A 0.6 A heater in a 0.3 A string gets too little and is said to stay dim."""
        assert "raster-dim" in _report(TEAL, tube="17BP4A", heater="in-string").explains


class TestDiagnosis:
    def test_what_the_rig_explains_does_not_count(self, tmp_path):
        """A smear that the long lead accounts for leaves the ranking as it was."""
        path = tmp_path / "rig.yaml"
        path.write_text("schema: 1\ntube: 17BP4A\nlead: 80 cm\nadapter: checked\n", encoding="utf-8")
        bench = make_workbench("plover-17", rig=str(path))
        seen = [Entry("circumstance", "supply-aid", "full-mains"), Entry("symptom", "sound-good")]

        with_smear = assess(bench, [*seen, Entry("symptom", "smeared")]).ranking

        assert with_smear.stages == assess(bench, seen).ranking.stages


def _diagnosed(tmp_path, monkeypatch, chassis, signs, **rig):
    """Return what `diagnose --rig` says of the stages after some signs, and its exit code."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))
    path = tmp_path / "rig.yaml"
    path.write_text("schema: 1\n" + "".join(f"{k}: {v}\n" for k, v in rig.items()), encoding="utf-8")
    isolation = [] if chassis == "plover-17" else ["isolated"]
    lines = [
        "worked-last-week",
        "unknown",
        *isolation,
        "full-mains",
        "accompanied",
        "generator",
        "proved",
        *signs,
        "",
    ]
    words = ["diagnose", "--chassis", chassis, "--rig", str(path), "--json"]
    told = RUN.invoke(app, words, input="\n".join(lines) + "\n")
    if '"stages"' not in told.stdout:
        told = RUN.invoke(app, words, input="\n".join([*lines, "hears"]) + "\n")
    return told


def _share(result, stage):
    stages = json.loads(result.stdout)["stages"]
    return next(s["probability"] for s in stages if s["stage"] == stage)


class TestDiagnosisOnARig:
    @pytest.mark.parametrize(
        ("sign", "poor", "good"),
        [
            ("brightness-stuck-dim", {"adapter": "unchecked"}, {"adapter": "checked"}),
            ("picture-negative", {"adapter": "unchecked"}, {"adapter": "checked"}),
            ("high-voltage-corona", {"coating": "none"}, {"coating": "bonded"}),
        ],
    )
    def test_the_rig_is_suspected_of_what_it_does(self, tmp_path, monkeypatch, sign, poor, good):
        """Electrodes exchanged on an adapter and a coating that is missing raise the tube of the rig."""
        shares = [
            _share(_diagnosed(tmp_path, monkeypatch, "plover-17", [sign], tube="17BP4A", **rig), "picture-tube")
            for rig in (poor, good)
        ]

        assert shares[0] > 1.5 * shares[1]

    @pytest.mark.parametrize(
        ("sign", "stage", "rig"),
        [
            ("smeared", "video-output", {"lead": "80 cm"}),
            ("width-too-small", "horizontal-output", {"horizontal_yoke": "16 mH"}),
        ],
    )
    def test_what_the_rig_makes_different_is_no_fault(self, tmp_path, monkeypatch, sign, stage, rig):
        """A long lead and another yoke answer for smear and width; on the set's own they point to a stage."""
        own = _share(_diagnosed(tmp_path, monkeypatch, "plover-17", [sign], tube="17BP4A"), stage)
        on_rig = _share(_diagnosed(tmp_path, monkeypatch, "plover-17", [sign], tube="17BP4A", **rig), stage)

        assert on_rig < own

    def test_a_refused_rig_ends_it_in_one_sentence(self, tmp_path, monkeypatch):
        """A tube for less than the unloaded anode voltage ends the diagnosis with code 2 before any question."""
        result = _diagnosed(tmp_path, monkeypatch, "dunlin-24", ["no-raster"], tube="10BP4A")

        assert result.exit_code != 0
        assert '"stages"' not in result.stdout


class TestCommand:
    @pytest.mark.parametrize(
        ("chassis", "options", "words"),
        [
            ("teal-14", ["--tube", "MW36-44", "--coating", "none"], ["ripples by", "A foil band of"]),
            ("plover-17", ["--coating", "loose"], ["Not bonded, it sparks", "Bond the outer coating"]),
            (
                "plover-17",
                ["--yoke", "16 mH"],
                ["The width comes to", "The retrace lasts", "the anode voltage is"],
            ),
            ("plover-17", ["--lead", "80 cm"], ["more of cathode lead", "edges trail"]),
            ("plover-17", ["--adapter", "unchecked"], ["first grid and first anode exchanged", "beyond control"]),
            ("teal-14", ["--heater", "in-string"], ["heater gets 33% of its voltage", "the others +"]),
            ("plover-17", ["--tube", "21ALP4A"], ["the light does not fill it", "in the shadow of the neck"]),
        ],
    )
    def test_each_effect_of_a_rig_is_told(self, chassis, options, words):
        """Coating, yoke, lead, adapter, heater, angle: the command says what each changes or what to do first."""
        tube = [] if "--tube" in options else ["--tube", "17BP4A"]
        result = RUN.invoke(app, ["rig", chassis, *tube, *options])
        told = " ".join(result.stdout.split())

        assert [word for word in words if word not in told] == []

    def test_says_that_it_will_do_and_what_differs(self):
        """The command answers whether it will do, with the steps and the differences."""
        result = RUN.invoke(app, ["rig", "plover-17", "--tube", "17HP4", "--lead", "50 cm", "--json"])
        document = json.loads(result.stdout)

        assert (result.exit_code, document["kind"], document["will_do"]) == (0, "rig", True)
        assert document["first"]
        assert any(d["about"] == "cathode lead" for d in document["differences"])

    def test_a_refusal_ends_with_code_one(self):
        """A rig that will not do is said so, with exit code 1."""
        result = RUN.invoke(app, ["rig", "dunlin-24", "--tube", "10BP4A"])

        assert result.exit_code == 1
        assert "will not do" in result.stdout

    def test_a_saved_rig_is_found_again(self, tmp_path, monkeypatch):
        """A rig saved under a name is found by that name."""
        monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))
        RUN.invoke(app, ["rig", "plover-17", "--tube", "17BP4A", "--foil", "120 cm2", "--save", "mine"])
        result = RUN.invoke(app, ["rig", "plover-17", "--rig", "mine", "--json"])

        assert json.loads(result.stdout)["rig"]["foil"] == pytest.approx(0.012)

    def test_unknown_words_are_refused(self):
        """An unknown tube or a wrong area is refused in one sentence."""
        with pytest.raises(UnknownWord):
            _report(PLOVER, tube="17XX")
        with pytest.raises(BadInput, match="300 cm2"):
            read_area("a lot")
