# SPDX-License-Identifier: MIT
"""The entries of a running session: each is stamped with the time and saved before anything else happens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from backporch.engine.session.entry import Entry, live

__all__ = ["Record"]


class Record:
    """What was said so far, and how it is kept."""

    def __init__(
        self,
        entries: Sequence[Entry],
        save: Callable[[Entry], None],
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        """Go on from ``entries``.

        Args:
            entries: Everything said before.
            save: Puts an entry on the disk before it returns.
            now: The clock, UTC.
        """
        self._all = list(entries)
        self._standing: tuple[Entry, ...] | None = None
        self._save = save
        self._now = now

    @property
    def standing(self) -> tuple[Entry, ...]:
        """What stands after every undo and correction."""
        if self._standing is None:
            self._standing = live(self._all)
        return self._standing

    def keep(self, entry: Entry) -> None:
        """Save an entry with the time of now."""
        stamped = replace(entry, at=self._now().isoformat(timespec="seconds"))
        self._save(stamped)
        self._all.append(stamped)
        self._standing = None

    def take_back(self, times: int) -> tuple[Entry, ...]:
        """Take the last ``times`` answers back; return what stood before and does no more."""
        before = self.standing
        for _ in range(times):
            self.keep(Entry("undo", ""))
        left = Counter(self.standing)
        gone = []
        for entry in before:
            left[entry] -= 1
            if left[entry] < 0:
                gone.append(entry)
        return tuple(gone)
