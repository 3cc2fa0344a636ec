"""Every worked example in a docstring holds."""

import doctest
import importlib
import pkgutil

import pytest

import backporch.engine
import backporch.rules


def _modules():
    for package in (backporch.engine, backporch.rules):
        for info in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            yield info.name


@pytest.mark.parametrize("name", sorted(_modules()))
def test_worked_examples_hold(name):
    """The examples of the module give what they say."""
    module = importlib.import_module(name)

    failed, _ = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)

    assert failed == 0
