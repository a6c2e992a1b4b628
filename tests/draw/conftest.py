"""A small model to draw: a tank from a scene, furnished by hand so that no other part kind is needed."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from closed_solids import ball

from layout3d.checks.base import Finding
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.scene.reader import read_scene
from layout3d.solid.primitives import box, heightfield, sweep
from layout3d.solid.shape import Placement, Shape

SCENE = """
format: 1
units: {units}
title: A tank to draw
waterline: 180 mm
parts:
  tank:
    kind: tank
    inside: [800 mm, 400 mm, 450 mm]
    glass: 8 mm
"""


def body(name: str, shape: Shape, group: str, material: str, at=(0.0, 0.0, 0.0), *, kind: str = "") -> Body:
    return Body(
        name=name,
        part=name.split(".")[0],
        kind=kind or group,
        group=group,
        solid=shape.solid(Placement.at(at)),
        material=material,
        density=1000.0,
    )


def noisy_ball(radius: float, seed: int) -> Shape:
    """A stone: a ball with dents that a few fixed waves press into it."""
    plain = ball(radius, n=80)
    waves = np.random.default_rng(seed).normal(size=(5, 3)) * 2.0 / radius
    dent = 1.0 + 0.06 * np.sin(plain.vertices @ waves.T).sum(axis=1)
    return Shape.of(plain.vertices * dent[:, None], plain.faces)


def sloped_bed() -> Shape:
    x, y = np.linspace(0.002, 0.798, 60), np.linspace(0.002, 0.398, 30)
    return heightfield(x, y, np.broadcast_to(0.03 + 0.15 * y, (60, 30)), 0.001)


def furnished(units: str = "mm") -> Model:
    model = build_model(read_scene(Path("tank.yaml"), text=SCENE.format(units=units)))
    log = sweep([(0.0, 0.0, 0.0), (0.15, 0.03, 0.03), (0.3, 0.0, 0.08)], 0.03)
    pipe = sweep([(0.74, 0.34, 0.12), (0.74, 0.34, 0.40)], 0.0133, inside_radius=0.0105)
    more = (
        body("bed", sloped_bed(), "substrate", "sand"),
        body("stone_1", noisy_ball(0.08, 1), "rock", "granite", (0.2, 0.15, 0.10)),
        body("stone_2", noisy_ball(0.05, 2), "rock", "granite", (0.33, 0.10, 0.08)),
        body("log", log, "wood", "root wood", (0.4, 0.2, 0.12)),
        body("riser.pipe", pipe, "plumbing", "pvc", kind="pipe"),
        body("pump", box((0.08, 0.07, 0.09)), "equipment", "pump", (0.70, 0.30, 0.09), kind="pump"),
    )
    return replace(model, bodies=(*model.bodies, *more))


def finding(rule: str, severity: str, at, *parts: str) -> Finding:
    return Finding(
        rule=rule,
        severity=severity,  # type: ignore[arg-type] # plain words in a test
        parts=parts,
        message=f"{' and '.join(parts)} do not go together by {math.pi:.2f} mm",
        remedy="move one of them",
        at=at,
    )


@pytest.fixture(scope="session")
def model() -> Model:
    return furnished()


@pytest.fixture(scope="session")
def findings() -> tuple[Finding, ...]:
    return (
        finding("overlap", "fault", (0.30, 0.12, 0.10), "stone_1", "stone_2"),
        finding("service-access", "warning", None, "pump"),
        finding("drip-evenness", "note", (0.74, 0.34, 0.38), "riser"),
    )


@pytest.fixture(scope="session")
def inch_model() -> Model:
    return furnished("in")
