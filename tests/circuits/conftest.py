"""Tubes for the circuit tests: the shipped fits."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_fits import tube_model

FITS = Path(__file__).parents[2] / "kb" / "tube_fits.yaml"


@pytest.fixture(scope="session")
def tube() -> Callable[[str], TubeModel]:
    """Return the shipped model of a type."""
    known = yaml.safe_load(FITS.read_text(encoding="utf-8"))["tube_fits"]
    return lambda name: tube_model(known[name]["model"])
