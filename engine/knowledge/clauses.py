# SPDX-License-Identifier: MIT
"""Splits what somebody typed into clauses, and tells those that say that something is as it should be.

A sentence often names two signs: "the picture rolls and the sound is fine".  Each is looked for by itself, and
what is fine is no complaint.
Limits: splits at marks and at joining words alone; a complaint without any of them is one clause.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backporch.engine.knowledge.everyday import words_of

__all__ = ["Clause", "clauses_of"]

_LONGEST = 600
_MOST = 12
_TWINS = """
up down|top bottom|left right|comes goes|come go|on off|in out|back forth|black white|round round|up up|down down
again again|over over|further further|more more|half half|soot whitewash|chalk charcoal|horizontal vertical
horizontally vertically|brighter darker|bright dark|heads feet|two two|line frame
head feet|side side|bigger bigger|smaller smaller|slower slower|light dark|height width|speech music
"""
"""Words that belong together where "and" stands between them."""
_PAIRS = frozenset(frozenset(pair.split()) for line in _TWINS.strip().splitlines() for pair in line.split("|"))
_AND = re.compile(r"\b([a-z]+)(\s+and\s+)(?=([a-z]+)\b)")
_FINE = frozenset(
    """fine good ok okay normal perfect alright right healthy excellent great plays works heard present
    there""".split()
)
_SPOKEN_OF = frozenset(
    """sound audio voice voices speech music volume picture pic image vision raster screen whistle whine line tubes
    tube valves valve heaters fuse brightness contrast focus width height set telly television tv programme
    reception channel input""".split()
)
_FILLING = frozenset(
    """a all always an and are as be before both but by clear comes else everything had has however in is it its
    itself just last loud looks my of otherwise our other others perfectly pretty quite really remains rest seems
    so sounds stays still that the they though through today very was week were with year yesterday""".split()
)
_JOINT = re.compile(
    r"[.,;:!?/\n]+|\b(?:and|while|whilst|whereas|although|though|yet|plus|also)\b"
    r"|(?<!\bnothing )(?<!\banything )(?<!\ball )(?<!\bnone )\bbut\b"
    r"|\bwith\b(?=\s+(?:the\s+|a\s+)?(?:fine|good|ok|okay|normal|perfect|healthy)\s+\w+\s*(?:$|[.,;:!?]))"
)


@dataclass(frozen=True)
class Clause:
    """A part of a sentence that may name a sign by itself."""

    text: str
    fine: frozenset[str] | None = None
    """Of what it says that it is as it should be; None for a complaint."""


def clauses_of(text: str) -> tuple[Clause, ...]:
    """Return the clauses of a text in their order, none of them empty.

    Example:
        >>> [(c.text, c.fine) for c in clauses_of("The picture rolls and the sound is fine")]
        [('the picture rolls', None), ('the sound is fine', frozenset({'sound'}))]
        >>> [c.text for c in clauses_of("it shakes up and down")]
        ['it shakes up & down']
    """
    plain = text[:_LONGEST].lower().replace("\u2019", "'")
    kept = _AND.sub(lambda m: f"{m[1]} & " if frozenset((m[1], m[3])) in _PAIRS else m[0], plain)
    parts = (" ".join(part.split()) for part in _JOINT.split(kept))
    return tuple(Clause(part, _fine(part)) for part in parts if words_of(part))[:_MOST]


def _fine(clause: str) -> frozenset[str] | None:
    """Return of what a clause says that it is fine, or None where it says anything else."""
    words = [word for word in words_of(clause) if word not in _FILLING]
    spoken_of = frozenset(words) & _SPOKEN_OF
    rest = [word for word in words if word not in spoken_of]
    if not rest or not set(rest) <= _FINE or len(spoken_of) > 2:
        return None
    return spoken_of
