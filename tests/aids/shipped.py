"""The scenes that ship, built once in a process; and plainer, for tests of what hangs on no stone's skin."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene

SCENES = Path(__file__).resolve().parents[2] / "scenes"
COARSE = [
    (r"kind: rock,(?! detail)", "kind: rock, detail: 400,"),
    (r"kind: wood,(?! detail)", "kind: wood, detail: 2000,"),
    (r"pitch: 1[56]\b", "pitch: 50"),
]
"""Rock, wood, ground and walls with fewer faces, in the same places."""


@cache
def shipped(name: str) -> Model:
    """Build a scene as it ships."""
    return build_model(read_scene(SCENES / f"{name}.yaml"))


@cache
def shipped_coarse(name: str, *, plants: bool = True) -> Model:
    """Build a scene with plainer stones, ground and walls; or without the plants that it says in one line."""
    text = (SCENES / f"{name}.yaml").read_text(encoding="utf-8")
    for fine, coarse in COARSE:
        text = re.sub(fine, coarse, text)
    if not plants:
        text = re.sub(r"(?m)^  \w+: \{kind: plant.*\n", "", text)
    return build_model(read_scene(SCENES / f"{name}.yaml", text=text))
