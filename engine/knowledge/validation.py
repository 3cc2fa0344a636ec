# SPDX-License-Identifier: MIT
"""Checks plain data against a model; every mistake is said with file, line, field and the nearest word."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from backporch.engine.errors import BackporchError, BadFile, nearest
from backporch.engine.knowledge.yaml_file import Document, Place
from backporch.engine.units import parse

__all__ = [
    "Amperes",
    "Farads",
    "Frozen",
    "Henries",
    "Hertz",
    "Minutes",
    "Ohms",
    "Ratio",
    "Seconds",
    "Volts",
    "Watts",
    "checked",
    "fail_together",
]

_MOST_TOLD = 50
"""Mistakes that are told one by one; a file with more is of another kind."""
M = TypeVar("M", bound=BaseModel)


class Frozen(BaseModel):
    """Base of all models of the knowledge base: no unknown keys, nothing changes after loading."""

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=True, defer_build=True)


def _reader(unit: str, low: float, high: float) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise ValueError(f"expected a value in {unit}")
        try:
            number = parse(value, unit)
        except BackporchError as error:
            raise ValueError(str(error)) from error
        if not low <= number <= high:
            raise ValueError(f"{value} is outside {low:g} to {high:g} {unit}")
        return number

    return read


Ohms = Annotated[float, BeforeValidator(_reader("ohm", 0.0, 1e12))]
Farads = Annotated[float, BeforeValidator(_reader("F", 0.0, 1.0))]
Henries = Annotated[float, BeforeValidator(_reader("H", 0.0, 1e4))]
Volts = Annotated[float, BeforeValidator(_reader("V", -40e3, 40e3))]
Amperes = Annotated[float, BeforeValidator(_reader("A", 0.0, 1e3))]
Hertz = Annotated[float, BeforeValidator(_reader("Hz", 0.0, 1e10))]
Seconds = Annotated[float, BeforeValidator(_reader("s", 0.0, 1e7))]
Watts = Annotated[float, BeforeValidator(_reader("W", 0.0, 1e5))]
Minutes = Annotated[float, BeforeValidator(_reader("min", 0.0, 1e5))]
Ratio = Annotated[float, BeforeValidator(_reader("", -1e6, 1e6))]


def checked(model: type[M], document: Document, data: Any = None, at: Place = ()) -> M:
    """Return ``data`` (by default the whole document) as ``model``.

    Raises:
        BadFile: with one line for each mistake.
    """
    try:
        return model.model_validate(document.data if data is None else data)
    except ValidationError as error:
        raise BadFile("\n".join(_lines(model, document, error, at))) from None


def fail_together(problems: Iterable[str]) -> None:
    """Raise one :class:`BadFile` for all ``problems``, if there is any."""
    found = list(problems)
    if found:
        raise BadFile("\n".join(found))


def _lines(model: type[BaseModel], document: Document, error: ValidationError, at: Place) -> Iterable[str]:
    every = [item for item in error.errors(include_url=False) if not _follows(item, error)]
    for item in every[:_MOST_TOLD]:
        place = (*at, *item["loc"])
        field = ".".join(str(part) for part in place) or "the file"
        yield f"{document.name}:{document.line(place)}: {field[:200]}: {_problem(model, item)}"
    if len(every) > _MOST_TOLD:
        yield f"{document.name}: and {len(every) - _MOST_TOLD} more mistakes."


def _follows(item: Any, error: ValidationError) -> bool:
    """Tell whether a list is only called too short because one of its entries is wrong."""
    inner = (other["loc"][: len(item["loc"])] == item["loc"] for other in error.errors(include_url=False))
    return bool(item["type"] == "too_short" and sum(inner) > 1)


def _problem(model: type[BaseModel], item: Any) -> str:
    last = str(item["loc"][-1]) if item["loc"] else ""
    kind = item["type"]
    if kind == "extra_forbidden":
        near = nearest(last, _all_fields(model))
        hint = f"Did you mean {near[0]!r}?" if near else "Remove it."
        return f"unknown field {last!r}. {hint}"
    if kind == "missing":
        return f"the field {last!r} is missing."
    message = str(item["msg"]).removeprefix("Value error, ")
    if kind == "literal_error":
        choices = [
            word.strip("' ") for word in message.removeprefix("Input should be ").replace(" or ", ",").split(",")
        ]
        near = nearest(str(item["input"]), choices)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        return f"{item['input']!r} is not one of {', '.join(choices)}.{hint}"
    return f"{message} (got {str(item['input'])[:60]!r})."


def _all_fields(model: type[BaseModel], seen: set[type] | None = None) -> set[str]:
    seen = seen if seen is not None else set()
    if model in seen:
        return set()
    seen.add(model)
    names: set[str] = set()
    for name, info in model.model_fields.items():
        names.add(info.alias or name)
        for inner in _models_in(info.annotation):
            names |= _all_fields(inner, seen)
    return names


def _models_in(annotation: Any) -> Iterable[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_in(inner)
