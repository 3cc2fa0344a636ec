"""Figures of the virtual chassis: speed, silent faults, twins.  Prints, and gates on little."""

from __future__ import annotations

import time

import pytest

from backporch.engine.chassis.audit import silent_faults, twins
from backporch.engine.chassis.dictionary import Dictionary, build_tables
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import draw_batch, healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.knowledge.library import shipped

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")


def seconds(work: object) -> float:
    """Return how long a call takes."""
    start = time.perf_counter()
    work()  # type: ignore[operator]
    return time.perf_counter() - start


@pytest.mark.benchmark
@pytest.mark.parametrize("name", CHASSIS)
def test_speed_and_reach(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Times of one simulation, a batch and a dictionary; what the dictionary cannot tell."""
    library = shipped()
    chassis = load_chassis(name, library)
    healthy = healthy_batch(chassis)
    simulate(chassis, healthy)
    single = min(seconds(lambda: simulate(chassis, healthy)) for _ in range(5))
    thousand = draw_batch(chassis, 1000, seed=3)
    batch = seconds(lambda: simulate(chassis, thousand))
    start = time.perf_counter()
    tables = build_tables(chassis, library)
    built = time.perf_counter() - start
    dictionary = Dictionary(chassis, library, tables)
    groups = twins(dictionary)
    with capsys.disabled():
        print(
            f"\n{name}: one simulation {1e3 * single:.0f} ms, 1,000 draws {batch:.2f} s, dictionary {built:.1f} s,"
            f" {len(dictionary.hypotheses)} hypotheses, {len(dictionary.offers)} measurements,"
            f" {len(silent_faults(dictionary))} silent, {sum(map(len, groups))} in {len(groups)} groups of twins"
        )

    assert built < 60
