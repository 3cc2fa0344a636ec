# SPDX-License-Identifier: MIT
"""The expect command: what each test point of a healthy set shows, and how that is computed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.chassis.expected import Expectation, expected
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.simulator import Bench
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.errors import BackporchError, BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.units import parse, show

__all__ = ["METERS", "run_expect"]

METERS: dict[str, float] = {"10M": 10e6, "11M": 11e6, "20k": 20e3 * 250, "1k": 1e3 * 250}
"""Input resistance of each meter that may be named; needle meters on their 250 V range [ohm]."""

_METER_MAX_V: dict[str, float] = {"10M": 1000.0, "11M": 1000.0, "20k": 1000.0, "1k": 500.0}
"""What each meter is rated for, as in the knowledge base [V]."""

_STANDARDS = {"525": "525/60", "625": "625/50", "405": "405/50", "819": "819/50"}


def run_expect(
    chassis_name: str,
    where: str | None,
    *,
    meter: str,
    changes: Sequence[str],
    standard: str | None,
    mains: str | None,
    signal: str,
    why: bool,
    as_json: bool,
) -> None:
    """Print the expected values.

    Raises:
        BackporchError: something named is unknown or no value.
    """
    library = shipped()
    chassis = _changed(load_chassis(chassis_name, library), changes, standard)
    if meter not in METERS:
        raise UnknownWord("meter", meter, METERS)
    if signal not in ("pattern", "none"):
        raise UnknownWord("signal", signal, ("pattern", "none"))
    bench = Bench(mains_v=_mains(mains), signal=signal)  # type: ignore[arg-type]
    wanted = _wanted(library, chassis, where)
    found = {k: e for k, e in expected(chassis, bench, meter_ohm=METERS[meter]).items() if e.point in wanted}
    if as_json:
        print(json.dumps(_document(library, chassis, found), indent=2))
        return
    _print(library, chassis, wanted, found, meter, why)


def _changed(chassis: Chassis, changes: Sequence[str], standard: str | None) -> Chassis:
    given: dict[str, str] = {}
    for change in changes:
        part, sign, value = change.partition("=")
        if not sign:
            raise BadInput(f"{change!r} changes nothing. Write it as PART=VALUE, for example C34=0.01uF.")
        given[part.strip()] = value.strip()
    if standard is not None and standard not in _STANDARDS and standard not in _STANDARDS.values():
        raise UnknownWord("scanning standard", standard, _STANDARDS)
    name = _STANDARDS.get(standard, standard) if standard else None
    for part, value in given.items():
        try:
            chassis = chassis.with_changes({part: value})
        except BackporchError as error:
            raise BadInput(f"--set {part}={value}: {error}") from error
    return chassis.with_changes(standard=name)  # type: ignore[arg-type]


def _mains(text: str | None) -> float | None:
    if text is None:
        return None
    volts = parse(text, "V")
    if not 20 <= volts <= 300:
        raise BadInput(f"{text!r} is no mains voltage; write a value from 20 V to 300 V.")
    return volts


def _wanted(library: Library, chassis: Chassis, where: str | None) -> dict[str, str]:
    """Return the points to show, each with its stage."""
    stages = {m.reading.point: m.stage or "" for m in library.measurements.values() if m.reading}
    points = {point: stages.get(point, "") for point in chassis.test_points}
    for point in list(points):
        if not points[point]:
            points[point] = next((s for s in chassis.stages if point.startswith(s)), "")
    if where is None:
        return points
    if where in points:
        return {where: points[where]}
    inside = {p: s for p, s in points.items() if s == where}
    if not inside:
        raise UnknownWord("test point or stage", where, [*points, *chassis.stages])
    return inside


def _print(
    library: Library,
    chassis: Chassis,
    wanted: Mapping[str, str],
    found: Mapping[str, Expectation],
    meter: str,
    why: bool,
) -> None:
    console = make_console()
    console.print(f"[bold cyan]{harmless(chassis.title)}[/]")
    _cautions(library, chassis, console)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("point", "where", "healthy", "band", f"a {meter} meter shows"):
        table.add_column(name, overflow="fold")
    for point in wanted:
        place = harmless(chassis.test_points[point].at)
        rating = library.points.get(point)
        if rating is not None and rating.rating == "forbidden":
            table.add_row(point, place, "do not measure here", rating.substitute, "")
            continue
        for item in (e for e in found.values() if e.point == point):
            kind = {"pp": " peak to peak", "rms": " rms"}.get(item.quantity, "")
            band = f"{show(item.low, item.unit)} to {show(item.high, item.unit)}"
            sheet = f" (sheet {show(item.published, item.unit)})" if item.published is not None else ""
            value = show(item.value, item.unit) + kind + sheet
            beyond = rating is not None and rating.rated_v > _METER_MAX_V[meter]
            table.add_row(
                point, place, value, band, "not with this meter" if beyond else show(item.shown, item.unit)
            )
            place = ""
        if rating is not None:
            rated = f"only with an instrument rated for {show(rating.rated_v, 'V')} or more"
            table.add_row("", "", rated, rating.substitute, "")
    console.print(table)
    if why:
        for item in found.values():
            if not _forbidden(library, item.point):
                _print_steps(item)


def _forbidden(library: Library, point: str) -> bool:
    rating = library.points.get(point)
    return rating is not None and rating.rating == "forbidden"


def _cautions(library: Library, chassis: Chassis, console: Console) -> None:
    """Write what must be known before any of these points is read; the session's gate is not asked here."""
    for caution in library.cautions.values():
        if caution.first and caution.traits and caution.applies_to(chassis):
            console.print(f"[bold]! {harmless(caution.say)}[/]")
    live = chassis.chassis_return != "isolated" or chassis.supply == "series-string"
    first = "from an isolating transformer only, and " if live else ""
    console.print(f"! Readings with power: {first}not alone, one hand, clips set with the plug out.")


def _print_steps(item: Expectation) -> None:
    console = make_console()
    console.print()
    console.print(Text(f"{item.point}, {item.quantity}", style="bold"))
    for step in item.steps:
        line = Text(f"{step.quantity} = {step.formula}")
        if step.numbers != step.formula:
            line.append(f"\n  = {step.numbers}")
        line.append(f"\n  = {step.result}")
        if step.source:
            line.append(f"   ({step.source})", style="dim")
        console.print(Padding(line, (0, 0, 0, 2)))


def _document(library: Library, chassis: Chassis, found: Mapping[str, Expectation]) -> dict[str, Any]:
    points: list[dict[str, Any]] = []
    for item in found.values():
        rating = library.points.get(item.point)
        if rating is not None and rating.rating == "forbidden":
            points.append({"point": item.point, "forbidden": rating.because, "instead": rating.substitute})
            continue
        points.append(
            {
                "point": item.point,
                "at": chassis.test_points[item.point].at,
                "reference": chassis.test_points[item.point].reference,
                "quantity": item.quantity,
                "unit": item.unit,
                "value": item.value,
                "low": item.low,
                "high": item.high,
                "shown": item.shown,
                "published": item.published,
                "needs_instrument_v": rating.rated_v if rating is not None else None,
                "steps": [vars(step) for step in item.steps],
            }
        )
    return {"schema": 1, "kind": "expected", "chassis": chassis.name, "points": points}
