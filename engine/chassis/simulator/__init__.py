# SPDX-License-Identifier: MIT
"""The virtual set: chains the circuits of a chassis from the mains plug to the screen."""

from __future__ import annotations

from backporch.engine.chassis.simulator.bench import Bench, Result
from backporch.engine.chassis.simulator.run import adjusted, simulate

__all__ = ["Bench", "Result", "adjusted", "simulate"]
