# SPDX-License-Identifier: MIT
"""An owner's readings of the working set, kept with its chassis: they replace computed values in comparison."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from backporch.engine.chassis.offers import Offer
from backporch.engine.errors import BadFile, BadInput, UnknownWord
from backporch.engine.knowledge.yaml_file import read_text
from backporch.engine.session.atomic import replace_file
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.journal import JOURNAL, Journal, session_folder, session_name
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.recorded import scenario_of
from backporch.engine.session.shelf import on_the_shelf

__all__ = ["keep_baseline", "kept_baseline", "readings_of", "session_readings"]


def session_readings(name: str, chassis: str, offers: Mapping[str, Offer]) -> dict[str, float]:
    """Return the readings of a saved session by "point.quantity", in SI units.

    Args:
        name: Name of the session.
        chassis: The chassis that it must be about.
        offers: All measurements that can be made on that chassis.
    Raises:
        UnknownWord: there is no such session.
        BadInput: it is about another chassis, or holds no reading.
    """
    folder = session_folder() / session_name(name)
    if not (folder / JOURNAL).exists():
        raise UnknownWord("session", name, [s.name for s in on_the_shelf(session_folder())])
    with Journal(folder) as journal:
        entries = live(journal.entries)
    about = Path(scenario_of(entries).chassis).stem
    if about != chassis:
        raise BadInput(f"The session {name!r} is about {about}, not {chassis}. Name a session of the same set.")
    found = readings_of(entries, offers)
    if not found:
        raise BadInput(f"The session {name!r} holds no reading. Measure the working set in a session first.")
    return found


def readings_of(entries: Iterable[Entry], offers: Mapping[str, Offer]) -> dict[str, float]:
    """Return the plain readings among entries by "point.quantity"; ranges count with their middle.

    A reading that is open to one side, over the range or unsure is left out.
    """
    found: dict[str, float] = {}
    for entry in entries:
        offer = offers.get(entry.key) if entry.kind == "answer" else None
        reading = offer.measurement.reading if offer else None
        if reading is None:
            continue
        typed = read_reading(entry.value, reading.unit)
        if _is_plain(typed):
            found[f"{reading.point}.{reading.quantity}"] = typed.middle
    return found


def _is_plain(typed: TypedReading) -> bool:
    return typed.shape in ("value", "range", "none") and math.isfinite(typed.middle)


def keep_baseline(chassis: str, readings: Mapping[str, float]) -> Path:
    """Keep the readings with the chassis and return the file; earlier ones of the same points are replaced."""
    path = _path(chassis)
    whole = {**kept_baseline(chassis), **readings}
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        replace_file(path, json.dumps({"schema": 1, "chassis": chassis, "readings": whole}, indent=2))
    except OSError as error:
        raise BadFile(f"{path}: cannot be written ({error.strerror}). Make room on the disk.") from error
    return path


def kept_baseline(chassis: str) -> dict[str, float]:
    """Return the readings that were kept with a chassis, none where there are none.

    Raises:
        BadFile: the file is no file of readings.
    """
    path = _path(chassis)
    if not path.exists():
        return {}
    try:
        data = json.loads(read_text(path))
    except (ValueError, RecursionError) as error:
        raise BadFile(f"{path}: {error}. Correct or delete it.") from error
    try:
        readings = {str(key): float(value) for key, value in data["readings"].items()}
    except (KeyError, TypeError, AttributeError, ValueError, OverflowError) as error:
        raise BadFile(f"{path}: no table of readings. Correct or delete it.") from error
    odd = next((key for key, value in readings.items() if not math.isfinite(value)), None)
    if odd is not None:
        raise BadFile(f"{path}: the reading of {odd[:60]!r} is no number. Correct or delete it.")
    return readings


def _path(chassis: str) -> Path:
    return session_folder().parent / "baselines" / f"{re.sub('[^a-z0-9-]+', '-', chassis.lower())}.json"
