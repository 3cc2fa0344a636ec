# SPDX-License-Identifier: MIT
"""On which pin of which tube a place of the chassis file lies, and what each pin of a type is.

Limits: of dual triodes wired as two stages the file must name the pin; nothing says which half is which.
Sources: kb/tubes.yaml and kb/picture_tubes.yaml.
"""

from __future__ import annotations

import re
from typing import TypeAlias

from backporch.engine.chassis.model import Chassis, Tube
from backporch.engine.knowledge.library import Library

__all__ = ["PinPlace", "electrode_words", "heater_pins", "pin_place"]

PinPlace: TypeAlias = tuple[str, int | None, str]
"""Tube or "", pin or None, electrode in words."""

_ELECTRODES = {"p": "plate", "g": "grid", "g1": "grid", "k": "cathode", "g2": "screen", "g3": "suppressor"}
_ELECTRODES |= {"h": "heater", "ct": "heater tap", "s": "shield"}
_PIN = re.compile(r"\b(V\d+) pin (\d+)")
_ELECTRODE = re.compile(r"^(plate|grid|cathode|screen) of (V\d+)([A-Z]?)$")


def pin_place(library: Library, chassis: Chassis, at: str, otherwise: str) -> PinPlace:
    """Return tube, pin and electrode of a place; no tube where it lies on none.

    Args:
        library: The knowledge base.
        chassis: The chassis.
        at: The place as its file says it: "V7 pin 4", "grid of V12B".
        otherwise: What to call the electrode where the pins of the type are not known.
    """
    exact = _PIN.fullmatch(at)
    if exact:
        name, pin = exact.group(1), int(exact.group(2))
        electrodes = electrode_words(library, chassis.tubes[name]) if name in chassis.tubes else ()
        return name, pin, electrodes[pin - 1] if pin <= len(electrodes) else otherwise
    named = _ELECTRODE.match(at)
    if named:
        electrode, name, section = named.groups()
        return name, _pin_of(library, chassis, name, section, electrode), f"{electrode} {section}".strip()
    found = _PIN.search(at)
    return (
        (found.group(1), int(found.group(2)), at.replace(found.group(0), "").strip(" ,"))
        if found
        else ("", None, "")
    )


def _pin_of(library: Library, chassis: Chassis, name: str, section: str, electrode: str) -> int | None:
    """Return the pin of an electrode of a triode-pentode or of a single tube, or None where it is not sure."""
    tube = chassis.tubes.get(name)
    words = electrode_words(library, tube) if tube else ()
    wanted = [electrode]
    if section:
        pentodes = {p.at[-1] for p in chassis.test_points.values() if p.at.startswith(f"screen of {name}")}
        wanted = [f"{electrode} P" if section in pentodes else f"{electrode} T"] if pentodes else []
    return next((n for n, word in enumerate(words, start=1) if word in wanted), None)


def electrode_words(library: Library, tube: Tube) -> tuple[str, ...]:
    """Return what each pin of a tube is, in words: "grid", "plate T", "heater"."""
    kind = library.tubes.get(tube.type)
    picture = library.picture_tubes.get(tube.type)
    if picture is not None and picture.pins is not None:
        pins = picture.pins
        named = {pins.grid: "grid", pins.cathode: "cathode", pins.first_anode: "first anode", pins.focus: "focus"}
        named |= dict.fromkeys(pins.heater, "heater")
        return tuple(named.get(n, "") for n in range(1, 15))
    words = (kind.pins or "").split() if kind else []
    halves = "p1" in words or "k1" in words
    return tuple(_word(word, halves) for word in words)


def _word(token: str, halves: bool) -> str:
    if token in _ELECTRODES and not (halves and token[-1] in "12"):
        return _ELECTRODES[token]
    return f"{_ELECTRODES.get(token[:-1], token[:-1])} {token[-1]}"


def heater_pins(library: Library, tube: Tube) -> tuple[int, str] | None:
    """Return the first heater pin and, in words, what it is measured against; None where not known."""
    words = electrode_words(library, tube)
    pins = [n for n, word in enumerate(words, start=1) if word == "heater"]
    if len(pins) != 2:
        return None
    rated = library.tubes[tube.type].heater_v if tube.type in library.tubes else None
    if "heater tap" in words and rated and tube.heater_v < 0.75 * rated:
        return pins[0], f"pins {pins[0]} and {pins[1]} together against pin {words.index('heater tap') + 1}"
    return pins[0], f"against pin {pins[1]}"
