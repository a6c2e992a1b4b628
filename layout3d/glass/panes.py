"""The tank's walls under its water and its bed: how far each is stressed, and how far it bows.

Flat walls bend as plates held at the foot and at both sides (``glass.plate``). One that goes all round is
pulled along its ring; one that is bowed is taken as flat and as long as its arc, which it is stiffer than.
Not looked at: the bottom, which a flat stand bears all over, sump, overflow boxes, seams, and knocks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.files import own_data
from layout3d.glass.plate import MODULUS, POISSON, Press, Strip, Tie, bent
from layout3d.model.beds import bed_height
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.tank import Tank
from layout3d.parts.tank_data import DrilledHole, Panel, RoundWall, Wall
from layout3d.solid.placement import Array
from layout3d.units import GRAVITY
from layout3d.water.mass import water_density_of
from layout3d.water.remembered import kept

__all__ = ["GLASS_CAUTION", "Stressed", "least_thickness", "next_sheet", "stressed"]

GLASS_CAUTION = (
    "Glass: stresses are by the theory of thin plates, for whole sheets of their least thickness on seams "
    "that don't give; no figure here says that a pane, a brace or a seam holds this water. Not considered: "
    "scratches, chips, drilled edges, age of the silicone, an uneven stand, knocks, stone that leans on a "
    "pane. The strength is from standards for window glass, which leave out tanks (ASTM E1300 says so). Ask "
    "the glass maker or the tank's builder about thickness and bracing."
)
ACRYLIC = (1.7e9, 0.37)
"""Modulus after years under load [Pa] and Poisson's ratio of cast acrylic: design guides, from memory."""
AT_REST = 0.5
"""Pressure of sand aside over that downwards, [-]: Jaky, 1 - sin 30° (from memory)."""
AT_A_HOLE = 3.0
"""How many times the stress of the whole wall a round hole's edge has, [-], where it is pulled: Kirsch."""
RIM_OF_HOLE = 8  # places round a hole where the stress of the whole pane is looked at
ALONG = 25  # places along a wall where the bed's height is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Stressed:
    """A wall under load: its largest stress [Pa] with the place, and how far it bows [m].

    ``holes`` are the stresses at the edges of its holes by name, ``strip`` that in the brace along it, 0 for
    none.
    """

    wall: Wall
    acrylic: bool
    stress: float
    at: Vector
    bow: float
    holes: dict[str, float]
    strip: float


@kept
def stressed(model: Model, level: str) -> tuple[Stressed, ...]:
    """Return the tank's walls with its bed, and water up to ``level``, whole millimetres over its floor.

    Raises
    ------
    OutOfRange : the walls are of a material whose strength under lasting load is not known here.
    """
    return tuple(_stressed(model, wall, float(level) / 1000.0) for wall in model.tank.walls)


def least_thickness(thickness: float) -> float:
    """Return the least thickness of glass called so thick, [m]; what is no such name is as measured."""
    return next((least for nominal, least in _sheets() if abs(nominal - thickness) < 1e-4), thickness)


def next_sheet(thickness: float) -> float | None:
    """Return the thinnest sheet's name that is nowhere thinner than ``thickness``, [m]; None for none."""
    return next((nominal for nominal, least in _sheets() if least >= thickness), None)


@cache
def _sheets() -> tuple[tuple[float, float], ...]:
    rows = own_data(Path(__file__).with_name("sheet.yaml"))["rows"]
    return tuple((row["nominal"] / 1000.0, row["least"] / 1000.0) for row in rows)


