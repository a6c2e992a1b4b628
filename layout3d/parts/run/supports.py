"""Puts clips and suction cups along a run, each with its foot on what it is fixed to."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from layout3d.errors import nearest
from layout3d.fittings.supports import clip, clip_stand, suction_cup, suction_cup_stand
from layout3d.parts.base import Body, Join, Site, vector
from layout3d.parts.run.fields import RunFields, Supports
from layout3d.parts.run.line import Array, axes
from layout3d.parts.run_data import Element, NoSupport, Support
from layout3d.solid.boolean import section
from layout3d.solid.shape import Placement

__all__ = ["add_supports"]

MOST_STAND = 0.4
"""From the middle of a pipe to what its clip or hanger is fixed to, [m]; common practice, no source."""

ROOM = "room"  # what is fixed to floor or wall of the room, as in ``fixed_to``
_MARGIN = 0.012  # from a fitting's face to a support's middle, where there is room, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """A place on a run: which element, where on its centreline, the way it runs, how far from the start."""

    index: int
    at: Array
    way: Array
    along: float


def add_supports(
    run: RunFields, site: Site, elements: list[Element], bodies: list[Body]
) -> tuple[tuple[Support, ...], tuple[NoSupport, ...], list[Body], list[Join]]:
    """Return the supports of a run, those that can't be put, the bodies, and the joins to pipe and wall.

    A place on a fitting is moved to the pipe next to it.

    Raises
    ------
    SceneMistake : at its entry: a support beyond the run, or against something that isn't there.
    """
    supports: list[Support] = []
    missing: list[NoSupport] = []
    made: list[Body] = []
    joins: list[Join] = []
    total = sum(element.flow_length for element in elements)
    for number, group in enumerate(run.supports, start=1):
        walls = _walls(run, site, group, f"supports[{number}].against")
        for along, where in _places(group, total, f"supports[{number}]"):
            if along > total:
                raise run.mistake(
                    where,
                    f"a support {site.length(along)} along a run {site.length(total)} long",
                    expected=f"at most {site.length(total)}",
                )
            spot = _on_run(run, elements, along)
            if group.against == ROOM:
                supports.append(_in_room(run, site, spot, where))
                joins.append(Join(bodies[spot.index].name, ROOM, "held"))
                continue
            made_here = _support(run, site, group, elements[spot.index], spot, walls, where, len(made) + 1)
            if isinstance(made_here, NoSupport):
                missing.append(made_here)
                continue
            body, wall = made_here
            made.append(body)
            supports.append(Support(body=body.name, at=vector(spot.at), along=spot.along))
            joins += [Join(body.name, bodies[spot.index].name, "held"), Join(body.name, wall, "held")]
    return tuple(supports), tuple(missing), made, joins


def _in_room(run: RunFields, site: Site, spot: _Spot, where: str) -> Support:
    """Return a place where a run lies on the floor, or hangs on a wall: nothing of that is in the scene."""
    inside = run.space_at(site, vector(spot.at))
    if inside != ROOM:
        raise run.mistake(
            where,
            f"the room holds {run.name} in the {inside}, {site.length(spot.along)} along it",
            expected="a place outside of tank and sump, or a panel or a part's body under `against:`",
        )
    return Support(body="", at=vector(spot.at), along=spot.along)


def _places(group: Supports, total: float, where: str) -> list[tuple[float, str]]:
    """Return each place along the run, and where the file says so."""
    places = [(along, f"{where}.at[{number}]") for number, along in enumerate(group.at, start=1)]
    if group.every is not None:
        count = max(1, int(np.ceil(total / group.every - 1e-9)))
        places += [(total * (k + 0.5) / count, f"{where}.every") for k in range(count)]
    return places


def _on_run(run: RunFields, elements: list[Element], along: float) -> _Spot:
    """Return the spot at a distance along the run, moved off a fitting."""
    ends = np.cumsum([0.0, *(element.flow_length for element in elements)])
    spans: list[tuple[float, float, int]] = []
    for index, element in enumerate(elements):
        if element.kind in ("pipe", "tube"):
            low, high = float(ends[index]), float(ends[index + 1])
            if element.visible is not None and len(element.path) == 2:
                # what stands free between the fittings' faces
                low += float(np.linalg.norm(np.subtract(element.visible[0], element.path[0])))
                high -= float(np.linalg.norm(np.subtract(element.visible[1], element.path[-1])))
            spans.append((low, high, index))
    low, high, index = min(spans, key=lambda span: max(span[0] - along, along - span[1], 0.0))
    margin = min(_MARGIN, (high - low) / 2)
    place = min(max(along, low + margin), high - margin)
    rest = place - float(ends[index])
    for a, b in itertools.pairwise(np.array(elements[index].path)):
        step = float(np.linalg.norm(b - a))
        if rest <= step + 1e-9:
            return _Spot(index=index, at=a + (b - a) * (rest / step), way=(b - a) / step, along=place)
        rest -= step
    raise RuntimeError(f"fault of the program: no point {along} m along {run.name} (run_supports._on_run)")


def _walls(run: RunFields, site: Site, group: Supports, where: str) -> list[Body]:
    """Return the bodies that a group of supports may stand on: those it names, or panels and stand.

    A clip under a tank is screwed to the board that is there, and not through it to the glass; a suction cup
    holds on glass alone.
    """
    tank = site.tank()
    panels = {
        body.name.removeprefix(f"{tank.part.name}."): body for body in tank.bodies if body.kind == "panel"
    }
    if not group.against:
        stands = [] if group.kind == "suction_cup" else site.of_kind("stand")
        built = [site.built(stand.name, run, where) for stand in stands]
        return [*panels.values(), *(body for stand in built for body in stand.bodies if body.kind == "board")]
    if group.against in panels:
        return [panels[group.against]]
    in_room = group.against == ROOM
    bodies = () if in_room else site.built(group.against.split(".")[0], run, where).bodies
    found = [body for body in bodies if group.against in (body.name, body.part)]
    if not found and not in_room:
        known = [body.name for body in bodies]
        raise run.mistake(
            where, f"{group.against!r} is no body", expected=nearest(group.against, known, most=20)
        )
    if group.kind == "suction_cup" and (in_room or any(body.kind != "panel" for body in found)):
        raise run.mistake(
            where,
            f"a suction cup on {group.against}, which is no pane of glass",
            expected="a panel of the tank, or `kind: clip`",
        )
    return found


def _support(
    run: RunFields,
    site: Site,
    group: Supports,
    element: Element,
    spot: _Spot,
    walls: list[Body],
    where: str,
    number: int,
) -> tuple[Body, str] | NoSupport:
    """Return a support's body and the name of what it stands on, or why there is none."""
    feet = [(foot, wall.name) for wall in walls if (foot := _beside(wall, spot)) is not None]
    make, least = (clip, clip_stand) if group.kind == "clip" else (suction_cup, suction_cup_stand)
    reach = (least(element.outside), MOST_STAND)
    none = NoSupport(
        kind=group.kind,
        where=where,
        at=vector(spot.at),
        along=spot.along,
        against=group.against,
        reach=reach,
    )
    if not feet:
        return none
    foot, wall = min(feet, key=lambda pair: float(np.linalg.norm(pair[0] - spot.at)))
    stand = float(np.linalg.norm(foot - spot.at))
    if not reach[0] <= stand <= reach[1]:
        return replace(none, away=stand, wall=wall)
    shape = make(element.outside, stand)
    out = np.array(next(port for port in shape.ports if port.end == "foot").direction)
    own_way = np.array([1.0, 0.0, 0.0])  # supports are made for a pipe along x
    rotation = axes((foot - spot.at) / stand, spot.way) @ axes(out, own_way).T
    solid = shape.shape.solid(Placement(rotation, spot.at))
    body = run.body(
        solid,
        site,
        material="pvc",
        piece=f"{group.kind}_{number}",
        kind=group.kind,
        where=run.whereabouts(site, solid),
    )
    return body, wall


def _beside(wall: Body, spot: _Spot) -> Array | None:
    """Return the nearest point of a body's skin in the plane square to the run; None where there is none."""
    nearest_point, least = None, np.inf
    for outline in section(wall.solid, origin=spot.at, normal=spot.way):
        begin, step = outline[:-1], np.diff(outline, axis=0)
        share = np.sum((spot.at - begin) * step, axis=1) / np.sum(step * step, axis=1)
        points = begin + np.clip(share, 0.0, 1.0)[:, None] * step
        away = np.linalg.norm(points - spot.at, axis=1)
        if away.min() < least:
            least, nearest_point = float(away.min()), points[int(away.argmin())]
    return nearest_point
