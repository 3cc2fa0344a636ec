# SPDX-License-Identifier: MIT
"""The diagnose command: opens or resumes a session, runs the conversation, prints the result."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import chain, count
from pathlib import Path
from typing import Any

from rich.console import Console

from backporch.engine.cli.console import make_console
from backporch.engine.cli.conversation import Conversation, Outcome
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.setup import make_workbench
from backporch.engine.cli.source import answer_source
from backporch.engine.errors import BadInput
from backporch.engine.planning.choose import Settings
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import Journal, session_folder, session_name
from backporch.engine.session.suspects import suspects
from backporch.engine.session.workbench import Workbench

__all__ = ["DiagnoseOptions", "free_name", "result_document", "run_diagnose", "same_chassis"]


@dataclass(frozen=True)
class DiagnoseOptions:
    """The options of the command line."""

    chassis: str
    answers: Path | None
    session: str | None
    resume: bool
    order: str
    careful: bool
    without: tuple[str, ...]
    owned: tuple[str, ...]
    as_json: bool


def run_diagnose(options: DiagnoseOptions) -> int:
    """Run one diagnosis; return 0, or 2 where the answers end before the diagnosis does.

    Raises:
        BackporchError: something given is wrong; what was answered before is on the disk.
    """
    if options.order not in ("quickest", "cheapest"):
        raise BadInput(f"There is no order {options.order!r}; write quickest or cheapest.")
    workbench = make_workbench(options.chassis, options.owned, options.without)
    source = answer_source(options.answers)
    console = make_console(error=options.as_json)
    if options.as_json and not source.interactive:
        console = Console(quiet=True)
    pages = Pages(Screen(console, workbench))
    name = session_name(options.session) if options.session else free_name(workbench.chassis.name)
    from backporch.engine.knowledge.finder import find_symptoms

    interview = Interview(workbench, Settings(order=options.order, careful=options.careful))  # type: ignore[arg-type]
    with Journal(session_folder() / name) as journal:
        if not journal.entries:
            journal.append(Entry("start", "chassis", options.chassis))
        same_chassis(journal.entries, options.chassis)
        if len(live(journal.entries)) > 1:
            journal.append(Entry("resumed", ""))
        pages.opening(name, resumed=len(live(journal.entries)) > 1)
        find: Callable[[str], list[str]] = lambda text: find_symptoms(workbench.library, text)  # noqa: E731
        talk = Conversation(interview, journal.entries, journal.append, source, pages, find)
        outcome = talk.run()
    if options.as_json:
        print(json.dumps(result_document(workbench, interview, outcome), indent=2, ensure_ascii=False))
    concluded = outcome.turn.question is None or outcome.turn.question.kind == "repair"
    if outcome.ended == "input-ended" and not concluded:
        go_on = f"backporch diagnose --chassis {options.chassis} --session {name}"
        print(f"The answers end before the diagnosis does; all are saved. Go on with: {go_on}", file=sys.stderr)
        return 2
    return 0


def same_chassis(entries: Sequence[Entry], chassis: str) -> None:
    """Refuse to go on with a session over another chassis: its cautions and gates would be the wrong ones."""
    begun = next((e.value for e in entries if e.kind == "start" and e.key == "chassis"), chassis)
    if begun != chassis:
        raise BadInput(
            f"This session was begun on {begun}, not on {chassis}. Write --chassis {begun}, or begin another "
            "with --session NAME."
        )


def free_name(chassis: str) -> str:
    """Return a name of today that no session has yet."""
    base = session_name(f"{chassis}-{datetime.now():%Y%m%d-%H%M}")
    taken = {p.name for p in session_folder().glob(f"{base}*")} if session_folder().is_dir() else set()
    candidates = chain([base], (f"{base}-{n}" for n in count(2)))
    return next(name for name in candidates if name not in taken)


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
    if outcome.turn.question is not None:
        document["next"] = {"id": outcome.turn.question.id, "title": outcome.turn.question.title}
    if assessment is None:
        return document
    tests, changes = interview.minutes_spent(outcome.entries)
    document["stage"] = assessment.ranking.stages[0][0]
    document["stages"] = [{"stage": s, "probability": round(p, 6)} for s, p in assessment.ranking.stages]
    document["parts"] = [
        {"part": s.part, "fault": s.id, "stage": s.stage, "probability": round(s.share, 6)}
        for s in suspects(workbench, assessment, most=10)
    ]
    document["minutes"] = {"tests": round(tests, 2), "repairs": round(changes, 2)}
    document["tests"] = sum(e.kind == "answer" for e in outcome.entries)
    return document
