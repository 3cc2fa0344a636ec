# SPDX-License-Identifier: MIT
"""The tables of a fault dictionary: every single fault of a chassis simulated on the same few healthy sets.

The sets have random part values and mains and their controls set right; severities are spread over the range of
each fault.  Much work is shared out to several processes, where there are cores to be had; a little is not, since
each process has to start and to solve afresh what another has solved.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis, all_hypotheses
from backporch.engine.chassis.metering import as_read
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.observations import OBSERVATIONS, observe
from backporch.engine.chassis.parts import Batch, part_names, with_fault_draws
from backporch.engine.knowledge.library import Library

if TYPE_CHECKING:
    from backporch.engine.chassis.simulator import Result

__all__ = ["DRAWS", "SEED", "Tables", "Watch", "build_tables", "workers_for"]

Watch: TypeAlias = Callable[[Sequence[int]], Iterator[int]]
"""Gives the pieces of some work one by one, so that somebody can see how far it is."""

DRAWS = 24
SEED = 17
_AT_ONCE = 60
_PAYS_FROM = 60_000
"""Sets from which further processes pay; the usual dictionary has some 20,000.  See tests/benchmarks."""


@dataclass(frozen=True)
class Tables:
    """What the simulations gave, before any reliability: the part of a dictionary that is kept on disk."""

    numbers: Mapping[str, NDArray[np.float32]]
    """Readings by "point.quantity", shape (listed hypotheses, draws)."""
    healthy: Mapping[str, NDArray[np.float32]]
    """Readings of the healthy sets by "point.quantity"."""
    outcomes: Mapping[str, NDArray[np.float32]]
    """Frequency of each outcome by observation, shape (outcomes, listed hypotheses)."""
    healthy_outcomes: Mapping[str, NDArray[np.float32]]
    """Frequency of each outcome in healthy sets."""
    picture: Mapping[str, NDArray[np.float32]]
    """Picture state by quantity, shape (listed hypotheses, draws)."""
    source_ohm: Mapping[str, NDArray[np.float32]]
    """Resistance behind each direct voltage by "point.dc", shape (listed hypotheses, draws)."""
    healthy_source_ohm: Mapping[str, NDArray[np.float32]]
    """The same of the healthy sets."""


def workers_for(sets: int, cores: int | None = None) -> int:
    """Return how many processes suit a number of sets to be simulated.

    Args:
        sets: Faults times draws.
        cores: Processors to be had; those of this machine by default.

    Example: the usual dictionary takes one, a large one takes two.
        >>> workers_for(20_000, cores=2), workers_for(160_000, cores=2)
        (1, 2)
    """
    return (cores or os.cpu_count() or 1) if sets >= _PAYS_FROM else 1


def build_tables(
    chassis: Chassis,
    library: Library,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    at_once: int = _AT_ONCE,
    workers: int | None = None,
    watch: Watch = iter,
) -> Tables:
    """Simulate every listed fault of a chassis, in as many processes as are wanted or, unsaid, as pay.

    The tables agree for any number of workers to some ten-thousandths, which is what solvers leave open; ``watch``
    hands on the pieces, perhaps with a bar.
    """
    from backporch.engine.chassis.simulator import Bench, adjusted, simulate

    base = adjusted(chassis, draws, seed)
    none = _tables_of(simulate(chassis, base, Bench()), draws)
    listed = [h for h in all_hypotheses(chassis, library) if h.part]
    jobs = [(listed[n : n + at_once], seed + n) for n in range(0, len(listed), at_once)]
    wanted = workers_for(len(listed) * draws) if workers is None else workers
    if wanted > 1:
        given = _Given(chassis.name, draws, seed, chassis, base.tolerance, base.mains, dict(base.trims))
        parts = _shared_out(given, jobs, min(wanted, len(jobs)), watch)
    else:
        parts = [_simulated(chassis, base, jobs[n]) for n in watch(range(len(jobs)))]
    return Tables(
        numbers=_joined([p.numbers for p in parts], 0),
        healthy={key: values[0] for key, values in none.numbers.items()},
        outcomes=_joined([p.outcomes for p in parts], 1),
        healthy_outcomes={key: values[:, 0] for key, values in none.outcomes.items()},
        picture=_joined([p.picture for p in parts], 0),
        source_ohm=_joined([p.source_ohm for p in parts], 0),
        healthy_source_ohm={key: values[0] for key, values in none.source_ohm.items()},
    )


_Job: TypeAlias = "tuple[list[Hypothesis], int]"


@dataclass(frozen=True)
class _Given:
    """What every piece of one build starts from; told apart by chassis, number of sets and seed alone."""

    name: str
    draws: int
    seed: int
    chassis: Chassis = field(compare=False)
    tolerance: NDArray[np.float64] = field(compare=False)
    mains: NDArray[np.float64] = field(compare=False)
    trims: Mapping[str, NDArray[np.float64]] = field(compare=False)


def _shared_out(given: _Given, jobs: Sequence[_Job], workers: int, watch: Watch) -> list[Tables]:
    """Simulate in several processes, each of which takes the next piece when it is done with one."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) as pool:
        done = pool.map(partial(_elsewhere, given), jobs)
        return [next(done) for _ in watch(range(len(jobs)))]


def _elsewhere(given: _Given, job: _Job) -> Tables:
    return _simulated(*_opened(given), job)


@lru_cache(maxsize=1)
def _opened(given: _Given) -> tuple[Chassis, Batch]:
    """Return chassis and sets; the same objects for every piece, so that what is solved for one is remembered."""
    return given.chassis, Batch(part_names(given.chassis), given.tolerance, given.mains, trims=given.trims)


def _simulated(chassis: Chassis, base: Batch, job: _Job) -> Tables:
    from backporch.engine.chassis.simulator import Bench, simulate

    return _tables_of(simulate(chassis, _faulty(base, *job), Bench()), base.draws)


def _faulty(base: Batch, hypotheses: Sequence[Hypothesis], seed: int) -> Batch:
    return with_fault_draws(base, [h.fault for h in hypotheses], seed)


def _tables_of(result: Result, draws: int) -> Tables:
    numbers = {key: as_read(result, key).reshape(-1, draws).astype(np.float32) for key in sorted(result.values)}
    outcomes = {name: _frequencies(observe(name, result), len(OBSERVATIONS[name]), draws) for name in OBSERVATIONS}
    picture = {key: v.reshape(-1, draws).astype(np.float32) for key, v in sorted(result.picture.items())}
    behind = {
        key: np.broadcast_to(result.source_ohm[key], result.values[key].shape)
        .reshape(-1, draws)
        .astype(np.float32)
        for key in numbers
        if key.endswith(".dc")
    }
    return Tables(numbers, {}, outcomes, {}, picture, behind, {})


def _frequencies(indices: NDArray[np.intp], count: int, draws: int) -> NDArray[np.float32]:
    table = indices.reshape(-1, draws)
    return np.stack([(table == n).mean(axis=1) for n in range(count)]).astype(np.float32)


def _joined(pieces: Sequence[Mapping[str, NDArray[np.float32]]], axis: int) -> dict[str, NDArray[np.float32]]:
    return {key: np.concatenate([piece[key] for piece in pieces], axis=axis) for key in pieces[0]}
