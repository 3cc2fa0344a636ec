"""Fixtures shared by the whole suite."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

_NO_SPICE = "ngspice is not installed"
SpiceRun = Callable[[str, list[str]], dict[str, np.ndarray]]


@pytest.fixture
def spice(tmp_path: Path) -> SpiceRun:
    """Run an ngspice netlist and return vectors by name.

    Call ``spice(netlist, ["v(out)", "i(vsup)"])``: the netlist is the circuit with its analysis line
    (``.tran`` or ``.op``) but without ``.control`` and ``.end``; the first line is its title.
    The result holds "time" (or "index" for an operating point) and one array for each vector asked.
    """
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip(_NO_SPICE)

    def run(netlist: str, vectors: list[str]) -> dict[str, np.ndarray]:
        table = tmp_path / "out.txt"
        asked = " ".join(vectors)
        control = f".control\nset wr_singlescale\nset wr_vecnames\nrun\nwrdata {table} {asked}\n.endc\n.end\n"
        deck = tmp_path / "deck.cir"
        deck.write_text(netlist.rstrip() + "\n" + control, encoding="ascii")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False)
        if not table.exists():
            pytest.fail(f"ngspice gave no result:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        columns = np.loadtxt(table, skiprows=1, ndmin=2)
        return {name: columns[:, n] for n, name in enumerate(["time", *vectors])}

    return run


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many comparisons with the circuit simulator were left out."""
    left = sum(_NO_SPICE in str(report.longrepr) for report in terminalreporter.stats.get("skipped", []))
    if left:
        terminalreporter.write_line(f"{left} comparisons with a circuit simulator skipped: {_NO_SPICE}.")
