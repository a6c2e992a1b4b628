"""What a builder may wish of where pieces stand, each a figure from 0 (not at all) to 1 (as good as can be).

They rank positions and judge none: whether a position is allowed is for the rules. Outlines are those of the
pieces as seen square from the front or from above; glass and water bend nothing here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from layout3d.errors import SceneMistake, UnknownName, nearest
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.level import volume_under
from layout3d.solid.shape import Solid
from layout3d.swim.room import room

__all__ = ["WISHES", "Asked", "Pieces", "Wish", "measured", "wishes_of"]

WICKS = 0.10  # moss and wood draw water so far up, [m]; common practice, no source
AT_THE_WALL = 0.08  # in front of drip holes the water falls and runs within so much, [m]; no source
HIDES = ("rock", "wood", "background")
"""Groups that stand before a piece, or over a plant; leaves bend and let light through."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is wished for: weights by the names of ``WISHES``, and what some of these need.

    ``focal`` is the place that 'focal' means, from the inside left and front, [m]; ``lit`` names the plants
    of 'light', all where it is empty.
    """

    weights: Mapping[str, float]
    focal: tuple[float, float] | None = None
    lit: tuple[str, ...] = ()

    def mean(self, figures: Mapping[str, float]) -> float:
        """Return the mean of figures by their weights; of those that are there."""
        total = sum(self.weights[name] for name in figures)
        return sum(self.weights[name] * figure for name, figure in figures.items()) / total if total else 0.0


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """Pieces at one set of places: solids by part, and the free water that they take, [m³]."""

    model: Model
    solids: Mapping[str, tuple[Solid, ...]]
    takes: float
    asked: Asked

    @cached_property
    def volume(self) -> float:
        """Return the volume of all of them, [m³]."""
        return sum(solid.volume for solid in self.all)

    @property
    def all(self) -> tuple[Solid, ...]:
        """Return the solids of all parts."""
        return tuple(solid for solids in self.solids.values() for solid in solids)

    @property
    def others(self) -> tuple[Body, ...]:
        """Return what else may hide, shade and weigh."""
        return tuple(
            body
            for body in self.model.bodies
            if body.group in HIDES and body.part not in self.solids and body.where == "tank"
        )


def wishes_of(text: str) -> dict[str, float]:
    """Read wishes with their weights: 'water=2, seen', 1 where no weight stands.

    Raises
    ------
    UnknownName : no wish is called so.
    SceneMistake : a weight is no figure above 0.
    """
    found: dict[str, float] = {}
    for each in filter(None, (one.strip() for one in text.split(","))):
        name, _, weight = (word.strip() for word in each.partition("="))
        if name not in WISHES:
            raise UnknownName(f"no wish is called {name!r}", expected=nearest(name, list(WISHES), most=20))
        try:
            found[name] = float(weight or 1)
        except ValueError:
            found[name] = 0.0
        if not 0.0 < found[name] < 1e6:
            raise SceneMistake(f"--wish {each}", expected="a weight above 0, such as water=2")
    if not found:
        raise SceneMistake("no wish is stated", expected=f"one of: {', '.join(WISHES)}")
    return found


def measured(pieces: Pieces, *, built: bool) -> dict[str, float]:
    """Return the figure of each wish, 0 to 1; ``built`` tells that the model has the pieces at their places.

    Without that, what is measured in the built scene alone is left out.
    """
    return {
        name: min(max(float(WISHES[name].measure(pieces)), 0.0), 1.0)
        for name in pieces.asked.weights
        if built or not WISHES[name].built
    }


def _water(pieces: Pieces) -> float:
    return 1.0 - pieces.takes / pieces.volume


def _above(pieces: Pieces) -> float:
    under = sum(volume_under(solid, pieces.model.waterline - solid.vertices[:, 2]) for solid in pieces.all)
    return 1.0 - under / pieces.volume


def _wick(pieces: Pieces) -> float:
    line = pieces.model.waterline
    reach = [
        min(max(solid.vertices[:, 2].max() - line, 0.0), WICKS) / WICKS
        for solid in pieces.all
        if solid.vertices[:, 2].min() < line
    ]
    return float(np.mean(reach)) if reach else 0.0


def _seen(pieces: Pieces) -> float:
    shapes = [(solid.vertices[:, 1].mean(), _outline(solid, (0, 2))) for solid in pieces.all]
    covers = [
        (body.solid.vertices[:, 1].mean(), _outline(body.solid, (0, 2)))
        for body in pieces.others
        if body.group != "background"
    ]
    whole = sum(shape.area for _, shape in shapes)
    left = 0.0
    for depth, shape in shapes:
        for before, cover in covers:
            if before < depth:
                shape = shape.difference(cover)
        left += shape.area
    return float(left / whole)


def _focal(pieces: Pieces) -> float:
    assert pieces.asked.focal is not None, "asked for before the search (wishes._focal)"
    centres = np.array([solid.centroid[:2] for solid in pieces.all])
    box = pieces.model.tank.interior.bounds
    span = float(np.linalg.norm(box[1][:2] - box[0][:2]))
    return 1.0 - float(np.linalg.norm(centres - pieces.asked.focal, axis=1).mean()) / span


def _spread(pieces: Pieces) -> float:
    weights = [(solid.volume, solid.centroid[0]) for solid in pieces.all]
    weights += [
        (body.solid.volume, body.solid.centroid[0]) for body in pieces.others if body.group != "background"
    ]
    total = sum(volume for volume, _ in weights)
    low, high = pieces.model.tank.interior.bounds[:, 0]
    centre = sum(volume * x for volume, x in weights) / total
    return float(1.0 - abs(centre - (low + high) / 2.0) / ((high - low) / 2.0))


def _light(pieces: Pieces) -> float:
    lit = pieces.asked.lit
    plants = [body for body in pieces.model.bodies if body.group == "plant" and (not lit or body.part in lit)]
    shades = [(solid.vertices[:, 2].max(), _outline(solid, (0, 1))) for solid in pieces.all]
    shares = [
        1.0
        - sum(_outline(body.solid, (0, 1)).intersection(shade).area for top, shade in shades if top > high)
        / max(_outline(body.solid, (0, 1)).area, 1e-12)
        for body in plants
        for high in [body.solid.vertices[:, 2].max()]
    ]
    return float(np.mean(np.maximum(shares, 0.0))) if shares else 1.0


def _drip(pieces: Pieces) -> float:
    from shapely.geometry import box
    from shapely.ops import unary_union

    plan = unary_union([_outline(solid, (0, 1)) for solid in pieces.all])
    runs = pieces.model.runs
    holes = [hole for run in runs for element in run.data.elements for hole in element.holes]
    if not holes:
        return 1.0
    covered = sum(
        plan.intersects(box(x - 0.005, y - AT_THE_WALL, x + 0.005, y + 0.001))
        for x, y in ((float(hole.at[0]), float(hole.at[1])) for hole in holes)
    )
    return 1.0 - float(covered) / len(holes)


def _swim(pieces: Pieces) -> float:
    found = room(pieces.model)
    floor = pieces.model.tank.interior
    whole = volume_under(floor, pieces.model.waterline - floor.vertices[:, 2])
    return float(np.mean([size.volume for size in found.sizes])) / whole if found.sizes else 0.0


def _outline(solid: Solid, axes: Sequence[int]) -> Any:
    """Return the outline of a solid along the axis that is left out: the hull of its corners."""
    from shapely import MultiPoint

    return MultiPoint(solid.vertices[:, list(axes)]).convex_hull


@dataclass(frozen=True, slots=True)
class Wish:
    """A wish: what it says, and how it is measured; ``built``: in the built scene alone."""

    says: str
    measure: Callable[[Pieces], float]
    built: bool = False


WISHES: Mapping[str, Wish] = {
    "water": Wish("the pieces take little free water", _water),
    "above": Wish("much of them stands above the waterline", _above),
    "wick": Wish("they stand in the water and reach up to 100 mm over it, for moss", _wick),
    "seen": Wish("no rock or wood nearer to the front hides them (by their hulls)", _seen),
    "focal": Wish("they stand near the stated place", _focal),
    "spread": Wish("rock and wood balance about the middle of the tank", _spread),
    "light": Wish("they shade few plants, or few of the named ones, from straight above (by hulls)", _light),
    "swim": Wish("fish of the scene's sizes have much of the water to swim in", _swim, built=True),
    "drip": Wish("they leave the wall under the drip holes wet", _drip),
}
"""The wishes by name."""
