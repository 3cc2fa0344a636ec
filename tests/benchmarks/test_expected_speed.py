"""How long all points of a chassis take, alone and for many healthy sets at once.  Prints, and gates on little."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import draw_batch, healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.knowledge.library import shipped

DRAWS = (100, 1_000, 10_000)


def _seconds(work: Callable[[], object]) -> float:
    """Return the processor time of a call: what else the machine does counts little."""
    start = time.process_time()
    work()
    return time.process_time() - start


@pytest.mark.benchmark
@pytest.mark.parametrize("name", shipped().chassis_names())
def test_all_points(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """All points of one set come in milliseconds, and the time of many sets grows no faster than their number."""
    chassis = load_chassis(name, shipped())
    healthy = healthy_batch(chassis)
    simulate(chassis, healthy)
    single = min(_seconds(lambda: simulate(chassis, healthy)) for _ in range(9))
    batches = {n: draw_batch(chassis, n, seed=5) for n in DRAWS}
    many = {n: _seconds(lambda b=batch: simulate(chassis, b)) for n, batch in batches.items()}
    with capsys.disabled():
        told = ", ".join(f"{n:,} sets {seconds:.2f} s" for n, seconds in many.items())
        print(f"\n{name}: all points in {1e3 * single:.1f} ms; in one call {told}")

    assert many[10_000] < 15 * many[1_000]
