"""The rails of the block diagram in the terminal."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from backporch.engine.chassis.load import load_chassis
from backporch.engine.cli.drawings import show_diagram
from backporch.engine.knowledge.library import shipped


@pytest.mark.parametrize("name", ["plover-17", "dunlin-24", "curlew-19", "teal-14"])
def test_every_rail_names_its_maker_and_whom_it_feeds(name: str) -> None:
    """Each rail stands in the diagram with the stage that makes it and every stage on it."""
    library, out = shipped(), io.StringIO()
    chassis = load_chassis(name, library)
    show_diagram(Console(file=out, width=400, color_system=None), library, chassis, {})
    lines = out.getvalue().splitlines()

    for key, rail in chassis.rails.items():
        fed = [library.stages[s].title for s, stage in chassis.stages.items() if key in stage.rails]
        (line,) = [line for line in lines if f"{rail.title}, made by {library.stages[rail.maker].title}" in line]
        assert all(title in line for title in fed)
