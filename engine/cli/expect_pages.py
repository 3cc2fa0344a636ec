# SPDX-License-Identifier: MIT
"""What the expect command prints: a table of points for 80 columns, and below it each computation step by step."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.chassis.expected import Expectation
from backporch.engine.chassis.forbidden import NeverPoint
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.reading_words import reading_words, span_words
from backporch.engine.circuits.formula import Step
from backporch.engine.circuits.meters import Meter
from backporch.engine.cli.console import clean, make_console
from backporch.engine.cli.expect_gate import PointsGate
from backporch.engine.knowledge.library import Library
from backporch.engine.units import show

__all__ = ["print_expected"]

_HOW_TO_READ = (
    "How each is computed, first things first: what = formula, then the same with numbers, then the value. "
    "R1 or C1 are parts of the set; other names are design figures of the chassis file or lines further up. "
    "A settled load is what the stages on a rail draw once supply and stages agree: its sum is shown, and its "
    "terms are followed at the points of those stages."
)
_LOADED = 0.03
"""Share of a voltage that a meter may take before the table says so."""


def print_expected(
    library: Library,
    chassis: Chassis,
    wanted: Sequence[str],
    found: Mapping[str, Expectation],
    barred: Mapping[str, NeverPoint],
    gate: PointsGate,
    meter: Meter,
    why: bool,
) -> None:
    """Print the table, and with ``why`` the computations behind it."""
    console = make_console()
    console.print(Text(clean(chassis.title), style="bold cyan"))
    for caution in gate.cautions([point for point in wanted if point not in barred]):
        console.print(Text(f"! {clean(caution)}", style="bold"))
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("point", ratio=1, overflow="fold")
    for name in ("healthy", "healthy sets", "meter shows"):
        table.add_column(name, no_wrap=True)
    for point in wanted:
        if point in barred:
            continue
        for n, item in enumerate(e for e in found.values() if e.point == point):
            _add(table, library, chassis, item, meter, gate, first=n == 0)
    if table.rows:
        ranges = "" if meter.digital else ", on the lowest range that holds the point"
        console.print(Text(f"\nMeter: {meter.name}{ranges}. Against B- unless said otherwise."))
        console.print(
            Text(
                "healthy: parts at their values, no meter there. healthy sets: an estimate of what sets with "
                "parts within tolerance show on this meter. pp: peak to peak."
            )
        )
        console.print(table)
    for one in barred.values():
        console.print(Text(f"\n{one.point}: {one.at}", style="bold"))
        console.print(Text(f"  Do not measure here. {one.because}"))
        console.print(Text(f"  Instead: {one.instead}"))
    if why and found:
        console.print(Text(f"\n{_HOW_TO_READ}"))
    told: set[Step] = set()
    for item in found.values() if why else ():
        _print_steps(console, item, told)


def _add(
    table: Table,
    library: Library,
    chassis: Chassis,
    item: Expectation,
    meter: Meter,
    gate: PointsGate,
    *,
    first: bool,
) -> None:
    place = chassis.test_points[item.point]
    name = Text()
    if first:
        name.append(item.point, style="cyan")
        name.append(f"\n{clean(place.at)}", style="dim")
        if place.reference not in ("B-", "in series", "across the winding"):
            name.append(f", against {clean(place.reference)}", style="dim")
    band = span_words(item.low, item.high, item.unit)
    value = reading_words(item.value, item.unit, item.quantity)
    table.add_row(name, value, band if value != "0 V" else "", _shown(gate, item, meter))
    for note in _notes(library, gate, item) if first else ():
        table.add_row(Text(note, style="dim"), "", "", "")


def _shown(gate: PointsGate, item: Expectation, meter: Meter) -> str:
    if gate.needed_v.get(item.point, 0.0) > meter.max_v:
        return "not with this"
    if item.quantity == "pp":
        return "oscilloscope"
    shown = reading_words(item.shown, item.unit, item.quantity)
    loaded = item.quantity == "dc" and abs(item.shown - item.value) > _LOADED * abs(item.value) and shown != "0 V"
    return f"{shown}, loaded" if loaded else shown


def _notes(library: Library, gate: PointsGate, item: Expectation) -> Iterable[str]:
    if item.published is not None:
        yield f"service sheet: {show(item.published, item.unit)}"
    if item.point in gate.needed_v:
        rating = library.points.get(item.point)
        other = rating.substitute if rating is not None else "Use a meter or probe rated for it."
        yield f"only with an instrument rated for {show(gate.needed_v[item.point], 'V')} or more. Else: {other}"


def _print_steps(console: Console, item: Expectation, told: set[Step]) -> None:
    """Print the way to a point; what stands above already is not said again."""
    console.print(Text(f"\n{item.point}, {reading_words(item.value, item.unit, item.quantity)}", style="bold"))
    new = [step for step in item.steps if step not in told]
    told.update(new)
    if len(new) < len(item.steps):
        console.print(
            Text(f"  ({len(item.steps) - len(new)} of its {len(item.steps)} steps stand above)", style="dim")
        )
    for step in new:
        line = Text(f"{step.quantity} = {step.formula}")
        if step.numbers != step.formula:
            line.append(f"\n  = {step.numbers}")
        line.append(f"\n  = {step.result}")
        if step.source:
            line.append(f"   ({step.source})", style="dim")
        console.print(Padding(line, (0, 0, 0, 2)))
