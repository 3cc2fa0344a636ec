# SPDX-License-Identifier: MIT
"""Draws the block diagram with each stage shaded by its probability: in text, and as an SVG picture.

Limits: the picture needs the libraries of the extra "plots".
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from rich.text import Text
from rich.tree import Tree

from backporch.engine.errors import BadInput
from backporch.engine.picture.stages import Block, chains_of

__all__ = ["diagram_svg", "diagram_tree", "rails_tree"]

_ACCENT = (20, 96, 122)
_PAPER = (251, 250, 247)
_PALE = 0.005


def diagram_tree(
    blocks: Mapping[str, Block],
    titles: Mapping[str, str],
    shares: Mapping[str, float],
    *,
    ascii_only: bool = False,
) -> Tree:
    """Return the diagram as a tree of chains; a stage's share stands behind it and sets how strongly it is drawn.

    Args:
        blocks: The stages.
        titles: What each is called.
        shares: Probability of each, 0 to 1; empty where nothing is known.
        ascii_only: Whether arrows must be plain.
    Example:
        >>> from rich.console import Console
        >>> blocks = {"a": Block("a", (), (), 0), "b": Block("b", ("a",), (), 1)}
        >>> console = Console(width=40, color_system=None)
        >>> with console.capture() as shown:
        ...     console.print(diagram_tree(blocks, {"a": "Tuner", "b": "IF"}, {"b": 0.4}))
        >>> [line.strip() for line in shown.get().splitlines()]
        ['Signal path', '└── Tuner → [IF 40 %]']
    """
    tree = Tree("Signal path", guide_style="dim")
    branches = [tree]
    for depth, chain in chains_of(blocks):
        del branches[depth + 1 :]
        line = Text()
        for number, name in enumerate(chain):
            if number:
                line.append(" > " if ascii_only else " → ", "dim")
            line.append_text(_stage_text(titles.get(name, name), shares.get(name, 0.0)))
        branches.append(branches[depth].add(line))
    return tree


def rails_tree(
    blocks: Mapping[str, Block],
    titles: Mapping[str, str],
    rails: Mapping[str, tuple[str, str]],
    shares: Mapping[str, float],
) -> Tree:
    """Return the rails, each with the stage that makes it and the stages that it feeds.

    Args:
        blocks: The stages.
        titles: What each is called.
        rails: Title and making stage of each rail.
        shares: Probability of each stage, 0 to 1; empty where nothing is known.
    Example:
        >>> from rich.console import Console
        >>> blocks = {"a": Block("a", (), (), 0), "b": Block("b", ("a",), ("r",), 1)}
        >>> console = Console(width=40, color_system=None)
        >>> with console.capture() as shown:
        ...     console.print(rails_tree(blocks, {"a": "Supply", "b": "IF"}, {"r": ("B+", "a")}, {"b": 0.4}))
        >>> [line.strip() for line in shown.get().splitlines()]
        ['Rails', '└── B+, made by Supply: [IF 40 %]']
    """
    tree = Tree("Rails", guide_style="dim")
    for rail, (title, maker) in rails.items():
        fed = [name for name, block in blocks.items() if rail in block.rails]
        line = Text(f"{title}, made by ")
        line.append_text(_stage_text(titles.get(maker, maker), shares.get(maker, 0.0)))
        for number, name in enumerate(fed):
            line.append(", " if number else ": ", "dim")
            line.append_text(_stage_text(titles.get(name, name), shares.get(name, 0.0)))
        tree.add(line)
    return tree


def _stage_text(title: str, share: float) -> Text:
    if share < _PALE:
        return Text(title)
    style = "bold reverse cyan" if share >= 0.3 else "bold cyan" if share >= 0.05 else "cyan"
    return Text(f"[{title} {100 * share:.0f} %]", style)


def diagram_svg(blocks: Mapping[str, Block], titles: Mapping[str, str], shares: Mapping[str, float]) -> str:
    """Return the diagram as an SVG picture.

    Args:
        blocks: The stages.
        titles: What each is called.
        shares: Probability of each, 0 to 1.
    Raises:
        BadInput: the drawing libraries are not installed.
    """
    try:
        import networkx
        from matplotlib import rc_context
        from matplotlib.figure import Figure
    except ImportError:
        raise BadInput("The drawing needs: pip install 'backporch[plots]'.") from None
    graph = networkx.DiGraph([(feeding, name) for name, block in blocks.items() for feeding in block.after])
    graph.add_nodes_from(blocks)
    places = _places(blocks)
    across = max(x for x, _ in places.values()) + 1
    rows = max(block.row for block in blocks.values()) + 1
    with rc_context({"svg.fonttype": "none", "font.family": "sans-serif", "font.size": 8}):
        figure = Figure(figsize=(1.5 * across, 0.8 * rows))
        axes = figure.add_axes((0, 0, 1, 1))
        networkx.draw_networkx_edges(
            graph, places, ax=axes, node_shape="s", node_size=1500, arrowsize=8, edge_color="#8a8780", width=0.9
        )
        for name, (x, y) in places.items():
            _box(axes, x, y, _lines(titles.get(name, name), blocks[name].rails), shares.get(name, 0.0))
        axes.set_xlim(-0.55, across - 0.45)
        axes.set_ylim(-rows + 0.4, 0.6)
        axes.set_axis_off()
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None}, transparent=True)
    text = out.getvalue()
    return text[text.index("<svg") :]


def _places(blocks: Mapping[str, Block]) -> dict[str, tuple[float, float]]:
    """Return where each block stands: its row down, and across as near below what feeds it as there is room."""
    rows: dict[int, list[str]] = {}
    for name, block in blocks.items():
        rows.setdefault(block.row, []).append(name)
    across: dict[str, float] = {}
    for row in sorted(rows):
        wanted = {
            n: _mean([across[f] for f in blocks[n].after if f in across], k) for k, n in enumerate(rows[row])
        }
        taken = -1.0
        for name in sorted(rows[row], key=lambda n: wanted[n]):
            taken = max(taken + 1.0, round(wanted[name]))
            across[name] = taken
    return {name: (x, -float(blocks[name].row)) for name, x in across.items()}


def _mean(values: list[float], usual: float) -> float:
    return sum(values) / len(values) if values else float(usual)


def _lines(title: str, rails: tuple[str, ...]) -> list[str]:
    words, lines = title.split(), [""]
    for word in words:
        if lines[-1] and len(lines[-1]) + len(word) > 15:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines + ([f"({_rail_words(rails)})"] if rails else [])


def _rail_words(rails: tuple[str, ...]) -> str:
    return ", ".join(
        rail.removeprefix("rail-").replace("boosted-b-plus", "boosted").replace("b-plus", "B+") for rail in rails
    )


def _box(axes: Any, x: float, y: float, lines: list[str], share: float) -> None:
    from matplotlib.patches import FancyBboxPatch

    strength = min(share**0.5, 1.0) if share >= _PALE else 0.0
    fill = tuple((p + (a - p) * strength) / 255 for p, a in zip(_PAPER, _ACCENT, strict=True))
    ink = "white" if strength > 0.62 else "#202226"
    shape = FancyBboxPatch(
        (x - 0.46, y - 0.38), 0.92, 0.76, boxstyle="round,pad=0,rounding_size=0.06", fc=fill, ec="#5c5f63", lw=0.8
    )
    axes.add_patch(shape)
    said = [*lines, f"{100 * share:.0f} %"] if share >= _PALE else lines
    axes.text(x, y, "\n".join(said), ha="center", va="center", color=ink, fontsize=8, linespacing=1.05)
