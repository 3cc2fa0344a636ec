# SPDX-License-Identifier: MIT
"""How titles and claims are put into sentences, in the terminal and on the page alike."""

from __future__ import annotations

from backporch.engine.deduction import Deduction
from backporch.engine.knowledge.library import Library

__all__ = ["claim_text", "in_sentence"]


def claim_text(deduction: Deduction, library: Library) -> str:
    """Return a rule's claim with the stage put in where the claim speaks of ``{stage}``."""
    fields = dict(deduction.concluded.fields)
    stage = library.stages.get(fields.get("stage", ""))
    return deduction.claim.replace("{stage}", in_sentence(stage.title) if stage else fields.get("stage", ""))


def in_sentence(title: str) -> str:
    """Return a title as it stands inside a sentence: small first letter, but not for B+, IF or AGC.

    Example:
        >>> in_sentence("Damper and boosted B+"), in_sentence("IF amplifier")
        ('damper and boosted B+', 'IF amplifier')
    """
    return title if title[1:2].isupper() or title[1:2] in "+-" else title[:1].lower() + title[1:]
