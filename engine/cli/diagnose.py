# SPDX-License-Identifier: MIT
"""The diagnose command: opens or resumes a session, runs the conversation, prints the result."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain, count
from pathlib import Path
from typing import Any

from rich.console import Console

from backporch.engine.chassis.load import find_chassis
from backporch.engine.cli.console import make_console
from backporch.engine.cli.conversation import Conversation, Outcome
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.sessions import pick_session
from backporch.engine.cli.setup import make_workbench
from backporch.engine.cli.source import AnswerSource, answer_source
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import shipped
from backporch.engine.planning.choose import Settings
from backporch.engine.session.described import remark
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import JOURNAL, Journal, session_folder, session_name
from backporch.engine.session.migrations import SCHEMA
from backporch.engine.session.recorded import scenario_of, short_name, start_entries
from backporch.engine.session.scenario import Scenario, ScenarioBench
from backporch.engine.session.shelf import on_the_shelf
from backporch.engine.session.suspects import suspects
from backporch.engine.session.workbench import Workbench

__all__ = ["DiagnoseOptions", "free_name", "result_document", "run_diagnose", "same_chassis"]

USUAL_CHASSIS = "plover-17"
"""The chassis that a new session is about where none is named."""


@dataclass(frozen=True)
class DiagnoseOptions:
    """The options of the command line."""

    chassis: str | None
    """Name or file; None for that of the session, or the usual one."""
    answers: Path | None
    session: str | None
    resume: bool
    order: str | None
    """quickest or cheapest; None for that of the session."""
    careful: bool
    without: tuple[str, ...]
    owned: tuple[str, ...]
    as_json: bool


def run_diagnose(options: DiagnoseOptions) -> int:
    """Run one diagnosis; return 0, or 2 where the answers end before the diagnosis does.

    Raises:
        BackporchError: something given is wrong; what was answered before is on the disk.
    """
    if options.order not in (None, "quickest", "cheapest"):
        raise BadInput(f"There is no order {options.order!r}; write quickest or cheapest.")
    source = answer_source(options.answers)
    console = make_console(error=options.as_json)
    if options.as_json and not source.interactive:
        console = Console(quiet=True)
    name = options.session
    if options.resume:
        name = _resumed_name(name, source, console)
        if name is None:
            return 0
    fresh = _fresh_start(options) if name is None or not _is_begun(name) else None
    name = session_name(name) if name else free_name(short_name(fresh.chassis if fresh else ""))
    with Journal(session_folder() / name) as journal:
        workbench, settings = _begin(journal, options, fresh)
        outcome, interview = _talk(journal, name, Pages(Screen(console, workbench)), settings, source)
    if options.as_json:
        print(json.dumps(result_document(workbench, interview, outcome), indent=2, ensure_ascii=False))
    concluded = outcome.turn.question is None or outcome.turn.question.kind in ("repair", "search")
    if outcome.ended == "input-ended" and not concluded:
        go_on = f"backporch diagnose --session {name}"
        print(f"The answers end before the diagnosis does; all are saved. Go on with: {go_on}", file=sys.stderr)
        return 2
    return 0


def _resumed_name(name: str | None, source: AnswerSource, console: Console) -> str | None:
    """Return the session to go on with, or None where nobody chooses one."""
    if name is None:
        return pick_session(source, console)
    if not _is_begun(name):
        raise UnknownWord("session", name, [s.name for s in on_the_shelf(session_folder())])
    return name


def _is_begun(name: str) -> bool:
    return (session_folder() / session_name(name) / JOURNAL).exists()


def _fresh_start(options: DiagnoseOptions) -> Scenario:
    """Return what a session begins with; everything named is checked before anything is written."""
    chassis = options.chassis or USUAL_CHASSIS
    if find_chassis(chassis, shipped()) == Path(chassis):
        chassis = str(Path(chassis).resolve())
    make_workbench(chassis, options.owned, options.without)
    return Scenario(
        schema=2,
        title="",
        chassis=chassis,
        bench=ScenarioBench(owned=options.owned, lacking=options.without),
        order="cheapest" if options.order == "cheapest" else "quickest",
        careful=options.careful,
        begun=datetime.now(UTC).isoformat(timespec="seconds"),
    )


def _begin(journal: Journal, options: DiagnoseOptions, fresh: Scenario | None) -> tuple[Workbench, Settings]:
    """Write the beginning of a session, or what is given anew for one that goes on; return what it works with."""
    journal.explain = lambda entry: remark(shipped(), entry)
    if not live(journal.entries):
        begun = fresh or _fresh_start(options)
        start = tuple(e for e in start_entries(begun) if e.key != "title")
        journal.append(Entry("start", "schema", str(SCHEMA)), *start)
    else:
        same_chassis(journal.entries, options.chassis)
        changed = _changed_start(scenario_of(live(journal.entries)), options)
        if changed:
            journal.append(*changed)
    scenario = scenario_of(live(journal.entries))
    workbench = make_workbench(scenario.chassis, scenario.bench.owned, scenario.bench.lacking)
    return workbench, Settings(order=scenario.order, careful=scenario.careful)


def _changed_start(scenario: Scenario, options: DiagnoseOptions) -> tuple[Entry, ...]:
    """Return the entries for what the command line gives anew to a session that goes on."""
    owned = dict.fromkeys([*(o for o in scenario.bench.owned if o not in options.without), *options.owned])
    lacking = dict.fromkeys([*(x for x in scenario.bench.lacking if x not in options.owned), *options.without])
    bench = scenario.bench.model_copy(update={"owned": tuple(owned), "lacking": tuple(lacking)})
    update: dict[str, Any] = {"bench": bench} if bench != scenario.bench else {}
    if options.order is not None:
        update["order"] = options.order
    if options.careful:
        update["careful"] = True
    before = start_entries(scenario)
    return tuple(e for e in start_entries(scenario.model_copy(update=update)) if e not in before)


def _talk(
    journal: Journal, name: str, pages: Pages, settings: Settings, source: AnswerSource
) -> tuple[Outcome, Interview]:
    """Hold the conversation; what it came to is kept with the session."""
    from backporch.engine.knowledge.finder import find_symptoms

    interview = Interview(pages.workbench, settings)
    resumed = any(e.kind not in ("start", "caution") for e in live(journal.entries))
    if resumed:
        journal.append(Entry("resumed", "", at=datetime.now(UTC).isoformat(timespec="seconds")))
    pages.opening(name, resumed=resumed)
    if journal.edited:
        pages.taken_over()
    find: Callable[[str], list[str]] = lambda text: find_symptoms(pages.library, text)  # noqa: E731
    outcome = Conversation(interview, journal.entries, journal.append, source, pages, find).run()
    found = _found(pages.workbench, outcome)
    if found is not None and found not in outcome.entries:
        journal.append(found)
    return outcome, interview


def _found(workbench: Workbench, outcome: Outcome) -> Entry | None:
    """Return what the session came to, against which a replay is held."""
    assessment = outcome.turn.assessment
    if assessment is None or not any(e.kind in ("answer", "repair") for e in outcome.entries):
        return None
    cured = next((e.key for e in reversed(outcome.entries) if e.kind == "repair" and e.value == "cured"), "")
    if cured:
        return Entry("found", workbench.stage_of(cured, assessment.ranking.hypotheses), cured)
    return Entry("found", assessment.ranking.stages[0][0], suspects(workbench, assessment, most=1)[0].part)


def same_chassis(entries: Sequence[Entry], chassis: str | None) -> None:
    """Refuse to go on with a session over another chassis: its cautions and gates would be the wrong ones."""
    begun = next((e.value for e in entries if e.kind == "start" and e.key == "chassis"), chassis)
    if chassis is not None and begun != chassis and begun != str(Path(chassis).resolve()):
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
