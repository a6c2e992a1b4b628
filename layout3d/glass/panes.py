"""Walls of tank, sumps and overflow boxes under water: how far each is stressed, and how far it bows.

Flat walls bend as plates held at the foot and at both sides (``glass.plate``). One that goes all round is
pulled along its ring; one that is bowed is taken as flat and as long as its arc, which it is stiffer than.
A sump's wall is as long as the sump, whatever its baffles hold; a baffle, and a pane of an overflow box, has
water on one side. Not looked at: a bottom that a flat board bears all over, seams, and knocks.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache, partial
from pathlib import Path

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.files import own_data
from layout3d.glass.plate import MODULUS, POISSON, Press, Strip, Tie, bent
from layout3d.model.beds import bed_height
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.parts.tank import Tank
from layout3d.parts.tank_data import DrilledHole, Panel, RoundWall, Wall
from layout3d.solid.placement import Array
from layout3d.units import GRAVITY
from layout3d.water.mass import water_density_of
from layout3d.water.remembered import kept

__all__ = [
    "GLASS_CAUTION",
    "Stressed",
    "least_thickness",
    "next_sheet",
    "stressed",
    "stressed_box",
    "stressed_sump",
]

GLASS_CAUTION = (
    "Glass: stresses are by the theory of thin plates, for whole sheets of their least thickness on seams "
    "that don't give; no figure here says that a pane, a brace or a seam holds this water. Not considered: "
    "scratches, chips, drilled edges, age of the silicone, an uneven stand, knocks, stone that leans on a "
    "pane, the teeth of a comb. The strength is from standards for window glass, which leave out tanks (ASTM "
    "E1300 says so). Ask the glass maker or the tank's builder about thickness and bracing."
)
ACRYLIC = (1.7e9, 0.37)
"""Modulus after years under load [Pa] and Poisson's ratio of cast acrylic: design guides, from memory."""
AT_REST = 0.5
"""Pressure of sand aside over that downwards, [-]: Jaky, 1 - sin 30° (from memory)."""
AT_A_HOLE = 3.0
"""How many times the stress of the whole wall a round hole's edge has, [-], where it is pulled: Kirsch."""
RIM_OF_HOLE = 8  # places round a hole where the stress of the whole pane is looked at
ALONG = 25  # places along a wall where the bed's height is looked at
_bent_before = lru_cache(maxsize=64)(bent)  # a baffle bears the same wherever the sump's water stands


@dataclass(frozen=True, slots=True, kw_only=True)
class Stressed:
    """A wall under load: its largest stress [Pa] with the place, and how far it bows [m].

    ``name`` is what findings call it, ``body`` whose it is, ``water`` how high that stands over its foot,
    at a wall ``between`` waters on one side alone. ``holes`` are the stresses at the edges of its holes by
    name, ``strip`` that in the brace along it, 0 for none.
    """

    name: str
    body: str
    length: float
    thickness: float
    acrylic: bool
    tempered: bool = False
    water: float
    between: bool = False
    stress: float
    at: Vector
    bow: float
    holes: Mapping[str, float] = field(default_factory=dict)
    strip: float = 0.0


@kept
def stressed(model: Model, level: str) -> tuple[Stressed, ...]:
    """Return the tank's walls with its bed, and water up to ``level``, whole millimetres over its floor.

    Raises
    ------
    OutOfRange : the walls are of a material whose strength under lasting load is not known here.
    """
    return tuple(_stressed(model, wall, float(level) / 1000.0) for wall in model.tank.walls)


@kept
def stressed_box(model: Model, name: str, level: str) -> tuple[Stressed, ...]:
    """Return the panes of an overflow box under the tank's water, as ``stressed``, with none in it.

    No tooth is looked at. A bottom of its own is taken as an endless strip, as wide as it is narrow.
    """
    part, bodies = next((one.part, one.bodies) for one in model.overflow_boxes if one.part.name == name)
    high, slope = float(level) / 1000.0, water_density_of(model) * GRAVITY
    across = {"front": part.width, "left": part.depth, "right": part.depth}
    found = []
    for body in bodies:
        side, middle = body.name.removeprefix(f"{name}."), body.solid.centroid
        if side in across:
            top = part.crest if side in part.weir.sides else part.top
            size = (across[side], top - part.bottom, part.glass)
            presses = [Press(high - part.bottom, slope)]
            found.append(_pane(model, body.name, body.name, size, presses, middle, middle, between=True))
            continue
        acrylic, thickness = _sheet(model, body.name, part.glass)
        wide, deep = min(part.width, part.depth), max(high, part.top) - part.bottom
        found.append(
            Stressed(
                name=body.name,
                body=body.name,
                length=wide,
                thickness=part.glass,
                acrylic=acrylic,
                water=deep,
                between=True,
                stress=0.75 * slope * deep * (wide / thickness) ** 2,
                at=vector(middle),
                bow=0.0,
            )
        )
    return tuple(found)


