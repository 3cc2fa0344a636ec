"""No sequence of answers leads to a forbidden step.

The oracle below is written from the list of things that must never be advised, over the plain history of
what was said and done; it knows nothing of the gate's own state.
"""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import pairwise

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.offers import all_offers
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.gate import CHECKS, Needs, PointClass, gate
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.danger import needs_of
from backporch.engine.session.workbench import Bench, Workbench

LIBRARY = shipped()
EVENTS = (
    Event("said", "isolation", "isolated"),
    Event("said", "isolation", "direct"),
    Event("said", "supply-aid", "lamp-limiter"),
    Event("said", "supply-aid", "full-mains"),
    Event("said", "company", "accompanied"),
    Event("said", "company", "alone"),
    Event("said", "condition", "cold-check"),
    Event("cold-check", value="passed"),
    Event("cold-check", value="stopped"),
    Event("alarm", "smoke"),
    Event("alarm", "red-plate"),
    Event("power", "on"),
    Event("power", "off"),
    Event("discharged"),
    Event("proved", "horizontal-drive"),
    Event("repaired"),
    Event("tube-out"),
)
GLASS = {"envelope": "glass", "high_voltage_source": "flyback"}
STARTS = (
    SafetyState(),
    SafetyState(chassis_return="isolated", heaters="parallel", **GLASS),
    SafetyState(chassis_return="one-mains-leg", heaters="string", **GLASS),
    SafetyState(chassis_return="live-either-way", heaters="string", **GLASS),
    SafetyState(chassis_return="isolated", envelope="metal-cone", high_voltage_source="flyback"),
    SafetyState(chassis_return="isolated", envelope="glass", high_voltage_source="mains"),
)
BAD_POINT = PointClass("forbidden", 0.0, "the cathode resistor", "pulses")
HOT_POINT = PointClass("rated", 1500.0, "a rated probe", "boosted")
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
    Needs("swap", "exchange", "off", frozenset({"hot-glass"})),
    Needs("swap-live", "exchange", "on"),
    Needs("swap-output", "exchange", "off", tube_role="horizontal-output"),
    Needs("swap-picture-tube", "exchange", "off", tube_role="picture-tube"),
    Needs("near-tube", "control", "on", frozenset({"implosion"})),
    Needs("drive-lifted", "scope", "on", access=frozenset({"output-screen-lifted"})),
    Needs("move-lead", "control", "on", hazards=frozenset({"signal-lead"})),
    Needs("player", "control", "on", instruments=frozenset({"player"})),
)
INSIDE = ("meter", "scope", "exchange", "part-test", "repair")


def _last(history, kind, name=None):
    """Return the value (or name) of the last event of a kind, or None."""
    for event in reversed(history):
        if event.kind == kind and (name is None or event.name == name):
            return event.value or event.name
    return None


def forbidden(step, start, history):
    """Tell from the plain history whether a step must not be offered."""
    live = start.chassis_return != "isolated" and _last(history, "said", "isolation") != "isolated"
    alarms = [n for n, e in enumerate(history) if e.kind == "alarm"]
    mended = [n for n, e in enumerate(history) if e.kind == "repaired"]
    alarmed = bool(alarms) and (not mended or mended[-1] < alarms[-1])
    checks = [e for e in history if e.kind == "cold-check" or (e.kind == "said" and e.name == "condition")]
    checked = bool(checks) and checks[-1].kind == "cold-check" and checks[-1].value == "passed"
    drive = [n for n, e in enumerate(history) if e.kind == "proved"]
    drive_good = bool(drive) and (not mended or mended[-1] < drive[-1])
    on, inside = step.power == "on", step.kind in INSIDE
    return any(
        (
            on and not checked,
            on and inside and live,
            on and live and "signal-lead" in step.hazards,
            live and bool(step.instruments & {"oscilloscope", "player", "computer", "signal-source"}),
            on and alarmed and "output-screen-lifted" not in step.access,
            step.point is not None and step.point.rating == "forbidden",
            step.point is not None and step.point.rating == "rated" and step.instrument_max_v < step.point.rated_v,
            on and step.kind not in ("look", "listen") and start.high_voltage_source in ("mains", "unknown"),
            on
            and step.kind not in ("look", "listen")
            and start.envelope in ("metal-cone", "unknown")
            and bool(step.hazards & {"implosion", "high-voltage"}),
            on and step.kind == "exchange",
            step.tube_role == "picture-tube" and step.kind == "exchange",
            step.tube_role == "horizontal-output" and step.kind == "exchange" and not drive_good,
            on
            and inside
            and _last(history, "said", "company") != "accompanied"
            and (live or "high-voltage" in step.hazards),
            on
            and step.kind in ("meter", "scope")
            and _last(history, "said", "supply-aid") in ("lamp-limiter", "variable"),
        )
    )


