# SPDX-License-Identifier: MIT
"""An owner's chassis file: the questions that it takes, and the text that the answers make.

The file says which shipped receiver the set is like and gives only what differs, with a comment for each line.
What concerns safety is always written out, so that it is never taken over unseen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis, unit_of_kind
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import Library
from backporch.engine.units import parse

__all__ = ["SAFETY_QUESTIONS", "OwnerQuestion", "owner_file", "owner_name", "owner_questions", "unusual"]

_ANY = (1e-15, 1e12)
"""Between these lies every value that a part can have, in farads, ohms or henries."""
_ROLES = (
    ("low-voltage-supply", "reservoir"),
    ("sync-separator", "coupling"),
    ("sync-separator", "grid-leak"),
    ("vertical-oscillator", "grid-capacitor"),
    ("vertical-oscillator", "grid-resistor"),
    ("vertical-sawtooth", "capacitor"),
    ("vertical-output", "coupling"),
    ("horizontal-drive", "coupling"),
    ("damper-boost", "boost-capacitor"),
)
"""The parts whose values move most of what is computed; with the mains they make ten."""

SAFETY_QUESTIONS: Mapping[str, tuple[str, Mapping[str, str]]] = {
    "chassis_return": (
        "What is the metal chassis (or B-) connected to?",
        {
            "isolated": "nothing but a mains transformer's secondary: measured in ohms, open to both mains pins",
            "one-mains-leg": "one wire of the mains",
            "doubler-leg": "one wire of the mains through a half-wave voltage doubler",
            "live-either-way": "a bridge or full-wave doubler, or you do not know: live either way round",
        },
    ),
    "envelope": (
        "What is the cone of the picture tube made of?",
        {"glass": "glass", "metal-cone": "metal, or you do not know: the whole anode voltage stands on it"},
    ),
    "high_voltage_source": (
        "What makes the anode voltage?",
        {
            "flyback": "the horizontal output stage and its flyback",
            "oscillator": "an oscillator of its own",
            "mains": "the mains, through a high-voltage winding, or you do not know",
        },
    ),
}
"""What concerns safety: field, question, and what each answer means; the last answer holds when unsure."""


@dataclass(frozen=True)
class OwnerQuestion:
    """One value that the owner reads from the set."""

    key: str
    """Part name, or ``mains_v``."""
    ask: str
    unit: str
    usual: str
    """The value in the receiver that the set is like."""


def owner_questions(like: Chassis) -> tuple[OwnerQuestion, ...]:
    """Return the ten values to read from a set that is like ``like``.

    Example:
        >>> from backporch.engine.chassis.load import load_chassis
        >>> from backporch.engine.knowledge.library import shipped
        >>> len(owner_questions(load_chassis("dunlin-24", shipped())))
        10
    """
    found = [
        OwnerQuestion("mains_v", "Mains volts on the rating plate or the tap in use", "V", f"{like.mains_v:g} V")
    ]
    for stage, role in _ROLES:
        for name, part in like.parts.items():
            if (part.stage, part.role) == (stage, role):
                does = (part.does or role)[:1].upper() + (part.does or role)[1:]
                ask = f"{does} ({name} in {like.name})"
                found.append(OwnerQuestion(name, ask, unit_of_kind(part.kind), part.value or ""))
    return tuple(found)


def unusual(question: OwnerQuestion, answer: str, like: Chassis, library: Library) -> str | None:
    """Return a sentence where the answer is outside the usual range, None where it is inside.

    Raises:
        BadInput: the answer is no value in the unit of the question, or a capacitance that does not say which.
    """
    if question.unit == "F" and re.fullmatch(r"[-+\d.,eE]+", answer.strip()):
        raise BadInput(f"{answer.strip()} of what? Write {answer.strip()} uF, or nF, or pF.")
    try:
        value = parse(answer, question.unit)
    except BadInput:
        what = "volts" if question.unit == "V" else "a resistance" if question.unit == "ohm" else "a capacitance"
        raise BadInput(f"{answer[:60]!r} is not {what}. Write it like {question.usual}.") from None
    low, high = (1.0, 1000.0) if question.key == "mains_v" else _ANY
    if not low <= value <= high:
        raise BadInput(f"{answer[:60]!r} cannot be. Write it like {question.usual}.")
    if question.key == "mains_v":
        inside = 90 <= value <= 260
        return None if inside else f"{answer} is not a mains voltage that such sets were made for (90 to 260 V)."
    part = like.parts[question.key]
    usual = library.usual_values.get(f"{part.stage} {part.role}")
    if usual is None or parse(usual.low, question.unit) <= value <= parse(usual.high, question.unit):
        return None
    return (
        f"{answer} is outside what is usual there ({usual.low} to {usual.high}): look at the point and the unit."
    )


def owner_name(text: str) -> str:
    """Return a name for the set that may stand in a file name.

    Raises:
        BadInput: nothing is left of it.

    Example:
        >>> owner_name("Aunt's Console, 1957")
        'aunts-console-1957'
    """
    words = re.findall(r"[a-z0-9]+", text.lower().replace("'", ""))
    name = "-".join(words)[:40].strip("-")
    if not name:
        raise BadInput("Give the set a name of letters or figures, for example hall-console.")
    return name


def owner_file(name: str, like: Chassis, safety: Mapping[str, str], values: Mapping[str, str]) -> str:
    """Return the text of an owner's chassis file.

    Args:
        name: Name of the set, from :func:`owner_name`.
        like: The shipped receiver that it is like.
        safety: Answers to :data:`SAFETY_QUESTIONS` by field.
        values: Answers to :func:`owner_questions` by key; what is left out stays as in ``like``.
    """
    lines = [
        "# A set of your own. Only what differs from the receiver it is like stands here; add parts, tubes and",
        "# test points in the same way. Look at it with: backporch chassis check THIS-FILE",
        "schema: 1",
        f'name: "{name}"',
        f'title: "{name}, like {like.name}"',
        f"like: {like.name}",
        "# Chassis return, cone, and source of the anode voltage: prove each on the set itself.",
        *(f"{field}: {safety[field]}" for field in SAFETY_QUESTIONS),
    ]
    if "mains_v" in values:
        lines += ["# Rating plate or tap in use.", f'mains_v: "{values["mains_v"]}"']
    parts = {key: value for key, value in values.items() if key != "mains_v"}
    if parts:
        lines.append("parts:")
    for key, value in parts.items():
        part = like.parts[key]
        lines += [f"  # {part.does or part.role}; {like.name} has {part.value}", f'  {key}: {{value: "{value}"}}']
    return "\n".join(lines) + "\n"
