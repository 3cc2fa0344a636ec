# SPDX-License-Identifier: MIT
"""Puts what is to be said of a bench rig on the screen."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from rich.padding import Padding

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.rig import RigReport, rig_report
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.rigs import find_rig, save_rig
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import shipped
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.units import show

__all__ = ["run_rig"]


def run_rig(chassis_name: str, known: str, fields: Mapping[str, str], *, save: str, as_json: bool) -> int:
    """Print whether a rig will do on a chassis; return 1 where it will not.

    Raises:
        BackporchError: chassis, rig or a field is unknown or wrong.
    """
    library = shipped()
    chassis = load_chassis(chassis_name, library)
    start = find_rig(known, library) if known else None
    if start is None and "tube" not in fields:
        raise BadInput("Name the substitute tube with --tube, or a rig with --rig.")
    rig = _made({**({"tube": start.tube} if start else {}), **fields})
    if start is not None:
        rig = start.model_copy(update={name: getattr(rig, name) for name in fields})
    report = rig_report(chassis, rig, library)
    if save:
        path = save_rig(save, rig)
    if as_json:
        print(json.dumps(_document(chassis.name, rig, report), indent=2, ensure_ascii=False))
    else:
        _show(chassis.name, rig, report)
        if save:
            make_console().print(
                f"Saved: {harmless(str(path))}. Use it: backporch diagnose --rig {harmless(save)}"
            )
    return 0 if report.will_do else 1


def _made(fields: Mapping[str, Any]) -> Rig:
    try:
        return Rig.model_validate(dict(fields))
    except ValidationError as error:
        found = error.errors()[0]
        where = ".".join(map(str, found["loc"]))
        raise BadInput(f"{where}: {found['msg'].removeprefix('Value error, ')}.") from None


def _show(title: str, rig: Rig, report: RigReport) -> None:
    console = make_console()
    console.print(f"[bold cyan]{harmless(title)} on {harmless(rig.tube)}[/]")
    if report.refused:
        console.print("\n[bold]It will not do.[/]")
        for reason in report.refused:
            console.print(Padding(harmless(reason), (0, 0, 0, 2)))
        return
    console.print("\n[bold]It will do.[/] First, in this order:")
    for number, step in enumerate(report.first, 1):
        console.print(Padding(f"{number}. {harmless(step)}", (0, 0, 0, 2)))
    console.print("\nWhat will look different and is no fault of the chassis:")
    for difference in report.differences:
        console.print(Padding(f"{difference.about}: {harmless(difference.says)}", (0, 0, 0, 2)))
    if not report.differences:
        console.print("  Nothing that would be noticed.")
    console.print(
        f"\nAnode voltage unloaded {show(report.anode_open_v, 'V')}, ripple {report.ripple_share:.2%}, "
        f"width {report.width:.2f} and height {report.height:.2f} of the mask.",
        style="dim",
    )


def _document(chassis: str, rig: Rig, report: RigReport) -> dict[str, Any]:
    return {
        "schema": 1,
        "kind": "rig",
        "chassis": chassis,
        "rig": rig.model_dump(mode="json", by_alias=True),
        "will_do": report.will_do,
        "refused": list(report.refused),
        "first": list(report.first),
        "differences": [
            {"about": d.about, "says": d.says, "explains": list(d.explains)} for d in report.differences
        ],
        "anode_open_v": round(report.anode_open_v, 1),
        "ripple_share": round(report.ripple_share, 6),
        "width": round(report.width, 3),
        "height": round(report.height, 3),
    }
