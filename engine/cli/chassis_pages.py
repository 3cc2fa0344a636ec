# SPDX-License-Identifier: MIT
"""Prints what is to be said about chassis files."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from rich.box import SIMPLE
from rich.console import Console
from rich.table import Table

from backporch.engine.chassis.difference import Difference, differences, reading_differences
from backporch.engine.chassis.load import find_chassis, load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.plausible import Oddity, oddities
from backporch.engine.chassis.stand_in import stand_in_refusals
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.errors import UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.knowledge.yaml_file import read_yaml

__all__ = ["print_oddities", "run_check", "run_diff", "run_show", "run_stand_in"]

_TRAITS = (
    ("standard", "Lines and fields"),
    ("supply", "Heaters and supply"),
    ("rectifier", "Rectifier"),
    ("chassis_return", "Chassis return"),
    ("envelope", "Cone of the picture tube"),
    ("high_voltage_source", "Anode voltage from"),
    ("sound_takeoff", "Sound is taken off"),
    ("ion_trap", "Ion trap"),
    ("output_bias", "Bias of the horizontal output"),
    ("modulation", "Modulation"),
    ("horizontal_sync", "Horizontal sync"),
)


def _json(kind: str, body: dict[str, Any]) -> None:
    print(json.dumps({"schema": 1, "kind": kind, **body}, indent=2))


def run_check(name: str, *, as_json: bool) -> int:
    """Print what is implausible about a chassis; return 1 when something is."""
    library = shipped()
    chassis = load_chassis(name, library)
    found = oddities(chassis, library, _like(name, chassis, library))
    if as_json:
        _json("chassis-check", {"chassis": chassis.name, "oddities": [asdict(o) for o in found]})
    else:
        print_oddities(found, make_console())
    return 1 if found else 0


def _like(name: str, chassis: Chassis, library: Library) -> Chassis | None:
    data = read_yaml(find_chassis(name, library)).data
    parent = data.get("like") if isinstance(data, dict) else None
    return load_chassis(str(parent), library) if parent and parent != chassis.name else None


def print_oddities(found: Sequence[Oddity], console: Console) -> None:
    """Print each oddity with what was expected and what to look at."""
    if not found:
        console.print("Nothing implausible: values, ratings, heaters and the computed receiver are as expected.")
        return
    console.print(f"Implausible: {len(found)}. Each is a question to you; what is right may stay.\n")
    for oddity in found:
        console.print(harmless(f"{oddity.where}: {oddity.found}"))
        console.print(harmless(f"  expected {oddity.expected}"))
        console.print(harmless(f"  look at {oddity.look}\n"))


def run_show(name: str, *, as_json: bool) -> None:
    """Print how a chassis is built."""
    chassis = load_chassis(name, shipped())
    if as_json:
        _json("chassis", {"chassis": chassis.model_dump(mode="json", by_alias=True)})
        return
    console = make_console()
    console.print(harmless(f"{chassis.title}\n{chassis.story}\n"))
    traits = [("Mains", f"{chassis.mains_v:g} V, {chassis.mains_hz:g} Hz")]
    traits += [(title, str(getattr(chassis, field))) for field, title in _TRAITS]
    console.print(_table(("", ""), traits))
    rails = [(rail.title, f"{rail.nominal_v:g} V", rail.maker) for rail in chassis.rails.values()]
    console.print(_table(("Rail", "about", "made by"), rails))
    tubes = [
        (name, tube.type, tube.kind, ", ".join(_works(tube.sections.values())))
        for name, tube in chassis.tubes.items()
    ]
    console.print(_table(("Tube", "type", "kind", "works in"), tubes))
    for stage, circuit in chassis.stages.items():
        parts = [
            (name, part.value or "", part.does or part.role)
            for name, part in chassis.parts.items()
            if part.stage == stage
        ]
        console.print(harmless(f"{shipped().stages[stage].title} ({circuit.circuit.replace('-', ' ')})"))
        if parts:
            console.print(_table(("Part", "value", "what it does"), parts))


def _works(sections: Iterable[Any]) -> Iterable[str]:
    return dict.fromkeys(section.stage.replace("-", " ") for section in sections)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    table = Table(*heads, box=SIMPLE, show_header=any(heads), pad_edge=False)
    for row in rows:
        table.add_row(*(harmless(cell) for cell in row))
    return table


def run_diff(first_name: str, second_name: str, *, as_json: bool) -> None:
    """Print how two chassis differ."""
    library = shipped()
    first, second = load_chassis(first_name, library), load_chassis(second_name, library)
    built, read = differences(first, second), reading_differences(first, second)
    if as_json:
        _json(
            "chassis-difference",
            {
                "first": first.name,
                "second": second.name,
                "built": [asdict(d) for d in built],
                "read": [asdict(d) for d in read],
            },
        )
        return
    console = make_console()
    _print_differences("What the files say", built, first, second, console)
    _print_differences("What a healthy set would read (over 5 % apart)", read, first, second, console)


def _print_differences(
    title: str, found: Sequence[Difference], first: Chassis, second: Chassis, console: Console
) -> None:
    console.print(harmless(title))
    if not found:
        console.print("  no difference\n")
        return
    console.print(_table(("", first.name, second.name), [(d.where, d.first, d.second) for d in found]))


def run_stand_in(name: str, tube_name: str, by: str, *, as_json: bool) -> int:
    """Print whether a tube type may stand in for one of the set; return 1 when not."""
    library = shipped()
    chassis = load_chassis(name, library)
    if tube_name not in chassis.tubes:
        raise UnknownWord("tube", tube_name, chassis.tubes)
    old = chassis.tubes[tube_name].type
    reasons = stand_in_refusals(old, by, library, series_string=chassis.supply == "series-string")
    if as_json:
        _json(
            "stand-in",
            {"chassis": chassis.name, "tube": tube_name, "type": old, "by": by, "refusals": list(reasons)},
        )
    else:
        console = make_console()
        console.print(harmless(_verdict(tube_name, old, by, bool(reasons))))
        for reason in reasons:
            console.print(harmless(f"  {reason}"))
    return 1 if reasons else 0


def _verdict(tube: str, old: str, by: str, refused: bool) -> str:
    if refused:
        return f"{tube} is a {old}. Do not put a {by} there."
    if old == by:
        return f"{tube} is a {old}: the same type."
    return (
        f"{tube} is a {old}. Nothing known here speaks against a {by}; compare both in a tube manual, and "
        "exchange it with the set off, unplugged and discharged."
    )
