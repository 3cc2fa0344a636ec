# SPDX-License-Identifier: MIT
"""Puts questions, rankings and reasons on the screen; knows how things look and nothing else."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.cli.console import bar, harmless, percent
from backporch.engine.inference import Deduction
from backporch.engine.knowledge.library import Library
from backporch.engine.ranking import WeighedFinding
from backporch.engine.session.assess import Assessment
from backporch.engine.session.interview import Meaning, Turn
from backporch.engine.session.questions import Option, Question
from backporch.engine.session.workbench import Workbench

__all__ = ["Screen", "claim_text"]

_ACCENT = "bold cyan"
_QUIET = "dim"


class Screen:
    """Writes to one console."""

    def __init__(self, console: Console, workbench: Workbench) -> None:
        """Write to ``console`` about ``workbench``."""
        self.console = console
        self.workbench = workbench

    @property
    def library(self) -> Library:
        """The knowledge base."""
        return self.workbench.library

    def say(self, text: str, style: str = "") -> None:
        """Write a paragraph."""
        self.console.print(harmless(text), style=style or None)

    def heading(self, left: str, right: str = "") -> None:
        """Write a heading with something quiet at the right margin."""
        grid = Table.grid(expand=True)
        grid.add_column(ratio=1)
        grid.add_column(justify="right", no_wrap=True)
        grid.add_row(Text(left, style=_ACCENT), Text(right, style=_QUIET))
        self.console.print()
        self.console.print(grid)

    def labelled(self, rows: Sequence[tuple[str, RenderableType | str]]) -> None:
        """Write rows of a short label and its text."""
        grid = Table.grid(padding=(0, 2, 0, 0))
        grid.add_column(style=_QUIET, no_wrap=True)
        grid.add_column(ratio=1)
        for label, content in rows:
            grid.add_row(label, Text(content) if isinstance(content, str) else content)
        self.console.print(Padding(grid, (0, 0, 0, 2)))

    def options(self, options: Sequence[Option]) -> None:
        """Write the numbered answers."""
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_column(justify="right", style=_ACCENT)
        grid.add_column(ratio=1)
        for number, option in enumerate(options, 1):
            grid.add_row(str(number), Text(option.label))
        self.console.print(Padding(grid, (0, 0, 0, 2)))

    def choice(self, question: Question) -> None:
        """Write a question with its answers."""
        self.heading(question.title)
        if question.help:
            self.console.print(Padding(Text(question.help, style=_QUIET), (0, 0, 0, 2)))
        self.options(question.options)

    def ranking(self, assessment: Assessment, before: Assessment | None, most: int = 5) -> None:
        """Write the likeliest stages with bars, and what each was before the last answer."""
        grid = Table.grid(padding=(0, 2, 0, 0))
        for align in ("left", "left", "right", "left"):
            grid.add_column(justify=align, no_wrap=True)
        for name, share in assessment.ranking.stages[:most]:
            was = before.ranking.probability(name) if before else share
            moved = f"was {percent(was)}" if before and abs(was - share) > 0.02 else ""
            grid.add_row(
                Text(self.stage_title(name)),
                Text(bar(share, 24, self.console), style="cyan"),
                Text(percent(share)),
                Text(moved, style=_QUIET),
            )
        self.console.print(Padding(grid, (0, 0, 0, 2)))

    def all_stages(self, assessment: Assessment) -> None:
        """Write every stage with its odds."""
        self.heading("All stages")
        self.ranking(assessment, None, most=len(assessment.ranking.stages))

    def rivals(self, assessment: Assessment) -> None:
        """Write the two likeliest faults side by side."""
        hypotheses = self.workbench.faults.hypotheses
        shares = assessment.ranking.hypotheses
        order = sorted(range(len(shares)), key=lambda n: (-round(float(shares[n]), 9), hypotheses[n].id))[:2]
        grid = Table.grid(expand=True, padding=(0, 2, 0, 0))
        grid.add_column(ratio=1)
        grid.add_column(ratio=1)
        cells = [
            Group(
                Text(f"{hypotheses[n].title}", style="bold"),
                Text(f"{self.stage_title(hypotheses[n].stage)}, {percent(float(shares[n]))}", style=_QUIET),
            )
            for n in order
        ]
        grid.add_row(*cells)
        self.console.print(Padding(Text("The two best explanations:", style=_QUIET), (0, 0, 0, 2)))
        self.console.print(Padding(grid, (0, 0, 0, 4)))

    def new_findings(self, now: Assessment, before: Assessment | None) -> None:
        """Write the findings that the last answer brought, in words."""
        old = {f.deduction for f in before.ranking.findings} if before else set()
        fresh = [f for f in now.ranking.findings if f.deduction not in old and f.counted]
        fresh.sort(key=lambda f: (-abs(f.log_ratio), f.stage))
        for finding in fresh[:4]:
            self.console.print(Padding(self._finding_line(finding), (0, 0, 0, 2)))
        if len(fresh) > 4:
            more = f"and {len(fresh) - 4} more (type why)"
            self.console.print(Padding(Text(more, style=_QUIET), (0, 0, 0, 4)))

    def _finding_line(self, finding: WeighedFinding) -> Text:
        sign = "+" if finding.log_ratio > 0 else "-"
        line = Text(f"{sign} ", style="bold")
        line.append(claim_text(finding.deduction, self.library))
        return line

    def why(self, chains: Sequence[Sequence[Deduction]]) -> None:
        """Write chains of reasoning, newest first."""
        for chain in chains:
            for depth, step in enumerate(chain):
                text = Text(claim_text(step, self.library))
                if depth == 0 and step.reason:
                    text.append(f" {step.reason}")
                text.append(f" ({step.source})", style=_QUIET)
                self.console.print(Padding(text, (0, 0, 0, 2 + 2 * depth)))
            self.console.print()

    def meanings(self, turn: Turn) -> list[str]:
        """Return in sentences what each outcome of the test would mean."""
        return [self._meaning(m, turn) for m in turn.meanings if m.chance > 0.01]

    def _meaning(self, meaning: Meaning, turn: Turn) -> str:
        label = meaning.outcome
        if turn.offer is not None:
            label = turn.offer.measurement.outcomes.get(label, label)
        up = " and ".join(
            f"{self.stage_title(s)} ({percent(now)} to {percent(then)})" for s, now, then in meaning.raises
        )
        down = " and ".join(self.stage_title(s) for s, _, _ in meaning.lowers)
        if up and down:
            return f"{label}: points to {up}, away from {down}."
        if up:
            return f"{label}: points to {up}."
        return f"{label}: changes little."

    def stage_title(self, name: str) -> str:
        """Return a stage in words."""
        stage = self.library.stages.get(name)
        return stage.title if stage else name


def claim_text(deduction: Deduction, library: Library) -> str:
    """Return a rule's claim with the stage put in where the claim speaks of ``{stage}``."""
    fields = dict(deduction.concluded.fields)
    stage = library.stages.get(fields.get("stage", ""))
    text = deduction.claim.replace("{stage}", stage.title.lower() if stage else fields.get("stage", ""))
    return harmless(text) if "[" in text else text
