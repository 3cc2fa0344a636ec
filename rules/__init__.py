# SPDX-License-Identifier: MIT
"""The rule base: one module per symptom family, plus tracing, source and rig."""

from __future__ import annotations

from backporch.engine.facts import RuleBook
from backporch.rules.heater import HeaterRules
from backporch.rules.high_voltage import HighVoltageRules
from backporch.rules.interference import InterferenceRules
from backporch.rules.intermittent import IntermittentRules
from backporch.rules.raster import LightRules, ShapeRules
from backporch.rules.rig import RigRules
from backporch.rules.sound import BenchRules, SoundRules
from backporch.rules.source import SourceRules
from backporch.rules.sync import HorizontalSyncRules, SyncLossRules, VerticalSyncRules
from backporch.rules.tracing import TracingRules
from backporch.rules.video import PictureRules

__all__ = ["BOOKS"]

BOOKS: tuple[type[RuleBook], ...] = (
    LightRules,
    ShapeRules,
    SyncLossRules,
    VerticalSyncRules,
    HorizontalSyncRules,
    PictureRules,
    HighVoltageRules,
    HeaterRules,
    SoundRules,
    BenchRules,
    SourceRules,
    TracingRules,
    IntermittentRules,
    InterferenceRules,
    RigRules,
)
"""Every book of rules."""
