"""Drip holes: where along a pipe they are drilled and which way they point. Flow is computed elsewhere."""

from __future__ import annotations

import itertools
import math

import numpy as np

from layout3d.catalog import Pipe
from layout3d.errors import SceneMistake
from layout3d.parts.base import Site, vector
from layout3d.parts.run.fields import Drip, RunFields
from layout3d.parts.run.plan import Leg
from layout3d.parts.run_data import DripHole
from layout3d.solid.placement import Array
from layout3d.solid.shape import Placement

__all__ = ["MOST_HOLES", "Mark", "drip_hole", "drip_marks"]

Mark = tuple[float, float, float]
"""A hole: its distance along the pipe, the angle from the pipe's own x, its diameter, [m, rad, m]."""

MOST_HOLES = 2000
"""In one pipe; more is a slip."""

_UP, _FRONT, _RIGHT = np.array([0.0, 0.0, 1.0]), np.array([0.0, -1.0, 0.0]), np.array([1.0, 0.0, 0.0])


def drip_marks(
    run: RunFields,
    site: Site,
    leg: Leg,
    pipe: Pipe,
    placement: Placement,
    faces: tuple[float, float],
    start: float,
) -> tuple[Mark, ...]:
    """Return the drip holes of one pipe, row by row.

    Parameters
    ----------
    placement : of the pipe, whose own z runs along it
    faces : where the fittings' faces stand along the pipe, [m]
    start : where the leg begins along the pipe, [m]; below 0 in a fitting

    Raises
    ------
    SceneMistake : more holes than fit, holes that run into each other, a hole as wide as the pipe.
    """
    marks: list[Mark] = []
    for begin, end, drip in leg.drips:
        low = max(faces[0], start + begin) + drip.margin
        high = min(faces[1], start + end) - drip.margin
        _check(run, site, leg, drip, pipe)
        fit = math.floor((high - low) / drip.pitch + 1e-9) + 1 if high >= low else 0
        count = drip.count if drip.count is not None else fit
        if fit == 0 or count > fit:
            raise run.mistake(
                f"route[{leg.step}].drip",
                f"{count or 1} drip holes every {site.length(drip.pitch)} in "
                f"{site.length(max(high - low, 0.0) + 2 * drip.margin)} of pipe with margins of "
                f"{site.length(drip.margin)}",
                expected=f"at most {fit}",
                remedy="use a smaller pitch, margin or count, or a longer leg",
            )
        own_x, own_y = placement.rotation[:, 0], placement.rotation[:, 1]
        base, side = _axes(leg.direction)
        for angle in drip.angles:
            way = math.cos(angle) * base + math.sin(angle) * side
            own = math.atan2(float(np.dot(way, own_y)), float(np.dot(way, own_x)))
            marks += [(low + k * drip.pitch, own, drip.diameter) for k in range(count)]
    if len(marks) > MOST_HOLES:
        raise run.mistake(
            f"route[{leg.step}].drip",
            f"{len(marks):,} drip holes in one pipe",
            expected=f"at most {MOST_HOLES:,}",
        )
    return tuple(marks)


def drip_hole(mark: Mark, placement: Placement, pipe: Pipe) -> DripHole:
    """Return one hole in the tank's axes."""
    along, angle, diameter = mark
    way = np.array([math.cos(angle), math.sin(angle), 0.0])
    return DripHole(
        at=vector(placement.apply(way * pipe.outside_diameter / 2 + np.array([0.0, 0.0, along]))),
        direction=vector(placement.direction(way)),
        diameter=diameter,
        wall=(pipe.outside_diameter - pipe.inside_diameter) / 2,
        along=along,
    )


def _check(run: RunFields, site: Site, leg: Leg, drip: Drip, pipe: Pipe) -> None:
    """Refuse holes too wide for the pipe, or that run into each other."""

    def mistake(found: str, expected: str) -> SceneMistake:
        return run.mistake(f"route[{leg.step}].drip", found, expected=expected)

    if drip.diameter >= pipe.inside_diameter / 2:
        raise mistake(
            f"drip holes of {site.length(drip.diameter)} in a bore of {site.length(pipe.inside_diameter)}",
            "holes below half the bore",
        )
    if drip.pitch <= drip.diameter:
        raise mistake("drip holes that run into each other", "a pitch above their diameter")
    angles = sorted(angle % (2 * math.pi) for angle in drip.angles)
    turns = [b - a for a, b in itertools.pairwise([*angles, angles[0] + 2 * math.pi])]
    if pipe.outside_diameter * math.sin(min(min(turns), math.pi) / 2) <= drip.diameter:
        raise mistake("rows of drip holes that run into each other", "angles further apart")


def _axes(direction: Array) -> tuple[Array, Array]:
    """Return where angle 0 and the quarter turn of drip holes point, for a pipe in this direction."""
    upright = abs(float(direction[2])) > 0.9
    base = _FRONT if upright else -_UP
    base = base - float(np.dot(base, direction)) * direction
    toward = _RIGHT if upright or abs(float(np.dot(_FRONT, direction))) > 0.9 else _FRONT
    side = toward - float(np.dot(toward, direction)) * direction
    side = side - float(np.dot(side, base)) / float(np.dot(base, base)) * base
    return base / np.linalg.norm(base), side / np.linalg.norm(side)
