# SPDX-License-Identifier: MIT
"""Functions of a number or of a whole batch: a plain float is reckoned in plain numbers, which costs far less.

A circuit that is written with these and with the signs of arithmetic is solved for one set several times faster
than with arrays of one element, and for a batch as ever.
Limits: plain numbers raise where arrays give infinity (division by zero, overflow); :func:`lone_first` then
takes the array.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

__all__ = [
    "absolute", "angle", "arctangent", "clip", "cosine", "every", "exponential", "least", "lone_first", "most",
    "no", "softplus", "softplus_parts", "steepness", "where",
]  # fmt: skip

T = TypeVar("T")


def most(first: Any, second: Any) -> Any:
    """Return the larger of two numbers, element by element.

    Args:
        first: Float or array.
        second: Float or array, in the unit of ``first``.
    Returns:
        Float or array.
    Raises:
        ValueError: The arrays do not go together in shape.
    Source: none; arithmetic.
    Example:
        >>> most(2.0, 3.0), most(np.array([2.0, 4.0]), 3.0).tolist()
        (3.0, [3.0, 4.0])
    """
    if type(first) is float and type(second) is float:
        return first if first >= second else second
    return np.maximum(first, second)


def least(first: Any, second: Any) -> Any:
    """Return the smaller of two numbers, element by element.

    Args:
        first: Float or array.
        second: Float or array, in the unit of ``first``.
    Returns:
        Float or array.
    Raises:
        ValueError: The arrays do not go together in shape.
    Source: none; arithmetic.
    Example:
        >>> least(2.0, 3.0), least(np.array([2.0, 4.0]), 3.0).tolist()
        (2.0, [2.0, 3.0])
    """
    if type(first) is float and type(second) is float:
        return first if first <= second else second
    return np.minimum(first, second)


def clip(value: Any, low: Any, high: Any) -> Any:
    """Return a number held between two bounds, element by element.

    Args:
        value: Float or array.
        low: Lower bound, in the unit of ``value``.
        high: Upper bound, in the unit of ``value``.
    Returns:
        Float or array.
    Raises:
        ValueError: The arrays do not go together in shape.
    Source: none; arithmetic.
    Example:
        >>> clip(5.0, 0.0, 1.0), clip(np.array([-1.0, 0.5]), 0.0, 1.0).tolist()
        (1.0, [0.0, 0.5])
    """
    return least(most(value, low), high)


def where(condition: Any, first: Any, second: Any) -> Any:
    """Return ``first`` where the condition holds and ``second`` where it does not.

    Args:
        condition: Bool or array of them.
        first: Anything, or an array.
        second: Anything, or an array.
    Returns:
        As the arguments.
    Raises:
        ValueError: The arrays do not go together in shape.
    Source: none; choice.
    Example:
        >>> where(True, 1.0, 2.0), where(np.array([True, False]), 1.0, 2.0).tolist()
        (1.0, [1.0, 2.0])
    """
    if type(condition) is bool:
        return first if condition else second
    return np.where(condition, first, second)


def no(condition: Any) -> Any:
    """Return the contrary of a condition.

    Args:
        condition: Bool or array of them.
    Returns:
        Bool or array of them.
    Raises:
        TypeError: It is neither.
    Source: none; logic.
    Example:
        >>> no(True), no(np.array([True, False])).tolist()
        (False, [False, True])
    """
    return not condition if type(condition) is bool else ~condition


def every(condition: Any) -> bool:
    """Say whether a condition holds everywhere.

    Args:
        condition: Bool or array of them.
    Returns:
        Bool.
    Raises:
        Nothing.
    Source: none; logic.
    Example:
        >>> every(True), every(np.array([True, False]))
        (True, False)
    """
    return condition if type(condition) is bool else bool(np.all(condition))


def exponential(power: Any) -> Any:
    """Return e to a power, element by element.

    Args:
        power: Float or array.
    Returns:
        Float or array.
    Raises:
        OverflowError: A plain number is above 709.
    Source: none; arithmetic.
    Example:
        >>> exponential(0.0), exponential(np.zeros(1)).tolist()
        (1.0, [1.0])
    """
    return math.exp(power) if type(power) is float else np.exp(power)


def cosine(angle_rad: Any) -> Any:
    """Return the cosine, element by element.

    Args:
        angle_rad: Float or array [rad].
    Returns:
        Float or array.
    Raises:
        ValueError: A plain number is infinite.
    Source: none; arithmetic.
    Example:
        >>> cosine(0.0), cosine(np.zeros(1)).tolist()
        (1.0, [1.0])
    """
    return math.cos(angle_rad) if type(angle_rad) is float else np.cos(angle_rad)


def absolute(value: Any) -> Any:
    """Return the size of a number whatever its sign, element by element.

    Args:
        value: Float, complex number or array.
    Returns:
        Float or array.
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> absolute(-2.0), absolute(np.array([-2.0])).tolist()
        (2.0, [2.0])
    """
    return abs(value)


def angle(value: Any) -> Any:
    """Return the angle of a complex number [rad], element by element.

    Args:
        value: Complex number or array.
    Returns:
        Float or array [rad].
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> angle(1j) == np.pi / 2, angle(np.ones(1)).tolist()
        (True, [0.0])
    """
    return cmath.phase(value) if type(value) is complex else np.angle(value)


def arctangent(value: Any) -> Any:
    """Return the arctangent [rad], element by element.

    Args:
        value: Float or array.
    Returns:
        Float or array [rad].
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> arctangent(0.0), arctangent(np.zeros(1)).tolist()
        (0.0, [0.0])
    """
    return math.atan(value) if type(value) is float else np.arctan(value)


def softplus(value: Any) -> Any:
    """Return ln(1 + e to the value), element by element, far from zero without overflow.

    Args:
        value: Float or array.
    Returns:
        Float or array.
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> round(softplus(0.0), 4), softplus(np.array([800.0])).tolist()
        (0.6931, [800.0])
    """
    if type(value) is float:
        return max(value, 0.0) + math.log1p(math.exp(-min(abs(value), 745.0)))
    return np.logaddexp(0.0, value)


def steepness(value: Any) -> Any:
    """Return the slope of :func:`softplus`, from 0 to 1, element by element.

    Args:
        value: Float or array.
    Returns:
        Float or array.
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> steepness(0.0), steepness(np.zeros(1)).tolist()
        (0.5, [0.5])
    """
    return 0.5 + 0.5 * (math.tanh(0.5 * value) if type(value) is float else np.tanh(0.5 * value))


def softplus_parts(value: Any) -> tuple[Any, Any]:
    """Return ln(1 + e to the value) and its slope, which goes from 0 to 1; far from zero without overflow.

    Args:
        value: Float or array.
    Returns:
        Logarithm and slope, floats or arrays.
    Raises:
        TypeError: It is no number.
    Source: none; arithmetic.
    Example:
        >>> [round(x, 4) for x in softplus_parts(0.0)], softplus_parts(np.array([800.0]))[0].tolist()
        ([0.6931, 0.5], [800.0])
    """
    if type(value) is float:
        small = math.exp(-min(abs(value), 80.0))
        return max(value, 0.0) + math.log1p(small), (1.0 if value > 0.0 else small) / (1.0 + small)
    tail = np.exp(-np.minimum(np.abs(value), 80.0))
    return np.maximum(value, 0.0) + np.log1p(tail), np.where(value > 0.0, 1.0, tail) / (1.0 + tail)


def lone_first(alone: Callable[[], T], batch: Callable[[], T], single: bool) -> T:
    """Return what plain numbers give for a single set, or what arrays give where that does not go.

    Args:
        alone: Reckons with plain numbers.
        batch: Reckons with arrays.
        single: Whether there is one set only.
    Returns:
        What either of them gives.
    Raises:
        BackporchError: What ``batch`` raises.
    Source: none; bookkeeping.
    Example: arrays know infinity.
        >>> lone_first(lambda: 1.0 / 0.0, lambda: np.inf, single=True)
        inf
    """
    if single:
        try:
            return alone()
        except (ArithmeticError, TypeError, ValueError):
            return batch()
    return batch()
