# SPDX-License-Identifier: MIT
"""The rule base: one module per symptom family, plus tracing, source and rig."""

from __future__ import annotations

from backporch.engine.facts import RuleBook
from backporch.rules.beam import BeamRules
from backporch.rules.dark import DarkRules
from backporch.rules.heater import HeaterRules
from backporch.rules.high_voltage import HighVoltageRules
from backporch.rules.horizontal_sync import HorizontalSyncRules
from backporch.rules.interference import InterferenceRules
from backporch.rules.intermittent import IntermittentRules
from backporch.rules.light import LightRules
from backporch.rules.raster import ShapeRules
from backporch.rules.rig import RigRules
from backporch.rules.scan import ScanRules
from backporch.rules.signal_path import SignalPathRules
from backporch.rules.sound import BenchRules, SoundRules
from backporch.rules.source import ShortRules, SourceRules
from backporch.rules.sync import SyncLossRules
from backporch.rules.tracing import TracingRules
from backporch.rules.vertical_sync import VerticalSyncRules
from backporch.rules.video import PictureRules
from backporch.rules.where import WhereRules

__all__ = ["BOOKS"]

BOOKS: tuple[type[RuleBook], ...] = (
    LightRules,
    DarkRules,
    BeamRules,
    ShapeRules,
    ScanRules,
    SyncLossRules,
    VerticalSyncRules,
    HorizontalSyncRules,
    PictureRules,
    SignalPathRules,
    HighVoltageRules,
    HeaterRules,
    SoundRules,
    BenchRules,
    SourceRules,
    ShortRules,
    TracingRules,
    IntermittentRules,
    InterferenceRules,
    RigRules,
    WhereRules,
)
"""Every book of rules."""
