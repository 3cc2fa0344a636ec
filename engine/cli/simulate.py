# SPDX-License-Identifier: MIT
"""The simulate command: what a set with a given fault shows, beside a healthy one, and what would reveal it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from backporch.engine.chassis.audit import Revealing, revealing
from backporch.engine.cli.console import harmless, make_console, percent
from backporch.engine.cli.drawings import show_screen
from backporch.engine.cli.new_parts import new_parts
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput
from backporch.engine.safety.advice import Advice, advice, together
from backporch.engine.safety.set_facts import state_of_set
from backporch.engine.session.baseline import keep_baseline, kept_baseline, session_readings
from backporch.engine.session.needs import needs_of
from backporch.engine.session.patient import Patient
from backporch.engine.session.workbench import Workbench
from backporch.engine.units import show

__all__ = ["SimulateOptions", "run_simulate"]

_FIRST_TESTS = 5


@dataclass(frozen=True)
class SimulateOptions:
    """The options of the command line."""

    chassis: str
    faults: tuple[str, ...] = ()
    seed: int = 1
    minutes: float | None = None
    """Minutes since the set was switched on; None for long enough."""
    baseline: str | None = None
    """Session with readings of the working set."""
    recapped: bool = False
    new: tuple[str, ...] = ()
    picture: bool = False
    """Whether the screen is drawn as well."""
    as_json: bool = False


def run_simulate(options: SimulateOptions) -> None:
    """Print the symptoms, the readings that changed, and the first tests that tell.

    Raises:
        BackporchError: the chassis, a fault or the session is unknown.
    """
    if not options.faults and options.baseline is None:
        raise BadInput("Say which fault: --fault C26=shorted. Several may be given.")
    if options.minutes is not None and not 0.0 <= options.minutes < 1e5:
        raise BadInput(f"--minutes is {options.minutes:g}; give the minutes since the set was switched on.")
    workbench = make_workbench(options.chassis)
    renewed = new_parts(workbench, options.recapped, options.new)
    own = _baseline(workbench, options.baseline)
    ill, well = (_patient(workbench, options, faults) for faults in (options.faults, ()))
    rows = _changed(workbench, ill, well, own) if options.faults else []
    priors = _priors(workbench, ill, options.recapped, renewed)
    tests = _tests(workbench, ill)
    differences = _differences(workbench, well, own)
    if options.as_json:
        print(json.dumps(_document(workbench, ill, rows, tests, differences, priors), indent=2))
        return
    console = make_console()
    if options.faults:
        console.print(f"[bold cyan]{', '.join(harmless(h.title) for h in ill.faults)}[/]")
        if options.picture:
            show_screen(console, vars(ill.at().state()), workbench.chassis.standard)
        _print_fault(console, workbench, ill, rows, options.minutes)
        _print_tests(console, workbench, tests)
        _print_priors(console, ill, priors, renewed)
    if options.baseline is not None:
        _print_differences(console, differences)


def _patient(workbench: Workbench, options: SimulateOptions, faults: Iterable[str]) -> Patient:
    known = workbench.faults.hypotheses
    return Patient(
        workbench.chassis, workbench.library, known, tuple(faults), options.seed, minutes=options.minutes
    )


def _baseline(workbench: Workbench, session: str | None) -> Mapping[str, float]:
    """Return the owner's own readings; those of a named session are kept with the chassis first."""
    name = workbench.chassis.name
    if session is not None:
        keep_baseline(name, session_readings(session, name, workbench.faults.offers))
    return kept_baseline(name)


def _changed(workbench: Workbench, ill: Patient, well: Patient, own: Mapping[str, float]) -> list[dict[str, Any]]:
    rows = []
    for key, offer in workbench.faults.offers.items():
        if offer.target:
            continue
        reading = offer.measurement.reading
        now, healthy = ill.answer(offer), well.answer(offer)
        if now == healthy or (reading and not _outside(workbench, key, ill)):
            continue
        row = {
            "measurement": key,
            "title": offer.measurement.title,
            "healthy": offer.measurement.outcomes.get(healthy, healthy),
            "now": offer.measurement.outcomes.get(now, now),
            "minutes": offer.measurement.minutes,
        }
        known = own.get(f"{reading.point}.{reading.quantity}") if reading else None
        if reading and known is not None:
            moved = _moved(known, well.reading(offer), ill.reading(offer))
            row |= {"own": show(known, reading.unit, 3), "now": show(moved, reading.unit, 3)}
        rows.append(row)
    return rows


def _moved(own: float, healthy: float, now: float) -> float:
    """Return what a fault makes of the owner's own reading: it moves it by the same ratio as the computed."""
    return own * now / healthy if abs(healthy) > 1e-9 and own * healthy > 0 else now


def _outside(workbench: Workbench, key: str, ill: Patient) -> bool:
    band = workbench.faults.bins(key)
    value = ill.reading(workbench.faults.offers[key])
    return not band.low <= value <= band.high or not np.isfinite(value)


