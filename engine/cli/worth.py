# SPDX-License-Identifier: MIT
"""The worth command: what one more instrument would save on this bench."""

from __future__ import annotations

import json
from collections.abc import Sequence

from rich.table import Table

from backporch.engine.chassis.metering import BENCH_METERS
from backporch.engine.cli.console import harmless, make_console
from backporch.engine.cli.progress import watched
from backporch.engine.cli.setup import make_bench, make_workbench
from backporch.engine.errors import OutOfRange, UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.planning.worth import Worth, instrument_worth
from backporch.engine.session.drawn import drawn_case, likely_faults
from backporch.engine.session.interview import Interview

__all__ = ["run_worth"]

_SEED = 7


def run_worth(
    chassis_name: str,
    *,
    owned: Sequence[str] = (),
    lacking: Sequence[str] = (),
    instruments: Sequence[str] = (),
    bench_file: str = "",
    cases: int = 100,
    as_json: bool = False,
) -> None:
    """Print what each instrument that the bench lacks would save.

    Args:
        chassis_name: A shipped chassis or a chassis file.
        owned: Instruments at hand beside the common ones.
        lacking: Common instruments that are not at hand.
        instruments: What to price; by default everything that is not at hand.
        bench_file: The person's bench file, or "" for none.
        cases: Faults drawn; more give a smaller standard error and take longer.
        as_json: Print one JSON document.
    Raises:
        BackporchError: the chassis or an instrument is unknown, or there are too few cases.
    """
    if not 10 <= cases <= 2000:
        raise OutOfRange(f"cases is {cases}; expected 10 to 2000. More cases take longer and tell finer.")
    library = shipped()
    found = _worths(chassis_name, library, owned, lacking, instruments, bench_file, cases)
    if as_json:
        print(json.dumps({"schema": 1, "kind": "worth", "cases": cases, "instruments": [vars(w) for w in found]}))
        return
    _print(found, library, cases)


def _worths(
    chassis_name: str,
    library: Library,
    owned: Sequence[str],
    lacking: Sequence[str],
    instruments: Sequence[str],
    bench_file: str,
    cases: int,
) -> tuple[Worth, ...]:
    bench = make_bench(library, owned, lacking, file=bench_file).instruments
    for name in instruments:
        if name not in library.instruments:
            raise UnknownWord("instrument", name, library.instruments)
    everything = Interview(make_workbench(chassis_name, tuple(library.instruments), bench_file=bench_file))
    needs = {k: frozenset(o.measurement.instruments) for k, o in everything.workbench.faults.offers.items()}
    useful = frozenset().union(*needs.values()) - bench
    wanted = list(instruments) or sorted(useful)
    drawn = [
        drawn_case(everything, n, [_SEED, k])
        for k, n in enumerate(watched(likely_faults(everything, cases, _SEED), "Drawing faults"))
    ]
    any_meter = {name: frozenset({"meter"}) for name in BENCH_METERS}
    return instrument_worth(
        everything.problem,
        needs,
        bench,
        wanted,
        drawn,
        brings=any_meter,
        watch=lambda names: watched(names, "Pricing"),
    )


def _saving(worth: Worth) -> str:
    """Return the saving in words; what chance alone could make is not called a saving."""
    spread = 2 * worth.standard_error
    if abs(worth.saves_minutes) <= spread:
        return f"none that shows, give or take {spread:.1f} min"
    return f"{worth.saves_minutes:.1f} min, give or take {spread:.1f}"


def _print(found: Sequence[Worth], library: Library, cases: int) -> None:
    console = make_console()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("one more instrument", "saves per repair", "parts not changed"):
        table.add_column(name, overflow="fold")
    for worth in found:
        table.add_row(
            harmless(library.instruments[worth.instrument].title),
            _saving(worth),
            f"{worth.saves_parts:.1f}",
        )
    console.print(table)
    console.print(f"Mean of {cases} faults, drawn as often as they are expected on this chassis.")
