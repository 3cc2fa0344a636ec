# SPDX-License-Identifier: MIT
"""The coverage command, for contributors: which symptom can speak for or against which stage."""

from __future__ import annotations

import json
from typing import Annotated

import typer

__all__ = ["coverage"]


def coverage(
    family: Annotated[str, typer.Option("--family", help="Only symptoms of this family, such as sync.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")] = False,
) -> None:
    """Show, for contributors, which symptom can speak for or against which stage.

    Example: backporch coverage --family sync
    """
    from backporch.engine.cli.console import make_console
    from backporch.engine.errors import UnknownWord
    from backporch.engine.knowledge.library import shipped
    from backporch.engine.rulebook import reached_stages, rule_shapes
    from backporch.engine.session.evidence import groups_of
    from backporch.rules import BOOKS

    library = shipped()
    families = sorted({symptom.family for symptom in library.symptoms.values()})
    if family and family not in families:
        raise UnknownWord("family", family, families)
    shapes = rule_shapes(BOOKS)
    reached = reached_stages(shapes, library.usual_suspects, groups_of(library))
    wanted = [name for name, symptom in library.symptoms.items() if family in ("", symptom.family)]
    found = {name: {s: sorted(d) for s, d in sorted(reached.get(name, {}).items())} for name in wanted}
    if as_json:
        document = {
            "schema": 1,
            "kind": "coverage",
            "rules": len(shapes),
            "standards": {s.name: s.standards for s in shapes},
            "usual": len(library.usual_suspects),
            "symptoms": found,
        }
        print(json.dumps(document, indent=2))
        return
    stages = list(library.stages)
    console = make_console()
    console.print("+ can speak for the stage being faulty, - against it, 0 either way; alone or with other signs.")
    for digits in (" ".join(f"{n // 10 or ' '}" for n in range(1, len(stages) + 1)), _ones(len(stages))):
        console.print(f"{'':28}{digits}", soft_wrap=True, style="dim")
    for name, marks in found.items():
        line = " ".join(_mark(marks.get(stage, [])) for stage in stages)
        console.print(f"{name:28}{line}".rstrip(), soft_wrap=True, highlight=False)
    for number, stage in enumerate(stages, 1):
        console.print(f"{number:3d} {stage}", style="dim")
    console.print(f"{len(shapes)} rules, {len(library.usual_suspects)} usual suspects.")
    bound = [s for s in shapes if s.standards != "all"]
    console.print(f"All rules hold for all scanning standards, but for {len(bound)}:")
    for shape in bound:
        console.print(f"  {shape.name}: {shape.standards}", style="dim", soft_wrap=True)


def _ones(count: int) -> str:
    return " ".join(str(n % 10) for n in range(1, count + 1))


def _mark(directions: list[str]) -> str:
    return "0" if len(directions) == 2 else {"for": "+", "against": "-", "": " "}["".join(directions)]
