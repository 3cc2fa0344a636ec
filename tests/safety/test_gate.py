"""No sequence of answers leads to a forbidden step.

The oracle below is written from the list of things that must never be advised, over the plain history of
what was said and done; it knows nothing of the gate's own state.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache, lru_cache
from itertools import pairwise
from typing import NamedTuple

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.offers import all_offers
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import CHECKS, Needs, PointClass, gate
from backporch.engine.safety.set_facts import state_of_set
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.needs import needs_of
from backporch.engine.session.workbench import Bench, Workbench

LIBRARY = shipped()
EVENTS = (
    Event("said", "isolation", "isolated"),
    Event("said", "isolation", "direct"),
    Event("said", "supply-aid", "lamp-limiter"),
    Event("said", "lamp-power", "60 W"),
    Event("said", "lamp-power", "500 W"),
    Event("said", "supply-aid", "variable"),
    Event("said", "variable-volts", "115 V"),
    Event("said", "variable-volts", "60 V"),
    Event("said", "variable-volts", "300 V"),
    Event("said", "supply-aid", "full-mains"),
    Event("said", "supply-aid", "unknown"),
    Event("said", "company", "accompanied"),
    Event("said", "company", "alone"),
    Event("said", "condition", "cold-check"),
    Event("cold-check", value="passed"),
    Event("cold-check", value="stopped"),
    Event("alarm", "smoke"),
    Event("alarm", "red-plate"),
    Event("power", "on", "seen"),
    Event("power", "off"),
    Event("discharged"),
    Event("proved", "horizontal-drive"),
    Event("repaired"),
    Event("repaired", value="not-cured"),
    Event("tube-out"),
)
RATED_V = 117.0
GLASS = {"envelope": "glass", "high_voltage_source": "flyback", "rated_v": RATED_V}
STARTS = (
    SafetyState(rated_v=RATED_V),
    SafetyState(chassis_return="isolated", heaters="parallel", **GLASS),
    SafetyState(chassis_return="one-mains-leg", heaters="string", **GLASS),
    SafetyState(chassis_return="live-either-way", heaters="string", **GLASS),
    SafetyState(chassis_return="isolated", **{**GLASS, "envelope": "metal-cone"}),
    SafetyState(chassis_return="isolated", **{**GLASS, "high_voltage_source": "mains"}),
)
BAD_POINT = PointClass("forbidden", 0.0, "the cathode resistor", "pulses")
HOT_POINT = PointClass("rated", 1500.0, "a rated probe", "boosted")
LAMP = frozenset({"lamp-limiter"})
STEPS = (
    Needs("look", "look", "on"),
    Needs("turn-hold", "control", "on"),
    Needs("read-plate", "meter", "on", frozenset({"b-plus"}), instruments=frozenset({"meter"})),
    Needs("read-cold", "meter", "off", frozenset({"stored-charge"}), frozenset({"set-off-discharged"})),
    Needs("scope", "scope", "on", frozenset({"b-plus"}), instruments=frozenset({"oscilloscope"})),
    Needs("forbidden", "meter", "on", point=BAD_POINT, instrument_max_v=1000.0),
    Needs("rated-low", "meter", "on", point=HOT_POINT, instrument_max_v=1000.0),
    Needs("rated-high", "meter", "on", point=HOT_POINT, instrument_max_v=2000.0),
    Needs(
        "anode", "meter", "on", frozenset({"high-voltage", "x-ray"}), instruments=frozenset({"high-voltage-probe"})
    ),
    Needs("swap", "exchange", "off", frozenset({"hot-glass"}), then_on=True),
    Needs("swap-live", "exchange", "on"),
    Needs("swap-output", "exchange", "off", tube_role="horizontal-output"),
    Needs("swap-picture-tube", "exchange", "off", tube_role="picture-tube"),
    Needs("near-tube", "control", "on", frozenset({"implosion"})),
    Needs("drive-lifted", "scope", "on", access=frozenset({"output-screen-lifted"})),
    Needs("move-lead", "control", "on", hazards=frozenset({"signal-lead"})),
    Needs("player", "control", "on", instruments=frozenset({"player"})),
    Needs("watch-the-lamp", "look", "on", instruments=LAMP),
    Needs("first-lamp", "look", "on", instruments=LAMP, cold_check=True),
)
INSIDE = ("meter", "scope", "exchange", "part-test", "repair")


class Memory(NamedTuple):
    """What the oracle keeps of a history, by rules of its own."""

    isolated: bool = False
    aid: str = "unknown"
    watts: float = 0.0
    volts: float = 0.0
    accompanied: bool = False
    checked: bool = False
    alarms: tuple[str, ...] = ()
    drive_good: bool = False

    @property
    def full(self):
        """Whether the set is known to get about its rated mains."""
        return self.aid == "full-mains" or (self.aid == "variable" and self.volts >= 0.9 * RATED_V)


def remember(memory, event):
    """Return what the oracle keeps after one more event."""
    if event.kind == "said":
        return _heard(memory, event)
    if event.kind == "cold-check":
        return memory._replace(checked=event.value == "passed")
    if event.kind == "alarm":
        return memory._replace(alarms=tuple(sorted({*memory.alarms, event.name})), drive_good=False)
    if event.kind == "repaired":
        alarms = memory.alarms if event.value == "not-cured" else ()
        return memory._replace(alarms=alarms, drive_good=False)
    if event.kind == "proved":
        return memory._replace(drive_good=memory.full)
    return memory


def _heard(memory, event):
    if event.name == "isolation":
        return memory._replace(isolated=event.value == "isolated")
    if event.name == "supply-aid":
        return memory._replace(aid=event.value, watts=0.0, volts=0.0)
    if event.name == "lamp-power":
        return memory._replace(watts=float(event.value.split()[0]))
    if event.name == "variable-volts":
        return memory._replace(volts=float(event.value.split()[0]))
    if event.name == "company":
        return memory._replace(accompanied=event.value == "accompanied")
    return memory._replace(checked=False) if event.name == "condition" else memory


@cache
def grown(state, memory, event):
    """Return state and memory after one more event."""
    return after(state, [event]), remember(memory, event)


def forbidden(step, start, memory):
    """Tell from the oracle's memory whether a step must not be offered."""
    live = start.chassis_return != "isolated" and not memory.isolated
    on, inside = step.power == "on", step.kind in INSIDE
    powers = on or step.then_on
    lamp = "lamp-limiter" in step.instruments
    near = bool(step.hazards & {"implosion", "high-voltage"})
    return any(
        (
            powers and not memory.checked and not step.cold_check,
            on and inside and live,
            on and live and "signal-lead" in step.hazards,
            live and bool(step.instruments & {"oscilloscope", "player", "computer", "signal-source"}),
            powers and bool(set(memory.alarms) - {"red-plate"}),
            powers and bool(memory.alarms) and "output-screen-lifted" not in step.access,
            step.point is not None and step.point.rating == "forbidden",
            step.point is not None and step.point.rating == "rated" and step.instrument_max_v < step.point.rated_v,
            on and step.kind not in ("look", "listen") and start.high_voltage_source in ("mains", "unknown"),
            on and step.kind not in ("look", "listen") and start.envelope in ("metal-cone", "unknown") and near,
            on and step.kind == "exchange",
            step.tube_role == "picture-tube" and step.kind == "exchange",
            step.tube_role == "horizontal-output" and step.kind == "exchange" and not memory.drive_good,
            on and inside and not memory.accompanied and (live or "high-voltage" in step.hazards),
            powers and not lamp and not memory.full,
            powers and memory.aid == "variable" and memory.volts > 1.1 * RATED_V,
            lamp and (memory.aid == "lamp-limiter" or step.cold_check) and not 0 < memory.watts <= 200,
        )
    )


