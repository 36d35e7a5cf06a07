"""Every example in a docstring of the package runs, and shows what it says."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import numpy as np
import pytest

import quietleaf

MODULES = [found.name for found in pkgutil.walk_packages(quietleaf.__path__, prefix="quietleaf.")]
SHOWN = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS


@pytest.mark.parametrize("name", MODULES)
def test_examples_show_what_they_say(name: str) -> None:
    module = importlib.import_module(name)
    report: list[str] = []
    runner = doctest.DocTestRunner(optionflags=SHOWN)
    for example in doctest.DocTestFinder().find(module, extraglobs={"np": np}):
        runner.run(example, out=report.append)
    assert runner.failures == 0, "".join(report)
