"""Tubes for the circuit tests: the shipped fits, and netlists of the same curves for a circuit simulator."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_fits import tube_model

FITS = Path(__file__).parents[2] / "kb" / "tube_fits.yaml"


@pytest.fixture(scope="session")
def tube() -> Callable[[str], TubeModel]:
    """Return the shipped model of a type."""
    known = yaml.safe_load(FITS.read_text(encoding="utf-8"))["tube_fits"]
    return lambda name: tube_model(known[name]["model"])


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
