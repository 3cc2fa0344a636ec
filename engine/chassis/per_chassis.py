# SPDX-License-Identifier: MIT
"""Keeps what follows from a chassis alone for as long as that chassis object lives."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from typing import Generic, TypeVar

from backporch.engine.chassis.model import Chassis

__all__ = ["PerChassis"]

T = TypeVar("T")


class PerChassis(Generic[T]):
    """A function of a chassis that is computed once for each chassis object."""

    def __init__(self, function: Callable[[Chassis], T]) -> None:
        """Wrap a function of a chassis."""
        self._function = function
        self._kept: dict[int, tuple[weakref.ref[Chassis], T]] = {}

    def __call__(self, chassis: Chassis) -> T:
        """Return the function of this chassis."""
        key = id(chassis)
        found = self._kept.get(key)
        if found is not None and found[0]() is chassis:
            return found[1]
        value = self._function(chassis)
        self._kept[key] = (weakref.ref(chassis, lambda _gone: self._kept.pop(key, None)), value)
        return value
