"""What is new in a set is suspected less."""

from __future__ import annotations

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry


def test_the_answer_which_parts_are_new_shifts_the_priors() -> None:
    """A new paper capacitor is seldom leaky and oftener a wrong value, whether named alone or with its kind."""
    workbench = make_workbench("plover-17")
    ids = [h.id for h in workbench.faults.hypotheses]
    recapped = Entry("circumstance", "condition", "partly-recapped")
    plain = assess(workbench, [recapped]).prior
    capacitors = assess(workbench, [recapped, Entry("circumstance", "renewed", "capacitors")]).prior
    one = assess(workbench, [recapped, Entry("repair", "C36", "renewed")]).prior

    leaky, wrong = ids.index("C36:leaky"), ids.index("C36:wrong-value")
    assert capacitors[leaky] < 0.1 * plain[leaky]
    assert capacitors[wrong] > 5.0 * plain[wrong]
    assert one[leaky] < 0.1 * plain[leaky]
