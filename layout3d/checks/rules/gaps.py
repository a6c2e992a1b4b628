"""Gaps: of pipes to glass and to each other, along the front glass, and those that the scene asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import Joins, gaps_below, length, limit, missing, too_near
from layout3d.model.beds import lowest_bed
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.parts.tank_data import Wall
from layout3d.scene.scene import Clearance
from layout3d.solid.boolean import difference, trim
from layout3d.solid.distance import Gap, gap, near_pairs
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Solid

__all__ = ["Through", "clearances", "front_glass", "pipes_to_glass", "pipes_to_pipes", "viewing_panes"]

HOLDERS = ("clip", "suction_cup")
NEXT = 3
"""So many joins along the pipework two bodies belong together: the pipes on either side of a fitting, and a
run that starts at a tee beside the pipes of that tee."""
REACH = 0.1
"""How far on either side of the pane a pipe still counts as going through it, [m]: a bulkhead and a bend."""

LET_OFF = ("glass", "background", "substrate")
"""Groups that reach the front by nature: other panes, slabs on the side walls, the bed."""
SEEN_WITHIN = math.radians(60.0)
"""Panes turned no further than this from the first one are looked through as well, [rad]."""


class Through:
    """Tells which bodies go through which pane, and leaves out what of them is at the hole."""

    def __init__(self, model: Model, joins: Joins | None = None) -> None:
        found = joins or Joins(model)
        self._ways: dict[tuple[str, str], list[Solid]] = {}
        for hole in model.tank.holes.values():
            panel = model.tank.panels[hole.panel]
            radius = max(hole.diameter, hole.flange_diameter, hole.nut_diameter) / 2
            way = cylinder(radius, panel.thickness + 2 * REACH).solid(
                panel.frame(*hole.centre, -panel.thickness - REACH)
            )
            for name in found.of(f"{model.tank_name}.{hole.name}", how=("socket", "barb")):
                self._ways.setdefault((name, panel.body), []).append(way)

    def rest(self, body: Body, pane: Body) -> Solid | None:
        """Return what of a body is to be measured against another: all of it, but for the way through a hole.

        None where nothing is left.
        """
        ways = self._ways.get((body.name, pane.name))
        return difference(body.solid, ways) if ways else body.solid


@rule(
    "pipe-to-glass",
    asks="Pipes, tubes and fittings keep a gap to the tank's panes and braces.",
    limits=("pipe_to_glass", "pipe_to_glass_least"),
    follows=("overlap",),
)
def pipes_to_glass(model: Model) -> Iterator[Finding]:
    """Find pipework too near the glass; at its own pane, a pipe is measured beside its hole."""
    wanted = limit(model, "pipe_to_glass")
    through = Through(model)

    def may_touch(body: Body) -> bool:
        return _is_pipe(body) and body.kind != "bulkhead"

    def is_glass(body: Body) -> bool:
        return body.part == model.tank_name and body.kind in ("panel", "brace")

    for pipe, glass, _ in gaps_below(model, may_touch, is_glass, wanted):
        rest = through.rest(pipe, glass)
        between = gap(rest, glass.solid) if rest is not None else None
        if between is None or not missing(between.distance, wanted):
            continue
        remedy = f"move {pipe.part} {{short}} away from the glass"
        limits = "pipe_to_glass", "pipe_to_glass_least"
        yield from too_near(model, pipe, glass, between, *limits, remedy=remedy)


@rule(
    "pipe-to-pipe",
    asks="Pipes, tubes and fittings that are not joined keep a gap to each other.",
    limits=("pipe_to_pipe", "pipe_to_pipe_least"),
    follows=("overlap",),
)
def pipes_to_pipes(model: Model) -> Iterator[Finding]:
    """Find pipework too near other pipework; what lies next to a body along its own way is let off."""
    wanted = limit(model, "pipe_to_pipe")
    joins = Joins(model)
    pipes = {body.name for body in model.bodies if _is_pipe(body)}
    remedy = "move one of them {short} away from the other"
    for a, b, between in gaps_below(model, _is_pipe, _is_pipe, wanted):
        if {a.kind, b.kind} != {"bulkhead"} and b.name not in _next_to(joins, pipes, a.name):
            yield from too_near(model, a, b, between, "pipe_to_pipe", "pipe_to_pipe_least", remedy=remedy)


def _is_pipe(body: Body) -> bool:
    return body.group == "plumbing" and body.kind not in HOLDERS


def _next_to(joins: Joins, pipes: set[str], name: str) -> set[str]:
    """Return the bodies that are reached from one by a few joins along the pipework."""
    seen, edge = {name}, {name}
    for _ in range(NEXT):
        edge = joins.of(*edge, how=("socket", "barb")) & pipes - seen
        seen |= edge
    return seen


@rule(
    "clearance",
    asks="Parts keep the distance that the scene states under `clearances:`.",
    follows=("overlap",),
)
def clearances(model: Model) -> Iterator[Finding]:
    """Find the nearest pair of each entry of the scene's list that is too near.

    Bodies that are joined are let off, and so are pieces of one part, unless the entry names both of them.
    """
    joins = Joins(model)
    through = Through(model, joins)
    for entry in model.scene.clearances:
        pairs = _pairs(model, joins, entry)
        if not pairs:
            yield _asks_nothing(model, entry)
            continue
        nearest = _nearest(model, through, pairs, entry.at_least)
        if nearest is not None:
            told = f" (clearances){f', {entry.why}' if entry.why else ''}"
            remedy = f"move {nearest[0].part} away from {nearest[1].part} by {{short}}"
            yield from too_near(model, *nearest, entry.at_least, told=told, remedy=remedy)


def _pairs(model: Model, joins: Joins, entry: Clearance) -> set[tuple[str, str]]:
    """Return the names of all pairs of bodies that the entry is about, each in the order of the entry."""
    first, second = entry.between
    pairs: set[tuple[str, str]] = set()
    for a in model.bodies_of(first):
        for b in model.bodies_of(second):
            named = first != second and {first, second} == {a.name, b.name}
            skip = a.name == b.name or (b.name, a.name) in pairs or (joins.how(a, b) and not named)
            if not skip and (named or a.part != b.part):
                pairs.add((a.name, b.name))
    return pairs


def _nearest(
    model: Model, through: Through, pairs: set[tuple[str, str]], margin: float
) -> tuple[Body, Body, Gap] | None:
    """Return the pair with the least gap below the margin, in the order of its names; None for none."""
    bodies = [model.body(name) for name in sorted({name for pair in pairs for name in pair})]
    best: tuple[Body, Body, Gap] | None = None
    for i, j in near_pairs([body.solid for body in bodies], margin):
        a, b = bodies[i], bodies[j]
        if (b.name, a.name) in pairs:
            a, b = b, a
        if (a.name, b.name) not in pairs:
            continue
        one, other = through.rest(a, b), through.rest(b, a)
        if one is None or other is None:
            continue
        between = gap(one, other)
        if missing(between.distance, margin) and (best is None or between.distance < best[2].distance):
            best = (a, b, between)
    return best


def _asks_nothing(model: Model, entry: Clearance) -> Finding:
    first, second = entry.between
    empty = [name for name in entry.between if not model.bodies_of(name)]
    why = (
        f"nothing in the scene belongs to {empty[0]}"
        if empty
        else f"{first} and {second} are joined, or one part"
    )
    return Finding(
        severity="warning",
        parts=(first, second),
        limit=entry.at_least,
        message=f"the clearance of {length(entry.at_least)} between {first} and {second} measures nothing: "
        f"{why}",
        remedy="name parts that stand apart, or take the entry out",
    )


@rule(
    "front-glass",
    asks="A cleaning magnet gets along the inside of the front glass.",
    limits=("magnet_to_front_glass", "magnet_to_front_glass_least"),
    follows=("overlap",),
)
def front_glass(model: Model) -> Iterator[Finding]:
    """Find parts too near the front glass, above the bed; what is fixed to that glass is let off."""
    wanted = limit(model, "magnet_to_front_glass")
    panes = {pane.body: pane for pane in viewing_panes(model)}

    def may_hinder(body: Body) -> bool:
        return body.where == "tank" and body.group not in LET_OFF and body.kind not in ("foliage", "root")

    for body, glass, _ in gaps_below(model, may_hinder, lambda body: body.name in panes, wanted):
        pane = panes[glass.name]
        bed = lowest_bed(model, body.solid.bounds, near=pane)
        shown = trim(body.solid, normal=(0.0, 0.0, -1.0), offset=-bed) if bed > 0 else body.solid
        between = gap(shown, glass.solid) if shown is not None else None
        if between is None or not missing(between.distance, wanted):
            continue
        remedy = f"move {body.part} {{short}} away from that glass"
        limits = "magnet_to_front_glass", "magnet_to_front_glass_least"
        yield from too_near(model, body, glass, between, *limits, remedy=remedy)


def viewing_panes(model: Model) -> tuple[Wall, ...]:
    """Return the panes that the tank is looked at through: the first wall, and those turned a little from it.

    A pane that a background stands on is not looked through.
    """
    walls = model.tank.walls
    covered = {slab.panel.name for built in model.backgrounds for slab in built.data.slabs}
    first = np.array(walls[0].facing)
    return tuple(
        wall
        for wall in walls
        if wall.name not in covered and float(np.dot(first, wall.facing)) >= math.cos(SEEN_WITHIN) - 1e-9
    )
