# SPDX-License-Identifier: MIT
"""The energy command: what keeps a charge on a chassis, and how long the bleeder at hand takes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from rich.table import Table

from backporch.engine.chassis.load import load_chassis
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.safety.energy import (
    TOUCH_CAPACITANCE_F,
    TOUCH_CHARGE_C,
    TOUCH_ENERGY_J,
    TOUCH_V,
    Store,
    stores,
)
from backporch.engine.units import parse, show

__all__ = ["run_energy"]


def run_energy(chassis_name: str, *, filter_bleeder: str, anode_bleeder: str, as_json: bool) -> None:
    """Print stored charge, energy and discharge times.

    Raises:
        BackporchError: the chassis is unknown or a resistor is no value.
    """
    library = shipped()
    chassis = load_chassis(chassis_name, library)
    found = stores(
        chassis,
        library,
        filter_bleeder_ohm=parse(filter_bleeder, "ohm"),
        anode_bleeder_ohm=parse(anode_bleeder, "ohm"),
    )
    if as_json:
        print(json.dumps(_document(found, library), indent=2))
        return
    console = make_console()
    caution = library.cautions["charged-tube"]
    console.print(f"[bold]! {harmless(caution.say)}[/]")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("part", "holds", "at", "charge", "energy", f"to {TOUCH_V:.0f} V", "peak", "touch limit"):
        table.add_column(name, overflow="fold")
    for store in found:
        table.add_row(
            harmless(store.name),
            f"{show(store.least_f, 'F')} to {show(store.capacitance_f, 'F')}"
            if store.basis
            else show(store.capacitance_f, "F"),
            show(store.voltage_v, "V"),
            show(store.charge_c, "C"),
            show(store.energy_j, "J"),
            f"{show(store.discharge_s, 's')} through {show(store.bleeder_ohm, 'ohm')}",
            show(store.peak_a, "A"),
            "above" if store.over_limit else "below",
        )
    console.print(table)
    for store in found:
        if store.basis:
            console.print(f"{store.name}: {harmless(store.basis)}. The larger end counts.")
    for line in _about_bleeders(parse(filter_bleeder, "ohm"), parse(anode_bleeder, "ohm")):
        console.print(f"[bold]! {line}[/]")
    console.print(
        f"Touch limits as quoted from IEC 60335-1, 8.1.4: {show(TOUCH_CAPACITANCE_F, 'F')} up to 450 V, "
        f"{show(TOUCH_CHARGE_C, 'C')} to 15 kV, "
        f"{show(TOUCH_ENERGY_J, 'J')} above; {TOUCH_V:.0f} V counts as hazardous after IEC 61010-031. "
        "Below the limit is still a shock. The glass gives charge back: hold, wait, repeat, and measure with a "
        "proved meter or probe."
    )


def _document(found: Sequence[Store], library: Library) -> dict[str, Any]:
    """Return the stores with the limits that they are compared with, as plain data."""
    return {
        "schema": 1,
        "kind": "energy",
        "cautions": [library.cautions["charged-tube"].say],
        "limits": {
            "up_to_450_v_f": TOUCH_CAPACITANCE_F,
            "up_to_15_kv_c": TOUCH_CHARGE_C,
            "above_15_kv_j": TOUCH_ENERGY_J,
            "hazardous_v": TOUCH_V,
            "source": library.sources["iec-60335-1-excerpt"].title,
        },
        "stores": [vars(s) for s in found],
    }


_LEAST_FILTER_OHM, _LEAST_ANODE_OHM = 100.0, 1e6
"""Below these a bleeder is a short that draws an arc; common practice, no source."""


def _about_bleeders(filter_ohm: float, anode_ohm: float) -> list[str]:
    """Return what is wrong with the bleeders at hand, in sentences."""
    found = []
    if filter_ohm < _LEAST_FILTER_OHM:
        found.append(f"{show(filter_ohm, 'ohm')} shorts the filters: use some hundred ohms to some kilohms, 10 W.")
    if anode_ohm < _LEAST_ANODE_OHM:
        found.append(
            f"{show(anode_ohm, 'ohm')} draws an arc: use a string of 1 M or more, rated for the anode voltage."
        )
    return found
