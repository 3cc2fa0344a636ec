# SPDX-License-Identifier: MIT
"""The block diagram of a chassis: which stage feeds which, and its rails, in rows from mains and aerial down.

Limits: a chain that feeds itself is cut where it closes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis

__all__ = ["Block", "blocks_of", "chains_of"]


@dataclass(frozen=True)
class Block:
    """One stage of the diagram."""

    name: str
    after: tuple[str, ...]
    """Stages that feed it."""
    rails: tuple[str, ...]
    row: int
    """How many stages lie between it and where its signal comes from."""


def blocks_of(chassis: Chassis) -> dict[str, Block]:
    """Return the stages with their rows.

    Example:
        >>> from backporch.engine.chassis.load import load_chassis
        >>> from backporch.engine.knowledge.library import shipped
        >>> blocks = blocks_of(load_chassis("plover-17", shipped()))
        >>> blocks["tuner"].row, blocks["if-amplifier"].after
        (1, ('tuner',))
    """
    rows: dict[str, int] = {}

    def row(name: str, above: tuple[str, ...] = ()) -> int:
        if name not in rows:
            feeding = [f for f in chassis.stages[name].after if f in chassis.stages and f not in (*above, name)]
            rows[name] = max((row(f, (*above, name)) + 1 for f in feeding), default=0)
        return rows[name]

    return {
        name: Block(name, tuple(f for f in stage.after if f in chassis.stages), stage.rails, row(name))
        for name, stage in chassis.stages.items()
    }


def chains_of(blocks: Mapping[str, Block]) -> list[tuple[int, tuple[str, ...]]]:
    """Return the diagram as lines of text: how deep each line stands, and the stages that follow in it.

    A stage that is fed by several stands behind the first of them.
    """
    feeds: dict[str, list[str]] = {name: [] for name in blocks}
    for name, block in blocks.items():
        if block.after:
            feeds[block.after[0]].append(name)
    lines: list[tuple[int, tuple[str, ...]]] = []
    seen: set[str] = set()

    def walk(name: str, depth: int) -> None:
        chain = [name]
        seen.add(name)
        while True:
            following = [f for f in feeds[chain[-1]] if f not in seen]
            if len(following) != 1:
                break
            chain.append(following[0])
            seen.add(following[0])
        lines.append((depth, tuple(chain)))
        for branch in following:
            if branch not in seen:
                walk(branch, depth + 1)

    for name, block in blocks.items():
        if not block.after:
            walk(name, 0)
    for name in blocks:
        if name not in seen:
            walk(name, 0)
    return lines
