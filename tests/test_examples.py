"""The examples in docstrings of the package do what they say, without a warning."""

import doctest
import importlib
from pathlib import Path

import pytest

import layout3d

PACKAGE = Path(layout3d.__file__).parent
MODULES = sorted(
    ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    for file in PACKAGE.rglob("*.py")
    if ">>>" in file.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("module", MODULES)
def test_examples_do_what_they_say(module, capsys):
    found = doctest.testmod(importlib.import_module(module))
    assert found.attempted
    assert not found.failed, capsys.readouterr().out
