"""Each thing that must never be advised is a named check over knowledge base, rules and gate."""

from __future__ import annotations

import inspect
import re

import pytest

from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import Needs, gate
from backporch.engine.safety.state import SafetyState
from backporch.rules import BOOKS

LIBRARY = shipped()
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
        yield f"measurement {name}", " ".join((m.title, m.do, m.healthy, m.pitfall, *m.outcomes.values()))
    for name, state in LIBRARY.bench_states.items():
        yield f"state {name}", state.do
    for name, c in LIBRARY.cold_checks.items():
        answers = " ".join(" ".join(filter(None, (a.say, a.stop, a.note))) for a in c.options.values())
        yield f"cold check {name}", f"{c.ask} {c.do} {answers}"
    for name, kind in LIBRARY.part_kinds.items():
        yield f"part kind {name}", kind.test
    for name, caution in LIBRARY.cautions.items():
        yield f"caution {name}", f"{caution.say} {caution.short}"
    for name, text in {**LIBRARY.proof, **LIBRARY.recapping}.items():
        yield f"advice {name}", text
    for name, (claim, reason, _) in Inference(BOOKS).rules.items():
        yield f"rule {name}", f"{claim} {reason}"
    for name, row in LIBRARY.usual_suspects.items():
        yield f"usual suspect {name}", f"{row.claim} {row.because}"


TEXTS = list(_texts())

PHRASES = {
    "run-with-the-anode-cap-lifted": r"(run|switch on|operate)[^.]*\banode (cap|lead) (lifted|off|disconnected)",
    "draw-an-arc": r"(?<!never )\bdraw (an|the) arc",
    "discharge-with-a-screwdriver": r"screwdriver",
    "discharge-to-the-chassis": r"discharge[^.]*\bto the chassis",
    "float-the-oscilloscope": r"(float|lift|cut)[^.]*(scope|oscilloscope)[^.]*(earth|ground)|without its earth",
    "call-a-variable-transformer-isolation": r"variable transformer (isolates|is isolation|gives isolation)",
    "call-a-residual-current-device-isolation": r"residual-current device (isolates|makes)",
    "reverse-the-plug-for-safety": r"(reverse|turn round|swap) the plug",
    "pull-a-tube-live": r"(pull|remove|take out) [^.]*\btube\b[^.]*(with the set on|while it runs|live)",
    "bridge-an-open-part": r"(?<!never )\bbridge (it|the|an open)",
    "fit-a-larger-fuse": r"(fit|use|try) a (larger|bigger) fuse",
    "ordinary-capacitor-across-the-mains": r"ordinary capacitor[^.]*mains",
    "raise-the-anode-voltage": r"(raise|increase|turn up) the (anode|high) voltage",
    "brightness-up-to-see-the-line": r"(increase|turn up|raise) (the )?brightness[^.]*(line|spot)\b",
    "bridge-an-electrolytic-live": r"(hold|bridge)[^.]*electrolytic[^.]*(live|with the set on|in the fingers)",
    "slow-start-on-a-variable-transformer": r"(bring|run) (it|the set) up slowly",
    "freezer-on-hot-glass": r"(?<!never cool it with )\b(freezer|freeze|cold spray)\b",
    "tap-the-neck": r"(?<!never )\btap (the|on the) neck",
    "turn-cores-to-see": r"turn (the |a )?(IF )?cores? (to see|a little)",
    "scrape-asbestos": r"scrape|brush (the )?asbestos",
    "lift-by-the-neck": r"(?<!never )\b(lift|hold|carry) (it|the tube) by the neck",
    "rejuvenate": r"rejuvenat",
    "earth-a-live-chassis": r"(connect|run|fit) an? (earth|ground) wire to",
    "remove-the-interlock": r"(remove|bypass|defeat) the interlock",
    "say-safe": r"\b(is|are|now|it's|quite) safe\b(?! to reach)",
    "say-dead": r"\b(is|are|now) dead\b(?!,)",
    "touch-the-anode": r"(?<!not )\btouch (the )?anode",
}
"""Each forbidden advice with the words it would be given in."""


class TestWords:
    @pytest.mark.parametrize("name", PHRASES)
    def test_no_text_gives_this_advice(self, name):
        """No text of the knowledge base or the rules gives the forbidden advice."""
        guilty = [place for place, text in TEXTS if re.search(PHRASES[name], text, re.I)]

        assert guilty == []

    @pytest.mark.parametrize("name", PHRASES)
    def test_the_check_can_fail(self, name):
        """The pattern of each check matches at least one sentence written to trip it."""
        trips = {
            "run-with-the-anode-cap-lifted": "Run it with the anode cap lifted.",
            "draw-an-arc": "Now draw an arc from the cap.",
            "discharge-with-a-screwdriver": "Use a screwdriver.",
            "discharge-to-the-chassis": "Discharge it to the chassis.",
            "float-the-oscilloscope": "Cut the oscilloscope earth.",
            "call-a-variable-transformer-isolation": "A variable transformer isolates the set.",
            "call-a-residual-current-device-isolation": "A residual-current device makes it fine.",
            "reverse-the-plug-for-safety": "Reverse the plug.",
            "pull-a-tube-live": "Pull the tube with the set on.",
            "bridge-an-open-part": "Then bridge the dropper.",
            "fit-a-larger-fuse": "Fit a larger fuse.",
            "ordinary-capacitor-across-the-mains": "An ordinary capacitor across the mains will do.",
            "raise-the-anode-voltage": "Raise the anode voltage.",
            "brightness-up-to-see-the-line": "Turn up the brightness to see the line.",
            "bridge-an-electrolytic-live": "Hold a good electrolytic across it live.",
            "slow-start-on-a-variable-transformer": "Bring the set up slowly.",
            "freezer-on-hot-glass": "Use freezer spray.",
            "tap-the-neck": "Now tap the neck.",
            "turn-cores-to-see": "Turn the cores to see.",
            "scrape-asbestos": "Scrape it off.",
            "lift-by-the-neck": "Then lift the tube by the neck.",
            "rejuvenate": "Rejuvenate the tube.",
            "earth-a-live-chassis": "Connect an earth wire to it.",
            "remove-the-interlock": "Bypass the interlock.",
            "say-safe": "The point is safe.",
            "say-dead": "The rail is dead.",
            "touch-the-anode": "Touch the anode.",
        }

        assert re.search(PHRASES[name], trips[name], re.I)


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
