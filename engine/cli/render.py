# SPDX-License-Identifier: MIT
"""Puts questions, rankings and reasons on the screen; knows how things look and nothing else."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.circuits.formula import Step
from backporch.engine.cli.console import bar, harmless, percent
from backporch.engine.inference import Deduction
from backporch.engine.knowledge.library import Library
from backporch.engine.ranking import WeighedFinding
from backporch.engine.session.assess import Assessment
from backporch.engine.session.meanings import Meaning
from backporch.engine.session.questions import Option, Question
from backporch.engine.session.wording import claim_text, in_sentence
from backporch.engine.session.workbench import Offer, Workbench

__all__ = ["Screen", "claim_text", "in_sentence"]

_ACCENT = "bold cyan"
_QUIET = "dim"
_NOTABLE = 0.03
"""An answer that moves no stage by as much changes little."""
_NO_SOURCE = "common practice"
_LAST_STEPS = 3
_LONGEST_FORMULA = 90
"""Longer formulas are left to the command that shows all steps [characters]."""


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
        width = 24 if self.console.width >= 90 else 14
        for name, share in assessment.ranking.stages[:most]:
            was = before.ranking.probability(name) if before else share
            moved = f"was {percent(was)}" if before and abs(was - share) > 0.02 else ""
            grid.add_row(
                Text(self.stage_title(name)),
                Text(bar(share, width, self.console), style="cyan"),
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
        alike: dict[str, list[WeighedFinding]] = {}
        for finding in fresh:
            alike.setdefault(finding.deduction.rule, []).append(finding)
        for group in list(alike.values())[:5]:
            self.console.print(Padding(self._finding_line(group), (0, 0, 0, 2)))

    def _finding_line(self, group: Sequence[WeighedFinding]) -> Text:
        sign = "+" if group[0].log_ratio > 0 else "-"
        line = Text(f"{sign} ", style="bold")
        line.append(claim_text(group[0].deduction, self.library))
        if len(group) > 1:
            others = f"the same for {len(group) - 1} more" if len(group) > 2 else "the same for one more"
            line.append(f" ({others})", style=_QUIET)
        return line

    def why(self, chains: Sequence[Sequence[Deduction]]) -> None:
        """Write chains of reasoning, newest first."""
        for chain in chains:
            for depth, step in enumerate(chain):
                text = Text(claim_text(step, self.library))
                if depth == 0 and step.reason:
                    text.append(f" {step.reason}")
                if step.source != _NO_SOURCE:
                    text.append(f" ({step.source})", style=_QUIET)
                self.console.print(Padding(text, (0, 0, 0, 2 + 2 * depth)))
            self.console.print()
        if any(step.source == _NO_SOURCE for chain in chains for step in chain):
            self.say("  Where no source stands behind a sentence, it is common practice of the trade.", _QUIET)

    def opinions(self, assessment: Assessment, most: int = 2) -> None:
        """Write what rules and simulated faults say of the leading stages, each by itself."""
        for opinion in assessment.ranking.opinions[:most]:
            self.say(
                f"  {self.stage_title(opinion.stage)}: the reasons alone give it {percent(opinion.rules)}; of the "
                f"simulated faults that show what you saw, {percent(opinion.simulated)} are there."
            )

    def computation(self, steps: Sequence[Step]) -> None:
        """Write how the healthy value is computed, step by step."""
        for number, step in enumerate(steps):
            if number == 0:
                self.say("  How the healthy value is computed:", _QUIET)
            self.console.print(Padding(Text(f"{step.quantity} = {step.formula}"), (0, 0, 0, 4)))
            self.console.print(Padding(Text(f"= {step.numbers} = {step.result}"), (0, 0, 0, 6)))

    def last_of_computation(self, steps: Sequence[Step], where: str) -> None:
        """Write the last step of a computation and short ones before it, newest first, and where all stand."""
        told = [step for step in steps if " " in step.formula] or list(steps)
        before = [step for step in told[:-1] if len(step.formula) <= _LONGEST_FORMULA]
        short = [*told[-1:], *before[:-_LAST_STEPS:-1]]
        self.computation(short)
        if len(steps) > len(short):
            self.say(
                f"  These are the last of {len(steps)} steps; backporch expect {where} --why shows them all.",
                _QUIET,
            )

    def meanings(self, meanings: Sequence[Meaning], offer: Offer | None, most: int = 3) -> list[str]:
        """Return in short sentences what the likeliest outcomes of a test would mean."""
        likely = sorted(meanings, key=lambda m: -round(m.chance, 6))[:most]
        return [self._meaning(m, offer) for m in meanings if m in likely and m.chance > 0.01]

    def _meaning(self, meaning: Meaning, offer: Offer | None) -> str:
        label = meaning.outcome
        if offer is not None:
            label = offer.measurement.outcomes.get(label, label)
        words = [
            f"points to {in_sentence(self.stage_title(s))} ({percent(a)} to {percent(b)})"
            for s, a, b in meaning.raises[:1]
            if b - a > _NOTABLE
        ]
        words += [
            f"{'clears' if b < 0.02 else 'away from'} {in_sentence(self.stage_title(s))}"
            for s, a, b in meaning.lowers[:1]
            if a - b > _NOTABLE
        ]
        return f"{label}: {', '.join(words) or 'changes little'}."

    def stage_title(self, name: str) -> str:
        """Return a stage in words."""
        stage = self.library.stages.get(name)
        return stage.title if stage else name
