# SPDX-License-Identifier: MIT
"""The waveform command: what an oscilloscope shows at a test point, of a healthy set and of one with a fault."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import get_args

from rich.console import Console
from rich.table import Table

from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.cli.console import drawing_depth, harmless, make_console
from backporch.engine.cli.files import write_file
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.picture.scope import graticule, scope_file, scope_lines
from backporch.engine.picture.shapes import SHAPES, Patch
from backporch.engine.picture.waveform import Sweep, Wave, scope_wave, sweeps_of
from backporch.engine.session.patient import Patient
from backporch.engine.units import show

__all__ = ["run_waveform", "traces_at"]

_HEALTHY = "healthy"


def run_waveform(
    chassis_name: str,
    point: str | None,
    *,
    faults: Sequence[str],
    sweep: str | None,
    seed: int,
    png: Path | None,
    svg: Path | None,
    as_json: bool,
) -> None:
    """Draw the waveform at a point, or list the points that have one.

    Raises:
        BackporchError: chassis, point, fault or sweep is unknown, the point must not be touched, or a file fails.
    """
    library = shipped()
    chassis = load_chassis(chassis_name, library)
    if point is None:
        _list_points(chassis)
        return
    _refuse_forbidden(library, point)
    wanted = _sweeps(point, sweep)
    ill = _patches(chassis, library, faults, seed)
    screens = {_screen_name(s): traces_at(ill, point, s) for s in wanted}
    if as_json:
        print(json.dumps(_document(chassis, point, screens)))
        return
    title = f"{chassis.name}: {point}"
    for path, kind in ((png, "png"), (svg, "svg")):
        if path is not None:
            write_file(path, scope_file(title, screens, kind))
            print(f"Written: {path}")
    if png is None and svg is None:
        _print(make_console(), library, title, point, screens)


def traces_at(patches: Mapping[str, Patch], point: str, sweep: Sweep) -> dict[str, Wave]:
    """Return the trace of each set at a point."""
    return {name: scope_wave(patch, point, sweep) for name, patch in patches.items()}


def _patches(chassis: Chassis, library: Library, faults: Sequence[str], seed: int) -> dict[str, Patch]:
    known = all_hypotheses(chassis, library)
    sets = {_HEALTHY: Patient(chassis, library, known, (), seed)}
    if faults:
        sick = Patient(chassis, library, known, faults, seed)
        sets[", ".join(h.title for h in sick.faults)] = sick
    return {name: Patch(chassis, patient.at()) for name, patient in sets.items()}


def _refuse_forbidden(library: Library, point: str) -> None:
    rating = library.points.get(point)
    if rating is not None and rating.rating == "forbidden":
        raise BadInput(f"No probe goes to {point}: {rating.because} {rating.substitute}")


def _sweeps(point: str, asked: str | None) -> tuple[Sweep, ...]:
    natural = sweeps_of(point)
    if asked is None:
        return natural
    if asked not in get_args(Sweep):
        raise UnknownWord("sweep", asked, get_args(Sweep))
    return (asked,)  # type: ignore[return-value]


def _screen_name(sweep: Sweep) -> str:
    return {"line": "At the line rate", "field": "At the field rate", "mains": "At the mains rate"}[sweep]


def _print(
    console: Console, library: Library, title: str, point: str, screens: Mapping[str, Mapping[str, Wave]]
) -> None:
    console.print(f"[bold cyan]{harmless(title)}[/]")
    rating = library.points.get(point)
    if rating is not None:
        console.print(f"! {harmless(rating.because)} {harmless(rating.substitute)}", style="bold")
    depth = drawing_depth(console)
    for name, traces in screens.items():
        console.print(f"{name}: {graticule(traces).said}, the direct voltage taken off.")
        for line in scope_lines(traces, console.width, colour=depth == "colour", blocks=depth != "ascii"):
            console.print(line, no_wrap=True, crop=True)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for heading in ("set", "peak to peak", "direct voltage"):
        table.add_column(heading, overflow="fold")
    for label, wave in next(iter(screens.values())).items():
        table.add_row(harmless(label), show(wave.pp_v, "V"), "" if wave.dc_v is None else show(wave.dc_v, "V"))
    console.print(table)
    console.print(
        "A drawing of the simulated set; whether and how to measure there, the test itself says.", style="dim"
    )


def _list_points(chassis: Chassis) -> None:
    console = make_console()
    console.print("Points with a waveform on this chassis:")
    for point in SHAPES:
        if point in chassis.test_points:
            console.print(f"  {point}")


def _document(chassis: Chassis, point: str, screens: Mapping[str, Mapping[str, Wave]]) -> dict[str, object]:
    rows = [
        {
            "screen": name,
            "set": label,
            "peak_to_peak_v": round(wave.pp_v, 6),
            "direct_v": None if wave.dc_v is None else round(wave.dc_v, 6),
            "seconds": [round(float(t), 9) for t in wave.time_s[::12]],
            "volts": [round(float(v), 4) for v in wave.volts[::12]],
        }
        for name, traces in screens.items()
        for label, wave in traces.items()
    ]
    return {"schema": 1, "kind": "waveform", "chassis": chassis.name, "point": point, "traces": rows}
