"""Figures of the virtual chassis: speed, silent faults, twins.  Prints, and gates on little."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from backporch.engine.chassis.audit import silent_faults, twins
from backporch.engine.chassis.dictionary import Dictionary, build_tables
from backporch.engine.chassis.hypotheses import all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import draw_batch, healthy_batch
from backporch.engine.chassis.simulator import simulate
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
    faulty = [seconds(lambda f=f: simulate(chassis, healthy_batch(chassis, [f], severity=0.4))) for f in faults]
    many = sum(seconds(lambda n=n: simulate(chassis, draw_batch(chassis, 1000, seed=100 + n))) for n in range(10))
    start = time.process_time()
    tables = build_tables(chassis, library)
    built = time.process_time() - start
    dictionary = Dictionary(chassis, library, tables)
    groups = twins(dictionary)
    with capsys.disabled():
        print(
            f"\n{name}: one simulation {1e3 * single:.0f} ms healthy,"
            f" {1e3 * np.median(faulty):.0f} ms with a new fault"
            f" (nine in ten below {1e3 * np.quantile(faulty, 0.9):.0f}), 10,000 draws {many:.1f} s,"
            f" dictionary {built:.1f} s, {len(dictionary.hypotheses)} hypotheses,"
            f" {len(dictionary.offers)} measurements,"
            f" {len(silent_faults(dictionary))} silent,"
            f" {sum(map(len, groups))} in {len(groups)} groups of twins"
        )

    assert built < 60


@pytest.mark.benchmark
def test_a_pool_scales(capsys: pytest.CaptureFixture[str]) -> None:
    """Two processes give the same tables; how much sooner depends on the cores at hand."""
    library = shipped()
    chassis = load_chassis("plover-17", library)
    took = {}
    for workers in (1, 2):
        start = time.perf_counter()
        tables = build_tables(chassis, library, workers=workers)
        took[workers] = (time.perf_counter() - start, tables.numbers["b-plus.dc"])
    with capsys.disabled():
        print(f"\n{os.cpu_count()} cores: one process {took[1][0]:.1f} s, two {took[2][0]:.1f} s")

    np.testing.assert_allclose(took[1][1], took[2][1], rtol=1e-6)
