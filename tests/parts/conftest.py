"""Scenes of a few parts, built; and what every built part must be."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_scenes import as_text, build_in_known_tank

from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene
from layout3d.solid.shape import Shape

TANK: dict[str, Any] = {"kind": "tank", "inside": [1200, 600, 600], "glass": 12}


def scene_text(parts: Mapping[str, Any], tank: Mapping[str, Any] | None = None, **head: Any) -> str:
    top = {"format": 1, "units": "mm", "waterline": "tank.inside_height / 3"} | head
    whole = {**top, "parts": {"tank": {**TANK, **(tank or {})}, **parts}}
    return as_text(whole)


def make(
    parts: Mapping[str, Any] | None = None,
    tank: Mapping[str, Any] | None = None,
    folder: Path = Path(),
    **head: Any,
) -> Model:
    return build_in_known_tank(read_scene(folder / "scene.yaml", text=scene_text(parts or {}, tank, **head)))


def mistakes(
    parts: Mapping[str, Any] | None = None,
    tank: Mapping[str, Any] | None = None,
    folder: Path = Path(),
    **head: Any,
) -> tuple[LayoutError, ...]:
    with pytest.raises(SceneRefused) as refusal:
        make(parts, tank, folder, **head)
    check_told(refusal.value.mistakes)
    return refusal.value.mistakes


def check_told(found: tuple[LayoutError, ...]) -> None:
    """Each mistake is told once, with where it stands."""
    assert found
    for mistake in found:
        assert mistake.found, repr(mistake)
        assert mistake.place.line > 0, str(mistake)
    assert len({str(mistake) for mistake in found}) == len(found)


_CLOSED: set[str | bytes] = set()


def check_closed(shape: Shape) -> None:
    """The shape's faces close; asked once of faces that many bodies have."""
    if shape.content_key not in _CLOSED:
        Shape.of(shape.vertices, shape.faces)
        _CLOSED.add(shape.content_key)


def check_sound(model: Model) -> None:
    """Every body is a closed shape with a volume, its name its own, and everything that is named is there."""
    names = [body.name for body in model.bodies]
    assert len(set(names)) == len(names)
    for body in model.bodies:
        check_closed(body.solid.shape)
        assert np.isfinite(body.solid.bounds).all()
        assert body.solid.volume > 0
        assert body.mass > 0
        assert body.where in ("tank", "sump", "room")
    known = {*names, *(body.part for body in model.bodies), "room"}
    for join in model.joins:
        assert {join.a, join.b} <= known, join
    for port in model.ports.values():
        assert port.body in names
        assert np.linalg.norm(port.direction) == pytest.approx(1.0)


def built_or_refused(
    parts: Mapping[str, Any], tank: Mapping[str, Any] | None = None, folder: Path = Path(), **head: Any
) -> Model | None:
    """Build a scene of any make: it is sound, or refused with one mistake at a line of its own for each."""
    found: tuple[LayoutError, ...] = ()
    model = None
    try:
        model = make(parts, tank, folder, **head)
    except SceneRefused as error:
        found = error.mistakes
    if model is None:
        check_told(found)
    else:
        check_sound(model)
    return model


@pytest.fixture(scope="session")
def built() -> Callable[..., Model]:
    return make


@pytest.fixture(scope="session")
def refused() -> Callable[..., tuple[LayoutError, ...]]:
    return mistakes


@pytest.fixture(scope="session")
def sound() -> Callable[[Model], None]:
    return check_sound


@pytest.fixture(scope="session")
def any_make() -> Callable[..., Model | None]:
    return built_or_refused
