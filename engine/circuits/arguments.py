# SPDX-License-Identifier: MIT
"""What every circuit function does with its arguments: numbers or arrays in, checked, numbers or arrays out.

Limits: it looks at signs and bounds only; whether a value is likely is not its business.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from backporch.engine.errors import OutOfRange

__all__ = ["Array", "Number", "any_sign", "not_negative", "plain", "positive", "share"]

Array: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | Array


def positive(**arguments: Number) -> list[Array]:
    """Return the arguments as arrays, each of which must be above zero.

    Args:
        arguments: Numbers or arrays by their names, each in the unit that its name ends in.
    Returns:
        One array for each argument, in turn, shaped as it came.
    Raises:
        OutOfRange: one is not above zero, or no finite number; the message names it and its value.
    Source: none; a check of arguments.
    Example:
        >>> positive(load_ohm=470.0)[0].item()
        470.0
    """
    return [_checked(name, value, lambda x: x > 0.0, "above zero") for name, value in arguments.items()]


def not_negative(**arguments: Number) -> list[Array]:
    """Return the arguments as arrays, each of which must be zero or above.

    Args:
        arguments: Numbers or arrays by their names, each in the unit that its name ends in.
    Returns:
        One array for each argument, in turn, shaped as it came.
    Raises:
        OutOfRange: one is not zero or above, or no finite number; the message names it and its value.
    Source: none; a check of arguments.
    Example:
        >>> not_negative(gas_a=0.0)[0].item()
        0.0
    """
    return [_checked(name, value, lambda x: x >= 0.0, "zero or above") for name, value in arguments.items()]


def share(**arguments: Number) -> list[Array]:
    """Return the arguments as arrays, each of which must lie from 0 to 1.

    Args:
        arguments: Numbers or arrays by their names, each in the unit that its name ends in.
    Returns:
        One array for each argument, in turn, shaped as it came.
    Raises:
        OutOfRange: one is not from 0 to 1, or no finite number; the message names it and its value.
    Source: none; a check of arguments.
    Example:
        >>> share(emission_share=0.5)[0].item()
        0.5
    """
    return [
        _checked(name, value, lambda x: (x >= 0.0) & (x <= 1.0), "from 0 to 1")
        for name, value in arguments.items()
    ]


def any_sign(**arguments: Number) -> list[Array]:
    """Return the arguments as arrays, each of which must be finite.

    Args:
        arguments: Numbers or arrays by their names, each in the unit that its name ends in.
    Returns:
        One array for each argument, in turn, shaped as it came.
    Raises:
        OutOfRange: one is not finite, or no finite number; the message names it and its value.
    Source: none; a check of arguments.
    Example:
        >>> any_sign(grid_v=-8.0)[0].item()
        -8.0
    """
    return [_checked(name, value, np.isfinite, "a finite number") for name, value in arguments.items()]


def plain(value: Any) -> Number:
    """Return a float for a single number and the array itself for a batch.

    Args:
        value: A number or an array.
    Returns:
        Float or array.
    Raises:
        ValueError: The value is neither.
    Source: none; the shape in which formulas give their results.
    Example:
        >>> plain(np.array(2.0)), plain([1.0, 2.0]).shape
        (2.0, (2,))
    """
    array = np.asarray(value, dtype=np.float64)
    return float(array) if array.ndim == 0 else array


def _checked(name: str, value: Number, allowed: Callable[[Any], Any], wanted: str) -> Array:
    array = np.asarray(value, dtype=np.float64)
    if array.size == 1:
        number = array.item()
        if math.isfinite(number) and allowed(number):
            return array
    bad = ~(np.isfinite(array) & allowed(array))
    if np.any(bad):
        first = float(array[bad].flat[0]) if array.ndim else float(array)
        raise OutOfRange(f"{name} is {first:g}; expected {wanted}.")
    return array
