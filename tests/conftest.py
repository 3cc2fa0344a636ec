"""Fixtures shared by the whole suite."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from backporch.engine.circuits.tube_curves import TubeModel

settings.register_profile("bench", deadline=None)
settings.load_profile("bench")  # a busy machine must not make a property false

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


def _soft(text: str) -> str:
    """Write ln(1 + exp(x)) so that a large x does not overflow."""
    return f"(({text})>35 ? ({text}) : ln(1+exp(min({text},35))))"


@pytest.fixture(scope="session")
def tube_netlist() -> Callable[[str, TubeModel], str]:
    """Write a tube as a subcircuit "plate grid cathode" or "plate grid cathode screen" of behavioural sources."""

    def write(name: str, t: TubeModel) -> str:
        pull = "max(v(p,k),1e-6)"
        reach = f"sqrt({t.kvb}+{pull}^2)"
        pins = "p g k"
        if t.screened:
            pull = reach = f"(max(v(s,k),0.1)+{t.plate_share}*max(v(p,k),0))"
            pins = "p g k s"
        tail, between = t.tail_share, t.tail_share**0.5
        shares = {t.mu: 1.0 - tail - between, (t.mu * t.tail_mu) ** 0.5: between, t.tail_mu: tail}
        drives = {mu: f"{t.kp}*({1 / mu!r}+(v(g,k)+{t.contact_v})/{reach})" for mu, part in shares.items() if part}
        lines = [f".subckt {name} {pins}"]
        for n, drive in enumerate(drives.values()):
            lines += [f"b{n} e{n} 0 v={pull}/{t.kp}*{_soft(drive)}", f"r{n} e{n} 0 1g"]
        powers = "+".join(f"{shares[mu]!r}*max(v(e{n}),1e-30)^{t.exponent}" for n, mu in enumerate(drives))
        lines += [f"bc c 0 v={2 * t.emission_share}*({powers})", "rc c 0 1g"]
        if t.screened:
            angle = f"atan(max(v(p,k),0)/{t.kvb})"
            left = f"(1/{t.kg2}+{t.returned_share / t.kg1!r}*({3.141592653589793 / 2!r}-{angle}))"
            lines += [f"bp p k i=v(c)/{t.kg1}*{angle}", f"bs s k i=v(c)*{left}"]
        else:
            lines += [f"bp p k i=v(c)/{t.kg1}*(v(p,k)>0 ? 1 : 0)"]
        grid = f"(0.13*{_soft(f'(v(g,k)+{t.grid_contact_v})/0.13')})"
        lines += [f"bg g k i={t.grid_perv * t.emission_share}*{grid}^1.5", "rp p k 10g", "rg g k 10g", ".ends"]
        return "\n".join(lines) + "\n"

    return write


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many comparisons with the circuit simulator were left out."""
    left = sum(_NO_SPICE in str(report.longrepr) for report in terminalreporter.stats.get("skipped", []))
    if left:
        terminalreporter.write_line(f"{left} comparisons with a circuit simulator skipped: {_NO_SPICE}.")
