"""What the bench of the window waits for, with a stand-in for the window: no time is tested."""

import importlib.util
from pathlib import Path
from types import SimpleNamespace

import pytest

from layout3d.view.answers import Mistake, Mistakes

SCRIPT = Path(__file__).parents[2] / "scripts" / "bench_window.py"


@pytest.fixture
def hand(monkeypatch, tmp_path):
    spec = importlib.util.spec_from_file_location("bench_window", SCRIPT)
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    window = SimpleNamespace(version=1, is_told=True, looks=SimpleNamespace(version=1))
    for name in ("resize", "show", "take_answer"):
        setattr(window, name, lambda *_: None)
    monkeypatch.setattr(bench, "whole_window", lambda *_, **__: SimpleNamespace(window=window))
    monkeypatch.setattr(bench.Hand, "wait", lambda *_: None)
    monkeypatch.setattr(bench, "LONGEST", 0.05)
    return bench.Hand(SimpleNamespace(processEvents=lambda: None), tmp_path / "scene.yaml")


def test_a_drag_that_makes_a_text_of_no_use_is_told_once_the_mistake_is(hand):
    # a sump of which the supply's last leg gets too short for its fittings: no findings will ever come
    hand.window.version, hand.window.is_told = 2, False
    with pytest.raises(TimeoutError):
        hand.until(hand.drawn)
    hand.window.take_answer(Mistakes(1, (Mistake(3, "of the text before"),)))
    with pytest.raises(TimeoutError):
        hand.until(hand.drawn)
    hand.window.take_answer(Mistakes(2, (Mistake(122, "a leg of 36 mm is too short"),)))
    assert hand.fit <= hand.until(hand.drawn)
    hand.window.version = 3
    with pytest.raises(TimeoutError):
        hand.until(hand.drawn)
