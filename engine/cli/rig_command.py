# SPDX-License-Identifier: MIT
"""The rig command: will a substitute tube and yoke do on a chassis, and what will look different."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["rig"]


def rig(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    known: Annotated[str, typer.Option("--rig", help="Start from this rig: a name or a file.")] = "",
    tube: Annotated[str | None, typer.Option("--tube", help="Registered type of the substitute tube.")] = None,
    yoke: Annotated[
        str | None, typer.Option("--yoke", help="Inductance of its horizontal yoke winding, such as 8 mH.")
    ] = None,
    vertical_yoke: Annotated[
        str | None, typer.Option("--vertical-yoke", help="Inductance of its vertical yoke winding, such as 40 mH.")
    ] = None,
    yoke_angle: Annotated[
        str | None,
        typer.Option("--yoke-angle", help="Degrees of deflection that its yoke is made for, such as 70."),
    ] = None,
    lead: Annotated[
        str | None, typer.Option("--lead", help="How much longer the cathode lead is, such as 50 cm.")
    ] = None,
    coating: Annotated[str | None, typer.Option("--coating", help="bonded, loose or none.")] = None,
    foil: Annotated[
        str | None, typer.Option("--foil", help="Area of a bonded foil band, such as 300 cm2.")
    ] = None,
    heater: Annotated[
        str | None, typer.Option("--heater", help="own-supply, in-string or chassis: what heats the tube.")
    ] = None,
    adapter: Annotated[str | None, typer.Option("--adapter", help="none, checked or unchecked.")] = None,
    save: Annotated[str, typer.Option("--save", help="Save the rig under this name for diagnose --rig.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")] = False,
) -> None:
    """Tell whether a substitute picture tube and yoke will do, and what will look different; exit code 1 if not.

    Example: backporch rig plover-17 --tube 17HP4 --yoke "12 mH" --lead "50 cm" --foil "300 cm2"
    """
    from backporch.engine.cli.rig_pages import run_rig

    given = {
        "tube": tube,
        "horizontal_yoke": yoke,
        "vertical_yoke": vertical_yoke,
        "yoke_angle": yoke_angle,
        "lead": lead,
        "coating": coating,
        "foil": foil,
        "heater": heater,
        "adapter": adapter,
    }
    fields = {name: value for name, value in given.items() if value is not None}
    raise typer.Exit(run_rig(chassis, known, fields, save=save, as_json=as_json))