class TestSequences:
    @pytest.mark.parametrize(
        "start", STARTS, ids=lambda s: f"{s.chassis_return}-{s.high_voltage_source}-{s.envelope}"
    )
    def test_no_sequence_up_to_six_offers_a_forbidden_step(self, start):
        """Every sequence of up to six answers over the reduced model is walked; none offers a forbidden step."""
        fronts: dict[SafetyState, tuple[Event, ...]] = {start: ()}
        walked = 0
        for _ in range(6):
            following: dict[tuple[SafetyState, object], tuple[Event, ...]] = {}
            for history in fronts.values():
                for event in EVENTS:
                    longer = (*history, event)
                    following.setdefault((after(start, longer), _memory(longer)), longer)
            fronts = {(state, memory): h for (state, memory), h in following.items()}  # type: ignore[misc]
            for (state, _), history in following.items():
                for step in STEPS:
                    walked += 1
                    assert not (gate(step, state).allowed and forbidden(step, start, history)), (
                        step.name,
                        history,
                    )

        assert walked > 1000

    def test_a_hundred_thousand_random_sequences_are_clean(self):
        """Longer random sequences over every real measurement of two chassis offer no forbidden step."""
        dice = random.Random(1959)
        offers = {name: _needs(name) for name in ("plover-17", "dunlin-24")}
        offered = 0
        for _ in range(100_000):
            name = dice.choice(sorted(offers))
            start = _start(name)
            history = tuple(dice.choices(EVENTS, k=dice.randint(7, 16)))
            state = after(start, history)
            for step in dice.choices(offers[name], k=4):
                word = gate(step, state)
                offered += word.allowed
                assert not (word.allowed and forbidden(step, start, history)), (step.name, history)

        assert offered > 1000

    def test_every_check_refuses_somewhere(self):
        """Each check of the gate is the one that refuses in some state: none is idle."""
        dice = random.Random(7)
        refused = set()
        for _ in range(20_000):
            state = after(dice.choice(STARTS), dice.choices(EVENTS, k=9))
            refused |= {gate(step, state).check for step in STEPS}

        assert set(CHECKS) <= refused


def _memory(history):
    """What the oracle remembers of a history, so that two histories it tells apart stay apart."""
    return (
        _last(history, "said", "isolation"),
        _last(history, "said", "company"),
        _last(history, "said", "supply-aid"),
        [e.kind for e in history if e.kind in ("alarm", "repaired", "proved")][-3:].__repr__(),
        next(
            (e.kind + e.value for e in reversed(history) if e.kind == "cold-check" or e.name == "condition"), None
        ),
    )


@lru_cache
def _workbench(name):
    chassis = load_chassis(name, LIBRARY)
    return Workbench(LIBRARY, chassis, Bench(frozenset(LIBRARY.instruments)), None, None)  # type: ignore[arg-type]


def _needs(name):
    workbench = _workbench(name)
    return [needs_of(workbench, offer) for offer in all_offers(workbench.chassis, LIBRARY).values()]


def _start(name):
    chassis = _workbench(name).chassis
    return SafetyState(
        chassis_return=chassis.chassis_return,
        heaters="string" if chassis.supply == "series-string" else "parallel",
        envelope=chassis.envelope,
        high_voltage_source=chassis.high_voltage_source,
    )


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
        state = after(STARTS[1], [Event("cold-check", value="passed"), Event("said", "company", "accompanied")])
        words = [gate(STEPS[2], state).cautions for _ in range(3)]

        assert all(one == two and one for one, two in pairwise(words))

    def test_a_refusal_names_the_right_alternative(self):
        """Every refusal says why and what to do instead."""
        for start in STARTS:
            for step in STEPS:
                word = gate(step, start)
                assert word.allowed or (word.because and word.instead)
