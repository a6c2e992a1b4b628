"""The scenes that ship, made plainer, for tests of what hangs on no stone's skin; built once in a process."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from plain_scenes import as_text, as_texts, build_text

from layout3d.model.model import Model

SCENES = Path(__file__).resolve().parents[2] / "scenes"
COARSE: dict[str, dict[str, object]] = {
    "rock": {"detail": 200},
    "wood": {"detail": 2000},
    "plant": {"detail": 0.5},
    "substrate": {"pitch": "50 mm"},
}
"""Stones, wood, leaves and ground with fewer faces, in the same places; and so the relief of walls."""


@cache
def coarse_text(name: str) -> str:
    """Write a scene with plainer stones, ground and walls, and with the first three of its plants."""
    scene = as_texts((SCENES / f"{name}.yaml").read_text(encoding="utf-8"))
    plants = [part for part, given in scene["parts"].items() if given["kind"] == "plant"]
    for part in plants[3:]:
        del scene["parts"][part]
    for part in scene["parts"].values():
        part.update(COARSE.get(part["kind"], {}))
        if "relief" in part:
            part["relief"]["pitch"] = "50 mm"
    return as_text(scene)


def shipped_coarse(name: str) -> Model:
    """Build such a plainer scene, once in a process."""
    return build_text(coarse_text(name), SCENES / f"{name}.yaml")
