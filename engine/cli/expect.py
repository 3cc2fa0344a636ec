# SPDX-License-Identifier: MIT
"""The expect command: what each test point of a healthy set shows, and how that is computed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
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
from backporch.engine.cli.setup import make_desk
from backporch.engine.errors import BackporchError, BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.safety.advice import Advice, Hold, advice, together
from backporch.engine.safety.set_facts import state_of_set, unstated
from backporch.engine.session.needs import needed_v, needs_of_point
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
    words = _advice(library, chassis, wanted, _METER_MAX_V[meter])
    if as_json:
        print(json.dumps(_document(library, chassis, found, words), indent=2))
        return
    _print(library, chassis, wanted, found, words, meter, why)


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


def _advice(library: Library, chassis: Chassis, wanted: Iterable[str], meter_v: float) -> dict[str, Advice]:
    """Return the gate's word on reading each point: without a session the bench is unknown."""
    desk, state = make_desk(library, chassis), state_of_set(chassis)
    return {point: advice(needs_of_point(desk, point, meter_v), state, library.cautions) for point in wanted}


def _barred(word: Advice) -> Hold | None:
    """Return why a point is not even shown with its value; one that only needs a better meter is."""
    never = word.never
    return None if never is None or never.check == "rated-point" else never


def _print(
    library: Library,
    chassis: Chassis,
    wanted: Mapping[str, str],
    found: Mapping[str, Expectation],
    words: Mapping[str, Advice],
    meter: str,
    why: bool,
) -> None:
    console = make_console()
    console.print(f"[bold cyan]{harmless(chassis.title)}[/]")
    _cautions(library, chassis, words, console)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("point", "where", "healthy", "band", f"a {meter} meter shows"):
        table.add_column(name, overflow="fold")
    for point in wanted:
        place = harmless(chassis.test_points[point].at)
        rating = library.points.get(point)
        barred = _barred(words[point])
        if barred is not None:
            table.add_row(point, place, "do not measure here", barred.instead, "")
            continue
        beyond = any(hold.check == "rated-point" for hold in words[point].holds)
        for item in (e for e in found.values() if e.point == point):
            kind = {"pp": " peak to peak", "rms": " rms"}.get(item.quantity, "")
            band = f"{show(item.low, item.unit)} to {show(item.high, item.unit)}"
            sheet = f" (sheet {show(item.published, item.unit)})" if item.published is not None else ""
            value = show(item.value, item.unit) + kind + sheet
            table.add_row(
                point, place, value, band, "not with this meter" if beyond else show(item.shown, item.unit)
            )
            place = ""
        if rating is not None or beyond:
            needed = needed_v(library, chassis, point)
            instead = rating.substitute if rating is not None else "Use a meter or probe rated for it."
            table.add_row("", "", f"only with an instrument rated for {show(needed, 'V')} or more", instead, "")
    console.print(table)
    if why:
        for item in found.values():
            if _barred(words[item.point]) is None:
                _print_steps(item)


def _cautions(library: Library, chassis: Chassis, words: Mapping[str, Advice], console: Console) -> None:
    """Write what must be known and done before any of these points is read."""
    said = [c.say for c in library.cautions.values() if c.first and c.traits and c.applies_to(chassis)]
    whole = together(words.values())
    said += [text for text in (unstated(chassis), " ".join(whole.short)) if text]
    for text in dict.fromkeys(said):
        console.print(f"[bold]! {harmless(text)}[/]")
    for because, instead in _not_before(whole):
        console.print(f"! Not before: {harmless(because)} {harmless(instead)}")


def _not_before(whole: Advice) -> list[tuple[str, str]]:
    """Return why nothing here may be read yet, each with what to do; what one point alone needs stands by it."""
    holds = [hold for hold in whole.holds if hold.check not in ("forbidden-point", "rated-point")]
    return list(dict.fromkeys((hold.because, hold.instead) for hold in holds))


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


def _document(
    library: Library, chassis: Chassis, found: Mapping[str, Expectation], words: Mapping[str, Advice]
) -> dict[str, Any]:
    points: list[dict[str, Any]] = []
    for item in found.values():
        barred = _barred(words[item.point])
        if barred is not None:
            points.append({"point": item.point, "forbidden": barred.because, "instead": barred.instead})
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
                "needs_instrument_v": needed_v(library, chassis, item.point) or None,
                "steps": [vars(step) for step in item.steps],
            }
        )
    whole = together(words.values())
    return {
        "schema": 1,
        "kind": "expected",
        "chassis": chassis.name,
        "cautions": [text for text in (unstated(chassis), *whole.before) if text],
        "not_before": [{"because": because, "do": do} for because, do in _not_before(whole)],
        "points": points,
    }
