"""Every class of formulas agrees with what it is compared with as closely as it must; the guide has the table.

``python tests/benchmarks/test_agreement.py`` prints the table and writes it into DEVELOPERS.md.
"""

from __future__ import annotations

import importlib
import pkgutil
import textwrap
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml

from backporch.engine import circuits
from backporch.engine.circuits.formula import formula_of
from backporch.engine.knowledge.library import shipped

HERE = Path(__file__).parent
GUIDE = HERE.parents[1] / "DEVELOPERS.md"
BEGIN, END = "<!-- agreement: written by tests/benchmarks/test_agreement.py -->\n", "<!-- end of agreement -->\n"
DATUM = "Tube fits at their datum point: currents and slopes"
HELD_OUT = "Tube fits at published points that were left out of the fit: currents and slopes"
ROUGH = "Tube fits at points left out: plate resistance of pentodes, which makers print as approximate"
USED = "Tube fits at the edges of use, which no other point tells of: cut-off, knee, full drive"
APART = "Tube fits at a point that is the middle of wide limits, 1.3 to 3.7 mA/V, and contradicts the datum"
SIMULATED, INTEGRATED, PUBLISHED, BY_HAND = "circuit simulator", "integration", "publication", "by hand"
WORDS = {
    SIMULATED: ("ngspice",),
    INTEGRATED: ("scipy", "integrat", "stepped", "followed in steps"),
    BY_HAND: ("worked by hand", "proportion", "definition", "1 / ", "lines, two to one"),
}


@dataclass(frozen=True)
class Row:
    """One comparison: class, formula, what with, and the error."""

    group: str
    formula: str
    kind: str
    error: float


def _content(path):
    return yaml.safe_load(path.read_text(encoding="utf-8"))


CLASSES = _content(HERE / "agreement.yaml")["classes"]
WITHIN = (
    {group["title"]: group["within"] for group in CLASSES}
    | {DATUM: 0.05, HELD_OUT: 0.15}
    | {
        ROUGH: 0.20,
        USED: 0.25,
        APART: 0.25,
    }
)


def _kind(reference):
    return next((kind for kind, words in WORDS.items() if any(word in reference for word in words)), PUBLISHED)


def _group(formula, reference):
    """Return the class of a comparison: by its rough reference, else by the longest name that fits."""
    for group in CLASSES:
        if any(reference.startswith(rough) for rough in group.get("rough", ())):
            return group["title"]
    names = {name: group["title"] for group in CLASSES for name in group["of"]}
    module = formula.split(".", maxsplit=1)[0]
    return names.get(formula) or names.get(module)


def _rows():
    for path in sorted((HERE / "reference_table").glob("*.yaml")):
        for row in _content(path):
            if row["case"].startswith("datum, "):
                continue
            yield Row(
                _group(row["formula"], row["reference"]), row["formula"], _kind(row["reference"]), row["error"]
            )
    for fit in shipped().tube_fits.values():
        for point in fit.points:
            for quantity, group, error in _of_point(fit.kind, point):
                formula = "tube_diodes.diode_drop_v" if fit.kind == "diode" else _formula_of(quantity)
                yield Row(group, formula, PUBLISHED, error)


def _of_point(kind, point):
    """Give each figure of a published point with its class and its error."""
    for quantity, error in point.error.items():
        if point.use == "datum":
            yield quantity, DATUM, error
        elif point.use == "apart":
            yield quantity, APART, error
        elif quantity not in point.left_out:
            yield quantity, USED, error
    for quantity, error in point.left_out.items():
        rough = kind == "pentode" and quantity == "plate_resistance_ohm"
        yield quantity, ROUGH if rough else HELD_OUT, error


def _formula_of(quantity):
    named = {"plate_a": "plate_current_a", "screen_a": "screen_current_a", "grid_v": "cut_off_v"}
    return f"tubes.{named.get(quantity, 'small_signal')}"


