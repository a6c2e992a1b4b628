"""What a registry finds: one thing a name, wherever in the package it stands."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from layout3d.registry import found_in


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ModuleType]:
    """A package of two modules: one makes two numbers, the other takes over the first and makes a word."""
    folder = tmp_path / "shelf_of_numbers"
    folder.mkdir()
    (folder / "__init__.py").write_text("")
    (folder / "first.py").write_text("one, two = complex(1), complex(2)")
    (folder / "second.py").write_text("from shelf_of_numbers.first import one; word = 'no number'")
    monkeypatch.syspath_prepend(str(tmp_path))
    yield importlib.import_module("shelf_of_numbers")
    for name in [name for name in sys.modules if name.startswith("shelf_of_numbers")]:
        del sys.modules[name]


def test_finds_each_thing_once_and_leaves_out_what_has_no_name(package: ModuleType) -> None:
    assert found_in(package, complex, lambda n: f"n{n.real:g}") == {"n1": 1, "n2": 2}
    assert found_in(package, complex, lambda n: "big" if n.real > 1 else None) == {"big": 2}


def test_refuses_one_name_for_two_things(package: ModuleType) -> None:
    with pytest.raises(RuntimeError, match="two in shelf_of_numbers are called 'number'"):
        found_in(package, complex, lambda n: "number")
