# SPDX-License-Identifier: MIT
"""The replay command: runs saved scenarios and prints what each came to."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich.progress import Progress
from rich.table import Table

from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BackporchError
from backporch.engine.session.interview import Interview
from backporch.engine.session.patient import Patient
from backporch.engine.session.replay import Replayed, replay
from backporch.engine.session.scenario import Scenario, find_scenarios, load_scenario

__all__ = ["run_one", "run_replay"]


def run_one(path: Path) -> tuple[Scenario, Replayed]:
    """Run one scenario file.

    Raises:
        BackporchError: the file or something that it names is wrong.
    """
    scenario = load_scenario(path)
    try:
        workbench = make_workbench(scenario.chassis, scenario.bench.owned, scenario.bench.lacking)
        interview = Interview(workbench)
        patient = None
        if scenario.faults:
            patient = Patient(
                workbench.chassis, workbench.library, workbench.faults.hypotheses, scenario.faults, scenario.seed
            )
        workbench.library.stage(scenario.expect.stage)
        return scenario, replay(scenario, interview, patient)
    except BackporchError as error:
        raise BackporchError(f"{path}: {error}") from error


def run_replay(paths: Sequence[Path], *, workers: int, as_json: bool) -> int:
    """Run every scenario and print a table (or JSON); return 1 if any differs from what it expects."""
    files = list(find_scenarios(list(paths)))
    console = make_console(error=True)
    results: list[tuple[Path, Scenario, Replayed]] = []
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("Replaying", total=len(files))
        for path, (scenario, outcome) in zip(files, _all(files, workers), strict=True):
            results.append((path, scenario, outcome))
            progress.advance(task)
    if as_json:
        print(json.dumps({"schema": 1, "kind": "replay", "scenarios": [_plain(*r) for r in results]}, indent=2))
    else:
        _print(results)
    return int(any(outcome.difference for _, _, outcome in results))


def _all(files: Sequence[Path], workers: int) -> Any:
    if workers <= 1 or len(files) < 2:
        return map(run_one, files)
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(max_workers=workers) as pool:
        return list(pool.map(run_one, files))


def _plain(path: Path, scenario: Scenario, outcome: Replayed) -> dict[str, Any]:
    return {
        "scenario": path.stem,
        "title": scenario.title,
        "expected": scenario.expect.stage,
        "found": outcome.found_stage,
        "part": outcome.found_part,
        "place": outcome.place,
        "tests": outcome.tests,
        "minutes": round(outcome.minutes, 1),
        "ended": outcome.ended,
        "difference": outcome.difference,
    }


def _print(results: Sequence[tuple[Path, Scenario, Replayed]]) -> None:
    console = make_console()
    table = Table(box=None, pad_edge=False)
    for name, align in (("scenario", "left"), ("expected stage", "left"), ("found", "left")):
        table.add_column(name, justify=align, overflow="fold")  # type: ignore[arg-type]
    for name in ("place", "tests", "min"):
        table.add_column(name, justify="right")
    for path, scenario, outcome in results:
        mark = "" if not outcome.difference else "  differs"
        table.add_row(
            harmless(path.stem) + mark,
            scenario.expect.stage,
            f"{outcome.found_stage} {outcome.found_part}",
            str(outcome.place),
            str(outcome.tests),
            f"{outcome.minutes:.0f}",
        )
    console.print(table)
    differing = [(path, outcome) for path, _, outcome in results if outcome.difference]
    console.print(f"{len(results) - len(differing)} of {len(results)} as expected.")
    if differing:
        path, outcome = differing[0]
        console.print(f"First difference, {harmless(path)}: {outcome.difference}.")
