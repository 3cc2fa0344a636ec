# SPDX-License-Identifier: MIT
"""The list of what is hard to find on a chassis: faults that no symptom betrays, and faults that look alike."""

from __future__ import annotations

import json

from backporch.engine.chassis.audit import silent_faults, twins
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.setup import make_workbench

__all__ = ["run_hard_to_find"]


def run_hard_to_find(chassis_name: str, *, as_json: bool) -> None:
    """Print silent faults and groups of twins.

    Raises:
        BackporchError: the chassis is unknown or wrong.
    """
    faults = make_workbench(chassis_name).faults
    silent, groups = silent_faults(faults), twins(faults)
    if as_json:
        document = {
            "schema": 1,
            "kind": "hard-to-find",
            "chassis": chassis_name,
            "silent": silent,
            "twins": groups,
        }
        print(json.dumps(document, indent=2))
        return
    console = make_console()
    listed = sum(bool(h.part) for h in faults.hypotheses)
    console.print(f"{len(silent)} of {listed} faults show nothing that one would notice:")
    console.print(harmless(", ".join(silent)))
    console.print(f"{len(groups)} groups of faults that no test on the whole set tells apart; test the parts:")
    for group in groups:
        console.print("  " + harmless(", ".join(group)))
