"""The same posterior beside two general-purpose Bayesian network libraries, where they are installed.

They are no dependencies: `pip install pgmpy pyagrum` first, or the comparison is skipped and says so.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from backporch.engine.planning.trials import ruled_by_likelihood

FAULTS, TESTS, OUTCOMES, READ = 150, 120, 5, 10
RANDOM = np.random.default_rng(7)
PRIOR = RANDOM.dirichlet(np.ones(FAULTS))
TABLES = RANDOM.dirichlet(np.ones(OUTCOMES), (TESTS, FAULTS)).transpose(0, 2, 1)
ANSWERS = {n: int(RANDOM.integers(OUTCOMES)) for n in range(READ)}


def ours() -> np.ndarray:
    """Return the posterior by our arithmetic."""
    return ruled_by_likelihood(PRIOR, [("", TABLES[n, answer]) for n, answer in ANSWERS.items()])


def by_pgmpy() -> Callable[[], np.ndarray]:
    """Return how pgmpy computes it, its network built."""
    models = pytest.importorskip("pgmpy.models", reason="pgmpy is not installed")
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    network = models.DiscreteBayesianNetwork([("fault", f"t{n}") for n in range(TESTS)])
    network.add_cpds(TabularCPD("fault", FAULTS, PRIOR[:, None]))
    network.add_cpds(*(TabularCPD(f"t{n}", OUTCOMES, TABLES[n], ["fault"], [FAULTS]) for n in range(TESTS)))
    asked = VariableElimination(network)
    evidence = {f"t{n}": answer for n, answer in ANSWERS.items()}
    return lambda: np.asarray(asked.query(["fault"], evidence=evidence, show_progress=False).values)


def by_pyagrum() -> Callable[[], np.ndarray]:
    """Return how pyagrum computes it, its network built."""
    gum = pytest.importorskip("pyagrum", reason="pyagrum is not installed")
    network = gum.BayesNet()
    fault = network.add(gum.LabelizedVariable("fault", "", FAULTS))
    network.cpt(fault).fillWith(PRIOR.tolist())
    for n in range(TESTS):
        test = network.add(gum.LabelizedVariable(f"t{n}", "", OUTCOMES))
        network.addArc(fault, test)
        network.cpt(test).fillWith(TABLES[n].T.ravel().tolist())

    def posterior() -> np.ndarray:
        asked = gum.LazyPropagation(network)
        asked.setEvidence({f"t{n}": answer for n, answer in ANSWERS.items()})
        asked.addTarget("fault")
        return np.asarray(asked.posterior("fault").toarray())

    return posterior


def milliseconds(work: Callable[[], object]) -> float:
    """Return the least time of seven calls."""
    taken = []
    for _ in range(7):
        start = time.perf_counter()
        work()
        taken.append(1e3 * (time.perf_counter() - start))
    return min(taken)


@pytest.mark.benchmark
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("library", [by_pgmpy, by_pyagrum], ids=["pgmpy", "pyagrum"])
def test_same_posterior(
    library: Callable[[], Callable[[], np.ndarray]], capsys: pytest.CaptureFixture[str]
) -> None:
    """The posterior of one fault given ten readings is theirs to a billionth."""
    theirs = library()
    difference = float(np.abs(theirs() - ours()).max())
    own, other = milliseconds(ours), milliseconds(theirs)
    with capsys.disabled():
        print(f"\n{library.__name__}: greatest difference {difference:.1e}")
        print(f"{own:.3f} ms ours, {other:.3f} ms theirs, {other / own:.0f} to 1")

    assert difference < 1e-9
