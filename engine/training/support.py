# SPDX-License-Identifier: MIT
"""What counts as support for a name: the odds of all answers together, or the direct test of that part.

A part that was lifted and found bad by itself, a tube that failed in the tester, or an exchange that cured the set
speaks for that part whatever the odds were before.  So does a tube that was seen to be the only dark one.
"""

from __future__ import annotations

from collections.abc import Iterable

from backporch.engine.session.entry import Entry

__all__ = ["SUPPORT", "proved_bad"]

SUPPORT = 0.9
"""Share that the answers must give a part before it may be named; our judgement, no source."""
_PROOFS = {("part-test", "bad"), ("test-tube", "bad"), ("exchange-tube", "cured")}
"""Direct tests with the answer that proves the part they are made on."""


def proved_bad(entries: Iterable[Entry]) -> frozenset[str]:
    """Return the parts and tubes that a direct test has found bad, of the set as it is now.

    Example:
        >>> sorted(proved_bad([Entry("answer", "part-test@C28", "bad"), Entry("answer", "part-test@C26", "good")]))
        ['C28']
        >>> sorted(proved_bad([Entry("answer", "exchange-tube@V8", "changed")]))
        []
    """
    answers = ((*e.key.partition("@"), e.value) for e in entries if e.kind == "answer")
    return frozenset(part for test, _, part, answer in answers if part and (test, answer) in _PROOFS)
