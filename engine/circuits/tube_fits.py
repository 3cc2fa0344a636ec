# SPDX-License-Identifier: MIT
"""From the numbers of a fit, as they stand in a file, to a tube that the circuit functions take.

Limits: reads no file; who reads kb/tube_fits.yaml hands over the mapping under ``model`` of a type.
Sources: none of its own; each number's source stands in kb/tube_fits.yaml.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

from backporch.engine.circuits.arguments import Number, share
from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_diodes import DiodeModel
from backporch.engine.errors import UnknownWord

__all__ = ["diode_model", "tube_model", "weakened"]


def tube_model(numbers: Mapping[str, float]) -> TubeModel:
    """Return the tube with these numbers.

    Args:
        numbers: Name of each field of :class:`TubeModel` that is not left at its default, and its value.
    Returns:
        :class:`TubeModel` of floats.
    Raises:
        UnknownWord: A name is no field of a tube model.
    Source: none of its own; each number's stands in kb/tube_fits.yaml.
    Example:
        >>> tube_model({"mu": 22.01, "exponent": 1.32, "kg1": 1294, "kp": 119.8, "kvb": 1041}).mu
        22.01
    """
    return TubeModel(**_checked(numbers, [field.name for field in fields(TubeModel)]))


def diode_model(numbers: Mapping[str, float]) -> DiodeModel:
    """Return the diode with these numbers.

    Args:
        numbers: Name of each field of :class:`DiodeModel` and its value.
    Returns:
        :class:`DiodeModel` of floats.
    Raises:
        UnknownWord: A name is no field of a diode model.
    Source: none of its own; each number's stands in kb/tube_fits.yaml.
    Example:
        >>> diode_model({"plate_perv": 7.7e-4}).exponent
        1.5
    """
    return DiodeModel(**_checked(numbers, [field.name for field in fields(DiodeModel)]))


def weakened(tube: TubeModel, emission_share: Number) -> TubeModel:
    """Return the same tube with less emission.

    Args:
        tube: A good tube.
        emission_share: Share of its emission that is left, 0 to 1; float or array.
    Returns:
        :class:`TubeModel`, all else as it was.
    Raises:
        OutOfRange: The share lies outside 0 to 1.
    Source: common practice, no source: low emission scales all currents alike.
    Example:
        >>> good = tube_model({"mu": 22.01, "exponent": 1.32, "kg1": 1294, "kp": 119.8, "kvb": 1041})
        >>> weakened(good, 0.5).emission_share
        0.5
    """
    share(emission_share=emission_share)
    return replace(tube, emission_share=emission_share)


def _checked(numbers: Mapping[str, float], names: list[str]) -> dict[str, float]:
    for name in numbers:
        if name not in names:
            raise UnknownWord("number of a tube", name, names)
    return {name: float(value) for name, value in numbers.items()}
