# SPDX-License-Identifier: MIT
"""The simulate command: what a set with a given fault shows, beside a healthy one, and what would reveal it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.drawings import show_screen
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput
from backporch.engine.safety.advice import advice, together
from backporch.engine.safety.set_facts import state_of_set
from backporch.engine.session.needs import needs_of
from backporch.engine.session.patient import Patient
from backporch.engine.session.workbench import Workbench

__all__ = ["run_simulate"]


def run_simulate(chassis_name: str, faults: Sequence[str], *, seed: int, picture: bool, as_json: bool) -> None:
    """Print the symptoms, the readings that changed, and the first tests that tell.

    Raises:
        BackporchError: the chassis or a fault is unknown.
    """
    if not faults:
        raise BadInput("Say which fault: --fault C26=shorted. Several may be given.")
    workbench = make_workbench(chassis_name)
    faults_there = workbench.faults.hypotheses
    ill = Patient(workbench.chassis, workbench.library, faults_there, faults, seed)
    well = Patient(workbench.chassis, workbench.library, faults_there, (), seed)
    rows = _changed(workbench, ill, well)
    if as_json:
        print(json.dumps(_document(workbench, ill, rows), indent=2))
        return
    console = make_console()
    console.print(f"[bold cyan]{', '.join(harmless(h.title) for h in ill.faults)}[/]")
    if picture:
        show_screen(console, vars(ill.at().state()), workbench.chassis.standard)
    symptoms = [workbench.library.symptoms[s].title for s in ill.symptoms]
    console.print("It shows: " + (", ".join(symptoms) if symptoms else "nothing that one would notice") + ".")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("changed", "healthy", "now"):
        table.add_column(name, overflow="fold")
    for row in rows:
        table.add_row(row["title"], row["healthy"], row["now"])
    console.print(table)
    _say_telling(workbench, rows, console)


def _say_telling(workbench: Workbench, rows: list[dict[str, Any]], console: Console) -> None:
    """Name the cheapest tests, below what must be read before them; what no bench allows is left out."""
    state, cautions = state_of_set(workbench.chassis), workbench.library.cautions
    words = {
        row["title"]: advice(needs_of(workbench, workbench.faults.offers[row["measurement"]]), state, cautions)
        for row in sorted(rows, key=lambda r: (r["minutes"], r["title"]))
    }
    telling = [title for title, word in words.items() if word.never is None][:3]
    if telling:
        before = together(words[title] for title in telling)
        checks = " ".join(dict.fromkeys(hold.because for hold in before.holds))
        console.print(f"[bold]! {harmless(' '.join(before.short))}[/]")
        console.print(f"! Not before each of these is answered in a diagnosis: {harmless(checks)}")
        console.print("The cheapest tests that would show it: " + "; ".join(telling) + ".")


def _changed(workbench: Workbench, ill: Patient, well: Patient) -> list[dict[str, Any]]:
    rows = []
    for key, offer in workbench.faults.offers.items():
        if offer.target:
            continue
        now, healthy = ill.answer(offer), well.answer(offer)
        if now == healthy or (offer.measurement.reading and not _outside(workbench, key, ill)):
            continue
        words = offer.measurement.outcomes
        rows.append(
            {
                "measurement": key,
                "title": offer.measurement.title,
                "healthy": words.get(healthy, healthy),
                "now": words.get(now, now),
                "minutes": offer.measurement.minutes,
            }
        )
    return rows


def _outside(workbench: Workbench, key: str, ill: Patient) -> bool:
    band = workbench.faults.bins(key)
    value = ill.reading(workbench.faults.offers[key])
    return not band.low <= value <= band.high or not np.isfinite(value)


def _document(workbench: Workbench, ill: Patient, rows: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "schema": 1,
        "kind": "simulation",
        "chassis": workbench.chassis.name,
        "faults": [h.id for h in ill.faults],
        "symptoms": list(ill.symptoms),
        "changed": rows,
    }
