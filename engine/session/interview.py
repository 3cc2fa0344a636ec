# SPDX-License-Identifier: MIT
"""What is asked next: condition, opening questions, what is seen, then one test after another.

A pure function of the workbench and the standing entries, so that a terminal, a file of answers, a
replayed scenario and a resumed session all see the same questions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Settings, Step, next_step
from backporch.engine.planning.information import test_bits
from backporch.engine.planning.problem import Position, Problem
from backporch.engine.safety.gate import Needs, gate
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.assess import Assessment, assess, circumstances
from backporch.engine.session.bench_costs import planning_problem, tier_of
from backporch.engine.session.bench_time import walked
from backporch.engine.session.by_hand import HandTest, parts_to_test
from backporch.engine.session.cold_check import next_check
from backporch.engine.session.correct import measured
from backporch.engine.session.danger import DRIVE_PROOFS, safety_state
from backporch.engine.session.doubt import belief_without_one
from backporch.engine.session.entry import Entry
from backporch.engine.session.held import Held, held_back
from backporch.engine.session.just_changed import idle_tests
from backporch.engine.session.moment import awake, moment_of, waits
from backporch.engine.session.needs import needs_of, needs_of_check, needs_of_part_test, needs_of_repair
from backporch.engine.session.openings import MENDED, changed_to, next_opening
from backporch.engine.session.questions import NONE_OF_THEM, Option, Question
from backporch.engine.session.repairs import ended_by, pending, remaining, repair_question, returned_question
from backporch.engine.session.search_entry import found_by_hand
from backporch.engine.session.workbench import Offer, Workbench

__all__ = ["MENDED", "Interview", "Turn", "tier_of"]


@dataclass(frozen=True)
class Turn:
    """Where the conversation stands: a question, or the end."""

    question: Question | None
    assessment: Assessment | None = None
    step: Step | None = None
    offer: Offer | None = None
    cautions: tuple[str, ...] = ()
    """Keys of the cautions that come before the step."""
    way: tuple[str, ...] = ()
    """Bench states to reach first."""
    by_hand: tuple[HandTest, ...] = ()
    """The parts of a search by hand, in their order."""
    held: tuple[Held, ...] = ()
    """What the gate withholds that would tell something."""
    ending: str = ""
    """"cured", "nothing-left" or "" while questions remain."""


class Interview:
    """The questions of one workbench; building it prepares the planner's tables once."""

    def __init__(
        self,
        workbench: Workbench,
        settings: Settings | None = None,
    ) -> None:
        """Prepare the questions.

        Args:
            workbench: Knowledge, chassis, rules, fault model and bench.
            settings: How the planner weighs.
        """
        self.workbench = workbench
        self.settings = settings or Settings()
        if workbench.bench.search_minutes is not None:
            self.settings = replace(self.settings, search_minutes=workbench.bench.search_minutes)

    def turn(self, entries: Sequence[Entry]) -> Turn:
        """Return what comes next after ``entries`` (the standing entries of the session)."""
        changed = pending(entries)
        if changed:
            return self._after_change(changed, entries)
        standing = remaining(self.workbench, entries)
        cured = ended_by(standing)
        opening = next_opening(self.workbench, standing, self.next_check(standing)) if not cured else None
        if opening is not None:
            return Turn(opening)
        assessment = assess(self.workbench, entries)
        if cured and entries[-1].kind == "resumed":
            return Turn(returned_question(cured), assessment)
        if cured:
            return Turn(None, assessment, ending="cured")
        position = self.position(assessment)
        if waits(standing):
            return self._waiting(assessment)
        step = self._first_look(assessment, position) or next_step(self.problem, position, self.settings)
        turn = self._turn_for(self._past_the_gate(step, assessment, position), assessment, position)
        return replace(turn, held=held_back(self._useful(assessment), safety_state(self.workbench, entries)))

    def decisive(self, entries: Sequence[Entry]) -> Turn:
        """Return the test that decides most now, whatever else would be asked; a cold check comes before."""
        check = self.next_check(remaining(self.workbench, entries))
        if check is not None:
            return Turn(check)
        assessment = assess(self.workbench, entries)
        position = self.position(assessment)
        step = self._first_look(assessment, position) or next_step(self.problem, position, self.settings)
        return self._turn_for(self._past_the_gate(step, assessment, position), assessment, position)

    def _waiting(self, assessment: Assessment) -> Turn:
        """Return the turn while the fault is asleep: where to leave the meter, and wait."""
        question = Question("watch", "watch", "All is well at the moment: lie in wait")
        key = self._left_in_place(assessment)
        if not key:
            return Turn(question, assessment)
        state = safety_state(self.workbench, assessment.entries)
        offer = self.workbench.faults.offers[key]
        cautions = gate(self._needs[key], state).cautions
        return Turn(replace(question, offer=key), assessment, offer=offer, cautions=cautions)

    def _left_in_place(self, assessment: Assessment) -> str:
        """Return the reading that splits the suspects best of those at which a meter may be left, or ""."""
        bits = test_bits(self.problem, assessment.ranking.hypotheses)
        state = safety_state(self.workbench, assessment.entries)
        best, most = "", 0.0
        for n, test in enumerate(self.problem.tests):
            offer = self.workbench.faults.offers[test.key]
            if _may_stay(offer) and bits[n] > most and self.may_offer(offer, assessment, state):
                best, most = test.key, float(bits[n])
        return best

    def _after_change(self, part: str, entries: Sequence[Entry]) -> Turn:
        """Return the question after a part was changed; what speaks against running the set comes with it."""
        needs = needs_of_repair(self.workbench, part)
        state = safety_state(self.workbench, entries)
        question = repair_question(part, done=True)
        held = held_back([needs], state)
        return Turn(question, assess(self.workbench, entries), cautions=gate(needs, state).cautions, held=held)

    def _past_the_gate(self, step: Step, assessment: Assessment, position: Position) -> Step:
        """Return ``step``, or what must come before it where the safety gate refuses a repair.

        A new output tube waits until its drive was read and found good; where that cannot be read, another
        step is taken.
        """
        state = safety_state(self.workbench, assessment.entries)
        while step.kind == "repair" and not gate(needs_of_repair(self.workbench, step.key), state).allowed:
            for proof in DRIVE_PROOFS:
                test = next((t for t in self.problem.tests if t.key == proof), None)
                if test is not None and proof not in position.done:
                    return Step("test", proof, self.problem.minutes(test, position), proves=step.key)
            position = replace(position, done=position.done | {step.key})
            step = next_step(self.problem, position, self.settings)
        return step

    def position(self, assessment: Assessment) -> Position:
        """Return where the planner stands: the odds, what is done or barred, and the state of the bench."""
        entries = assessment.entries
        counted = entries if moment_of(entries) == "quiet" else tuple(awake(self.workbench, entries))
        done = {e.key for e in counted if e.kind in ("answer", "skip", "cannot")}
        done |= {e.key for e in entries if e.kind == "repair"}
        done |= {e.key for e in entries if e.kind == "search" and not found_by_hand(e)}
        state = safety_state(self.workbench, entries)
        offers = self.workbench.faults.offers
        barred = {key for key, offer in offers.items() if not self.may_offer(offer, assessment, state)}
        barred |= set(idle_tests(self.workbench, self.problem, assessment, self.settings.floor_bits))
        doubted = self._doubted(assessment)
        position = Position(assessment.ranking.hypotheses, frozenset(done | barred), doubted=doubted)
        return walked(self.problem, entries, position).position

    def _doubted(self, assessment: Assessment) -> NDArray[np.float64] | None:
        """Return the belief that the careful mode settles a second time, or None where it does not."""
        if not self.settings.careful or not self.settings.doubted_stage:
            return None
        return belief_without_one(assessment, self.problem.stages)

    def _useful(self, assessment: Assessment) -> Iterator[Needs]:
        """Give what every test that would tell something now needs, whether the gate lets it pass or not."""
        bits = test_bits(self.problem, assessment.ranking.hypotheses)
        asked = {e.key for e in assessment.entries if e.kind in ("answer", "skip", "cannot")}
        for n, test in enumerate(self.problem.tests):
            offer = self.workbench.faults.offers[test.key]
            if test.key not in asked and bits[n] >= self.settings.floor_bits and self._fits(offer, assessment):
                yield self._needs[test.key]

    def minutes_spent(self, entries: Sequence[Entry]) -> tuple[float, float]:
        """Return the bench minutes so far: of tests, and of parts changed or proved."""
        spent = walked(self.problem, entries, Position(np.zeros(0)))
        return spent.test_minutes, spent.change_minutes

    def next_check(self, entries: Sequence[Entry]) -> Question | None:
        """Return the next cold check, where the condition of the set asks for them and power is not yet due.

        A check that stops, was skipped or is not sure is asked again, until it passes or the person stops.
        """
        question = next_check(self.workbench.library, self.workbench.chassis, entries)
        if question is None or not self.workbench.library.cold_checks[question.id].powered:
            return question
        word = gate(needs_of_check(question.id), safety_state(self.workbench, entries))
        return question if word.allowed else replace(question, stop=f"{word.because} {word.instead}", barred=True)

    def changed_to(self, text: str) -> tuple[str, str]:
        """Return which circumstance a change on the bench concerns, and its value.

        Raises:
            BadInput: it is none that may change.
        """
        return changed_to(self.workbench, text)

    def may_offer(self, offer: Offer, assessment: Assessment, state: SafetyState) -> bool:
        """Tell whether an offer has a sense here, and the safety gate lets it pass."""
        return self._fits(offer, assessment) and gate(self._needs[offer.id], state).allowed

    def _fits(self, offer: Offer, assessment: Assessment) -> bool:
        """Tell whether an offer has a sense here: instruments, chassis and symptoms seen."""
        measurement = offer.measurement
        lacking = set(measurement.instruments) - self.workbench.bench.instruments
        if lacking and not (lacking == {"spare-tubes"} and self.workbench.twin_of(offer.target)):
            return False
        said = circumstances(assessment.entries)
        for trait, allowed in measurement.traits.items():
            if str(getattr(self.workbench.chassis, trait, said.get(trait, ""))) not in allowed:
                return False
        return not measurement.needs_any or bool(set(measurement.needs_any) & set(assessment.symptoms))

    @cached_property
    def _needs(self) -> dict[str, Needs]:
        """What each offer needs and endangers."""
        return {key: needs_of(self.workbench, offer) for key, offer in self.workbench.faults.offers.items()}

    @cached_property
    def problem(self) -> Problem:
        """The planner's tables over all offers and parts of the chassis."""
        return planning_problem(self.workbench)

    def _first_look(self, assessment: Assessment, position: Position) -> Step | None:
        """Return the test that the trade makes first after the symptoms seen, if it can tell anything."""
        seen = set(assessment.symptoms)
        bits = test_bits(self.problem, position.belief)
        for n, test in enumerate(self.problem.tests):
            wanted = self.workbench.faults.offers[test.key].measurement.first_for
            if seen & set(wanted) and test.key not in position.done and bits[n] >= self.settings.floor_bits:
                return Step("test", test.key, self.problem.minutes(test, position), float(bits[n]), customary=True)
        return None

    def _turn_for(self, step: Step, assessment: Assessment, position: Position) -> Turn:
        if step.kind == "end":
            return Turn(None, assessment, step, ending="nothing-left")
        if step.kind == "repair":
            question = repair_question(step.key, done=False)
            word = gate(
                needs_of_repair(self.workbench, step.key), safety_state(self.workbench, assessment.entries)
            )
            return Turn(question, assessment, step, cautions=word.cautions)
        if step.kind == "search":
            return self._search_turn(step, assessment)
        offer = self.workbench.faults.offers[step.key]
        measurement = offer.measurement
        question = replace(measured(self.workbench, step.key), title=measurement.title)
        word = gate(self._needs[step.key], safety_state(self.workbench, assessment.entries))
        way = tuple(sorted(set(measurement.access) - position.states))
        return Turn(question, assessment, step, offer, word.cautions, way)

    def _search_turn(self, step: Step, assessment: Assessment) -> Turn:
        """Return the turn that gives up testing the set: the parts that are tested by hand, in their order."""
        state = safety_state(self.workbench, assessment.entries)
        tests = parts_to_test(self.workbench, assessment.ranking.hypotheses, state)
        if not tests:
            return Turn(None, assessment, step, ending="nothing-left")
        options = [Option(t.part, f"{t.part} tests bad and is changed") for t in tests]
        options.append(Option(NONE_OF_THEM, "All of these test good"))
        question = Question(step.key, "search", "Test these parts by hand, in this order", tuple(options))
        steps = [make(self.workbench, t.part) for t in tests for make in (needs_of_part_test, needs_of_repair)]
        cautions = [key for needs in steps for key in gate(needs, state).cautions]
        return Turn(question, assessment, step, cautions=tuple(dict.fromkeys(cautions)), by_hand=tests)


def _may_stay(offer: Offer) -> bool:
    """Tell whether a meter may stay clipped on while the set runs: volts, and no grid that it would disturb."""
    measurement = offer.measurement
    reading = measurement.reading
    if reading is None or measurement.kind != "meter" or measurement.power != "on" or reading.unit != "V":
        return False
    return set(measurement.instruments) == {"meter"} and not reading.point.endswith("-grid")
