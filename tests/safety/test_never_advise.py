"""Each thing that must never be advised is a named check over knowledge base, rules and gate."""

from __future__ import annotations

import inspect
import io
import re
from pathlib import Path

import pytest

from backporch.engine.cli import main
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import CHECKS, Needs, PointClass, gate, refusals
from backporch.engine.safety.never import advised_in
from backporch.engine.safety.state import SafetyState
from backporch.rules import BOOKS

LIBRARY = shipped()
ROOT = Path(__file__).parents[2]
GOOD = SafetyState(
    chassis_return="isolated",
    heaters="parallel",
    envelope="glass",
    high_voltage_source="flyback",
    isolation="isolated",
    supply_aid="full-mains",
    company="accompanied",
    power="off",
    cold_check_due=False,
)


def _texts():
    """Give every text that the program may say, with where it comes from."""
    for name, m in LIBRARY.measurements.items():
        yield f"measurement {name}", " . ".join((m.title, m.do, m.healthy, m.pitfall, *m.outcomes.values()))
    for name, state in LIBRARY.bench_states.items():
        yield f"state {name}", state.do
    for name, c in LIBRARY.cold_checks.items():
        answers = " ".join(" ".join(filter(None, (a.say, a.stop, a.note))) for a in c.options.values())
        yield f"cold check {name}", f"{c.ask} {c.do} {answers}"
    for name, kind in LIBRARY.part_kinds.items():
        yield f"part kind {name}", kind.test
    for name, caution in LIBRARY.cautions.items():
        yield f"caution {name}", f"{caution.say} {caution.short}"
    for name, point in LIBRARY.points.items():
        yield f"point {name}", f"{point.substitute} {point.because}"
    for name, symptom in LIBRARY.symptoms.items():
        yield f"symptom {name}", f"{symptom.title}. {symptom.seen}"
    for name, term in LIBRARY.glossary.items():
        yield f"term {name}", term.means
    for name, opening in LIBRARY.opening.items():
        yield f"opening {name}", f"{opening.ask} {opening.help} {'. '.join(opening.options.values())}"
    for name, text in {**LIBRARY.proof, **LIBRARY.recapping}.items():
        yield f"advice {name}", text
    for name, item in LIBRARY.never.items():
        yield f"never {name}", f"{item.because} {item.instead}"
    for name, (claim, reason, _) in Inference(BOOKS).rules.items():
        yield f"rule {name}", f"{claim} {reason}"
    for name, lesson in sorted(_lessons()):
        yield f"lesson {name}", lesson
    for check in CHECKS.values():
        texts = [c for c in check.__code__.co_consts if isinstance(c, str) and " " in c]
        yield f"gate {check.__name__}", " . ".join(texts)


def _lessons():
    """Give the lessons that are shipped, each as one text."""
    for path in (ROOT / "scenarios").rglob("*.yaml"):
        yield path.name, path.read_text(encoding="utf-8")


TEXTS = list(_texts())


class TestWords:
    def test_the_list_is_whole(self):
        """Twenty-six things are never advised, each with why, with what instead, and with a source."""
        assert len(LIBRARY.never) == 26
        assert all(item.because and item.instead and item.source for item in LIBRARY.never.values())

    @pytest.mark.parametrize("name", LIBRARY.never)
    def test_no_text_gives_this_advice(self, name):
        """No text of the knowledge base, the rules, the scenarios or the gate gives the forbidden advice."""
        guilty = [(place, s) for place, text in TEXTS for s in advised_in(text, LIBRARY.never[name])]

        assert guilty == []

    @pytest.mark.parametrize("name", LIBRARY.never)
    def test_the_check_can_fail(self, name):
        """A sentence that gives the forbidden advice is found; the same behind a never is not."""
        item = LIBRARY.never[name]

        assert list(advised_in(item.trip, item))
        assert not list(advised_in(f"Never do this: never {item.trip}".replace(": ", ", "), item))

    def test_asked_for_it_the_program_offers_the_right_way(self, monkeypatch, tmp_path, capsys):
        """Whoever types a forbidden thing at a prompt reads why not, and what to do instead."""
        monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))
        monkeypatch.setenv("COLUMNS", "300")
        for command in (["diagnose"], ["cold-check"]):
            typed = "".join(f"{item.trip}\n" for item in LIBRARY.never.values())
            monkeypatch.setattr("sys.stdin", io.StringIO(f"{typed}quit\n"))
            main(command)
            said = " ".join(capsys.readouterr().out.split())
            for name, item in LIBRARY.never.items():
                assert " ".join(item.instead.split()) in said, (command, name)


