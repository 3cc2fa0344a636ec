# SPDX-License-Identifier: MIT
"""What replayed scenarios came to: as a table, as plain data, and as JUnit XML for build servers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from rich.console import Console
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.console import clean
from backporch.engine.session.replay import Replayed
from backporch.engine.session.scenario import Scenario

__all__ = ["Result", "junit_text", "plain_result", "print_results"]


@dataclass(frozen=True)
class Result:
    """One scenario with what came of it."""

    path: Path
    scenario: Scenario
    outcome: Replayed

    @property
    def name(self) -> str:
        """Name of the scenario; a session is named after its folder."""
        return self.path.parent.name if self.path.name == "session.yaml" else self.path.stem

    @property
    def expected(self) -> str:
        """The stage expected, or "" where nothing is."""
        return self.scenario.expect.stage if self.scenario.expect else ""


def plain_result(result: Result) -> dict[str, Any]:
    """Return a result as plain data; the format is described in DEVELOPERS.md."""
    outcome = result.outcome
    return {
        "scenario": result.name,
        "title": result.scenario.title,
        "expected": result.expected,
        "found": outcome.found_stage,
        "part": outcome.found_part,
        "place": outcome.place,
        "tests": outcome.tests,
        "minutes": round(outcome.minutes, 1),
        "ended": outcome.ended,
        "difference": outcome.difference,
    }


def print_results(console: Console, results: Sequence[Result]) -> None:
    """Print one line for each scenario, how many are as expected, and the first difference."""
    table = Table(box=None, pad_edge=False)
    for name in ("scenario", "expected stage", "found"):
        table.add_column(name, overflow="fold")
    for name in ("place", "tests", "min"):
        table.add_column(name, justify="right")
    for result in results:
        outcome = result.outcome
        table.add_row(
            Text(clean(result.name) + ("  differs" if outcome.difference else "")),
            Text(clean(result.expected) or "(nothing)"),
            Text(f"{outcome.found_stage} {outcome.found_part}"),
            str(outcome.place),
            str(outcome.tests),
            f"{outcome.minutes:.0f}",
        )
    console.print(table)
    differing = [result for result in results if result.outcome.difference]
    console.print(f"{len(results) - len(differing)} of {len(results)} as expected.")
    if differing:
        first = differing[0]
        console.print(Text(f"First difference, {clean(first.path)}: {clean(first.outcome.difference)}."))


def junit_text(results: Sequence[Result]) -> str:
    """Return the results as JUnit XML: one test case for each scenario, a failure for each difference."""
    failures = sum(bool(result.outcome.difference) for result in results)
    counts = {"tests": str(len(results)), "failures": str(failures), "errors": "0"}
    suites = ElementTree.Element("testsuites", counts)
    suite = ElementTree.SubElement(suites, "testsuite", {"name": "backporch replay", **counts})
    for result in results:
        where = {"classname": clean(result.path.parent).replace("\n", "?"), "name": clean(result.name)}
        case = ElementTree.SubElement(suite, "testcase", {**where, "file": clean(result.path)})
        if result.outcome.difference:
            message = clean(result.outcome.difference)
            failure = ElementTree.SubElement(case, "failure", {"message": message, "type": "difference"})
            failure.text = f"{clean(result.scenario.title)}: {message}"
    ElementTree.indent(suites)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(suites, encoding="unicode") + "\n"
