# SPDX-License-Identifier: MIT
"""Signs on which the set goes off at the plug before any question: as symptoms, as answers, in any typed words.

A sign that is denied ("no smoke") is none; sparks in the picture are interference.  In doubt it is an alarm:
the person is told to pull the plug once too often.
"""

from __future__ import annotations

import re

from backporch.engine.session.questions import command_in, plain_words

__all__ = ["ALARM_ANSWERS", "ALARM_SYMPTOMS", "alarm_in"]

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
    symptom: re.compile(rf"(?<![a-z]){_NOT_BEFORE}(?:{words})(?![a-z]){_NOT_AFTER}")
    for symptom, words in _SIGNS.items()
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
    return next((symptom for symptom, pattern in _PATTERNS.items() if pattern.search(words)), None)
