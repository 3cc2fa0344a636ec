# SPDX-License-Identifier: MIT
"""How a session begins or goes on: its name, its chassis, its bench, and what the command line gives anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from itertools import chain, count
from pathlib import Path
from typing import Any

from backporch.engine.cli.new_parts import new_parts
from backporch.engine.cli.resume import Given
from backporch.engine.cli.rigs import rig_place
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput
from backporch.engine.planning.choose import Settings, settings_of
from backporch.engine.session.described import remark
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.journal import Journal, session_folder, session_name
from backporch.engine.session.migrations import SCHEMA
from backporch.engine.session.recorded import scenario_of, short_name, start_entries
from backporch.engine.session.scenario import Scenario, ScenarioBench
from backporch.engine.session.workbench import Workbench

__all__ = ["begin", "free_name", "fresh_start", "same_chassis"]

USUAL_CHASSIS = "plover-17"
"""The chassis that a new session is about where none is named."""


@dataclass(frozen=True)
class Fresh:
    """What a new session begins with, everything in it checked."""

    scenario: Scenario
    workbench: Workbench

    @property
    def chassis(self) -> str:
        """Short name of the chassis."""
        return short_name(self.scenario.chassis)


def fresh_start(given: Given) -> Fresh:
    """Return what a session begins with; everything named is checked before anything is written."""
    chassis = given.chassis or USUAL_CHASSIS
    if Path(chassis).suffix in (".yaml", ".yml") or Path(chassis).name != chassis:
        chassis = str(Path(chassis).resolve())
    rig = rig_place(given.rig)
    scenario = Scenario(
        schema=2,
        title="",
        chassis=chassis,
        bench=ScenarioBench(owned=given.owned, lacking=given.without, rig=rig, file=given.bench),
        order="cheapest" if given.order == "cheapest" else "quickest",
        careful=given.careful,
        begun=datetime.now(UTC).isoformat(timespec="seconds"),
    )
    return Fresh(scenario, make_workbench(chassis, given.owned, given.without, rig, given.bench))


def begin(journal: Journal, given: Given, fresh: Fresh | None) -> tuple[Workbench, Settings]:
    """Write the beginning of a session, or what is given anew for one that goes on; return what it works with."""
    if not live(journal.entries):
        fresh = fresh or fresh_start(given)
        begun = fresh.scenario
        start = tuple(e for e in start_entries(begun) if e.key != "title")
        journal.append(Entry("start", "schema", str(SCHEMA)), *start)
        workbench = fresh.workbench
    else:
        same_chassis(journal.entries, given.chassis)
        begun = scenario_of(live(journal.entries))
        changed = _changed_start(begun, given)
        if changed:
            journal.append(*changed)
            begun = scenario_of(live(journal.entries))
        bench = begun.bench
        workbench = make_workbench(begun.chassis, bench.owned, bench.lacking, bench.rig, bench.file)
    said = _new_parts(workbench, given)
    if said:
        journal.append(*said)
    journal.explain = cache(lambda entry: remark(workbench.library, entry))
    return workbench, settings_of(begun.order, begun.careful)


def _new_parts(workbench: Workbench, given: Given) -> list[Entry]:
    """Return what the command line says of new parts."""
    said = [Entry("repair", name, "renewed") for name in sorted(new_parts(workbench, False, given.new))]
    if given.recapped:
        said.insert(0, Entry("circumstance", "renewed", "capacitors"))
        said.insert(0, Entry("circumstance", "condition", "partly-recapped"))
    return said


def _changed_start(scenario: Scenario, given: Given) -> tuple[Entry, ...]:
    """Return the entries for what the command line gives anew to a session that goes on."""
    owned = dict.fromkeys([*(o for o in scenario.bench.owned if o not in given.without), *given.owned])
    lacking = dict.fromkeys([*(x for x in scenario.bench.lacking if x not in given.owned), *given.without])
    file = given.bench or scenario.bench.file
    bench = scenario.bench.model_copy(update={"owned": tuple(owned), "lacking": tuple(lacking), "file": file})
    update: dict[str, Any] = {"bench": bench} if bench != scenario.bench else {}
    if given.order is not None:
        update["order"] = given.order
    if given.careful:
        update["careful"] = True
    before = start_entries(scenario)
    return tuple(e for e in start_entries(scenario.model_copy(update=update)) if e not in before)


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