ROWS = tuple(_rows())


def table():
    """Return the table as lines of Markdown."""
    lines = ["| formula | compared with | cases | largest error |", "|---|---|---|---|"]
    for group, within in WITHIN.items():
        found = defaultdict(list)
        for row in ROWS:
            if row.group == group:
                found[row.formula, row.kind].append(abs(row.error))
        errors = [error for several in found.values() for error in several]
        allowed = f"{100 * within:g}%"
        lines.append(f"| **{group}**: within {allowed} | | {len(errors)} | **{max(errors):.2%}** |")
        lines += [
            f"| {formula} | {kind} | {len(several)} | {max(several):.2%} |"
            for (formula, kind), several in sorted(found.items())
        ]
    return [line.replace("%", " %") for line in lines]


def uncompared():
    """Return the formulas that rest on their worked example alone."""
    known = {row.formula for row in ROWS}
    return sorted(set(FORMULAS) - known)


def _formulas():
    """Give the name of every public formula of the circuits."""
    for info in pkgutil.iter_modules(circuits.__path__):
        module = importlib.import_module(f"{circuits.__name__}.{info.name}")
        for name in getattr(module, "__all__", ()):
            if formula_of(getattr(module, name)) and getattr(module, name).__module__ == module.__name__:
                yield f"{info.name}.{name}"


FORMULAS = tuple(_formulas())


def _wrapped():
    count = {kind: sum(row.kind == kind for row in ROWS) for kind in (PUBLISHED, INTEGRATED, SIMULATED, BY_HAND)}
    told = (
        f"{len(ROWS)} comparisons: {count[PUBLISHED]} with publications, {count[INTEGRATED]} with an independent"
        f" integration, {count[SIMULATED]} with a circuit simulator, {count[BY_HAND]} worked by hand."
    )
    names = ", ".join(uncompared())
    words = f"Formulas that rest on their worked example and on tests of their limits alone: {names}."
    return ["", *textwrap.wrap(told, 118), "", *textwrap.wrap(words, 118)]


def written(text):
    """Return the guide with the table of today."""
    head, rest = text.split(BEGIN)
    return head + BEGIN + "\n".join([*table(), *_wrapped()]) + "\n" + END + rest.split(END)[1]


class TestClasses:
    @pytest.mark.parametrize("group", WITHIN)
    def test_holds(self, group):
        """No comparison of the class is further off than the class allows."""
        errors = {(row.formula, row.kind, row.error) for row in ROWS if row.group == group}

        assert errors
        assert [one for one in errors if abs(one[2]) > WITHIN[group]] == []

    def test_every_comparison_has_a_class(self):
        """No row of the reference tables stands outside the classes."""
        assert {row.formula for row in ROWS if row.group is None} == set()

    def test_names_are_those_of_formulas(self):
        """Every name in the list of classes is a module or a formula that there is."""
        known = {*FORMULAS, *(name.split(".")[0] for name in FORMULAS)}

        assert {name for group in CLASSES for name in group["of"]} <= known

    def test_most_formulas_are_compared(self):
        """At least half of the formulas are compared with something outside the project."""
        assert len(uncompared()) < 0.5 * len(FORMULAS)

    @pytest.mark.parametrize("kind", [SIMULATED, INTEGRATED, PUBLISHED])
    def test_each_kind_of_reference_is_used(self, kind):
        """Publications, integrations and a circuit simulator all have a say."""
        assert sum(row.kind == kind for row in ROWS) > 20


class TestGuide:
    def test_has_the_table_of_today(self):
        """The contributor guide has the table that the comparisons give."""
        text = GUIDE.read_text(encoding="utf-8")
        print("\n".join(table()))

        assert text == written(text), "run python tests/benchmarks/test_agreement.py"


if __name__ == "__main__":
    GUIDE.write_text(written(GUIDE.read_text(encoding="utf-8")), encoding="utf-8")
    print("\n".join(table()))
