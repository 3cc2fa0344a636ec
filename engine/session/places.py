# SPDX-License-Identifier: MIT
"""Where a reading was taken: by tube and pin, by a part, or by the name of a rail or point in everyday words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.everyday import stems
from backporch.engine.session.workbench import Offer, Workbench

__all__ = ["Pin", "named_offers", "offers_at_pin", "pin_in", "pin_of", "points_at_pin"]

_AT = re.compile(r"\b(V\d+[A-Z]?) pin (\d+)\b")
_TYPED = re.compile(
    r"^\s*(?:pin\s*(?P<pin1>\d{1,2})\s*(?:of|on|at)?\s*(?P<tube1>v\d+[a-z]?)"
    r"|(?P<tube2>v\d+[a-z]?)\s*(?:pin\s*|p\s*|[./:-]\s*|\s)(?P<pin2>\d{1,2}))"
    r"(?=[\s:=])\s*[:=]?\s*(?:is|reads|has)?\s*(?P<rest>\S.*)$",
    re.I,
)


@dataclass(frozen=True)
class Pin:
    """A pin of a tube on the chassis."""

    tube: str
    number: int

    def __str__(self) -> str:
        return f"{self.tube} pin {self.number}"


def pin_in(text: str) -> tuple[Pin, str] | None:
    """Return the pin that a piece of typed text begins with, and the reading behind it.

    Example:
        >>> pin_in("V7 pin1 62"), pin_in("pin 8 of v11: -3.5 V"), pin_in("62 V")
        ((Pin(tube='V7', number=1), '62'), (Pin(tube='V11', number=8), '-3.5 V'), None)
    """
    found = _TYPED.match(text)
    if found is None:
        return None
    tube = (found["tube1"] or found["tube2"]).upper()
    return Pin(tube, int(found["pin1"] or found["pin2"])), found["rest"].strip()


def pin_of(workbench: Workbench, offer: Offer) -> Pin | None:
    """Return the pin at which an offer is read, or None where it is read elsewhere."""
    reading = offer.measurement.reading
    point = workbench.chassis.test_points.get(reading.point) if reading else None
    found = _AT.search(point.at) if point else None
    return Pin(found.group(1), int(found.group(2))) if found else None


def points_at_pin(workbench: Workbench, pin: Pin) -> tuple[str, ...]:
    """Return the test points of the chassis at a pin.

    Raises:
        UnknownWord: the chassis has no such tube.
    """
    if pin.tube not in workbench.chassis.tubes:
        raise UnknownWord("tube on this chassis", pin.tube, workbench.chassis.tubes)
    points = workbench.chassis.test_points
    return tuple(n for n, p in points.items() if (pin.tube, str(pin.number)) in _AT.findall(p.at))


def offers_at_pin(workbench: Workbench, pin: Pin) -> tuple[Offer, ...]:
    """Return the readings that can be taken at a pin."""
    here = points_at_pin(workbench, pin)
    return tuple(o for o in _numeric(workbench) if o.measurement.reading and o.measurement.reading.point in here)


def named_offers(workbench: Workbench, words: str) -> tuple[Offer, ...]:
    """Return the readings at the one point that ``words`` name; empty where no point is named so.

    Raises:
        BadInput: the words name several points.
    """
    asked = set(stems(_plain(words)))
    hits: dict[str, list[Offer]] = {}
    for offer in _numeric(workbench):
        reading = offer.measurement.reading
        if reading is not None and asked <= _names(workbench, offer, reading.point):
            hits.setdefault(reading.point, []).append(offer)
    exact = [p for p in hits if asked == set(stems(_plain(p)))]
    if len(hits) > 1 and not exact:
        best = min(len(stems(_plain(p))) for p in hits)
        shortest = [p for p in hits if len(stems(_plain(p))) == best and asked <= set(stems(_plain(p)))]
        exact = shortest if len(shortest) == 1 else []
    if len(hits) > 1 and not exact:
        raise BadInput(
            f"{words.strip()[:40]!r} may be {', '.join(sorted(hits)[:4])}. Write tube and pin, or one of these."
        )
    return tuple(hits[exact[0]] if exact else next(iter(hits.values()), ()))


def _numeric(workbench: Workbench) -> Iterable[Offer]:
    return (o for o in workbench.faults.offers.values() if o.measurement.reading is not None)


def _names(workbench: Workbench, offer: Offer, point: str) -> set[str]:
    """Return the stems of all words by which a reading may be called."""
    at = workbench.chassis.test_points[point].at
    return set(stems(_plain(f"{point} {at} {offer.measurement.title}")))


def _plain(text: str) -> str:
    return text.replace("b-plus", "b+").replace("-", " ")