@kept
def stressed_sump(model: Model, name: str, level: str) -> tuple[Stressed, ...]:
    """Return a sump's walls, two and two, and the baffles that hold water back; ``level`` over its floor.

    The water is as high in all compartments, and their media press as a bed does; behind a baffle there is
    none. Raises as ``stressed``.
    """
    part, data = next((one.part, one.data) for one in model.sumps if one.part.name == name)
    box, high = f"{name}.box", float(level) / 1000.0
    presses = [Press(high, water_density_of(model) * GRAVITY)]
    media = [one.media for one in part.compartments if one.media]
    if media:
        wet = _grains(model, [one.material for one in media])[1]
        presses.append(Press(min(high, max(one.top for one in media)), max(0.0, wet)))
    found = []
    corners = np.array([(*corner, data.floor) for corner in data.plan])
    for first, called in enumerate(("front and back", "left and right")):
        start, end = corners[first], corners[(first + 1) % 4]
        over = 0.0 if first else 2.0 * part.glass  # front and back cover the ends of the others
        size = (float(np.linalg.norm(end - start)) + over, part.inside[2], part.glass)
        found.append(_pane(model, f"{called} of {box}", box, size, presses, start, end))
    for one, held in zip(part.compartments, data.compartments, strict=True):
        if one.baffle and not one.baffle.gap:
            body = f"{name}.baffle_{one.name}"
            size = (part.inside[1], one.baffle.height, one.baffle.thickness)
            water = [Press(one.baffle.height, presses[0].slope)]
            ends = [np.array(held.middle(data.floor))] * 2
            found.append(_pane(model, body, body, size, water, *ends, between=True))
    return tuple(found)


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
    acrylic, thickness = _sheet(model, wall.body, wall.thickness)
    presses = _presses(model, wall, level)
    holes = [hole for hole in model.tank.holes.values() if hole.panel == wall.name]
    told = partial(
        Stressed,
        name=wall.body,
        body=wall.body,
        length=wall.length,
        thickness=wall.thickness,
        tempered=wall.tempered,
        water=level,
        acrylic=acrylic,
    )
    if isinstance(wall, RoundWall) and wall.closed:
        pressure = sum(press.slope * max(0.0, press.top) for press in presses)
        ring = pressure * (wall.inside_radius + thickness / 2.0) / thickness
        return told(
            stress=ring,
            at=wall.at(wall.length / 2.0, 0.0),
            bow=0.0,
            holes={hole.name: AT_A_HOLE * ring for hole in holes},
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
    return told(
        stress=found.stress,
        at=wall.at(float(low[0]) + found.stress_at[0], found.stress_at[1]),
        bow=found.deflection,
        holes={
            hole.name: _at_a_hole(hole.diameter / thickness) * float(row.max())
            for hole, row in zip(holes, asked, strict=True)
        },
        strip=found.strip_stress,
    )


def _sheet(model: Model, name: str, thickness: float) -> tuple[bool, float]:
    """Tell whether a body is of acrylic, or of glass, and how thick it is at least, [m]."""
    material = model.body(name).material
    if material not in ("glass", "acrylic"):
        raise OutOfRange(
            f"the strength of {material} under water for years is not known here",
            expected="walls of glass or acrylic",
            remedy="ask the maker, and accept this in the scene",
        )
    return material == "acrylic", thickness if material == "acrylic" else least_thickness(thickness)


def _pane(
    model: Model,
    name: str,
    body: str,
    size: tuple[float, float, float],
    presses: list[Press],
    start: Array,
    end: Array,
    *,
    between: bool = False,
) -> Stressed:
    """Return how a plain flat pane bends; ``size`` along, up and through it, from ``start`` to ``end``."""
    length, height, thick = size
    acrylic, thickness = _sheet(model, body, thick)
    modulus, poisson = ACRYLIC if acrylic else (MODULUS, POISSON)
    found = _bent_before(length, height, thickness, tuple(presses), modulus=modulus, poisson=poisson)
    along, up = found.stress_at
    return Stressed(
        name=name,
        body=body,
        length=length,
        thickness=thick,
        acrylic=acrylic,
        water=presses[0].top,
        between=between,
        stress=found.stress,
        at=vector(start + (end - start) * along / length + np.array([0.0, 0.0, 0.0 if between else up])),
        bow=found.deflection,
    )


def _grains(model: Model, names: Iterable[str]) -> tuple[float, float]:
    """Return how grains of these materials press aside by depth, dry and beside the water's own, [Pa/m]."""
    density, sorts = water_density_of(model), [model.scene.catalog.material(name) for name in names]
    dry, wet = (max((of.density - by) * (1.0 - of.porosity) for of in sorts) for by in (0.0, density))
    return AT_REST * GRAVITY * dry, AT_REST * GRAVITY * wet


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
    presses = [Press(level, water_density_of(model) * GRAVITY)]
    if model.beds:
        line = np.array([wall.at(u, 0.0, 1e-3) for u in np.linspace(1e-3, wall.length - 1e-3, ALONG)])
        top = float(bed_height(model)(line[:, 0], line[:, 1]).max())
        dry, wet = _grains(model, [bed.material for bed in model.beds])
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
