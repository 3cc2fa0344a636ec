# SPDX-License-Identifier: MIT
"""The page after a lesson: what it was, both paths side by side, what decided, what to read next; and as data."""

from __future__ import annotations

from typing import Any

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.render import Screen
from backporch.engine.training.course import Course
from backporch.engine.training.debrief import Debrief, Deciding
from backporch.engine.training.run import Moment, Run
from backporch.engine.training.score import Result
from backporch.engine.training.support import SUPPORT

__all__ = ["result_document", "show_debrief"]

_LAST_STEPS = 4
_LONGEST = 110
"""A step with a longer formula, or one that only names a value anew, is left to the full computation."""
_ENDINGS = {
    "found": "Right, and your answers support it.",
    "wrong": "That is not the fault.",
    "unsupported": "That is the part; but your answers do not support it yet, so it counts as a guess.",
    "unsafe": "The lesson ended at an unsafe step; safety comes before any score.",
    "given-up": "Given up; look how it could have gone.",
}
_WHOSE = {
    "you": "Your deciding reading",
    "tool": "The tool's deciding reading",
    "nobody": "The reading that would have shown it best",
}


def show_debrief(screen: Screen, course: Course, run: Run, result: Result, told: Debrief) -> None:
    """Show what is said after a run."""
    screen.heading("Debrief", f"score {result.score} %")
    stages = course.workbench.library.stages
    for hidden in course.faults:
        stage = stages[hidden.stage].title if hidden.stage in stages else hidden.stage
        screen.labelled([("The fault", Text(hidden.title, style="bold")), ("Stage", stage)])
    screen.labelled([("Ending", _ending(course, run)), ("Minutes", _minutes(result))])
    _paths(screen, told)
    rows = [("Enough", _enough(told))]
    if told.useless:
        rows.append(("Told nothing", "; ".join(f"{m.title} ({m.minutes:.1f} min)" for m in told.useless)))
    screen.labelled(rows)
    if told.deciding is not None:
        _deciding(screen, told.deciding)
    if told.read:
        screen.heading("To read next")
        screen.labelled([(term, means[:1].upper() + means[1:] + ".") for term, means in told.read])
    if told.sources:
        screen.labelled([(key, title) for key, title in told.sources])


def _ending(course: Course, run: Run) -> str:
    last = run.moments[-1].act
    if run.ending == "wrong" and last.key in course.sought(run):
        return "That is the part; but it works in another stage than the one you named, so it does not count."
    return _ENDINGS[run.ending]


def _minutes(result: Result) -> str:
    return (
        f"{result.minutes:.1f} of searching for you, {result.tool_minutes:.1f} for whoever does what the tool "
        f"advises, {result.best_minutes:.1f} for the best plan known. Changing the part costs everybody the same."
    )


def _paths(screen: Screen, told: Debrief) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), expand=True, header_style="dim")
    for name in ("you", "the tool"):
        table.add_column("min", justify="right", no_wrap=True)
        table.add_column(name, ratio=1)
    for mine, tools in told.rows:
        table.add_row(*_cells(mine), *_cells(tools))
    screen.console.print()
    screen.console.print(Padding(table, (0, 0, 0, 2)))
    screen.console.print()


def _cells(moment: Moment | None) -> tuple[str, Text]:
    if moment is None:
        return "", Text("")
    text = Text(moment.title)
    if moment.answer:
        text.append(f": {moment.answer}", style="bold")
    return f"{moment.clock:.1f}", text


def _enough(told: Debrief) -> str:
    share = f"{SUPPORT * 100:.0f} in 100"
    tool = f"; the tool knew it after {told.tool_enough.clock:.1f} min" if told.tool_enough else ""
    if told.enough is None:
        return f"Your answers never gave the faulty part {share}, and no test proved it by itself{tool}."
    why = f"the part stood above {share}" if told.enough.support >= SUPPORT else "it proved the part by itself"
    return f'Known with "{told.enough.title}", at {told.enough.clock:.1f} min ({why}){tool}.'


def _deciding(screen: Screen, deciding: Deciding) -> None:
    screen.heading(f"{_WHOSE[deciding.made_by]}: {deciding.title}")
    screen.labelled([("It showed", deciding.answer), ("Healthy", deciding.healthy)])
    if deciding.steps and deciding.steps_of != deciding.title:
        screen.say(f"  The nearest value before it that is computed by a formula: {deciding.steps_of}.", "dim")
    short = [step for step in deciding.steps if " " in step.formula and len(step.formula) <= _LONGEST]
    short = short[-_LAST_STEPS:] or list(deciding.steps[-_LAST_STEPS:])
    screen.computation(short)
    left = len(deciding.steps) - len(short)
    if left:
        screen.say(f"  {left} other steps are left out; backporch expect with --why shows them all.", "dim")


def result_document(
    course: Course, name: str, run: Run, result: Result | None, told: Debrief | None
) -> dict[str, Any]:
    """Return a lesson as plain data; the format is described in DEVELOPERS.md."""
    document: dict[str, Any] = {
        "schema": 1,
        "kind": "lesson",
        "lesson": name,
        "seed": course.seed,
        "chassis": course.workbench.chassis.name,
        "ended": run.ending,
        "minutes": round(run.searched, 2),
        "steps": [_step(m) for m in run.moments],
    }
    if result is None or told is None:
        return document
    document |= {
        "faults": [{"part": h.owner, "fault": h.id, "stage": h.stage} for h in course.faults],
        "score": result.score,
        "best_minutes": result.best_minutes,
        "tool_minutes": result.tool_minutes,
        "passed": result.passed(course.lesson),
        "enough": _step(told.enough) if told.enough else None,
        "told_nothing": [_step(m) for m in told.useless],
        "tool": [_step(tools) for _, tools in told.rows if tools is not None],
        "unsafe": list(run.unsafe.sentences) if run.unsafe else [],
    }
    if told.deciding is not None:
        document["deciding"] = {
            "test": told.deciding.key,
            "made_by": told.deciding.made_by,
            "steps_of": told.deciding.steps_of,
            "steps": [vars(step) for step in told.deciding.steps],
        }
    return document


def _step(moment: Moment) -> dict[str, Any]:
    return {
        "kind": moment.act.kind,
        "key": moment.act.key,
        "title": moment.title,
        "answer": moment.answer,
        "minutes": round(moment.minutes, 2),
        "clock": round(moment.clock, 2),
        "support": round(moment.support, 4),
    }
