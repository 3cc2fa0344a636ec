"""Figures of the virtual chassis: speed, silent faults, twins.  Prints processor time, and gates on little."""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from backporch.engine.chassis.audit import silent_faults, twins
from backporch.engine.chassis.dictionary import Dictionary
from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import draw_batch, healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.chassis.simulator.memo import RowMemo
from backporch.engine.chassis.tables import build_tables
from backporch.engine.knowledge.library import shipped

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")


def seconds(work: Callable[[], Any]) -> float:
    """Return how much processor time a call takes."""
    start = time.process_time()
    work()
    return time.process_time() - start


@pytest.mark.benchmark
@pytest.mark.parametrize("name", CHASSIS)
def test_speed_and_reach(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Times of one simulation, of 10,000 tolerance draws and of a dictionary; what the dictionary cannot tell."""
    library = shipped()
    chassis = load_chassis(name, library)
    healthy = healthy_batch(chassis)
    simulate(chassis, healthy)
    single = min(seconds(lambda: simulate(chassis, healthy)) for _ in range(5))
    faults = [h.fault for h in all_hypotheses(chassis, library) if h.part][::12]
    again = [
        min(seconds(lambda f=f: simulate(chassis, healthy_batch(chassis, [f], severity=0.4))) for _ in range(5))
        for f in faults
    ]
    many = seconds(lambda: simulate(chassis, draw_batch(chassis, 10_000, seed=100)))
    start = time.process_time()
    tables = build_tables(chassis, library)
    built = time.process_time() - start
    dictionary = Dictionary(chassis, library, tables)
    groups = twins(dictionary)
    with capsys.disabled():
        print(
            f"\n{name}: one simulation {1e3 * single:.0f} ms healthy,"
            f" {1e3 * np.median(again):.0f} ms with a fault whose circuits are remembered"
            f" (nine in ten below {1e3 * np.quantile(again, 0.9):.0f}), 10,000 draws in one pass {many:.1f} s,"
            f" dictionary {built:.1f} s, {len(dictionary.hypotheses)} hypotheses,"
            f" {len(dictionary.offers)} measurements,"
            f" {len(silent_faults(dictionary))} silent,"
            f" {sum(map(len, groups))} in {len(groups)} groups of twins"
        )

    assert built < 60


@pytest.mark.benchmark
@pytest.mark.parametrize("name", CHASSIS)
def test_speed_of_a_first_fault(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Times of one simulation by what had to be solved anew for it: the least of three, each time forgotten."""
    library = shipped()
    chassis = load_chassis(name, library)
    simulate(chassis, healthy_batch(chassis))
    simulate(chassis, healthy_batch(chassis))
    memos = [found for found in gc.get_objects() if isinstance(found, RowMemo)]
    known = [memo._kept.copy() for memo in memos]
    took: dict[tuple[str, ...], list[float]] = {}
    for fault in [h.fault for h in all_hypotheses(chassis, library) if h.part][::8]:
        set_of = healthy_batch(chassis, [fault], severity=0.4)
        best = np.inf
        for _ in range(3):
            for memo, rows in zip(memos, known, strict=True):
                memo._kept = rows.copy()
            best = min(best, seconds(lambda b=set_of: simulate(chassis, b)))
        solved = zip(memos, known, strict=True)
        anew = {
            memo._function.__module__.rsplit(".", 1)[1] for memo, rows in solved if len(memo._kept) > len(rows)
        }
        took.setdefault(tuple(sorted(anew)), []).append(best)
    with capsys.disabled():
        print()
        for anew, times in sorted(took.items(), key=lambda item: -len(item[1])):
            print(
                f"{name}: {len(times)} faults with {' and '.join(anew) or 'nothing'} solved anew:"
                f" {1e3 * np.median(times):.1f} ms in the median, {1e3 * max(times):.0f} ms at most"
            )

    assert took


def processor_s() -> tuple[float, float]:
    """Return the processor time of this process, and that of the processes that it has waited for."""
    spent = os.times()
    return spent.user + spent.system, spent.children_user + spent.children_system


@pytest.mark.benchmark
@pytest.mark.parametrize("draws", [24, 192])
def test_what_a_pool_costs(draws: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Two processes give the tables of one; the processor time of both says what free cores would save.

    On a machine that is busy with other work the clock on the wall says little, so it is only printed.
    """
    library = shipped()
    took = {}
    for workers in (1, 2):
        chassis = load_chassis("dunlin-24", library)
        wall, before = time.perf_counter(), processor_s()
        tables = build_tables(chassis, library, draws=draws, workers=workers)
        own, others = (now - then for now, then in zip(processor_s(), before, strict=True))
        took[workers] = (time.perf_counter() - wall, own, others, tables.numbers["b-plus.dc"])
    alike = np.mean(np.isclose(took[1][3], took[2][3], rtol=1e-4))
    free = took[2][1] + took[2][2] / 2.0
    with capsys.disabled():
        print(
            f"\n{draws} sets of each fault, {os.cpu_count()} cores: one process {took[1][1]:.1f} s of processor;"
            f" two {took[2][2]:.1f} s together beside {took[2][1]:.1f} s of the first"
            f" ({took[1][0]:.1f} and {took[2][0]:.1f} s on the wall):"
            f" with two free cores {free:.1f} s, {took[1][1] / free:.2f} times as fast;"
            f" {alike:.2%} of the readings of B+ are the same to a ten-thousandth"
        )

    assert alike > 0.99
