"""Puts clips and suction cups along a run, each with its foot on what it is fixed to."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.base import Body, Join, Site, vector
from layout3d.parts.run_data import Element, Support
from layout3d.parts.shapes.supports import clip, suction_cup
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.distance import gap
from layout3d.solid.primitives import ball
from layout3d.solid.shape import Placement

if TYPE_CHECKING:
    from layout3d.parts.run import Run, Supports

__all__ = ["add_supports"]

Array = NDArray[np.float64]


def add_supports(
    run: Run, site: Site, elements: list[Element], bodies: list[Body]
) -> tuple[tuple[Support, ...], list[Body], list[Join]]:
    """Return the supports of a run, their bodies, and the joins to pipe and wall.

    Raises
    ------
    SceneMistake : a support beyond the run or on a fitting, or too near or too far from what holds it.
    """
    supports: list[Support] = []
    made: list[Body] = []
    joins: list[Join] = []
    total = sum(element.flow_length for element in elements)
    for group in run.supports:
        for along in _places(group, total):
            if along > total:
                raise run.mistake(
                    "supports",
                    f"a support {along * 1000:.0f} mm along a run {total * 1000:.0f} mm long",
                    expected=f"at most {total * 1000:.0f} mm",
                )
            index, at, way = _on_run(run, elements, along)
            body, wall = _support(run, site, group, elements[index], at, way, len(made) + 1)
            made.append(body)
            supports.append(Support(body=body.name, at=vector(at), along=along))
            joins += [Join(body.name, bodies[index].name, "held"), Join(body.name, wall, "held")]
    return tuple(supports), made, joins


def _places(group: Supports, total: float) -> tuple[float, ...]:
    if group.every is None:
        return group.at
    count = max(1, int(np.ceil(total / group.every)))
    return (*group.at, *(total * (k + 0.5) / count for k in range(count)))


def _on_run(run: Run, elements: list[Element], along: float) -> tuple[int, Array, Array]:
    """Return the element, the point and the direction at a distance along the run; nudged off a fitting."""
    done = 0.0
    spans: list[tuple[float, float, int]] = []
    for index, element in enumerate(elements):
        spans.append((done, done + element.flow_length, index))
        done += element.flow_length
    pipes = [span for span in spans if elements[span[2]].kind in ("pipe", "tube")]
    low, high, index = min(pipes, key=lambda s: max(s[0] - along, along - s[1], 0.0))
    margin = min(0.012, (high - low) / 2)
    rest = min(max(along, low + margin), high - margin) - low
    path = np.array(elements[index].path)
    for a, b in itertools.pairwise(path):
        step = float(np.linalg.norm(b - a))
        if rest <= step + 1e-12:
            return index, a + (b - a) * (rest / step), (b - a) / step
        rest -= step
    raise RuntimeError(f"no point {along} m along {run.name} (run_supports._on_run)")


def _support(
    run: Run, site: Site, group: Supports, element: Element, at: Array, way: Array, number: int
) -> tuple[Body, str]:
    wall, foot = _nearest_wall(run, site, group.against, at)
    toward = foot - at
    toward = toward - float(np.dot(toward, way)) * way
    stand = float(np.linalg.norm(toward))
    make = clip if group.kind == "clip" else suction_cup
    try:
        shape = make(element.outside, stand)
    except ValueError as error:
        raise run.mistake(
            "supports",
            f"a {group.kind.replace('_', ' ')} {stand * 1000:.0f} mm from the pipe's middle to {wall}: {error}",
            expected="room for the support between pipe and wall",
            remedy="move the run away from the wall, or fix the support to something else",
        ) from error
    foot_port = next(port for port in shape.ports if port.end == "foot")
    own_pipe = _own_axis(foot_port.direction)
    rotation = _frame(toward / stand, way) @ _frame(np.array(foot_port.direction), own_pipe).T
    solid = shape.shape.solid(Placement(rotation, at))
    body = run.body(
        solid,
        site,
        material="pvc",
        piece=f"{group.kind}_{number}",
        kind=group.kind,
        where=where_is(site, run, solid.bounds),
    )
    return body, wall


def _nearest_wall(run: Run, site: Site, against: str, at: Array) -> tuple[str, Array]:
    """Return the full name of what holds the support, and the point of it nearest to ``at``."""
    tank = site.tank()
    panels = tank.data.panels
    if against and against not in panels:
        owner = site.built(against.split(".")[0], run)
        bodies = [body for body in owner.bodies if against in (body.name, body.part)]
        if not bodies:
            raise run.mistake("supports", f"{against!r} is no body", expected="a panel or a part's body")
        point = ball(1e-5).solid(Placement.at(at))
        gaps = [(gap(point, body.solid), body.name) for body in bodies]
        nearest, name = min(gaps, key=lambda pair: pair[0].distance)
        return name, np.array(nearest.at_b)
    chosen = [panels[against]] if against else list(panels.values())
    found = []
    for panel in chosen:
        u, v, w = panel.local(at)[0]
        outline = np.array(panel.glass)
        low, high = outline.min(axis=0), outline.max(axis=0)
        if not (low[0] <= u <= high[0] and low[1] <= v <= high[1]):
            continue  # no glass there
        face = 0.0 if w > -panel.thickness / 2 else -panel.thickness  # the side of the pane the pipe is on
        found.append((abs(float(w) - face), panel.body, np.array(panel.at(float(u), float(v), face))))
    if not found:
        raise run.mistake(
            "supports",
            f"no glass stands beside the run at {', '.join(f'{v * 1000:.0f}' for v in at)} mm",
            expected="a place along the run that lies beside glass",
            remedy="say what holds it: `against:` a body, such as stand.top",
        )
    _, name, foot = min(found, key=lambda item: item[0])
    return name, foot


def _own_axis(foot: tuple[float, float, float]) -> Array:
    """Return the pipe's axis in a support's own axes: x, or z where the foot is along x."""
    return np.array([1.0, 0.0, 0.0]) if abs(foot[0]) < 0.9 else np.array([0.0, 0.0, 1.0])


def _frame(first: Array, second: Array) -> Array:
    return np.column_stack([first, second, np.cross(first, second)])
