"""Every expected value is followed back, formula by formula, to part values, design figures and sweep rates."""

import re

import numpy as np
import pytest

from backporch.engine.chassis.explained import leaves, steps_of
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Bench, simulate
from backporch.engine.chassis.tracing import Tracer, node_of
from backporch.engine.knowledge.library import shipped

LIBRARY = shipped()
CHASSIS = {name: load_chassis(name, LIBRARY) for name in LIBRARY.chassis_names()}
RECORDED = {name: simulate(c, healthy_batch(c), Bench(record=True)) for name, c in CHASSIS.items()}
PLAIN = {name: simulate(c, healthy_batch(c)) for name, c in CHASSIS.items()}
POINTS = {
    name: [key for key in RECORDED[name].values if key.rpartition(".")[0] in chassis.test_points]
    for name, chassis in CHASSIS.items()
}


@pytest.mark.parametrize("name", CHASSIS)
class TestEveryPoint:
    def test_recording_changes_no_value(self, name):
        """A recorded set shows what it shows without being recorded."""
        for key, value in PLAIN[name].values.items():
            assert np.allclose(value, RECORDED[name].values[key], rtol=1e-9)

    def test_has_steps_each_with_its_formula(self, name):
        """No point is without a computation, and no step without a formula and its numbers."""
        for key in POINTS[name]:
            steps = RECORDED[name].steps[key]
            assert steps
            assert all(step.formula and step.numbers and step.result for step in steps)

    def test_no_step_is_words_alone(self, name):
        """Each line has a number in it, or hands a number on under another name."""
        for key in POINTS[name]:
            titles = set()
            for step in RECORDED[name].steps[key]:
                renamed = not re.search(r"[*/(]| [-+] ", step.formula) and len(step.formula.split()) <= 6
                assert re.search(r"\d", step.numbers) or renamed, step
                titles.add(step.quantity)
            assert titles

    def test_settled_loads_are_sums_with_numbers(self, name):
        """What the stages draw from a rail is written as its sum, and not followed round in a circle."""
        steps = RECORDED[name].steps["b-plus.dc"]
        loads = [step for step in steps if step.quantity.startswith("settled_load_of_")]

        assert len(loads) == len(CHASSIS[name].rails) - 1, "the boosted rail is no load of the supply"
        assert all(re.search(r"\d m?A", step.numbers) and step.result.endswith("A") for step in loads)

    def test_chains_show_their_links(self, name):
        """Before the output stage come retrace, boost and yoke current, each with its own formula."""
        titles = [step.quantity for step in RECORDED[name].steps["boosted-b-plus.dc"]]
        here = titles.index("output stage")

        assert {"effective inductance h", "retrace", "boost", "yoke current a"} <= set(titles[:here])

    def test_ends_at_the_value(self, name):
        """The last step of each computation gives the value that the point has."""
        for key in POINTS[name]:
            value, last = float(RECORDED[name].values[key][0]), RECORDED[name].steps[key][-1]
            shown = [float(found) for found in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", last.result)]
            digits = [abs(one) / 10 ** np.floor(np.log10(abs(one))) if one else 0.0 for one in (*shown, value)]
            assert any(abs(one - digits[-1]) < 0.006 * max(digits[-1], 0.1) for one in digits[:-1])

    def test_no_computed_number_comes_from_nowhere(self, name):
        """No plain number in a computation is one that another stage has computed."""
        result = RECORDED[name]
        computed = {float(v[0]) for table in (result.values, result.inner) for v in table.values()}
        computed = {value for value in computed if float(f"{value:.5g}") != value and abs(value) > 1e-6}
        for key in POINTS[name]:
            for step_leaf in _leaves(name, key):
                assert step_leaf.kind != "constant" or step_leaf.value not in computed

    def test_rests_on_parts(self, name):
        """Rails, oscillators and sync end at part values, mains and sweep rates by name."""
        for key in (
            "b-plus.dc",
            "horizontal-oscillator-plate.pp",
            "sync-separator-plate.pp",
            "vertical-sawtooth.pp",
        ):
            found = _leaves(name, key)
            assert sum(leaf.kind == "part" for leaf in found) >= 3
            assert "mains_v" in {leaf.text for leaf in found}


def _leaves(name, key):
    return list(leaves(RECORDED[name].steps.node(key)))


class TestTracing:
    def test_a_sum_names_its_parts(self):
        """A sum of two parts is written with their names and then with their values."""
        tracer = Tracer()
        first, second = tracer.leaf("part", "R1", 4700.0, "ohm"), tracer.leaf("part", "R2", 1000.0, "ohm")
        (step,) = steps_of(node_of(tracer.named("both_ohm", first + second)))

        assert (step.formula, step.numbers, step.result) == ("R1 + R2", "4.7 k + 1 k", "5.7 k")

    def test_the_branch_not_taken_is_left_out(self):
        """Of a choice only the value that was taken is remembered."""
        tracer = Tracer()
        first, second = (
            tracer.leaf("part", "R1", np.array([4700.0])),
            tracer.leaf("part", "R2", np.array([1000.0])),
        )

        assert node_of(np.maximum(first, second)).text == "R1"
        assert node_of(np.where(np.array([False]), first, second)).text == "R2"

    def test_what_changes_nothing_is_no_step(self):
        """A milliohm of a good contact, or a factor of one, is not written."""
        tracer = Tracer()
        first = tracer.leaf("part", "R1", np.array([4700.0]))

        assert node_of(1.0 * (first + 1e-3)).text == "R1"

    def test_long_sums_are_cut_into_lines(self):
        """An expression of many operations becomes several steps of at most eight."""
        tracer = Tracer()
        parts = [tracer.leaf("part", f"R{n}", float(n), "ohm") for n in range(1, 30)]
        steps = steps_of(node_of(tracer.named("all_ohm", sum(parts[1:], parts[0]))))

        assert len(steps) > 3
        assert all(step.formula.count("+") <= 8 for step in steps)
