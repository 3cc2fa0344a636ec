# SPDX-License-Identifier: MIT
"""Formulas that can say themselves: each public circuit function carries its formula as text.

The text names the function's arguments; :func:`explain` puts the values in, in engineering
notation with the unit that the argument's name ends in, so that every number shown to a user
can be followed back to part values and sweep frequencies.
"""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar, cast

__all__ = ["Link", "Listener", "Step", "explain", "formula", "formula_of", "links_of", "listened_to"]

F = TypeVar("F", bound=Callable[..., Any])
Link: TypeAlias = tuple[Callable[..., Any], tuple[Any, ...], Mapping[str, Any], Any]
"""A formula that was used: the function, its arguments by place and by name, its result."""
Listener: TypeAlias = Callable[[Callable[..., Any], tuple[Any, ...], Mapping[str, Any], Any], Any]

_LISTENER: ContextVar[Listener | None] = ContextVar("listener", default=None)


@dataclass(frozen=True)
class Step:
    """One line of a computation: what, by which formula, with which numbers, giving what."""

    quantity: str
    """What is computed, in words."""
    formula: str
    """The formula with the names of its arguments."""
    numbers: str
    """The formula with the values put in."""
    result: str
    """The value, in engineering notation with its unit."""
    source: str
    """Where the formula comes from."""


def formula(text: str, *, chain: bool = False) -> Callable[[F], F]:
    """Attach the formula ``text``, written with the function's own argument names, to a function.

    Args:
        text: The formula.
        chain: Whether the function does little more than put other formulas one behind the other, so that whoever
            wants to follow it needs those as well.
    Returns:
        A decorator that gives the function back, which a listener then hears.
    Raises:
        Nothing: the text is not read here.
    Source: none; bookkeeping.
    Example:
        >>> @formula("voltage_v / resistance_ohm")
        ... def current_a(voltage_v, resistance_ohm):
        ...     return voltage_v / resistance_ohm
        >>> formula_of(current_a)
        'voltage_v / resistance_ohm'
    """

    def attach(function: F) -> F:
        @functools.wraps(function)
        def heard(*args: Any, **kwargs: Any) -> Any:
            listener = _LISTENER.get()
            if listener is None:
                return function(*args, **kwargs)
            quiet = _LISTENER.set(None)
            try:
                result = function(*args, **kwargs)
            finally:
                _LISTENER.reset(quiet)
            return listener(heard, args, kwargs, result)

        heard.__formula__ = text  # type: ignore[attr-defined]
        heard.__chain__ = chain  # type: ignore[attr-defined]
        return cast(F, heard)

    return attach


@contextmanager
def listened_to(listener: Listener) -> Iterator[None]:
    """Hand every formula that is computed meanwhile to ``listener``; what it returns stands for the result.

    Formulas that a formula uses itself are not handed over.

    Args:
        listener: Takes the function, its arguments by place and by name, and its result.
    Returns:
        A context manager that gives nothing.
    Raises:
        Nothing of its own.
    Source: none; bookkeeping.
    Example:
        >>> @formula("voltage_v / resistance_ohm")
        ... def current_a(voltage_v, resistance_ohm):
        ...     return voltage_v / resistance_ohm
        >>> with listened_to(lambda function, args, kwargs, result: (function.__name__, result)):
        ...     current_a(10.0, resistance_ohm=5.0)
        ('current_a', 2.0)
    """
    before = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(before)


def formula_of(function: Callable[..., Any]) -> str:
    """Return the formula text of a function, or the empty string where it has none.

    Args:
        function: Any function.
    Returns:
        The text as it was attached.
    Raises:
        Nothing.
    Source: none; bookkeeping.
    Example:
        >>> formula_of(len)
        ''
    """
    return str(getattr(function, "__formula__", ""))


def links_of(function: Callable[..., Any], *args: Any, **kwargs: Any) -> tuple[Link, ...]:
    """Return the formulas that a chain of formulas uses, in turn; nothing for a formula that is no chain.

    Args:
        function: The formula.
        args: Its arguments by place.
        kwargs: Its arguments by name.
    Returns:
        Each formula used with its arguments and its result, in the order of use.
    Raises:
        BackporchError: What the formula itself raises.
    Source: none; bookkeeping.
    Example:
        >>> @formula("voltage_v / resistance_ohm")
        ... def current_a(voltage_v, resistance_ohm):
        ...     return voltage_v / resistance_ohm
        >>> @formula("voltage_v * current_a", chain=True)
        ... def power_w(voltage_v, resistance_ohm):
        ...     return voltage_v * current_a(voltage_v, resistance_ohm)
        >>> [(link[0].__name__, link[3]) for link in links_of(power_w, 10.0, 5.0)]
        [('current_a', 2.0)]
    """
    if not getattr(function, "__chain__", False):
        return ()
    found: list[Link] = []

    def keep(used: Callable[..., Any], one: tuple[Any, ...], more: Mapping[str, Any], result: Any) -> Any:
        found.append((used, one, more, result))
        return result

    with listened_to(keep):
        inspect.unwrap(function)(*args, **kwargs)
    return tuple(found)


def explain(
    function: Callable[..., Any], arguments: Mapping[str, Any], result: Any, *, result_unit: str = ""
) -> Step:
    """Return the computation of ``result`` by ``function`` from ``arguments`` as a printable step.

    Args:
        function: A function with a formula.
        arguments: Its arguments by name.
        result: What it gave.
        result_unit: Unit of the result, or "".
    Returns:
        :class:`Step` in words and engineering notation.
    Raises:
        Nothing: what has no value stands as its name.
    Source: none; bookkeeping.
    Example:
        >>> @formula("voltage_v / resistance_ohm")
        ... def current_a(voltage_v, resistance_ohm):
        ...     '''Return the current.
        ...
        ...     Source: Ohm's law.
        ...     '''
        ...     return voltage_v / resistance_ohm
        >>> arguments = {"voltage_v": 10.0, "resistance_ohm": 4700.0}
        >>> explain(current_a, arguments, 10 / 4700, result_unit="A").numbers
        '10 V / 4.7 k'
    """
    from backporch.engine.units import show, unit_of_name

    text = formula_of(function)

    def value(match: re.Match[str]) -> str:
        name = match.group(0)
        if name not in arguments:
            return name
        return show(arguments[name], unit_of_name(name))

    numbers = re.sub(r"[A-Za-z_][A-Za-z0-9_]*", value, text)
    doc = function.__doc__ or ""
    found = re.search(r"Source:\s*(.+?)(?:\n\s*\n|\n\s*[A-Z][a-z]+:|\Z)", doc, re.S)
    source = " ".join(found.group(1).split()) if found else ""
    return Step(
        quantity=function.__name__.replace("_", " "),
        formula=text,
        numbers=numbers,
        result=show(result, result_unit),
        source=source,
    )
