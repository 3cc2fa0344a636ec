# SPDX-License-Identifier: MIT
"""Runs a scenario through the interview and compares what is found with what was expected."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from backporch.engine.session.assess import Assessment, assess
from backporch.engine.session.entry import Entry, EntryKind, live
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.patient import Patient
from backporch.engine.session.questions import NONE_OF_THEM, UNSURE, Question
from backporch.engine.session.repairs import pending
from backporch.engine.session.scenario import Expectation, Scenario
from backporch.engine.session.search_entry import found_by_hand, searched
from backporch.engine.session.suspects import suspects

__all__ = ["Replayed", "replay"]

_USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "isolation": "isolated",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
    "hearing": "hears",
}
_USUAL_CHECKS = {"mains-today": "read = 230 V", "lamp-power": "fits = 60 W"}
_MOST_TURNS = 150


@dataclass(frozen=True)
class Replayed:
    """What came of one scenario."""

    entries: tuple[Entry, ...]
    ended: str
    found_stage: str
    found_part: str
    place: int
    """Place of the expected stage in the final ranking."""
    tests: int
    minutes: float
    difference: str
    """The first difference from what was expected, in a sentence; "" where there is none."""


def replay(
    scenario: Scenario,
    interview: Interview,
    patient: Patient | None,
    watch: Callable[[Turn, str], None] | None = None,
) -> Replayed:
    """Run a scenario to its end.

    Args:
        scenario: The scenario.
        interview: Over the scenario's chassis and bench.
        patient: The simulated set, or None where recorded answers are all there is.
        watch: Is told each question and its answer.
    """
    entries = list(scenario.said)
    ended = "too-long"
    for _ in range(_MOST_TURNS):
        standing = live(entries)
        turn = interview.turn(standing)
        if turn.question is None:
            ended = turn.ending
            break
        new = _answer(scenario, interview, patient, turn.question)
        if new is None:
            ended = "answers-end"
            break
        if watch is not None:
            watch(turn, found_by_hand(new[0]) or new[-1].value)
        if pending(standing) and new[-1].kind == "repair":
            new[-1] = replace(new[-1], of=new[-1].name)
        entries.extend(new)
        if patient is not None and new[-1].kind == "repair" and new[-1].value == "partly":
            patient = patient.without(new[-1].key)
    return _compared(scenario, interview, live(entries), ended)


def _answer(
    scenario: Scenario, interview: Interview, patient: Patient | None, question: Question
) -> list[Entry] | None:
    """Return the entries that answer a question, or None where a recorded session ends."""
    if scenario.said and patient is None and question.id not in {**scenario.answers, **scenario.repairs}:
        return None
    if question.kind == "symptoms":
        seen = scenario.symptoms or (patient.symptoms if patient else ())
        names = [Entry("symptom", name) for name in seen]
        return [*names, Entry("symptoms-done", "", "" if names else UNSURE)]
    if question.kind in ("choice", "check"):
        kind: EntryKind = "check" if question.kind == "check" else "circumstance"
        said = {**_USUAL_CHECKS, **scenario.checks}
        given = said if question.kind == "check" else {**_USUAL, **scenario.circumstances}
        return [
            Entry(
                kind, question.id, given.get(question.id, question.options[0].key if question.options else UNSURE)
            )
        ]
    if question.kind == "watch":
        return [Entry("circumstance", "moment", "happening")]
    if question.kind == "returned":
        return None
    if question.kind == "repair":
        return _repair(scenario, patient, question)
    if question.kind == "search":
        bad = {fault.owner for fault in patient.faults} if patient else set()
        found = next((o.key for o in question.options if o.key in bad), NONE_OF_THEM)
        return list(searched(question, found))
    if question.id in scenario.answers:
        return [Entry("answer", question.id, scenario.answers[question.id])]
    if question.id in scenario.left_out:
        return [Entry(scenario.left_out[question.id], question.id)]
    if patient is None:
        return None
    return [Entry("answer", question.id, patient.answer(interview.workbench.faults.offers[question.id]))]


def _repair(scenario: Scenario, patient: Patient | None, question: Question) -> list[Entry] | None:
    if question.id in scenario.repairs:
        return [Entry("repair", question.id, scenario.repairs[question.id])]
    if patient is None:
        return None
    if patient.cured_by(question.id):
        return [Entry("repair", question.id, "cured")]
    bad = any(fault.owner == question.id for fault in patient.faults)
    return [Entry("repair", question.id, "partly" if bad else "not-cured")]


def _compared(scenario: Scenario, interview: Interview, entries: tuple[Entry, ...], ended: str) -> Replayed:
    final = assess(interview.workbench, entries)
    tests, changes = interview.minutes_spent(entries)
    expect = scenario.expect
    stage, part = _found(interview, final, entries, expect)
    mended = any(e.kind == "repair" and e.value in ("cured", "partly") for e in entries)
    place = 1 if mended else final.ranking.place(stage)
    if expect is not None and stage != expect.stage:
        place = final.ranking.place(expect.stage) if expect.stage in dict(final.ranking.stages) else 99
    return Replayed(
        entries=entries,
        ended=ended,
        found_stage=stage,
        found_part=part,
        place=place,
        tests=sum(e.kind == "answer" for e in entries),
        minutes=tests + changes,
        difference=_difference(scenario, final, stage, part, place, tests + changes),
    )


def _found(
    interview: Interview, final: Assessment, entries: tuple[Entry, ...], expect: Expectation | None
) -> tuple[str, str]:
    """Return stage and part that were found: of several bad parts the one that was expected, or the last."""
    bad = [e for e in entries if e.kind == "repair" and e.value in ("cured", "partly")]
    if not bad:
        return final.ranking.stages[0][0], suspects(interview.workbench, final, most=1)[0].part
    odds = {"cured": final.ranking.hypotheses, "partly": final.prior}
    found = [(interview.workbench.stage_of(e.key, odds[e.value]), e.key) for e in bad]
    if expect is not None:
        fitting = [f for f in found if f[1] == expect.part] or [f for f in found if f[0] == expect.stage]
        found = fitting or found
    return found[-1]


def _difference(scenario: Scenario, final: Assessment, stage: str, part: str, place: int, minutes: float) -> str:
    expect = scenario.expect
    if expect is None:
        return ""
    if place > expect.rank:
        leader, share = final.ranking.stages[0]
        return (
            f"expected {expect.stage} in place {expect.rank} or better, found it in place {place}; "
            f"{leader} leads with {share:.0%}"
        )
    if expect.rank == 1 and stage != expect.stage:
        return f"expected the stage {expect.stage}, found {stage}"
    if expect.part is not None and part != expect.part:
        return f"expected the part {expect.part}, found {part}"
    if expect.within_minutes is not None and minutes > expect.within_minutes:
        return f"expected at most {expect.within_minutes:.0f} min, took {minutes:.0f} min"
    return ""
