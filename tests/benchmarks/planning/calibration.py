"""How often the leading stage is right beside the share it is given, on all shipped chassis; prints tables.

``python tests/benchmarks/planning/calibration.py`` draws each kind of answers with eight draws of the priors a
chassis; ``--cases 15`` diagnoses for each of them.  Beside the measure stands what a tool that is calibrated
exactly would measure on as many diagnoses, since the moments of one diagnosis hang together.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np
from study import CHASSIS, interview

from backporch.engine.planning.baselines import ours
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.trials import Trial, play
from backporch.engine.session.drawn import drawn_case, expected_faults, likely_faults

Floats = np.ndarray
KINDS = {
    "the model's own answers, all faults as it expects them": (1.0, 0.0, 0.0, True, False),
    "answers that err as the knowledge base says, all faults as expected": (1.0, 0.0, 0.0, False, False),
    "priors off by two, errors doubled, one shared per stage, all faults": (2.0, 0.07, 0.07, False, False),
    "the same, faults that show": (2.0, 0.07, 0.07, False, True),
}
"""Priors off by, wrong answers beyond the usual, shared errors, as modelled, faults that show."""


@dataclass(frozen=True)
class Job:
    """One chassis with one draw of the priors."""

    kind: str
    chassis: str
    cases: int
    seed: int


def run(job: Job) -> list[Trial]:
    """Play the diagnoses of one job, one step ahead."""
    off, wrong, shared, as_modelled, showing = KINDS[job.kind]
    room = interview(job.chassis)
    faults = (likely_faults if showing else expected_faults)(room, job.cases, job.seed, off)
    policy = ours("ours", Settings(futures=0))
    cases = [drawn_case(room, n, [job.seed, k], wrong, shared, as_modelled) for k, n in enumerate(faults)]
    return [play(room.problem, case, policy) for case in cases]


def error_of(said: Floats, right: Floats) -> float:
    """Return the expected calibration error over ten bins."""
    bins = np.minimum((10 * said).astype(int), 9)
    sums = np.bincount(bins, weights=said - right, minlength=10)
    return float(np.abs(sums).sum() / len(said))


def least_error(trials: Sequence[Trial], draws: int = 200) -> float:
    """Return what a tool calibrated exactly would measure: one chance for each diagnosis decides its moments."""
    said = np.array([m[0] for t in trials for m in t.moments])
    whose = np.repeat(np.arange(len(trials)), [len(t.moments) for t in trials])
    random = np.random.default_rng(1)
    found = [error_of(said, (random.random(len(trials))[whose] < said).astype(float)) for _ in range(draws)]
    return float(np.mean(found))


def spread(groups: Sequence[Sequence[Trial]]) -> float:
    """Return the standard error of the calibration error over draws of the priors, by leaving out each in turn."""
    left = [_measure([t for other in groups if other is not group for t in other]) for group in groups]
    count = len(left)
    return float(((count - 1) / count * np.sum((np.array(left) - np.mean(left)) ** 2)) ** 0.5)


def _measure(trials: Sequence[Trial]) -> float:
    moments = [m for t in trials for m in t.moments]
    return error_of(np.array([m[0] for m in moments]), np.array([m[1] for m in moments], dtype=float))


def table(groups: Sequence[Sequence[Trial]]) -> Iterator[str]:
    """Give the lines of one reliability table."""
    trials = [t for group in groups for t in group]
    moments = [m for t in trials for m in t.moments]
    said, right = np.array([m[0] for m in moments]), np.array([m[1] for m in moments], dtype=float)
    yield f"{len(trials)} diagnoses, {len(groups)} draws of the priors: expected calibration error "
    yield f"{_measure(trials):.3f} (s.e. {spread(groups):.3f}); exactly calibrated {least_error(trials):.3f}; "
    yield f"said less right {np.mean(said - right):+.3f}; "
    yield f"the stage leads at the end in {np.mean([t.stage_right for t in trials]):.1%}"
    yield "| said | moments | mean said | right |\n| --- | --- | --- | --- |"
    for low in range(10):
        inside = np.minimum((10 * said).astype(int), 9) == low
        if inside.any():
            row = f"{inside.sum()} | {said[inside].mean():.1%} | {right[inside].mean():.1%} |"
            yield f"| {10 * low} to {10 * low + 10} % | {row}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print one table for each kind of answers."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--draws", type=int, default=8)
    options.add_argument("--cases", type=int, default=15)
    options.add_argument("--seed", type=int, default=2026)
    options.add_argument("--workers", type=int, default=2)
    wanted = options.parse_args(arguments)
    with ProcessPoolExecutor(wanted.workers, get_context("spawn")) as pool:
        for kind in KINDS:
            jobs = [
                Job(kind, chassis, wanted.cases, wanted.seed + draw)
                for chassis in CHASSIS
                for draw in range(wanted.draws)
            ]
            print(f"\n{kind}: " + "\n".join(table(list(pool.map(run, jobs)))), flush=True)


if __name__ == "__main__":
    main()
