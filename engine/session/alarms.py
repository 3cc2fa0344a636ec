# SPDX-License-Identifier: MIT
"""Signs on which the set goes off at the plug before any question: as symptoms, as answers, in any typed words.

A sign that is denied ("no smoke") is none; sparks in the picture are interference.  In doubt it is an alarm:
the person is told to pull the plug once too often.
"""

from __future__ import annotations

import re

from backporch.engine.session.questions import command_in, plain_words

__all__ = ["ALARM_ANSWERS", "ALARM_READINGS", "ALARM_SYMPTOMS", "FAR_TOO_MUCH", "alarm_in", "alarm_of_reading"]

ALARM_SYMPTOMS = {
    "smoke": "smoke",
    "burning-smell": "smoke",
    "high-voltage-arcing": "arcing",
    "output-plate-red": "red-plate",
    "rectifier-violet": "violet-glow",
    "rectifier-overloaded": "violet-glow",
    "tube-blue-haze": "violet-glow",
}
"""Symptoms on which the set goes off at the plug."""

ALARM_ANSWERS = {
    ("look-at-the-output-plate", "red"): "red-plate",
    ("look-at-the-rectifier", "violet"): "violet-glow",
    ("watch-the-lamp", "bright"): "smoke",
    ("watch-the-lamp-of-a-string", "bright"): "smoke",
}
"""Answers on which the set goes off at the plug."""

FAR_TOO_MUCH = "far-too-much"
"""The alarm that a reading far above anything the set stands is."""
ALARM_READINGS = {"read-line-output-current": 0.25, "read-anode-voltage": 20e3}
"""Readings from which the set goes off at the plug [A, V]: twice what an output tube stands, and more than any
monochrome picture tube of the time is rated for; common practice, no source."""


def alarm_of_reading(measurement: str, low: float) -> str:
    """Return the alarm that a reading of at least ``low`` is, or "".

    Example:
        >>> alarm_of_reading("read-line-output-current", 0.4), alarm_of_reading("read-line-output-current", 0.1)
        ('far-too-much', '')
    """
    return FAR_TOO_MUCH if low >= ALARM_READINGS.get(measurement, float("inf")) else ""


_SIGNS = {
    "smoke": r"smok(?:e|es|ing|y)|burning|burnt smell|smell of (?:burnt|burning)|smells? burnt|fire(?! up)|flames?"
    r"|fumes|ozone|smells? hot",
    "high-voltage-arcing": r"arc(?! shape)(?:s|ing|ed)?|spark(?:s|ing|ed)?|flash(?:es|ing)?[ -]?over|corona",
    "output-plate-red": r"red[ -]?plat(?:e|es|ing)|plates?[ -](?:is |are |gets? |turns? |glows? |glowing )?"
    r"(?:cherry |dull |bright )?red(?:[ -]hot)?|glow(?:s|ing)? (?:cherry |dull |bright )?red|cherry red"
    r"|red[ -]hot",
    "tube-blue-haze": r"violet|purple|blue[ -](?:violet|haze|glow|light)|(?:glows?|glowing) blue",
}
_NOT_BEFORE = (
    r"(?<!no )(?<!no more )(?<!no longer )(?<!not )(?<!without )(?<!never )(?<!n't )(?<!any )(?<!no sign of )"
)
_NOT_AFTER = r"(?! (?:in|on|over|across) (?:the |my )?(?:picture|screen))"
_PATTERNS = {
    symptom: rf"(?<![a-z]){_NOT_BEFORE}(?:{words})(?![a-z]){_NOT_AFTER}" for symptom, words in _SIGNS.items()
}
_TALK = ("what is", "why", "help", "stages")


def alarm_in(text: str) -> str | None:
    """Return the alarming symptom that ``text`` reports at any prompt, or None.

    Example:
        >>> alarm_in(" Smoke! "), alarm_in("the plate glows cherry red"), alarm_in("62 V")
        ('smoke', 'output-plate-red', None)
        >>> alarm_in("no smoke"), alarm_in("sparks in the picture"), alarm_in("note it is smoking")
        (None, None, 'smoke')
    """
    command = command_in(text)
    if command is not None and command.name in _TALK:
        return None
    words = plain_words(text)
    return next((symptom for symptom, pattern in _PATTERNS.items() if re.search(pattern, words)), None)