def _tests(workbench: Workbench, ill: Patient) -> tuple[Revealing, ...]:
    """Return the first tests that would reveal the faults that were put in, cheapest first."""
    found: dict[str, Revealing] = {}
    known = {h.id for h in workbench.faults.hypotheses}
    for hypothesis in (h for h in ill.faults if h.id in known):
        for test in revealing(workbench.faults, hypothesis.id, 2 * _FIRST_TESTS):
            if _advice(workbench, test).never is None:
                found.setdefault(test.offer, test)
    return tuple(sorted(found.values(), key=lambda t: (t.minutes, -t.with_fault, t.offer))[:_FIRST_TESTS])


def _advice(workbench: Workbench, test: Revealing) -> Advice:
    """Return what must be said before a test, for a set of which nothing is known."""
    state, cautions = state_of_set(workbench.chassis), workbench.library.cautions
    return advice(needs_of(workbench, workbench.faults.offers[test.offer]), state, cautions)


def _priors(
    workbench: Workbench, ill: Patient, recapped: bool, renewed: frozenset[str]
) -> dict[str, tuple[float, float]]:
    """Return how likely each fault is before anything is seen: in an old set, and with what is new."""
    usual = workbench.faults.prior("worked-last-week", "unknown", frozenset())
    condition = "partly-recapped" if recapped else "worked-last-week"
    now = workbench.faults.prior(condition, "unknown", renewed)
    ids = [h.id for h in workbench.faults.hypotheses]
    return {h.id: (float(usual[ids.index(h.id)]), float(now[ids.index(h.id)])) for h in ill.faults if h.id in ids}


def _differences(workbench: Workbench, well: Patient, own: Mapping[str, float]) -> list[dict[str, Any]]:
    """Return the owner's own readings beside the computed ones."""
    rows = []
    for offer in workbench.faults.offers.values():
        reading = offer.measurement.reading
        value = own.get(f"{reading.point}.{reading.quantity}") if reading else None
        if reading is None or value is None:
            continue
        computed = well.reading(offer)
        rows.append(
            {
                "title": offer.measurement.title,
                "computed": show(computed, reading.unit, 3),
                "own": show(value, reading.unit, 3),
                "difference": f"{100.0 * (value / computed - 1.0):+.0f} %" if abs(computed) > 1e-9 else "",
            }
        )
    return rows


def _print_fault(
    console: Console, workbench: Workbench, ill: Patient, rows: Sequence[Mapping[str, Any]], minutes: float | None
) -> None:
    symptoms = [workbench.library.symptoms[s].title for s in ill.symptoms]
    shows = ", ".join(symptoms) if symptoms else "nothing that one would notice"
    when = "It shows" if minutes is None else f"{minutes:g} minutes after switching on it shows"
    console.print(f"{when}: {shows}.")
    with_own = any("own" in row for row in rows)
    names = ("title", "healthy", *(("own",) if with_own else ()), "now")
    heads = {"title": "changed", "own": "your set"}
    _print_table(console, [heads.get(name, name) for name in names], [[r.get(n, "") for n in names] for r in rows])


def _print_tests(console: Console, workbench: Workbench, tests: Sequence[Revealing]) -> None:
    if not tests:
        console.print("No test on the whole set shows it; only a test of the part itself does.")
        return
    before = together(_advice(workbench, test) for test in tests)
    checks = " ".join(dict.fromkeys(hold.because for hold in before.holds))
    console.print(f"[bold]! {harmless(' '.join(before.short))}[/]")
    if checks:
        console.print(f"! Not before each of these is answered in a diagnosis: {harmless(checks)}")
    console.print("The first tests that would show it:")
    rows = []
    for test in tests:
        measurement = workbench.faults.offers[test.offer].measurement
        said = measurement.outcomes.get(test.outcome, test.outcome)
        chance = f"{percent(test.with_fault)} with it, {percent(test.without)} else"
        rows.append([measurement.title, f"about {test.minutes:g} min", said, chance])
    _print_table(console, ["test", "takes", "would say", "how often"], rows)


def _print_priors(
    console: Console, ill: Patient, priors: Mapping[str, tuple[float, float]], renewed: frozenset[str]
) -> None:
    if not renewed:
        return
    for hypothesis in ill.faults:
        usual, now = priors[hypothesis.id]
        word = "less" if now < usual else "more"
        times = usual / now if now < usual else now / usual
        console.print(
            f"With what is new in this set, {harmless(hypothesis.id)} is {times:.2g} times {word} likely."
        )


def _print_differences(console: Console, rows: Sequence[Mapping[str, Any]]) -> None:
    console.print("Your readings of the working set are kept with this chassis and count from now on:")
    names = ("title", "computed", "own", "difference")
    _print_table(console, ["reading", "computed", "your set", "difference"], [[r[n] for n in names] for r in rows])


def _print_table(console: Console, heads: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for head in heads:
        table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*(harmless(cell) for cell in row))
    console.print(table)


def _document(
    workbench: Workbench,
    ill: Patient,
    rows: list[dict[str, Any]],
    tests: Sequence[Revealing],
    differences: list[dict[str, Any]],
    priors: Mapping[str, tuple[float, float]],
) -> dict[str, Any]:
    return {
        "schema": 1,
        "kind": "simulation",
        "chassis": workbench.chassis.name,
        "faults": [h.id for h in ill.faults],
        "symptoms": list(ill.symptoms),
        "changed": rows,
        "tests": [vars(test) for test in tests],
        "priors": {name: {"usual": usual, "now": now} for name, (usual, now) in priors.items()},
        "baseline": differences,
    }
