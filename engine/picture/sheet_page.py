# SPDX-License-Identifier: MIT
"""The bench sheet as one HTML page that prints on A4 and Letter; nothing in it is fetched from anywhere.

Sockets are drawn from the soldering side.  Widths are for 190 mm between the margins, which both papers have.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from html import escape

from backporch.engine.chassis.bench_sheet import BenchSheet, SheetRow, SheetTube
from backporch.engine.picture.socket import BASES, pin_angles

__all__ = ["sheet_page"]

_STYLE = """
@page { size: auto; margin: 10mm }
* { box-sizing: border-box }
body { font: 8.5pt/1.25 "DejaVu Sans", Arial, sans-serif; color: #000; background: #fff; margin: 0 auto }
body { width: 190mm }
h1 { font-size: 12pt; margin: 0 0 1mm }
h2 { font-size: 10pt; margin: 3mm 0 1mm; break-after: avoid }
p { margin: 0 0 1mm }
.caution { font-weight: bold }
.cards { columns: 2; column-gap: 4mm }
.card { border: 0.3mm solid #000; padding: 0.8mm 1.2mm; margin-bottom: 2mm; break-inside: avoid; width: 93mm }
.card h3 { font-size: 8.5pt; margin: 0 0 0.5mm }
.card h3 span { font-weight: normal }
.inside { display: flex; gap: 1mm; align-items: flex-start }
svg { width: 24mm; height: 24mm; flex: none }
table { border-collapse: collapse; width: 100%; table-layout: fixed }
td, th { padding: 0.3mm 0.6mm; vertical-align: top; text-align: left; font-size: 7.3pt; line-height: 1.2 }
th { font-weight: normal; border-bottom: 0.2mm solid #000 }
tr { break-inside: avoid }
thead { display: table-header-group }
td.place { width: 18mm }
td.box { width: 16mm }
td.box div { border: 0.25mm solid #000; height: 4.2mm; width: 15mm }
tr.never td { font-weight: bold }
.points td { border-bottom: 0.1mm solid #999 }
"""


_LEGEND = (
    "A pin with a heavy ring has a figure. A crossed pin is never measured. For a thin one no figure is computed: "
    "a reading there says nothing."
    " In brackets: an estimate of what healthy sets show."
)
_COLUMNS = {"point": 55, "should read": 24, "healthy sets": 30, "no signal": 16, "mind": 47, "reading": 18}
"""Heads of the table of other points, with their widths [mm]."""


def sheet_page(sheet: BenchSheet) -> str:
    """Return the page.

    Args:
        sheet: The sheet, see :func:`backporch.engine.chassis.bench_sheet.bench_sheet`.
    """
    cautions = "".join(f'<p class="caution">! {escape(caution)}</p>' for caution in sheet.cautions)
    cards = "".join(_card(tube) for tube in sheet.tubes)
    points = "".join(_point(row) for row in sheet.others)
    sockets = f"<h2>Sockets, seen from the soldering side</h2><p>{_LEGEND}</p><div class='cards'>{cards}</div>"
    heads = "".join(f"<th style='width:{width}mm'>{title}</th>" for title, width in _COLUMNS.items())
    table = f"<table class='points'><thead><tr>{heads}</tr></thead><tbody>{points}</tbody></table>"
    others = f"<h2>Other points</h2>{table}"
    conditions = (
        f"For {escape(sheet.conditions)}. Against B- unless said otherwise. pp: peak to peak, by oscilloscope."
    )
    return (
        f"<!DOCTYPE html>\n<html lang='en'><head><meta charset='utf-8'><title>{escape(sheet.title)}</title>"
        f"<style>{_STYLE}</style></head><body><h1>{escape(sheet.title)}</h1>"
        f"<p>{conditions}</p><p>Set: ______________ Date: ______________ Mains read: ________ V</p>"
        f"{cautions}{sockets if cards else ''}{others if points else ''}</body></html>\n"
    )


def _card(tube: SheetTube) -> str:
    rows, before = "", ""
    for row in tube.rows:
        place = f"{row.pin or ''} {row.place}".strip()
        rows += _row(row, "" if place == before and not row.never else place)
        before = place
    drawing = _socket(tube) if tube.base in BASES else ""
    return (
        f"<div class='card'><h3>{escape(tube.name)} {escape(tube.type)} <span>{escape(tube.work)}</span></h3>"
        f"<div class='inside'>{drawing}<table>{rows}</table></div></div>"
    )


def _row(row: SheetRow, place: str) -> str:
    if row.never:
        return _never(row, place, "place", 2)
    small = [f"({row.band})" if row.band else "", f"no signal: {row.no_signal}" if row.no_signal else "", row.note]
    return (
        f"<tr><td class='place'>{escape(place)}</td><td><b>{escape(row.reads)}</b> "
        f"{escape(' '.join(part for part in small if part))}</td><td class='box'><div></div></td></tr>"
    )


def _point(row: SheetRow) -> str:
    if row.never:
        return _never(row, row.place, "", 5)
    cells = (
        escape(row.place),
        f"<b>{escape(row.reads)}</b>",
        escape(row.band),
        escape(row.no_signal),
        escape(row.note),
    )
    return f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}<td class='box'><div></div></td></tr>"


def _never(row: SheetRow, place: str, kind: str, columns: int) -> str:
    return (
        f"<tr class='never'><td class='{kind}'>{escape(place)}</td><td colspan='{columns}'>{escape(row.reads)}. "
        f"{escape(row.note)}</td></tr>"
    )


def _socket(tube: SheetTube) -> str:
    """Return the socket: number and first letters of each pin, the gap or key at the bottom."""
    rows = tube.pins
    parts = ["<circle cx='50' cy='50' r='45' fill='none' stroke='#000'/>"]
    angles = pin_angles(tube.base)
    size = 8.0 if len(angles) < 10 else 6.8
    for pin, angle in enumerate(angles, start=1):
        x, y = 50 - 35 * math.sin(angle), 50 + 35 * math.cos(angle)
        row = rows.get(pin)
        width = 2.4 if row is not None else 0.5
        parts.append(
            f"<circle cx='{x:.1f}' cy='{y:.1f}' r='{size}' fill='#fff' stroke='#000' stroke-width='{width}'/>"
        )
        parts.append(
            f"<text x='{x:.1f}' y='{y + 3.2:.1f}' font-size='{size + 1.5}' text-anchor='middle'>{pin}</text>"
        )
        if row is not None and row.never:
            parts.append(_cross(x, y))
    parts += _middle(tube)
    return f"<svg viewBox='0 0 100 100' role='img'>{''.join(parts)}</svg>"


def _cross(x: float, y: float) -> str:
    return f"<path d='M{x - 8:.1f} {y - 8:.1f} l16 16 m0 -16 l-16 16' stroke='#000' stroke-width='2'/>"


def _middle(tube: SheetTube) -> Iterable[str]:
    """Give what stands in the middle and at the bottom of a socket."""
    if any(row.never and row.pin is None and row.place == "every pin" for row in tube.rows):
        yield "<path d='M18 18 L82 82 M82 18 L18 82' stroke='#000' stroke-width='4'/>"
    if BASES[tube.base][1]:
        yield "<circle cx='50' cy='50' r='8' fill='none' stroke='#000'/><rect x='47' y='55' width='6' height='7'/>"
        return
    yield "<text x='50' y='90' font-size='8' text-anchor='middle'>gap</text>"
