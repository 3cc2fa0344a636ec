# SPDX-License-Identifier: MIT
"""The expect command: what each test point of a healthy set shows, and how that is computed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backporch.engine.chassis.bench_sheet import bench_sheet
from backporch.engine.chassis.expected import METERS, Expectation, expected
from backporch.engine.chassis.forbidden import NeverPoint
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.simulator import Bench
from backporch.engine.cli.expect_gate import PointsGate, points_gate
from backporch.engine.cli.expect_pages import print_expected
from backporch.engine.cli.progress import busy
from backporch.engine.cli.sheet import print_sheet, write_sheet
from backporch.engine.errors import BackporchError, BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.units import parse

__all__ = ["ExpectAsked", "run_expect"]

_STANDARDS = {"525": "525/60", "625": "625/50", "405": "405/50", "819": "819/50"}


@dataclass(frozen=True)
class ExpectAsked:
    """What was asked at the command line."""

    meter: str = "10M"
    changes: Sequence[str] = ()
    standard: str | None = None
    mains: str | None = None
    signal: str = "pattern"
    why: bool = False
    as_json: bool = False
    sheet: bool = False
    page: Path | None = None


def run_expect(chassis_name: str, where: str | None, asked: ExpectAsked) -> None:
    """Print the expected values, or the bench sheet of them.

    Raises:
        BackporchError: something named is unknown or no value.
    """
    library = shipped()
    chassis = _changed(load_chassis(chassis_name, library), asked.changes, asked.standard)
    if asked.meter not in METERS:
        raise UnknownWord("meter", asked.meter, METERS)
    if asked.signal not in ("pattern", "none"):
        raise UnknownWord("signal", asked.signal, ("pattern", "none"))
    mains = _mains(asked.mains)
    gate = points_gate(library, chassis, METERS[asked.meter].max_v, mains or 0.0)
    wanted = _wanted(library, chassis, gate.never, where)
    if asked.sheet or asked.page is not None:
        _sheet(library, chassis, asked, mains, gate, None if where is None else wanted)
        return
    bench = Bench(mains_v=mains, signal=asked.signal)  # type: ignore[arg-type]
    with busy("Computing"):
        every = expected(chassis, bench, meter=METERS[asked.meter], why=asked.why or asked.as_json)
    found = {key: item for key, item in every.items() if item.point in wanted and item.point not in gate.never}
    barred = {point: one for point, one in gate.never.items() if point in wanted}
    if asked.as_json:
        print(json.dumps(_document(chassis, found, barred, gate), indent=2))
        return
    print_expected(library, chassis, wanted, found, barred, gate, METERS[asked.meter], asked.why)


def _sheet(
    library: Library,
    chassis: Chassis,
    asked: ExpectAsked,
    mains: float | None,
    gate: PointsGate,
    points: list[str] | None,
) -> None:
    if asked.as_json:
        raise BadInput("The bench sheet is no JSON document. Ask for --json without --sheet and --page.")
    sheet = bench_sheet(
        library,
        chassis,
        meter=METERS[asked.meter],
        mains_v=mains,
        points=points,
        never=gate.never,
        needed_v=gate.needed_v,
        cautions=gate.cautions(chassis.test_points if points is None else points),
    )
    if asked.page is None:
        print_sheet(sheet)
        return
    write_sheet(sheet, asked.page)
    print(f"Bench sheet written to {asked.page}. Open it in a browser and print it on A4 or Letter.")


def _changed(chassis: Chassis, changes: Sequence[str], standard: str | None) -> Chassis:
    if standard is not None and standard not in _STANDARDS and standard not in _STANDARDS.values():
        raise UnknownWord("scanning standard", standard, _STANDARDS)
    name = _STANDARDS.get(standard, standard) if standard else None
    for change in changes:
        part, sign, value = (text.strip() for text in change.partition("="))
        if not sign or not part or not value:
            raise BadInput(f"--set {change}: write it as PART=VALUE, for example C34=0.01uF.")
        try:
            chassis = chassis.with_changes({part: value})
        except BackporchError as error:
            raise BadInput(f"--set {part}={value}: {error}") from error
    return chassis.with_changes(standard=name)  # type: ignore[arg-type]


def _mains(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        volts = parse(text, "V")
    except BackporchError as error:
        raise BadInput(f"--mains {text}: {error}") from error
    if not 20 <= volts <= 300:
        raise BadInput(f"--mains {text}: no mains voltage; write a value from 20 V to 300 V.")
    return volts


def _wanted(library: Library, chassis: Chassis, never: Mapping[str, NeverPoint], where: str | None) -> list[str]:
    """Return the points to show: all, those of a stage, or one."""
    stages = {m.reading.point: m.stage or "" for m in library.measurements.values() if m.reading}
    longest = sorted(chassis.stages, key=len, reverse=True)
    points = {
        point: stages.get(point) or next((stage for stage in longest if point.startswith(stage)), "")
        for point in chassis.test_points
    }
    points |= {point: one.stage for point, one in never.items() if point not in points}
    if where is None:
        return list(points)
    if where in points:
        return [where]
    inside = [point for point, stage in points.items() if stage == where]
    if not inside and where in chassis.stages:
        raise BadInput(f"The stage {where} of this chassis has no test point. Leave it out to see all points.")
    if not inside:
        raise UnknownWord("test point or stage", where, [*points, *chassis.stages])
    return inside


def _document(
    chassis: Chassis, found: Mapping[str, Expectation], barred: Mapping[str, NeverPoint], gate: PointsGate
) -> dict[str, Any]:
    points: list[dict[str, Any]] = [
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
            "range_v": item.range_v,
            "published": item.published,
            "needs_instrument_v": gate.needed_v.get(item.point),
            "steps": [vars(step) for step in item.steps],
        }
        for item in found.values()
    ]
    points += [
        {"point": p, "at": one.at, "forbidden": one.because, "instead": one.instead} for p, one in barred.items()
    ]
    shown = list(dict.fromkeys(item.point for item in found.values()))
    return {
        "schema": 1,
        "kind": "expected",
        "chassis": chassis.name,
        "cautions": [*gate.first, *gate.in_full(shown)],
        "not_before": [{"because": because, "do": do} for because, do in gate.not_before(shown)],
        "points": points,
    }
