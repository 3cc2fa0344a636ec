# SPDX-License-Identifier: MIT
"""Readings in any order: ``V7 pin1 62, boost 310, hold at its end``, typed as found and without being asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from backporch.engine.errors import BackporchError, BadInput
from backporch.engine.knowledge.everyday import stems
from backporch.engine.session.entry import Entry
from backporch.engine.session.places import Pin, named_offers, offers_at_pin, pin_in, points_at_pin
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.workbench import Offer, Workbench
from backporch.engine.units import parse

__all__ = ["Found", "compared", "looks_found", "read_found"]

_BETWEEN = re.compile(r"[;\n]+|,\s*(?=[A-Za-z])|,\s+|\s+and\s+(?=(?:pin|[vV]\d)\b)")
_NAMED = re.compile(
    r"^(?P<name>[A-Za-z][A-Za-z0-9+\- ]*?)\s*(?::|=|\bis\b|\bat\b|\breads\b|\s)\s*"
    r"(?P<reading>[<>~+-]?\s*\.?\d.*|ol|none)$",
    re.I,
)
_PEAK = re.compile(r"v?\s*(?:pp|p-p)\b", re.I)
_KNOWN_SHARE = 0.66
"""Share of the typed words that must stand in a symptom's own description."""


@dataclass(frozen=True)
class Found:
    """One thing that was found: a reading at a place, a symptom, or something nothing is computed for."""

    typed: str
    offer: Offer | None = None
    reading: TypedReading | None = None
    symptom: str = ""
    pin: Pin | None = None
    forbidden: str = ""
    """Test point that is never measured, where the reading was taken at one."""

    @property
    def entry(self) -> Entry:
        """How it is kept in the session."""
        if self.offer is not None and self.reading is not None:
            return Entry("answer", self.offer.id, self.reading.typed)
        if self.symptom:
            return Entry("symptom", self.symptom)
        return Entry("note", "", self.typed)


def looks_found(text: str) -> bool:
    """Tell whether a line says by itself where a reading was taken, so that it answers no question.

    Example:
        >>> looks_found("V7 pin1 62, boost 310"), looks_found("62 V"), looks_found("1, 3")
        (True, False, False)
    """
    return any(pin_in(piece) is not None for piece in _pieces(text))


def read_found(workbench: Workbench, text: str, find: Callable[[str], Sequence[str]]) -> tuple[Found, ...]:
    """Return what a line of readings and sights says, in its order.

    Args:
        workbench: Chassis and knowledge.
        text: What was typed.
        find: Gives the names of symptoms for everyday words, best first.
    Raises:
        BadInput: a piece is not understood; nothing of the line is to be taken then.
    """
    pieces = _pieces(text)
    if not pieces or len(pieces) > 40:
        raise BadInput("Write up to 40 readings with their places: V7 pin 1 62, boost 310.")
    found = tuple(_one(workbench, piece, find) for piece in pieces)
    if all(one.symptom for one in found):
        raise BadInput(f"No reading is in {text.strip()[:60]!r}.")
    return found


def compared(workbench: Workbench, one: Found) -> str:
    """Return in a word how a reading stands to what healthy sets show: "low", "high", or "" where it fits."""
    if one.offer is None or one.reading is None or one.reading.shape == "unsure":
        return ""
    band = workbench.faults.bins(one.offer.id)
    if one.reading.high < band.low:
        return "low"
    return "high" if one.reading.low > band.high else ""


def _pieces(text: str) -> list[str]:
    return [piece.strip() for piece in _BETWEEN.split(text[:2000]) if piece and piece.strip()]


def _one(workbench: Workbench, piece: str, find: Callable[[str], Sequence[str]]) -> Found:
    placed = pin_in(piece)
    if placed is not None:
        return _at_pin(workbench, piece, *placed)
    named = _NAMED.match(piece)
    if named is not None:
        offers = named_offers(workbench, named["name"])
        if offers:
            return _reading(piece, offers, named["reading"])
    symptom = _symptom(workbench, piece, find)
    if symptom:
        return Found(piece, symptom=symptom)
    raise BadInput(
        f"{piece[:60]!r} is not understood, and nothing of the line was taken. Write tube, pin and reading "
        "(V7 pin 1 62), or a point (boost 310), or what is seen."
    )


def _at_pin(workbench: Workbench, piece: str, pin: Pin, rest: str) -> Found:
    never = next((p for p in points_at_pin(workbench, pin) if _forbidden(workbench, p)), "")
    offers = offers_at_pin(workbench, pin)
    if offers and not never:
        found = _reading(piece, offers, rest)
        return Found(found.typed, found.offer, found.reading, pin=pin)
    parse(rest, "V") if re.fullmatch(r"[+-]?\d+", rest) else read_reading(rest, "V")
    return Found(piece, pin=pin, forbidden=never)


def _forbidden(workbench: Workbench, point: str) -> bool:
    entry = workbench.library.points.get(point)
    return entry is not None and entry.rating == "forbidden"


def _reading(piece: str, offers: Sequence[Offer], rest: str) -> Found:
    """Return the reading at the offer whose unit and quantity the text has; direct volts unless it says more."""
    wanted = "pp" if _PEAK.search(rest) else "dc"
    order = sorted(offers, key=lambda o: o.measurement.reading is None or o.measurement.reading.quantity != wanted)
    problem: BackporchError | None = None
    for offer in order:
        reading = offer.measurement.reading
        if reading is None:
            continue
        try:
            return Found(piece, offer, read_reading(rest, reading.unit))
        except BadInput as error:
            problem = problem or error
    raise BadInput(f"{piece[:60]!r}: {problem}")


def _symptom(workbench: Workbench, piece: str, find: Callable[[str], Sequence[str]]) -> str:
    name = piece.strip().lower().replace(" ", "-")
    if name in workbench.library.symptoms:
        return name
    hits = find(piece)
    if not hits:
        return ""
    symptom = workbench.library.symptoms[hits[0]]
    known = set(stems(" ".join((symptom.title, symptom.seen, *symptom.everyday))))
    asked = stems(piece)
    share = sum(word in known for word in asked) / max(len(asked), 1)
    return hits[0] if share >= _KNOWN_SHARE else ""
