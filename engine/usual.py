# SPDX-License-Identifier: MIT
"""The usual suspects: what the trade thinks of first on one sign alone.

Reasoning that needs more than one sign is the work of rules.  A single sign that points to a single
stage is a row of a table and is looked up here, after the rules have said which conditions hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Protocol

from backporch.engine.deduction import Deduction, Statement, statement
from backporch.engine.facts import Condition, Finding, Member, Symptom

__all__ = ["UsualSuspect", "look_up"]


class UsualSuspect(Protocol):
    """One row: a sign, and the stage or the group of stages that it speaks for or against."""

    @property
    def sign(self) -> str:
        """A symptom or a condition."""

    @property
    def stage(self) -> str | None:
        """The one stage, or None where a group is meant."""

    @property
    def group(self) -> str | None:
        """The group of stages, or None where one stage is meant."""

    @property
    def direction(self) -> str:
        """ "for" or "against"."""

    @property
    def strength(self) -> str:
        """How much it weighs, in a word."""

    @property
    def claim(self) -> str:
        """What it says, in one sentence."""

    @property
    def because(self) -> str:
        """Why."""

    @property
    def source(self) -> str:
        """Where this is known from."""


def look_up(table: Mapping[str, UsualSuspect], statements: Iterable[Statement]) -> Iterator[Deduction]:
    """Give what the rows say of all signs among ``statements``; observed and derived signs count alike.

    Args:
        table: rows by name.
        statements: everything that is known or was concluded.
    """
    known = tuple(statements)
    signs = {s.get("name"): s for s in known if s.kind in (Symptom.__name__, Condition.__name__)}
    members: dict[str, list[Statement]] = {}
    for member in known:
        if member.kind == Member.__name__:
            members.setdefault(member.get("group"), []).append(member)
    for name, row in table.items():
        if row.sign not in signs:
            continue
        sign = signs[row.sign]
        reached: list[tuple[str, tuple[Statement, ...]]]
        if row.group is None:
            reached = [(row.stage or "", (sign,))]
        else:
            reached = [(m.get("stage"), tuple(sorted((sign, m)))) for m in members.get(row.group, [])]
        for stage, because in reached:
            finding = Finding(stage=stage, direction=row.direction, strength=row.strength)
            yield Deduction(statement(finding), name, row.claim, row.because, row.source, because, True)