class TestSequences:
    @pytest.mark.parametrize(
        "start", STARTS, ids=lambda s: f"{s.chassis_return}-{s.high_voltage_source}-{s.envelope}"
    )
    def test_no_sequence_up_to_six_offers_a_forbidden_step(self, start):
        """Every sequence of up to six answers over the reduced model is walked; none offers a forbidden step.

        Two sequences that gate and oracle both take for the same are walked on as one.
        """
        front = {(start, Memory())}
        seen = set(front)
        for _ in range(6):
            front = {grown(state, memory, e) for state, memory in front for e in EVENTS} - seen
            seen |= front
        slips = [
            (step.name, state, memory)
            for state, memory in seen
            for step in STEPS
            if gate(step, state).allowed and forbidden(step, start, memory)
        ]

        assert slips == []
        assert len(seen) > 1000

    def test_a_hundred_thousand_random_sequences_are_clean(self):
        """Longer random sequences over every real measurement of every chassis offer no forbidden step."""
        dice = random.Random(1959)
        offers = {name: _needs(name) for name in LIBRARY.chassis_names()}
        offered = 0
        for _ in range(100_000):
            name = dice.choice(sorted(offers))
            start = replace(_start(name), rated_v=RATED_V)
            state, memory = start, Memory()
            for event in dice.choices(EVENTS, k=dice.randint(7, 16)):
                state, memory = grown(state, memory, event)
            for step in dice.choices(offers[name], k=2):
                word = gate(step, state)
                offered += word.allowed
                assert not (word.allowed and forbidden(step, start, memory)), (step.name, state)

        assert offered > 1000

    def test_every_check_refuses_somewhere(self):
        """Each check of the gate is the one that refuses in some state: none is idle."""
        dice = random.Random(7)
        refused = set()
        for _ in range(10_000):
            state = after(dice.choice(STARTS), dice.choices(EVENTS, k=9))
            refused |= {gate(step, state).check for step in STEPS}

        assert set(CHECKS) <= refused


@lru_cache
def _workbench(name):
    chassis = load_chassis(name, LIBRARY)
    return Workbench(LIBRARY, chassis, Bench(frozenset(LIBRARY.instruments)), None, None)  # type: ignore[arg-type]


def _needs(name):
    workbench = _workbench(name)
    return [needs_of(workbench, offer) for offer in all_offers(workbench.chassis, LIBRARY).values()]


def _start(name):
    return state_of_set(_workbench(name).chassis)


class TestState:
    def test_unknown_counts_as_worst(self):
        """With nothing known, only looking and cold work pass the gate."""
        allowed = {step.name for step in STEPS if gate(step, SafetyState()).allowed}

        assert allowed <= {"read-cold", "swap"}

    @pytest.mark.parametrize("event", [Event("power", "on"), Event("power", "off"), Event("alarm", "smoke")])
    def test_a_change_of_power_charges_the_tube_again(self, event):
        """After the set was on, or on a change of power, tube and filters count as charged."""
        state = after(SafetyState(power="off"), [Event("power", "off"), Event("discharged"), event])

        assert state.charged

    def test_cautions_are_never_lost_by_reading_them(self):
        """The gate gives the same cautions however often a step is asked about."""
        said = [Event("said", "company", "accompanied"), Event("said", "supply-aid", "full-mains")]
        state = after(STARTS[1], [Event("cold-check", value="passed"), *said])
        words = [gate(STEPS[2], state).cautions for _ in range(3)]

        assert all(one == two and one for one, two in pairwise(words))

    def test_a_refusal_names_the_right_alternative(self):
        """Every refusal says why and what to do instead."""
        for start in STARTS:
            for step in STEPS:
                word = gate(step, start)
                assert word.allowed or (word.because and word.instead)