def _stressed(model: Model, wall: Wall, level: float) -> Stressed:
    body = model.body(wall.body)
    if body.material not in ("glass", "acrylic"):
        raise OutOfRange(
            f"the strength of {body.material} under water for years is not known here",
            expected="walls of glass or acrylic",
            remedy="ask the maker, and accept this in the scene",
        )
    acrylic = body.material == "acrylic"
    thickness = wall.thickness if acrylic else least_thickness(wall.thickness)
    presses = _presses(model, wall, level)
    holes = [hole for hole in model.tank.holes.values() if hole.panel == wall.name]
    if isinstance(wall, RoundWall) and wall.closed:
        pressure = sum(press.slope * max(0.0, press.top) for press in presses)
        ring = pressure * (wall.inside_radius + thickness / 2.0) / thickness
        return Stressed(
            wall=wall,
            acrylic=acrylic,
            stress=ring,
            at=wall.at(wall.length / 2.0, 0.0),
            bow=0.0,
            holes={hole.name: AT_A_HOLE * ring for hole in holes},
            strip=0.0,
        )
    corners = np.array(wall.glass) if isinstance(wall, Panel) else wall.corners
    low, high = corners.min(axis=0), corners.max(axis=0)
    places = [(u - float(low[0]), v) for hole in holes for u, v in _around(hole).tolist()]
    modulus, poisson = ACRYLIC if acrylic else (MODULUS, POISSON)
    found = bent(
        float(high[0] - low[0]),
        float(high[1]),
        thickness,
        presses,
        strip=_strip(model, wall),
        ties=_ties(model, wall, float(low[0])),
        at=places,
        modulus=modulus,
        poisson=poisson,
    )
    asked = np.array(found.asked).reshape(len(holes), RIM_OF_HOLE + 1)
    return Stressed(
        wall=wall,
        acrylic=acrylic,
        stress=found.stress,
        at=wall.at(float(low[0]) + found.stress_at[0], found.stress_at[1]),
        bow=found.deflection,
        holes={
            hole.name: _at_a_hole(hole.diameter / thickness) * float(row.max())
            for hole, row in zip(holes, asked, strict=True)
        },
        strip=found.strip_stress,
    )


def _at_a_hole(across: float) -> float:
    """Return how many times a whole pane's stress a round hole's edge has where it is bent, [-].

    ``across`` is its diameter in thicknesses. Pilkey, Peterson's Stress Concentration Factors, plain bending,
    up to 7 (from memory); thin plate theory has (5 + 3 ν) / (3 + ν) for large ones, 1.79.
    """
    held = min(across, 6.0)  # where the fit is lowest
    return 3.0 - 0.947 * math.sqrt(held) + 0.192 * held


def _around(hole: DrilledHole) -> Array:
    """Return a hole's middle and places round its edge, (RIM_OF_HOLE + 1, 2) as u, v, [m]."""
    turns = np.arange(RIM_OF_HOLE) * 2.0 * np.pi / RIM_OF_HOLE
    edge = np.stack([np.cos(turns), np.sin(turns)], axis=1) * hole.diameter / 2.0
    return np.array(hole.centre) + np.vstack([np.zeros(2), edge])


def _presses(model: Model, wall: Wall, level: float) -> list[Press]:
    """Return the water and the bed on a wall: the bed as high all along as where it lies highest."""
    density = water_density_of(model)
    presses = [Press(level, density * GRAVITY)]
    if model.beds:
        line = np.array([wall.at(u, 0.0, 1e-3) for u in np.linspace(1e-3, wall.length - 1e-3, ALONG)])
        top = float(bed_height(model)(line[:, 0], line[:, 1]).max())
        sorts = [model.scene.catalog.material(bed.material) for bed in model.beds]
        grains = [(sort.density, 1.0 - sort.porosity) for sort in sorts]
        dry = AT_REST * GRAVITY * max(of * share for of, share in grains)
        wet = AT_REST * GRAVITY * max((of - density) * share for of, share in grains)
        if top > level:
            presses += [Press(top, dry), Press(level, wet - dry)]
        elif top > 0.0:
            presses.append(Press(top, wet))
    return presses


def _strip(model: Model, wall: Wall) -> Strip | None:
    """Return the perimeter brace along a wall."""
    tank = model.built[model.tank_name].part
    brace = tank.perimeter_brace if isinstance(tank, Tank) else None
    if brace is None:
        return None
    thickness = least_thickness(brace.thickness)
    return Strip(wall.height - brace.below_top - brace.thickness / 2.0, brace.width, thickness)


def _ties(model: Model, wall: Wall, low: float) -> list[Tie]:
    """Return the cross braces that end at a wall; ``low`` is where its glass begins, u [m]."""
    tank = model.built[model.tank_name].part
    if not isinstance(tank, Tank):
        return []
    ties, depth = [], float(np.ptp(tank.plan()[:, 1]))
    for brace in tank.cross_braces:
        for u, _, w in wall.local(np.array([[brace.at, end, 0.0] for end in (0.0, depth)])):
            if abs(w) < 1e-6:
                start, end = (u + side * brace.width / 2.0 - low for side in (-1.0, 1.0))
                ties.append(Tie(start, end, least_thickness(brace.thickness), depth))
    return ties
