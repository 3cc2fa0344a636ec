# SPDX-License-Identifier: MIT
"""Loads a chassis file: what it inherits, what it says, and whether all its names are known.

A file may say ``like: plover-17`` and give only what differs; an entry set to nothing is left out.  What the
gate goes by (chassis return, envelope, source of the anode voltage) is never inherited: unsaid it is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from backporch.engine.chassis.model import SAFETY_FIELDS, Chassis
from backporch.engine.chassis.roles import CIRCUITS, POINTS, required_roles
from backporch.engine.errors import BackporchError, BadFile, nearest
from backporch.engine.knowledge.kept import kept_yaml
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.validation import checked, fail_together
from backporch.engine.knowledge.yaml_file import Document, Place, read_yaml
from backporch.engine.units import parse

__all__ = ["find_chassis", "load_chassis"]

_DEEPEST_LIKE = 4


def find_chassis(name: str, library: Library) -> Path:
    """Return the file of a chassis: a path to a file, or the name of a shipped one.

    Raises:
        UnknownWord: it is neither.
    """
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or "/" in name or "\\" in name:
        return path
    return library.chassis_path(name)


def load_chassis(name: str, library: Library) -> Chassis:
    """Return the chassis of that name or file, checked against the knowledge base.

    Raises:
        UnknownWord: there is no shipped chassis of that name.
        BadFile: with one line for each mistake, naming file, line, field and the nearest right word.
    """
    path = find_chassis(name, library)
    document = kept_yaml(path) if path.parent == library.root / "chassis" else read_yaml(path)
    merged = Document(document.name, _with_inherited(document, library, ()), document.lines)
    chassis = _believed(checked(Chassis, merged), library)
    fail_together(
        f"{merged.name}:{merged.line(place)}: {'.'.join(map(str, place))}: {text}"
        for place, text in _problems(chassis, library)
    )
    return chassis


def _with_inherited(document: Document, library: Library, seen: tuple[str, ...]) -> Any:
    data = document.data
    if not isinstance(data, dict) or not isinstance(data.get("like"), str):
        return data
    parent_name = data["like"]
    if parent_name in seen or len(seen) >= _DEEPEST_LIKE:
        raise BadFile(f"{document.name}:{document.line(('like',))}: like: {parent_name!r} goes round in a circle.")
    try:
        parent = kept_yaml(library.chassis_path(parent_name))
    except BackporchError as error:
        raise BadFile(f"{document.name}:{document.line(('like',))}: like: {error}") from error
    unsaid = {field: "unknown" for field in SAFETY_FIELDS if data.get(field) is None}
    return _merged(_with_inherited(parent, library, (*seen, parent_name)), {**data, **unsaid})


def _believed(chassis: Chassis, library: Library) -> Chassis:
    """Return the chassis with what the gate goes by set to the worse, where the file contradicts itself.

    A heater string on an isolated chassis is doubted, and a registered type with a metal cone has one.
    """
    tube = chassis.tubes.get(chassis.picture_tube)
    known = library.picture_tubes.get(tube.type) if tube else None
    if known is not None and known.envelope == "metal-cone":
        chassis = chassis.model_copy(update={"envelope": "metal-cone"})
    if chassis.supply == "series-string" and chassis.chassis_return == "isolated":
        chassis = chassis.model_copy(update={"chassis_return": "unknown"})
    return chassis


def _merged(parent: Any, child: Any) -> Any:
    if not isinstance(parent, dict) or not isinstance(child, dict):
        return child
    found = dict(parent)
    for key, value in child.items():
        if value is None:
            found.pop(key, None)
        else:
            found[key] = _merged(parent[key], value) if key in parent else value
    return found


def _unknown(kind: str, word: str, known: Iterable[str]) -> str:
    near = nearest(word, known)
    return f"unknown {kind} {word!r}." + (f" Did you mean {near[0]!r}?" if near else "")


def _problems(chassis: Chassis, library: Library) -> Iterable[tuple[Place, str]]:
    yield from _stage_problems(chassis, library)
    yield from _part_problems(chassis, library)
    yield from _tube_problems(chassis, library)
    yield from _point_problems(chassis)
    yield from _missing_roles(chassis)


def _stage_problems(chassis: Chassis, library: Library) -> Iterable[tuple[Place, str]]:
    for rail, entry in chassis.rails.items():
        if entry.maker not in chassis.stages:
            yield ("rails", rail, "maker"), _unknown("stage", entry.maker, chassis.stages)
    for name, stage in chassis.stages.items():
        if name not in library.stages:
            yield ("stages", name), _unknown("stage", name, library.stages)
        elif stage.circuit not in CIRCUITS.get(name, {}):
            yield ("stages", name, "circuit"), _unknown("circuit", stage.circuit, CIRCUITS.get(name, {}))
        for before in stage.after:
            if before not in chassis.stages:
                yield ("stages", name, "after"), _unknown("stage", before, chassis.stages)
        for rail in stage.rails:
            if rail not in chassis.rails:
                yield ("stages", name, "rails"), _unknown("rail", rail, chassis.rails)


def _role_problem(chassis: Chassis, stage: str, role: str) -> tuple[str, str] | None:
    if stage not in chassis.stages:
        return "stage", _unknown("stage", stage, chassis.stages)
    known = CIRCUITS.get(stage, {}).get(chassis.stages[stage].circuit, {})
    if known and role not in known:
        return "role", _unknown("role", role, known)
    return None


def _part_problems(chassis: Chassis, library: Library) -> Iterable[tuple[Place, str]]:
    for name, part in chassis.parts.items():
        wrong = _role_problem(chassis, part.stage, part.role)
        if wrong:
            yield ("parts", name, wrong[0]), wrong[1]
        kind = library.part_kinds.get(part.kind)
        if kind is None:
            yield ("parts", name, "kind"), _unknown("kind of part", part.kind, library.part_kinds)
        elif kind.unit:
            yield from _value_problem(name, part.value, kind.unit)


def _value_problem(name: str, value: str | None, unit: str) -> Iterable[tuple[Place, str]]:
    if value is None:
        yield ("parts", name), f"the field 'value' is missing; give it in {unit}."
        return
    try:
        if parse(value, unit) <= 0:
            yield ("parts", name, "value"), f"{value!r} must be above zero."
    except BackporchError as error:
        yield ("parts", name, "value"), str(error)


def _tube_problems(chassis: Chassis, library: Library) -> Iterable[tuple[Place, str]]:
    for name, tube in chassis.tubes.items():
        if tube.kind not in library.part_kinds:
            yield ("tubes", name, "kind"), _unknown("kind of part", tube.kind, library.part_kinds)
        for key, section in tube.sections.items():
            wrong = _role_problem(chassis, section.stage, section.role)
            if wrong:
                yield ("tubes", name, "sections", key, wrong[0]), wrong[1]
        if (tube.heater == "string") != (tube.string_place is not None):
            yield ("tubes", name), "a tube in the heater string has a string_place, and no other tube has one."


def _point_problems(chassis: Chassis) -> Iterable[tuple[Place, str]]:
    for name, point in chassis.test_points.items():
        if name not in POINTS and not name.startswith("heater-string-"):
            yield ("test_points", name), _unknown("point", name, POINTS)
        for quantity in point.published:
            if quantity not in POINTS.get(name, ("rms",)):
                yield ("test_points", name, "published"), _unknown("quantity", quantity, POINTS.get(name, ()))


def _missing_roles(chassis: Chassis) -> Iterable[tuple[Place, str]]:
    filled = _filled(chassis)
    for name, stage in chassis.stages.items():
        if stage.circuit not in CIRCUITS.get(name, {}):
            continue
        for role in required_roles(name, stage.circuit):
            if not filled.get((name, role)):
                yield ("stages", name), f"no part plays the role {role!r}, which {stage.circuit!r} needs."
    for (stage_name, role), parts in filled.items():
        if len(parts) > 1:
            yield ("parts", parts[-1]), f"{' and '.join(parts)} both play the role {role!r} of {stage_name!r}."


def _filled(chassis: Chassis) -> Mapping[tuple[str, str], list[str]]:
    filled: dict[tuple[str, str], list[str]] = {}
    for name, part in chassis.parts.items():
        filled.setdefault((part.stage, part.role), []).append(name)
    for name, tube in chassis.tubes.items():
        for key, section in tube.sections.items():
            filled.setdefault((section.stage, section.role), []).append(f"{name}{key}")
    return filled
