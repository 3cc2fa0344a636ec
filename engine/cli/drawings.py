# SPDX-License-Identifier: MIT
"""Drawings in the terminal: the block diagram of a chassis, and the screen of a simulated set."""

from __future__ import annotations

from collections.abc import Mapping

from rich.console import Console

from backporch.engine.chassis.model import Chassis
from backporch.engine.cli.console import drawing_depth, light_background
from backporch.engine.knowledge.library import Library
from backporch.engine.picture.blocks import picture_lines
from backporch.engine.picture.diagram import diagram_tree, rails_tree
from backporch.engine.picture.stages import blocks_of

__all__ = ["show_diagram", "show_screen"]

_WIDEST = 64


def show_diagram(console: Console, library: Library, chassis: Chassis, shares: Mapping[str, float]) -> None:
    """Print the stages as the signal passes through them, with their odds where there are some."""
    blocks = blocks_of(chassis)
    titles = {name: library.stages[name].title if name in library.stages else name for name in blocks}
    plain = not console.encoding.lower().startswith("utf")
    console.print(diagram_tree(blocks, titles, shares, ascii_only=plain))
    rails = {name: (rail.title, rail.maker) for name, rail in chassis.rails.items()}
    console.print(rails_tree(blocks, titles, rails, shares))


def show_screen(console: Console, state: Mapping[str, float], standard: str) -> None:
    """Print what the screen of a simulated set shows; a picture that rolls is caught on its way."""
    from backporch.engine.picture.shots import framed_camera

    columns = max(16, min(console.width, _WIDEST))
    depth = drawing_depth(console)
    roll_hz = abs(state.get("roll_hz", 0.0))
    camera = framed_camera(standard, 0.35 / roll_hz if roll_hz > 0.01 else 0.0)
    for line in picture_lines(
        state, columns=columns, depth=depth, camera=camera, dense_is_dark=light_background()
    ):
        console.print(line, no_wrap=True)
