# SPDX-License-Identifier: MIT
"""The cold-check command: the walk before the first power, with every answer saved."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from rich.console import Console

from backporch.engine.cli.console import make_console
from backporch.engine.cli.pages import Pages
from backporch.engine.cli.render import Screen
from backporch.engine.cli.session_start import free_name, same_chassis
from backporch.engine.cli.setup import make_workbench
from backporch.engine.cli.source import answer_source
from backporch.engine.cli.walk import Walk
from backporch.engine.session.cold_check import cold_readings
from backporch.engine.session.described import remark
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import Journal, session_folder, session_name

__all__ = ["run_cold_check"]


def run_cold_check(chassis_name: str, *, session: str | None, answers: Path | None, as_json: bool) -> int:
    """Walk through the cold checks; return 0 when all pass, 1 when something must be mended first.

    Raises:
        BackporchError: the chassis is unknown or the session cannot be saved.
    """
    workbench = make_workbench(chassis_name)
    source = answer_source(answers)
    console = Console(quiet=True) if as_json and not source.interactive else make_console(error=as_json)
    pages = Pages(Screen(console, workbench))
    name = session_name(session) if session else free_name(f"{workbench.chassis.name}-cold")
    with Journal(session_folder() / name) as journal:
        journal.explain = cache(lambda entry: remark(workbench.library, entry))
        if not journal.entries:
            journal.append(Entry("start", "chassis", chassis_name))
            journal.append(Entry("circumstance", "condition", "never-powered"))
        same_chassis(journal.entries, chassis_name)
        resumed = len(live(journal.entries)) > 2
        if resumed:
            journal.append(Entry("resumed", ""))
        pages.opening(name, resumed=resumed)
        walk = Walk(Interview(workbench), journal.entries, journal.append, source, pages)
        stopped = walk.run()
        standing = live(journal.entries)
    pages.after_cold_check(stopped, name)
    if as_json:
        checks = {e.key: e.value.partition(" = ")[0] for e in standing if e.kind == "check"}
        document = {"schema": 1, "kind": "cold-check", "checks": checks, "readings": cold_readings(standing)}
        print(json.dumps({**document, "stopped": stopped}, indent=2))
    return 1 if stopped else 0
