"""The public surface of the analysis, and the examples in its docstrings."""

import doctest
from importlib import import_module
from pkgutil import walk_packages

import pytest

from archive import analysis

MODULES = sorted(one.name for one in walk_packages(analysis.__path__, "archive.analysis."))


@pytest.mark.parametrize("module", MODULES)
def test_the_examples_of_docstrings_hold(module: str) -> None:
    assert doctest.testmod(import_module(module)).failed == 0


def test_each_public_name_is_found_in_a_module_that_is_there() -> None:
    assert set(analysis.FOUND_IN.values()) <= set(MODULES)


def test_each_public_name_is_there_and_has_a_docstring() -> None:
    for name in analysis.__all__:
        assert getattr(analysis, name).__doc__, name
        assert name in dir(analysis)
    with pytest.raises(AttributeError, match="no 'guess'"):
        _ = analysis.guess
