"""What is used up: silicone, foam, cement, primer. Counted from joints and gaps, each figure with its source.

Where no figure is to be had that is said instead: glue of other kinds, coats, tape.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from layout3d.catalog import Pipe
from layout3d.catalog.table import table
from layout3d.fittings.registry import fittings
from layout3d.model.model import Model
from layout3d.parts.base import Join
from layout3d.parts.run_data import Element
from layout3d.parts.tank_data import RoundWall, TankData
from layout3d.shop.rows import Row

__all__ = ["cement_joints", "cement_row_of", "consumables"]

FOAM = "expanding polyurethane foam"
CementJoint = tuple[Join, Pipe]
"""A joint that is cemented, and the pipe whose socket it is."""


def consumables(model: Model) -> tuple[list[Row], list[str]]:
    """Return the rows of what is used up, and in words what no figure is known for."""
    rows, unknown = _silicone(model)
    for more, said in (_cement(model), _bedding(model)):
        rows += more
        unknown += said
    unknown.append("coats on a background, tape, sandpaper: take what the product's sheet says")
    return rows, unknown


def _pack(name: str) -> tuple[float, str]:
    row = next(row for row in table("consumable").rows if row["name"] == name)
    return float(row["pack"]), str(row["source"])


# -- silicone -------------------------------------------------------------------------------------------


def _silicone(model: Model) -> tuple[list[Row], list[str]]:
    gap, gap_source = table("consumable").rule("glue_gap")
    joints: dict[str, float] = {}
    unknown: list[str] = []
    beads = 0.0
    tank = model.built[model.tank_name]
    whole = model.scene.shop.tank == "whole" or tank.part.name in model.scene.shop.in_place
    materials = {body.material for body in tank.bodies if body.kind == "panel"}
    if not whole and materials == {"glass"}:
        joints[tank.part.name] = _tank_joints(model.tank) + _brace_joints(model)
        beads = sum(body.solid.volume for body in tank.bodies if body.kind == "silicone")
    elif not whole:
        other = ", ".join(sorted(materials))
        unknown.append(f"glue between the panes of {tank.part.name}: {other} is not bonded by silicone")
    for box in model.overflow_boxes:
        part = box.part
        joints[part.name] = (2 * (part.top - part.bottom) + part.width + 2 * part.depth) * part.glass
        if part.material != "glass":
            unknown.append(f"glue of {part.name}: silicone holds {part.material} badly; ask for one for both")
    for built in model.sumps:
        sump, bodies = built.part, [body for body in built.bodies if body.kind == "baffle"]
        if sump.material != "glass":
            unknown.append(f"glue of {sump.name}: {sump.material} is not bonded by silicone")
            continue
        (length, depth, height), t = sump.inside, sump.glass
        area = (2 * (length + 2 * t) + 2 * depth + 4 * height) * t
        for body in bodies:
            low, high = body.solid.bounds
            feet = 0.0 if low[2] > built.data.floor + 1e-6 else depth
            thick = min(high[0] - low[0], high[1] - low[1])
            area += float((2 * (high[2] - low[2]) + feet) * thick)
        joints[sump.name] = area
    volume = beads + gap * sum(joints.values())
    if not volume:
        return [], unknown
    spare, spare_source = table("consumable").rule("silicone_spare")
    row = Row(
        item="silicone",
        size="acetoxy, for aquaria",
        measure="volume",
        amount=volume,
        source=f"beads as modelled; joints by their area and a gap of {gap * 1e3:g} mm ({gap_source})",
        parts=tuple(joints),
        spare=spare,
        spare_source=spare_source,
        liquid=True,
    )
    return [row.in_packs(*_pack("silicone"))], unknown


def _tank_joints(tank: TankData) -> float:
    """Return the area of glue between walls and bottom, and between walls, [m²]."""
    area = 0.0
    for wall in tank.walls:
        closed = isinstance(wall, RoundWall) and wall.closed
        area += wall.length * wall.thickness + (0.0 if closed else wall.height * wall.thickness)
    return area


def _brace_joints(model: Model) -> float:
    tank: Any = model.built[model.tank_name].part
    plan = model.tank.plan
    around = sum(math.dist(a, b) for a, b in zip(plan, (*plan[1:], plan[0]), strict=True))
    strip = getattr(tank, "perimeter_brace", None)
    area = around * float(strip.thickness) if strip else 0.0
    return area + sum(
        2.0 * float(brace.width * brace.thickness) for brace in getattr(tank, "cross_braces", ())
    )


# -- cement ---------------------------------------------------------------------------------------------


def cement_joints(model: Model) -> Iterator[CementJoint]:
    """Yield each joint that is cemented: pipe or bush in a socket, but in no clamped rubber coupling."""
    elements: dict[str, Element] = {}
    for built in model.runs:
        if not built.data.flexible and built.data.material == "pvc":
            elements |= {element.body: element for element in built.data.elements}
    catalog = model.scene.catalog
    for join in model.joins:
        if join.how != "socket" or not {join.a, join.b} & elements.keys():
            continue
        kinds = {model.body(name).kind for name in (join.a, join.b) if name not in model.built}
        if not all(fittings()[kind].cemented for kind in kinds & fittings().keys()):
            continue
        found = [elements[name] for name in (join.a, join.b) if name in elements]
        pipes = [element for element in found if element.kind == "pipe"] or found
        yield join, max((catalog.pipe(e.size) for e in pipes), key=lambda pipe: pipe.outside_diameter)


def cement_row_of(pipe: Pipe) -> Mapping[str, Any] | None:
    """Return the row of the table of cement for a pipe; None where it is larger than all."""
    shipped = table("solvent_cement")
    outside = pipe.outside_diameter - 1e-9
    return next((row for row in shipped.rows if shipped.metres(row["most"]) >= outside), None)


def _cement(model: Model) -> tuple[list[Row], list[str]]:
    shipped, volume, parts, unknown = table("solvent_cement"), 0.0, list[str](), list[str]()
    count = 0
    for join, pipe in cement_joints(model):
        row = cement_row_of(pipe)
        if row is None:
            unknown.append(f"cement for the joint of {join.a} and {join.b}: no figure for {pipe.name}")
            continue
        count += 1
        volume += float(row["millilitres"]) * 1e-6
        parts.append(join.a.split(".")[0])
    others = {
        built.data.material
        for built in model.runs
        if not built.data.flexible and built.data.material != "pvc"
    }
    unknown += [f"joints of {material} pipe: no cement is known for it" for material in sorted(others)]
    if not count:
        return [], unknown
    joints = "1 joint" if count == 1 else f"{count} joints"
    (spare, spare_source), (share, share_source) = shipped.rule("spare"), shipped.rule("primer")
    common: Any = {
        "measure": "volume",
        "parts": tuple(dict.fromkeys(parts)),
        "spare": spare,
        "spare_source": spare_source,
        "liquid": True,
    }
    cement = Row(
        item="solvent cement",
        size=f"for PVC-U, {joints}",
        amount=volume,
        source=f"table solvent_cement: {shipped.source}",
        **common,
    )
    prime = Row(
        item="primer",
        size=f"for PVC-U, {joints}",
        amount=share * volume,
        source=f"{share:g} of the cement's volume: {share_source}",
        **common,
    )
    return [cement.in_packs(*_pack("solvent cement")), prime.in_packs(*_pack("primer"))], unknown


# -- foam -----------------------------------------------------------------------------------------------


def _bedding(model: Model) -> tuple[list[Row], list[str]]:
    volumes: dict[str, float] = {}
    parts: dict[str, list[str]] = {}
    unknown = []
    for built in model.backgrounds:
        for body in built.bodies:
            if body.kind == "bedding":
                volumes[body.material] = volumes.get(body.material, 0.0) + body.solid.volume
                parts.setdefault(body.material, []).append(body.part)
        if not built.part.bedding:
            unknown.append(f"what holds {built.part.name} to the glass: the scene gives no `bedding:`")
        elif built.part.embeds:
            unknown.append(f"foam around what {built.part.name} embeds: as much as its pockets are cut wider")
    rows = []
    spare, spare_source = table("consumable").rule("foam_spare")
    for material, volume in volumes.items():
        row = Row(
            item=material,
            size="as it lies, risen" if material == FOAM else "as it lies",
            measure="volume",
            amount=volume,
            source="the gap between glass and slab, as modelled",
            parts=tuple(dict.fromkeys(parts[material])),
            spare=spare,
            spare_source=spare_source,
        )
        rows.append(row.in_packs(*_pack(FOAM)) if material == FOAM else row)
    return rows, unknown
