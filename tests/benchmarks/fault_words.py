"""Lists what every single fault of a receiver shows, for somebody who knows the trade to read through.

``python tests/benchmarks/fault_words.py plover-17``: one line a fault, stage by stage; behind a symptom stands
in how many of the sets it shows, where not in all.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from backporch.engine.chassis.hypotheses import Hypothesis, all_hypotheses
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import with_fault_draws
from backporch.engine.chassis.simulator import adjusted, simulate
from backporch.engine.chassis.words import symptom_flags
from backporch.engine.knowledge.library import shipped

SETS = 5
AT_ONCE = 60


def words(name: str) -> Iterator[tuple[Hypothesis, dict[str, int]]]:
    """Give each fault with the number of sets that show each symptom."""
    library = shipped()
    chassis = load_chassis(name, library)
    listed = [h for h in all_hypotheses(chassis, library) if h.part]
    base = adjusted(chassis, SETS, seed=5)
    for first in range(0, len(listed), AT_ONCE):
        some = listed[first : first + AT_ONCE]
        result = simulate(chassis, with_fault_draws(base, [h.fault for h in some], seed=3))
        flags = symptom_flags(result.picture, library.picture_words)
        for n, hypothesis in enumerate(some):
            sets = slice(n * SETS, (n + 1) * SETS)
            yield hypothesis, {symptom: int(f[sets].sum()) for symptom, f in flags.items() if f[sets].any()}


if __name__ == "__main__":
    stage = ""
    for hypothesis, shown in sorted(words(sys.argv[1]), key=lambda pair: (pair[0].stage, pair[0].id)):
        if hypothesis.stage != stage:
            stage = hypothesis.stage
            print(f"\n{stage}")
        told = ", ".join(symptom if count == SETS else f"{symptom} ({count})" for symptom, count in shown.items())
        print(f"  {hypothesis.title}: {told or 'nothing'}")
