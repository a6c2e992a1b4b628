"""Scenes as plain data: read, written, and built once for all that ask for the same.

The C library reads and writes YAML where it is there; the plain one takes ten times as long.
"""

from __future__ import annotations

import functools
from collections import deque
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import yaml

from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.parts.drilled_tank import TankPart
from layout3d.scene.reader import read_scene
from layout3d.scene.scene import Scene

__all__ = ["as_text", "as_texts", "as_values", "build_in_known_tank", "build_plain", "build_text"]

MADE = Path("made.yaml")
LATELY: deque[Model] = deque(maxlen=12)


def as_values(text: str) -> Any:
    """Return what YAML holds."""
    return yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))


def as_texts(text: str) -> Any:
    """Return what YAML holds, every figure as it is written."""
    return yaml.load(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))


def as_text(scene: Mapping[str, Any]) -> str:
    """Write a scene, its parts in their order, each on lines that are not broken."""
    dumper = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
    return yaml.dump(scene, Dumper=dumper, sort_keys=False, allow_unicode=True, width=10_000)


def build_in_known_tank(scene: Scene) -> Model:
    """Build a scene; its tank, and what else is the same, is that of a scene built lately with such a tank.

    Nothing that was found of the other scene is known of this one. ``tests/test_live.py`` holds that a model
    is the same so made.
    """
    tanks = [part for part in scene.parts if isinstance(part, TankPart)]
    alike = (
        model
        for model in reversed(LATELY)
        if tanks == [model.built[model.tank_name].part] and model.scene.catalog is scene.catalog
    )
    last = next(alike, None)
    model = replace(build_model(scene, last=last), before={})
    if last is None:
        LATELY.append(model)
    return model


@functools.lru_cache(maxsize=256)
def build_text(text: str, file: Path = MADE) -> Model:
    """Build a scene once for all tests that write the same; what was worked out of it stays with it."""
    return build_in_known_tank(read_scene(file, text=text))


def build_plain(scene: Mapping[str, Any]) -> Model:
    """Build a scene that reads no other file."""
    return build_text(as_text(scene))
