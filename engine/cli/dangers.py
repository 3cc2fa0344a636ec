# SPDX-License-Identifier: MIT
"""Says at any prompt what comes before every question: off at the plug, and what is never advised."""

from __future__ import annotations

from rich.text import Text

from backporch.engine.cli.render import Screen
from backporch.engine.knowledge.models import NeverAdvised
from backporch.engine.safety.never import forbidden_in
from backporch.engine.session.alarms import ALARM_SYMPTOMS, alarm_in

__all__ = ["say_alarm", "say_never", "warned"]


def say_alarm(screen: Screen, sign: str) -> None:
    """Say first what to do on a sign of danger; a smoking selenium rectifier poisons the air."""
    keys = ["red-plate" if sign == "red-plate" else "smoke-or-arcing"]
    kinds = {part.kind for part in screen.workbench.chassis.parts.values()}
    if sign == "smoke" and "selenium rectifier" in kinds:
        keys.append("selenium-fumes")
    screen.labelled([("!", Text(screen.library.cautions[key].say, style="bold")) for key in keys])


def say_never(screen: Screen, found: NeverAdvised | None) -> None:
    """Say of something that is never advised why it is not, and what is advised in its place."""
    if found is not None:
        rows = [("Never", f"{found.title}. {found.because}"), ("Instead", found.instead)]
        screen.labelled([(label, Text(text, style="bold")) for label, text in rows])


def warned(screen: Screen, line: str) -> bool:
    """Answer a typed line that reports danger or asks for what is never advised; return whether it did."""
    sign, never = alarm_in(line), forbidden_in(line, screen.library.never)
    if sign is not None:
        say_alarm(screen, ALARM_SYMPTOMS[sign])
    say_never(screen, never)
    return sign is not None or never is not None
