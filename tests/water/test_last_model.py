"""The model that a check leaves for the next one: whole or not at all, and nothing in it is done again."""

import os
import pickle

import pytest
from small_scenes import with_sump

from layout3d import files
from layout3d.checks.examine import examine
from layout3d.hold.hold import holds
from layout3d.keep import forget
from layout3d.model.build import build_model
from layout3d.swim.room import room
from layout3d.water import remembered
from layout3d.water.figures import figures
from layout3d.water.last_model import MODEL, keep_last, last_model


def report(model):
    return examine(model), figures(model), holds(model), room(model)


@pytest.fixture(scope="module")
def model():
    stone = "stone: {kind: rock, size: [90, 80, 60], detail: 300, at: {left: 500, front: 90, ground: 0}}\n"
    built = with_sump(more=stone)
    report(built)
    return built


def test_of_an_unchanged_scene_nothing_is_built_or_found_again(model, monkeypatch):
    last = MODEL.unpack(MODEL.pack(model))

    def made(*_):
        raise AssertionError("found again")

    monkeypatch.setattr(remembered, "_made", made)
    again = build_model(model.scene, last=last)
    assert all(again.built[name] is last.built[name] for name in model.built)
    assert report(again) == report(model)


class Calls:
    def __init__(self, *call):
        self.call = call

    def __reduce__(self):
        return self.call


@pytest.mark.parametrize(
    "call",
    [(os.system, ("true",)), (files.is_folder, (".",)), (getattr, ("", "join"))],
    ids=("system", "is_folder", "getattr"),
)
def test_nothing_but_parts_of_a_model_is_ever_made_of_a_file(call):
    with pytest.raises(ValueError, match="not a model") as refused:
        MODEL.unpack(pickle.dumps(({"scene": Calls(*call)}, {})))
    assert "no part of a model" in str(refused.value.__cause__)


def test_damage_is_told_from_a_model(model):
    content = MODEL.pack(model)
    for wrong in (content[:-20], b"", content[:100] + b"x" * 50 + content[150:]):
        with pytest.raises(ValueError, match="not a model"):
            MODEL.unpack(wrong)


def nested(depth):
    found = ()
    for _ in range(depth):
        found = (found,)
    return found


@pytest.mark.parametrize("more", [lambda: None, nested(100_000)], ids=["a lambda", "nested too deep"])
def test_what_cannot_be_written_is_done_without(model, more, tmp_path, monkeypatch):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path))
    last = MODEL.unpack(MODEL.pack(model))
    last.known["more"] = more
    keep_last(tmp_path / "scene.yaml", last)
    assert last_model(tmp_path / "scene.yaml") is None
    del last.known["more"]
    keep_last(tmp_path / "scene.yaml", last)
    assert last_model(tmp_path / "scene.yaml") is not None
    forget()
