# SPDX-License-Identifier: MIT
"""The replay command: runs saved scenarios and sessions, and compares what is found with what was expected."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from backporch.engine.cli.console import as_json, make_console
from backporch.engine.cli.lesson import Lesson
from backporch.engine.cli.replay_report import Result, junit_text, plain_result, print_results
from backporch.engine.cli.replay_update import update_expectations
from backporch.engine.cli.setup import make_workbench
from backporch.engine.cli.source import answer_source
from backporch.engine.errors import BackporchError, BadFile
from backporch.engine.knowledge.validation import fail_together
from backporch.engine.planning.choose import settings_of
from backporch.engine.session.atomic import replace_file
from backporch.engine.session.interview import Interview
from backporch.engine.session.patient import Patient
from backporch.engine.session.replay import Replayed, replay
from backporch.engine.session.scenario import Scenario, find_scenarios, load_scenario
from backporch.engine.session.workbench import Workbench

__all__ = ["ReplayOptions", "prepared", "run_one", "run_replay"]


@dataclass(frozen=True)
class ReplayOptions:
    """The options of the command line."""

    paths: tuple[Path, ...]
    workers: int = 1
    as_json: bool = False
    junit: Path | None = None
    trace: bool = False
    update: bool = False


def prepared(scenario: Scenario) -> tuple[Interview, Patient | None]:
    """Return the interview of a scenario, and the simulated set where it has faults.

    Raises:
        BackporchError: the scenario names something that is not there.
    """
    workbench = _bench(scenario.chassis, scenario.bench.owned, scenario.bench.lacking, scenario.bench.rig)
    interview = Interview(workbench, settings_of(scenario.order, scenario.careful))
    if scenario.expect is not None:
        workbench.library.stage(scenario.expect.stage)
    if not scenario.faults:
        return interview, None
    hypotheses = workbench.faults.hypotheses
    chassis, library, meter = workbench.chassis, workbench.library, workbench.bench.meter
    return interview, Patient(chassis, library, hypotheses, scenario.faults, scenario.seed, meter=meter)


@lru_cache(maxsize=8)
def _bench(chassis: str, owned: tuple[str, ...], lacking: tuple[str, ...], rig: str) -> Workbench:
    """Set up a bench once for all scenarios of a run that share it; nothing on it changes."""
    return make_workbench(chassis, owned, lacking, rig)


def run_one(path: Path) -> tuple[Scenario, Replayed]:
    """Run one scenario file.

    Raises:
        BackporchError: the file or something that it names is wrong.
    """
    scenario = load_scenario(path)
    with _named(path):
        return scenario, replay(scenario, *prepared(scenario))


def run_replay(options: ReplayOptions) -> int:
    """Run every scenario and print a table (or JSON); return 1 if any differs from what it expects.

    Raises:
        BackporchError: a file is wrong; nothing was run then.
    """
    files = list(find_scenarios(list(options.paths)))
    _check_all(files)
    if options.trace:
        return _lessons(files)
    results: list[Result] = []
    console = make_console(error=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("Replaying", total=len(files))
        with _runner(options.workers, len(files)) as run:
            for path, (scenario, outcome) in zip(files, run(files), strict=True):
                results.append(Result(path, scenario, outcome))
                progress.advance(task)
    if options.junit is not None:
        _write_junit(options.junit, results)
    if options.as_json:
        rows = [plain_result(result) for result in results]
        print(as_json({"schema": 1, "kind": "replay", "scenarios": rows}))
    else:
        print_results(make_console(), results)
    if options.update:
        return update_expectations(results, answer_source(None), make_console(error=options.as_json))
    return int(any(result.outcome.difference for result in results))


def _check_all(files: Sequence[Path]) -> None:
    """Read every file before the first is run, so that all mistakes are told at once."""

    def problems() -> Iterator[str]:
        for path in files:
            try:
                load_scenario(path)
            except BackporchError as error:
                yield str(error)

    fail_together(problems())


@contextmanager
def _runner(workers: int, count: int) -> Iterator[Callable[[Sequence[Path]], Iterator[tuple[Scenario, Replayed]]]]:
    """Give what runs files one after another or side by side, results in the order of the files."""
    if workers <= 1 or count < 2:
        yield lambda files: map(run_one, files)
        return
    fresh = get_context("spawn")
    with ProcessPoolExecutor(max_workers=min(workers, count), mp_context=fresh) as pool:
        try:
            yield lambda files: pool.map(run_one, files)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _lessons(files: Sequence[Path]) -> int:
    """Step through every scenario as a lesson."""
    source, console = answer_source(None), make_console()
    differs = False
    for path in files:
        scenario = load_scenario(path)
        with _named(path):
            lesson = Lesson(console, source, scenario, *prepared(scenario))
            outcome = lesson.run()
        if outcome is None:
            break
        differs = differs or bool(outcome.difference)
    return int(differs)


def _write_junit(path: Path, results: Sequence[Result]) -> None:
    try:
        replace_file(path, junit_text(results))
    except OSError as error:
        raise BadFile(
            f"{path}: cannot be written ({error.strerror}). Name a file in a folder that exists."
        ) from error


@contextmanager
def _named(path: Path) -> Iterator[Console | None]:
    try:
        yield None
    except BackporchError as error:
        raise BackporchError(f"{path}: {error}") from error
