"""Every formula says what it means, in which units, with which source, and shows a worked example."""

import importlib
import inspect
import pkgutil
import re

import pytest

import backporch.engine.circuits
from backporch.engine.circuits.formula import formula_of
from backporch.engine.units import unit_of_name


def _formulas():
    """Give every public function of the circuits that carries a formula."""
    for info in pkgutil.iter_modules(backporch.engine.circuits.__path__):
        module = importlib.import_module(f"backporch.engine.circuits.{info.name}")
        for name in getattr(module, "__all__", ()):
            thing = getattr(module, name)
            if callable(thing) and formula_of(thing) and thing.__module__ == module.__name__:
                yield pytest.param(thing, id=f"{info.name}.{name}")


FORMULAS = list(_formulas())


def _public():
    """Give every public function of the circuits, those that only other modules of the circuits use too."""
    for info in pkgutil.iter_modules(backporch.engine.circuits.__path__):
        module = importlib.import_module(f"backporch.engine.circuits.{info.name}")
        for name, thing in sorted(vars(module).items()):
            ours = inspect.isfunction(thing) and thing.__module__ == module.__name__
            if ours and not name.startswith("_"):
                yield pytest.param(module, thing, id=f"{info.name}.{name}")


PUBLIC = list(_public())


@pytest.mark.parametrize(("module", "function"), PUBLIC)
class TestEveryPublicFunction:
    def test_has_all_its_sections(self, module, function):
        """Meaning, arguments, result, errors, source and a worked example stand in each docstring."""
        doc = inspect.getdoc(function)
        missing = [
            part for part in ("Args:", "Returns:", "Raises:", "Source:", "Example", ">>>") if part not in doc
        ]

        assert missing == []
        assert function.__name__ in module.__all__

    def test_names_every_argument(self, module, function):
        """Each argument is explained."""
        block = re.search(r"Args:\n(.*?)\n\S", inspect.getdoc(function), re.S).group(1)

        assert module
        for name in inspect.signature(function).parameters:
            assert re.search(rf"^ +{name}: ", block, re.M), name


@pytest.mark.parametrize("function", FORMULAS)
class TestEveryFormula:
    def test_has_all_its_sections(self, function):
        """Meaning, arguments, result, errors, source and a worked example stand in each docstring."""
        doc = inspect.getdoc(function)
        missing = [part for part in ("Args:", "Returns:", "Raises:", "Source:", ">>>") if part not in doc]

        assert missing == []
        assert doc.splitlines()[0].endswith(".")

    def test_names_every_argument(self, function):
        """Each argument is explained, and where its name ends in a unit the unit stands in brackets."""
        doc = inspect.getdoc(function)
        block = re.search(r"Args:\n(.*?)\n\S", doc, re.S).group(1)
        for name in inspect.signature(function).parameters:
            told = re.search(rf"^ +{name}: (.*?)(?=\n    \w+: |\Z)", block, re.S | re.M)
            assert told, name
            unit = unit_of_name(name)
            if unit and unit != "lines":
                assert "[" in told.group(1), name

    def test_says_what_shape_comes_back(self, function):
        """A formula says whether it gives a number, an array, or a class of them."""
        doc = inspect.getdoc(function)
        block = re.search(r"Returns:\n(.*?)(?=\n\S)", doc, re.S).group(1)

        assert re.search(r"array|:class:|scalar|float|bool", block)

    def test_its_formula_uses_its_arguments(self, function):
        """The formula that is shown to the user is written with the names of the arguments."""
        names = set(inspect.signature(function).parameters)
        words = set(re.findall(r"[A-Za-z_][A-Za-z0-9_]*", formula_of(function)))

        assert names & words or len(formula_of(function)) > 20


def test_there_are_many():
    """The circuits hold more than a hundred formulas, and every one is among their public functions."""
    assert len(FORMULAS) > 100
    assert {param.id for param in FORMULAS} <= {param.id for param in PUBLIC}
