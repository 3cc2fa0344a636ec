# SPDX-License-Identifier: MIT
"""The gallery of symptoms as one HTML page, and as contact sheets.

Limits: what is not seen on the screen is told in words alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from PIL import Image

from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Drawn
from backporch.engine.picture.sheet import Entry, contact_sheet, film_file, png_bytes, strip
from backporch.engine.report.page import filled, in_page

__all__ = ["gallery_page", "sheet_of", "symptom_entry"]

_COLUMNS = 240
_GREYS = 40


def symptom_entry(library: Library, name: str) -> dict[str, Any]:
    """Return one symptom of the page: words, and the pictures where it is seen on the screen."""
    symptom, drawn = library.symptoms[name], library.gallery.get(name)
    unlike = [
        {"name": other, "title": library.symptoms[other].title, "why": why}
        for other, why in symptom.unlike.items()
    ]
    entry: dict[str, Any] = {
        "name": name,
        "title": symptom.title,
        "family": symptom.family,
        "seen": symptom.seen,
        "unlike": unlike,
        "still": "",
        "film": "",
        "wide": drawn is not None and len(drawn.shots) > 1,
    }
    if drawn is not None:
        still = strip(drawn, _COLUMNS)
        film = film_file(drawn, _COLUMNS, frames=18)
        entry |= {
            "still": in_page(png_bytes(still, colours=_GREYS), "image/png"),
            "alt": alternative(symptom.seen, drawn),
            "width": still.width,
            "height": still.height,
            "film": in_page(film, "image/gif") if film else "",
            "film_width": _COLUMNS,
            "film_height": _COLUMNS * 3 // 4,
        }
    return entry


def alternative(seen: str, drawn: Drawn) -> str:
    """Return what a drawing shows, in words for those who do not see it.

    Example:
        >>> from backporch.engine.knowledge.models import Shot
        >>> alternative("It moves.", Drawn(shots=(Shot(caption="now"), Shot(caption="later"))))
        'Drawn screen: It moves. Shots: now; later.'
    """
    captions = [shot.caption for shot in drawn.shots if shot.caption]
    return f"Drawn screen: {seen}" + (f" Shots: {'; '.join(captions)}." if captions else "")


def gallery_page(entries: Iterable[dict[str, Any]]) -> str:
    """Return the page for entries that stand family by family."""
    families: dict[str, list[dict[str, Any]]] = {}
    for entry in entries:
        families.setdefault(entry["family"], []).append(entry)
    there = {entry["name"] for family in families.values() for entry in family}
    return filled("gallery.html", families=[{"name": n, "symptoms": s} for n, s in families.items()], there=there)


def sheet_of(family: str, titles: Sequence[str], strips: Sequence[Image.Image]) -> Image.Image:
    """Return the contact sheet of one family.

    Args:
        family: Its name, the heading.
        titles: Title of each symptom.
        strips: Picture of each symptom, in the same order.
    """
    entries = [Entry(title, picture) for title, picture in zip(titles, strips, strict=True)]
    return contact_sheet(family, entries, max(1900, max(e.picture.width for e in entries) + 40))
