# SPDX-License-Identifier: MIT
"""One diagnosis: opens or resumes a session, runs the conversation, prints the result."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from rich.console import Console

from backporch.engine.cli.console import as_json
from backporch.engine.cli.conversation import Conversation, Outcome
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.resume import DiagnoseOptions, is_begun
from backporch.engine.cli.session_start import begin, free_name, fresh_start
from backporch.engine.cli.source import AnswerSource
from backporch.engine.knowledge.library import Library
from backporch.engine.planning.choose import Settings
from backporch.engine.session.danger import safety_state
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import Journal, session_folder, session_name
from backporch.engine.session.suspects import suspects
from backporch.engine.session.workbench import Workbench

__all__ = ["diagnose_session", "result_document"]


def diagnose_session(options: DiagnoseOptions, name: str | None, source: AnswerSource, console: Console) -> int:
    """Run one diagnosis; return 0, or 2 where the answers end before the diagnosis does.

    Args:
        options: What the command line says.
        name: The session, or None for a new one.
        source: Where answers come from.
        console: Where the conversation is shown.
    Raises:
        BackporchError: something given is wrong; what was answered before is on the disk.
    """
    fresh = fresh_start(options.given) if name is None or not is_begun(name) else None
    name = session_name(name) if name else free_name(fresh.chassis if fresh else "")
    with Journal(session_folder() / name) as journal:
        workbench, settings = begin(journal, options.given, fresh)
        outcome, interview = _talk(journal, name, Pages(Screen(console, workbench)), settings, source)
    if options.as_json:
        print(as_json(result_document(workbench, interview, outcome)))
    concluded = outcome.turn.question is None or outcome.turn.question.kind in ("repair", "search")
    if outcome.ended == "input-ended" and not concluded:
        go_on = f"backporch diagnose --session {name}"
        print(f"The answers end before the diagnosis does; all are saved. Go on with: {go_on}", file=sys.stderr)
        return 2
    return 0


def _talk(
    journal: Journal, name: str, pages: Pages, settings: Settings, source: AnswerSource
) -> tuple[Outcome, Interview]:
    """Hold the conversation; what it came to is kept with the session."""
    interview = Interview(pages.workbench, settings)
    resumed = any(e.kind not in ("start", "caution") for e in live(journal.entries))
    if resumed:
        journal.append(Entry("resumed", "", at=datetime.now(UTC).isoformat(timespec="seconds")))
    pages.opening(name, resumed=resumed)
    if journal.edited:
        pages.taken_over()
    outcome = Conversation(interview, journal.entries, journal.append, source, pages, _finder(pages.library)).run()
    found = _found(pages.workbench, outcome)
    if found is not None and found not in outcome.entries:
        journal.append(found)
    return outcome, interview


def _finder(library: Library) -> Callable[[str], list[str]]:
    """Return what finds symptoms by their words; it is loaded with the first of them."""

    def find(text: str) -> list[str]:
        from backporch.engine.knowledge.finder import find_symptoms

        return find_symptoms(library, text)

    return find


def _found(workbench: Workbench, outcome: Outcome) -> Entry | None:
    """Return what the session came to, against which a replay is held."""
    assessment = outcome.turn.assessment
    if assessment is None or not any(e.kind in ("answer", "repair") for e in outcome.entries):
        return None
    cured = next((e.key for e in reversed(outcome.entries) if e.kind == "repair" and e.value == "cured"), "")
    if cured:
        return Entry("found", workbench.stage_of(cured, assessment.ranking.hypotheses), cured)
    return Entry("found", assessment.ranking.stages[0][0], suspects(workbench, assessment, most=1)[0].part)


def result_document(workbench: Workbench, interview: Interview, outcome: Outcome) -> dict[str, Any]:
    """Return the result of a diagnosis as plain data; the format is described in DEVELOPERS.md."""
    assessment = outcome.turn.assessment
    document: dict[str, Any] = {
        "schema": 1,
        "kind": "diagnosis",
        "chassis": workbench.chassis.name,
        "ended": outcome.ended,
        "answers": [e.plain() for e in outcome.entries if e.kind != "start"],
    }
    cautions, turn = workbench.library.cautions, outcome.turn
    state = safety_state(workbench, outcome.entries)
    document["alarms"] = sorted(state.alarms)
    if state.alarms:
        document["first"] = cautions["smoke-or-arcing"].say
    if turn.question is not None:
        said = [cautions[key].say for key in turn.cautions if key in cautions]
        document["next"] = {
            "id": turn.question.id,
            "title": turn.question.title,
            "cautions": said,
            "way": turn.way,
        }
    document["held"] = [{"check": h.check, "because": h.because, "instead": h.instead} for h in turn.held]
    if assessment is None:
        return document
    tests, changes = interview.minutes_spent(outcome.entries)
    document["contradictions"] = [vars(clash) for clash in assessment.clashes]
    document["stage"] = assessment.ranking.stages[0][0]
    document["stages"] = [{"stage": s, "probability": round(p, 6)} for s, p in assessment.ranking.stages]
    document["parts"] = [
        {"part": s.part, "fault": s.id, "stage": s.stage, "probability": round(s.share, 6)}
        for s in suspects(workbench, assessment, most=10)
    ]
    document["minutes"] = {"tests": round(tests, 2), "repairs": round(changes, 2)}
    document["tests"] = sum(e.kind == "answer" for e in outcome.entries)
    return document