STEPS = {
    "anode-cap-off": None,
    "draw-an-arc": None,
    "meter-on-a-pulsed-point": (
        Needs("x", "meter", "on", point=PointClass("forbidden", 0.0, "the cathode", "pulses")),
        {},
        "forbidden-point",
    ),
    "discharge-with-a-screwdriver": None,
    "float-the-oscilloscope": (
        Needs("x", "scope", "off", instruments=frozenset({"oscilloscope"})),
        {"chassis_return": "doubler-leg", "isolation": "direct"},
        "earthed-instrument",
    ),
    "computer-on-a-live-chassis": (
        Needs("x", "control", "off", instruments=frozenset({"computer"})),
        {"chassis_return": "one-mains-leg", "isolation": "unknown"},
        "earthed-instrument",
    ),
    "called-isolation": (
        Needs("x", "meter", "on"),
        {"chassis_return": "one-mains-leg", "isolation": "direct", "supply_aid": "variable"},
        "live-chassis",
    ),
    "reverse-the-plug": (
        Needs("x", "meter", "on"),
        {"chassis_return": "one-mains-leg", "isolation": "direct"},
        "live-chassis",
    ),
    "tube-out-live": (Needs("x", "exchange", "on"), {}, "exchange-live"),
    "output-tube-without-drive": (
        Needs("x", "exchange", "off", tube_role="horizontal-output"),
        {},
        "output-tube-without-drive",
    ),
    "bridge-or-larger-fuse": None,
    "ordinary-capacitor": None,
    "raise-the-anode-voltage": (
        Needs("x", "look", "on"),
        {"supply_aid": "variable", "variable_v": 140.0, "rated_v": 117.0},
        "overrun",
    ),
    "brightness-up-for-a-line": None,
    "electrolytic-across-live": None,
    "slow-start": (
        Needs("x", "look", "on"),
        {"supply_aid": "variable", "variable_v": 60.0, "rated_v": 117.0},
        "through-a-limiter",
    ),
    "freezer-or-tap": None,
    "turn-cores-to-see": None,
    "asbestos-selenium-pcb": None,
    "both-hands-alone": (
        Needs("x", "meter", "on", frozenset({"high-voltage"})),
        {"company": "alone"},
        "alone",
    ),
    "lift-by-the-neck": (
        Needs("x", "exchange", "off", tube_role="picture-tube"),
        {},
        "picture-tube-as-a-test",
    ),
    "live-on-a-mains-anode-supply": (
        Needs("x", "meter", "on"),
        {"high_voltage_source": "mains"},
        "mains-derived-anode",
    ),
    "rejuvenate-as-a-test": (
        Needs("x", "exchange", "off", tube_role="picture-tube"),
        {},
        "picture-tube-as-a-test",
    ),
    "earth-a-live-chassis": (
        Needs("x", "control", "off", instruments=frozenset({"signal-source"})),
        {"chassis_return": "live-either-way", "isolation": "direct"},
        "earthed-instrument",
    ),
    "call-it-safe": None,
    "read-once-read-for-ever": (Needs("x", "look", "on"), {"alarms": frozenset({"smoke"})}, "alarm"),
}
"""What the gate refuses for each, as a step in a state; None where only words could give it."""

