# SPDX-License-Identifier: MIT
"""How the ranking narrowed from step to step, as a plot."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

__all__ = ["narrowing_svg"]

_COLOURS = ("#14607a", "#d55e00", "#5c5f63", "#8c6bb1", "#009e73")
_MARKS = ("o", "s", "^", "D", "v")


def narrowing_svg(steps: Sequence[str], shares: Mapping[str, Sequence[float]]) -> str:
    """Return a plot of each stage's share after each step as SVG, or "" where the library is not installed.

    Args:
        steps: Number of each step.
        shares: For each stage its probability after each step, 0 to 1.
    Example:
        >>> "<svg" in (narrowing_svg(["a", "b"], {"Tuner": [0.2, 0.8]}) or "<svg")
        True
    """
    try:
        from matplotlib import rc_context
        from matplotlib.figure import Figure
    except ImportError:
        return ""
    with rc_context({"svg.fonttype": "none", "font.family": "sans-serif", "font.size": 9}):
        figure = Figure(figsize=(7.0, 3.1), layout="constrained")
        axes = figure.add_subplot()
        places = range(len(steps))
        for (name, values), colour, mark in zip(shares.items(), _COLOURS, _MARKS, strict=False):
            axes.plot(
                places, [100 * v for v in values], color=colour, marker=mark, markersize=4, lw=1.6, label=name
            )
        axes.set_xticks(list(places), list(steps))
        axes.set_ylim(0, 100)
        axes.set_ylabel("%")
        axes.set_xlabel("step")
        axes.grid(axis="y", color="#c9c6bf", lw=0.6)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.legend(fontsize=8, frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0))
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    text = out.getvalue()
    return text[text.index("<svg") :]
