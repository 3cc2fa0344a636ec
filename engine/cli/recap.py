# SPDX-License-Identifier: MIT
"""The recap command: which capacitors of a set are replaced on sight, on suspicion, or never blindly."""

from __future__ import annotations

import json

from rich.table import Table

from backporch.engine.chassis.load import load_chassis
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.knowledge.library import shipped
from backporch.engine.safety.recapping import recapping

__all__ = ["run_recap"]

_TITLES = {"on-sight": "On sight", "on-suspicion": "On suspicion", "never-blindly": "Never blindly"}


def run_recap(chassis_name: str, *, as_json: bool) -> None:
    """Print the policy, and the parts of the chassis under each of its lines.

    Raises:
        BackporchError: the chassis is unknown.
    """
    library = shipped()
    found = recapping(load_chassis(chassis_name, library), library)
    caution = library.cautions["charged-tube"].say
    if as_json:
        parts = [vars(recap) for recap in found]
        document = {"schema": 1, "kind": "recapping", "cautions": [caution], "policy": library.recapping}
        print(json.dumps({**document, "parts": parts}, indent=2))
        return
    console = make_console()
    console.print(f"[bold]! {harmless(caution)}[/]")
    for policy, text in library.recapping.items():
        console.print(f"\n[bold cyan]{_TITLES[policy]}[/]: {harmless(text)}")
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
        for recap in (r for r in found if r.policy == policy):
            table.add_row(recap.part, harmless(recap.value), harmless(recap.does), harmless(recap.how))
        console.print(table)