ADVISED = {
    "anode-cap-off": ("measurements", r"anode (cap|lead)"),
    "draw-an-arc": ("cautions", r"never draw an arc"),
    "discharge-with-a-screwdriver": ("bench_states", r"through a high-voltage resistor"),
    "bridge-or-larger-fuse": ("cautions", r"never bridge it and never fit a larger one"),
    "ordinary-capacitor": ("cautions", r"X or Y safety class"),
    "brightness-up-for-a-line": ("cautions", r"Turn the brightness down now, then look"),
    "electrolytic-across-live": ("part_kinds", r"lift the positive end"),
    "freezer-or-tap": ("measurements", r"Leave out the neck of the picture tube"),
    "turn-cores-to-see": ("part_kinds", r"never turn its cores to see"),
    "asbestos-selenium-pcb": ("cautions", r"leave the room and air it"),
    "call-it-safe": ("bench_states", r"measure with a proved meter"),
}
"""For what only words could give: the table and the words that give the right advice where the step stands."""


class TestSteps:
    def test_each_is_held_by_the_gate_or_by_words(self):
        """Each thing never advised has a step that the gate refuses, or the right words where its step stands."""
        assert set(STEPS) == set(LIBRARY.never)
        assert {name for name, step in STEPS.items() if step is None} == set(ADVISED)

    @pytest.mark.parametrize("name", [name for name, step in STEPS.items() if step is not None])
    def test_the_gate_refuses_the_step(self, name):
        """The step is refused by the check meant for it, with what to do instead, and else it would not be."""
        step, worse, check = STEPS[name]
        refused = list(refusals(step, SafetyState(**{**GOOD.__dict__, **worse})))

        assert check in {word.check for word in refused}
        assert all(word.instead for word in refused)
        if worse:
            assert check not in {word.check for word in refusals(step, GOOD)}

    @pytest.mark.parametrize("name", [name for name in ADVISED if name != "anode-cap-off"])
    def test_the_right_words_stand_where_the_step_does(self, name):
        """What only words could give has the right words in the knowledge base."""
        table, words = ADVISED[name]
        texts = [text for place, text in TEXTS if place.startswith(PLACES[table])]

        assert any(re.search(words, text) for text in texts)

    def test_no_measurement_takes_the_anode_lead_off_with_power(self):
        """Wherever a measurement speaks of the anode lead or cap, it is made with the plug out or by a probe."""
        for name, m in LIBRARY.measurements.items():
            if re.search(r"anode (cap|lead)", m.do, re.I):
                assert m.power == "off" or "high-voltage-probe" in m.instruments, name


PLACES = {
    "measurements": "measurement ",
    "cautions": "caution ",
    "bench_states": "state ",
    "part_kinds": "part kind ",
}


class TestPoints:
    @pytest.mark.parametrize("name", [n for n, p in LIBRARY.points.items() if p.rating == "forbidden"])
    def test_a_forbidden_point_has_no_measurement(self, name):
        """No measurement of the knowledge base reads a forbidden point, and a substitute is named."""
        readers = [m for m, x in LIBRARY.measurements.items() if x.reading and x.reading.point == name]

        assert readers == []
        assert len(LIBRARY.points[name].substitute) > 20

    def test_every_live_part_has_a_hazard_or_is_low(self):
        """Every reading of a rated point names the rail or the high voltage as a hazard."""
        for name, measurement in LIBRARY.measurements.items():
            if measurement.reading and measurement.reading.point in LIBRARY.points:
                assert {"boosted-rail", "high-voltage"} & set(measurement.hazards), name

    @pytest.mark.parametrize("kind", ["exchange", "part-test"])
    def test_tubes_and_parts_are_changed_with_the_plug_out(self, kind):
        """Every exchange and part test is made with the power off and says so."""
        for measurement in LIBRARY.measurements.values():
            if measurement.kind == kind:
                assert measurement.power == "off"
                assert "Plug out" in measurement.do


class TestGate:
    def test_an_output_tube_waits_for_its_drive(self):
        """A new horizontal output tube is not offered before the drive is proved."""
        step = Needs("exchange", "exchange", "off", tube_role="horizontal-output")

        assert not gate(step, GOOD).allowed

    def test_mains_derived_anode_supplies_get_no_live_steps(self):
        """With the anode supply made from the mains no live step is given."""
        state = SafetyState(**{**GOOD.__dict__, "high_voltage_source": "mains"})

        assert not gate(Needs("read", "meter", "on"), state).allowed

    def test_no_gate_can_be_skipped(self):
        """The gate has no parameter by which a caller could pass it."""
        assert list(inspect.signature(gate).parameters) == ["step", "state"]
