# SPDX-License-Identifier: MIT
"""The bench sheet of a chassis as data: what each pin and point should read, for one meter and today's mains.

Pins are those that the chassis file names, or those of the tube's type where the file names an electrode.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from backporch.engine.chassis.expected import Expectation, expected
from backporch.engine.chassis.forbidden import NeverPoint, never_points
from backporch.engine.chassis.model import Chassis, Tube
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.pin_places import electrode_words, heater_pins, pin_place
from backporch.engine.chassis.reading_words import NOTHING_V, point_words, reading_words, span_words
from backporch.engine.chassis.simulator import Bench, simulate
from backporch.engine.circuits.meters import Meter
from backporch.engine.knowledge.library import Library
from backporch.engine.units import show

__all__ = [
    "BenchSheet",
    "SheetRow",
    "SheetTube",
    "bench_sheet",
]


_HOW = {"ohm": "set off, discharged", "amp": "in series, fitted with the set off"}


@dataclass(frozen=True)
class SheetRow:
    """One line of the sheet with a box: a place, what should be read there, and what must be known first."""

    place: str
    """Electrode on a pin, or the point and where it is."""
    reads: str
    """What a healthy set makes this meter show; "do not measure" where nothing may be read."""
    band: str
    no_signal: str = ""
    """What it shows without a signal, where that differs."""
    note: str = ""
    pin: int | None = None
    never: bool = False


@dataclass(frozen=True)
class SheetTube:
    """One tube with its socket."""

    name: str
    type: str
    work: str
    """Stages that it works in, in words."""
    base: str
    """Key of the socket, or "" where no socket can be drawn."""
    electrodes: tuple[str, ...]
    """What each pin is, where that is known."""
    rows: tuple[SheetRow, ...] = field(default=())

    @property
    def pins(self) -> dict[int, SheetRow]:
        """The row of each pin that has one."""
        return {row.pin: row for row in reversed(self.rows) if row.pin is not None}


@dataclass(frozen=True)
class BenchSheet:
    """The whole sheet."""

    title: str
    conditions: str
    cautions: tuple[str, ...]
    tubes: tuple[SheetTube, ...]
    others: tuple[SheetRow, ...]
    """Points that lie on no pin."""


def bench_sheet(
    library: Library,
    chassis: Chassis,
    *,
    meter: Meter,
    mains_v: float | None = None,
    points: Iterable[str] | None = None,
    never: Mapping[str, NeverPoint] | None = None,
    needed_v: Mapping[str, float] | None = None,
    cautions: tuple[str, ...] = (),
) -> BenchSheet:
    """Return the sheet of a chassis.

    Args:
        library: The knowledge base.
        chassis: The chassis, with changed values where some were asked for.
        meter: The meter in use.
        mains_v: Today's mains; the rated ones by default [V].
        points: Test points to show; all by default.
        never: Points that must not be measured; those of the knowledge base by default.
        needed_v: What an instrument must be rated for at points that are not open to every one [V].
        cautions: What must be read before anything is read.
    """
    wanted = set(chassis.test_points if points is None else points)
    lit = expected(chassis, Bench(mains_v=mains_v), meter=meter)
    dark = expected(chassis, Bench(mains_v=mains_v, signal="none"), meter=meter, draws=2)
    never = never_points(library, chassis) if never is None else never
    rows = [
        _row(library, chassis, item, dark.get(key), meter, (needed_v or {}).get(item.point, 0.0))
        for key, item in lit.items()
        if item.point in wanted and item.point not in never
    ]
    if points is None:
        rows += _heaters(library, chassis, Bench(mains_v=mains_v))
    rows += [(one.point, one.at, _barred(one)) for one in never.values() if points is None or one.point in wanted]
    tubes, others = _placed(library, chassis, rows, never)
    mains = f"{show(mains_v or chassis.mains_v, 'V')} of {show(chassis.mains_hz, 'Hz')}"
    return BenchSheet(
        title=chassis.title,
        conditions=f"a {meter.name}; {mains} mains; a test pattern at normal contrast",
        cautions=cautions,
        tubes=tubes,
        others=others,
    )


def _row(
    library: Library, chassis: Chassis, item: Expectation, dark: Expectation | None, meter: Meter, rated_v: float
) -> tuple[str, str, SheetRow]:
    place = chassis.test_points[item.point]
    notes = [place.note or "", _HOW.get(item.quantity, "")]
    if item.point.startswith("heater-string"):
        notes.append("node of the heater string, against B-")
    if place.reference not in ("B-", "in series", "across the winding") and item.quantity != "amp":
        notes.append(f"against {place.reference}")
    reads = reading_words(item.shown, item.unit, item.quantity)
    if rated_v:
        rating = library.points.get(item.point)
        other = f"; else: {rating.substitute}" if rating is not None else ""
        notes.append(f"only with an instrument rated for {show(rated_v, 'V')}{other}")
        reads = reads if rated_v <= meter.max_v else f"{show(item.value, item.unit)}, not with this meter"
    if item.published is not None:
        reads += f" (sheet {show(item.published, item.unit)})"
    differs = (
        dark is not None
        and item.quantity != "pp"
        and abs(dark.shown - item.shown) > 0.04 * abs(item.shown) + NOTHING_V
    )
    return (
        item.point,
        place.at,
        SheetRow(
            place=_electrode_or_point(item.point),
            reads=reads,
            band=span_words(item.low, item.high, item.unit) if reads != "0 V" else "",
            no_signal=reading_words(dark.shown, item.unit, item.quantity) if dark is not None and differs else "",
            note="; ".join(note for note in notes if note),
        ),
    )


def _electrode_or_point(point: str) -> str:
    """Return the electrode that a point is named after, or its whole name in words."""
    last = point.rpartition("-")[2]
    return last if last in ("plate", "grid", "cathode", "screen") else point_words(point)


def _barred(one: NeverPoint) -> SheetRow:
    place = one.at if one.tube or not one.at.startswith("V") else _electrode_or_point(one.point)
    return SheetRow(place=place, reads="do not measure", band="", note=f"Instead: {one.instead}", never=True)


_FLOATING = ("flyback", "own-winding")
"""Heaters that ride on their cathode, hundreds of volts up: they are not measured."""


def _heaters(library: Library, chassis: Chassis, bench: Bench) -> list[tuple[str, str, SheetRow]]:
    """Return what stands across the heater of each tube whose heater pins are known."""
    heat = simulate(chassis, healthy_batch(chassis), bench).inner
    found = []
    for name, tube in chassis.tubes.items():
        pins = heater_pins(library, tube)
        if not pins or tube.heater in _FLOATING or name == chassis.picture_tube:
            continue
        volts = tube.heater_v * float(heat[f"heat:{name}"][0])
        row = SheetRow(place="heater", reads=reading_words(volts, "V", "rms"), band="", note=pins[1])
        found.append((f"heater-of-{name}", f"{name} pin {pins[0]}", row))
    return found


def _placed(
    library: Library, chassis: Chassis, rows: Iterable[tuple[str, str, SheetRow]], never: Mapping[str, NeverPoint]
) -> tuple[tuple[SheetTube, ...], tuple[SheetRow, ...]]:
    """Return the rows sorted to their tubes, and those that lie on none."""
    on_tube: dict[str, list[SheetRow]] = {name: [] for name in chassis.tubes}
    others: list[SheetRow] = []
    for point, at, row in rows:
        barred = never.get(point)
        if barred is not None and barred.tube:
            name, pin, electrode = barred.tube, None, barred.electrode
        else:
            name, pin, electrode = pin_place(library, chassis, at, row.place)
        if name not in on_tube:
            others.append(_renamed(row, at if row.never else f"{point_words(point)}: {at}", None))
            continue
        on_tube[name].append(_renamed(row, electrode, pin))
    for name, own in on_tube.items():
        if all(row.place == "heater" for row in own):
            others += [
                _renamed(row, f"heater of {name} {chassis.tubes[name].type}: pin {row.pin}", None) for row in own
            ]
            own.clear()
    tubes = tuple(
        _tube(library, name, tube, on_tube[name]) for name, tube in chassis.tubes.items() if on_tube[name]
    )
    return tubes, tuple(others)


def _renamed(row: SheetRow, place: str, pin: int | None) -> SheetRow:
    return SheetRow(place, row.reads, row.band, row.no_signal, row.note, pin, row.never)


def _tube(library: Library, name: str, tube: Tube, rows: list[SheetRow]) -> SheetTube:
    kind = library.tubes.get(tube.type)
    stages = dict.fromkeys(library.stages[s.stage].title for s in tube.sections.values())
    return SheetTube(
        name=name,
        type=tube.type,
        work=", ".join(stages),
        base="" if kind is None or kind.base == "wired" else kind.base,
        electrodes=electrode_words(library, tube),
        rows=tuple(sorted(rows, key=lambda row: (row.pin is None, row.pin or 0))),
    )
