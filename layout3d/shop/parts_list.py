"""The parts list: everything that is bought, counted from the model, with where each figure comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from layout3d.catalog import Pipe
from layout3d.catalog.shipped import hose_clamp
from layout3d.catalog.table import table
from layout3d.errors import LayoutError
from layout3d.fittings.registry import fitting, fittings
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.parts.plant import Plant
from layout3d.parts.run_data import Element, RunData
from layout3d.parts.stand import Stand
from layout3d.shop.consumables import consumables
from layout3d.shop.cut_list import CutList
from layout3d.shop.panes import Pane
from layout3d.shop.rows import Row, packed, told_length
from layout3d.shop.slab import SheetUse
from layout3d.units import show

__all__ = ["parts_list"]

MODELLED = "the scene"
UNPACKED: Any = {"pack": 0.0, "pack_source": "", "packs": 0, "cost": None}
"""What a row with more of the same is before it is put in packs."""
GROWN = 0.004  # what grew or was broken is told to a figure of some millimetres, [m]


def parts_list(
    model: Model, *, cuts: CutList, panes: tuple[Pane, ...], sheets: tuple[SheetUse, ...]
) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Return the rows, alike things together, and in words what is not counted.

    Raises
    ------
    UnknownName : the scene gives a pack of something that the list doesn't have.
    """
    used, unknown = consumables(model)
    rows = [
        *_panes(model, panes),
        *_boards(model),
        *_mats(model),
        *_pipes(model, cuts),
        *_fittings(model),
        *_bulkheads(model),
        *_supports(model),
        *_clamps(model),
        *_sheets(model, sheets),
        *_fills(model),
        *_hardscape(model),
        *_equipment(model),
        *used,
    ]
    standing = set(model.scene.shop.in_place)
    wanted = [row for row in rows if not row.parts or not {p.split(".")[0] for p in row.parts} <= standing]
    rows = list(packed(_together(wanted), model.scene))
    return tuple(replace(row, number=place) for place, row in enumerate(rows, start=1)), tuple(unknown)


def _together(rows: list[Row]) -> list[Row]:
    """Return the rows with equal items added up."""
    merged: dict[tuple[str, str, str, str], Row] = {}
    for row in rows:
        key = (row.item, row.size, row.measure, row.source)
        before = merged.get(key)
        if before is None:
            merged[key] = row
            continue
        merged[key] = replace(
            before,
            amount=before.amount + row.amount,
            mass=before.mass + row.mass,
            marks=tuple(dict.fromkeys((*before.marks, *row.marks))),
            parts=tuple(dict.fromkeys((*before.parts, *row.parts))),
            bodies=(*before.bodies, *row.bodies),
            **UNPACKED,
        )
    return list(merged.values())


def _dimensions(model: Model, *sides: float, give: float = 0.0) -> str:
    return " x ".join(told_length(side, model.scene.style, give=give) for side in sides)


def _one(item: str, size: str, source: str, part: str, note: str = "", *, bodies: Iterable[Body] = ()) -> Row:
    return Row(
        item=item,
        size=size,
        measure="count",
        amount=1,
        source=source,
        parts=(part,),
        note=note,
        bodies=tuple(body.name for body in bodies),
    )


def _panes(model: Model, panes: tuple[Pane, ...]) -> Iterator[Row]:
    whole = model.scene.shop.tank == "whole"
    if whole:
        tank = model.built[model.tank_name]
        size = _dimensions(model, *(float(side) for side in np.ptp(model.tank.interior.bounds, axis=0)))
        yield _one("tank", f"{size} inside", MODELLED, tank.part.name, "bonded and drilled by its maker")
    for pane in panes:
        if whole and pane.part == model.tank_name:
            continue
        drilled = f", {len(pane.holes)} drilled" if pane.holes else ""
        kind = f"pane of {'toughened ' if pane.tempered else ''}{pane.material}{drilled}"
        yield _one(kind, _dimensions(model, *pane.size), MODELLED, pane.name, pane.note)


def _boards(model: Model) -> Iterator[Row]:
    stands = [built.part for built in model.of_kind("stand") if isinstance(built.part, Stand)]
    walls = {stand.name: stand.frame.wall for stand in stands if stand.frame is not None}
    for body in model.bodies:
        if body.kind in ("board", "bar") and body.group == "stand":
            sides = sorted((float(side) for side in np.ptp(body.solid.bounds, axis=0)), reverse=True)
            wall = walls[body.part] if body.kind == "bar" else 0.0
            item = f"{'hollow ' if wall else ''}{body.kind} of {body.material}"
            size = _dimensions(model, *sides) + (f", walls {_dimensions(model, wall)}" if wall else "")
            yield _one(item, size, MODELLED, body.part, bodies=[body])


def _mats(model: Model) -> Iterator[Row]:
    for body in model.bodies:
        if body.kind == "mat":
            length, width, thick = (float(side) for side in np.ptp(body.solid.bounds, axis=0))
            lies = "under the tank" if body.group == "stand" else "in the tank"
            yield Row(
                item=f"mat of {body.material} {lies}",
                size=f"{_dimensions(model, thick)} thick",
                measure="area",
                amount=length * width,
                source=MODELLED,
                parts=(body.part,),
                bodies=(body.name,),
            )


def _pipes(model: Model, cuts: CutList) -> Iterator[Row]:
    tube_spare = table("consumable").rule("pipe_spare")
    planned = {each.size: each for each in cuts.plans}
    for kind in ("pipe", "tube"):
        for size in dict.fromkeys(piece.size for piece in cuts.pieces if piece.kind == kind):
            pieces = [piece for piece in cuts.pieces if (piece.kind, piece.size) == (kind, size)]
            bars = planned[size].plan.bars if kind == "pipe" else ()
            stocks = sorted({bar.stock for bar in bars}, reverse=True)
            counted = [
                f"{sum(bar.stock == stock for bar in bars)} of {_dimensions(model, stock)}"
                for stock in stocks
            ]
            prices = {stock.length: stock.price for stock in model.scene.shop.stocks if stock.pipe == size}
            costs = [prices.get(bar.stock) for bar in bars]
            known = [cost for cost in costs if cost is not None]
            spare, of_spare = (0.0, "by the cutting plan") if kind == "pipe" else tube_spare
            yield Row(
                item=kind,
                size=size,
                measure="length",
                cost=sum(known) if costs and len(known) == len(costs) else None,
                amount=sum(piece.length for piece in pieces),
                source=f"catalogue, {'pipes' if kind == 'pipe' else 'tubes'}",
                marks=tuple(piece.mark for piece in pieces),
                parts=tuple(dict.fromkeys(piece.part for piece in pieces)),
                spare=spare,
                spare_source=of_spare,
                note=f"bars by the cutting plan: {', '.join(counted)}" if counted else "",
            )


def _fittings(model: Model) -> Iterator[Row]:
    catalog = model.scene.catalog
    for built in model.runs:
        elements = built.data.elements
        for index, element in enumerate(elements):
            if element.kind not in fittings():
                continue
            made = fitting(element.kind)
            sizes = [element.size]
            if made.value == "pipe":  # a bush or a coupling between two pipes
                beside = elements[max(index - 1, 0) : index + 2]
                sizes = list(dict.fromkeys(each.size for each in beside))
                if not built.data.flexible:
                    sizes.sort(key=lambda size: -catalog.pipe(size).outside_diameter)
            source, there = _fitting_source(model, built.data, element), [model.body(element.body)]
            yield _one(made.said, " x ".join(sizes), source, built.part.name, bodies=there)


def _fitting_source(model: Model, run: RunData, element: Element) -> str:
    if run.flexible:
        return "catalogue, tubes; connectors are common practice, no source"
    try:
        return fitting(element.kind).size(model.scene.catalog, element.size).source
    except (LayoutError, TypeError, AttributeError):
        pipe: Pipe = model.scene.catalog.pipe(element.size)
        return pipe.source


def _bulkheads(model: Model) -> Iterator[Row]:
    for hole in model.tank.holes.values():
        if hole.bulkhead:
            entry = model.scene.catalog.bulkhead(hole.bulkhead)
            there = model.bodies_of(f"{model.tank_name}.{hole.name}")
            yield _one("bulkhead", entry.name, entry.source, hole.name, bodies=there)
            if hole.plugged:
                yield _one("plug for a bulkhead", entry.name, entry.source, hole.name)


def _supports(model: Model) -> Iterator[Row]:
    for built in model.runs:
        for support in built.data.supports:
            # a clip that holds it on the floor or a wall of the room is not drawn
            there = [model.body(support.body)] if support.body else []
            kind = there[0].kind.replace("_", " ") if there else "clip"
            source = "common practice, no source; makers differ"
            yield _one(kind, built.data.size, source, built.part.name, bodies=there)


def _clamps(model: Model) -> Iterator[Row]:
    for built in model.runs:
        ends = sum(join.how == "barb" for join in built.joins)
        if not built.data.flexible or not ends:
            continue
        tube = model.scene.catalog.tube(built.data.size)
        size = hose_clamp(tube.outside)
        if size:
            clamp = _one("hose clamp", f"{size} mm", table("hose_clamp").source, built.part.name)
            yield replace(clamp, amount=ends)


def _sheets(model: Model, uses: tuple[SheetUse, ...]) -> Iterator[Row]:
    share, of_spare = table("consumable").rule("sheet_spare")
    for use in uses:
        sheet = use.sheet
        wanted = (1.0 + share) * use.cut_from  # rests of the sheets are spare as well
        spare = max(0.0, wanted / use.sheets - 1.0)
        row = Row(
            item=f"sheet of {use.material}",
            size=_dimensions(model, sheet.length, sheet.width, sheet.thickness),
            measure="count",
            amount=use.sheets,
            source=use.source,
            parts=use.parts,
            spare=spare,
            spare_source=of_spare,
            note=("" if spare else f"its rests are {share:.0%} spare, ")
            + f"{use.waste:.0%} of it is sawn or carved away",
            bodies=tuple(name for name, _ in use.layers),
        )
        yield row if sheet.price is None else row.in_packs(1.0, "the scene", sheet.price)


def _fills(model: Model) -> Iterator[Row]:
    """Yield sand and other beds, and filter media: by volume as they lie, with their dry mass."""
    spare, of_spare = table("consumable").rule("bed_spare")
    known = model.scene.catalog.material
    for body in model.bodies:
        if body.kind in ("substrate", "media"):
            mass = show(body.mass, "mass", system=model.scene.style)
            what = "bed" if body.kind == "substrate" else "filter media"
            yield Row(
                item=f"{body.material}, {what}",
                size=f"{mass} dry",
                measure="volume",
                amount=body.solid.volume,
                mass=body.mass,
                source=f"as modelled; density of {body.material}: {known(body.material).source}",
                parts=(body.part,),
                bodies=(body.name,),
                spare=spare,
                spare_source=of_spare,
            )


def _hardscape(model: Model) -> Iterator[Row]:
    for built in model.of_kind("rock", "wood"):
        sides = np.ptp(np.vstack([body.solid.bounds for body in built.bodies]), axis=0)
        mass = sum(body.mass for body in built.bodies)
        weight = show(mass, "mass", system=model.scene.style)
        size = f"{_dimensions(model, *(float(side) for side in sides), give=GROWN)}, {weight}"
        item = f"{built.part.kind} ({built.bodies[0].material})"
        yield _one(item, size, MODELLED, built.part.name, bodies=built.bodies)
    plants: dict[str, list[Plant]] = {}
    for built in model.of_kind("plant"):
        assert isinstance(built.part, Plant), "a plant is a Plant (parts_list._hardscape)"
        plants.setdefault(built.part.form, []).append(built.part)
    for form, those in plants.items():
        ends = (end(plant.height for plant in those) for end in (min, max))
        heights = [show(height, "length", system=model.scene.style) for height in ends]
        yield Row(
            item=f"plant ({form})",
            size=f"{' to '.join(dict.fromkeys(heights))} high",
            measure="count",
            amount=len(those),
            source=MODELLED,
            parts=tuple(plant.name for plant in those),
            bodies=tuple(body.name for plant in those for body in model.built[plant.name].bodies),
        )


def _equipment(model: Model) -> Iterator[Row]:
    for built in model.built.values():
        part = built.part
        if part.group != "equipment":
            continue
        power = float(getattr(part, "power", 0.0))
        if part.kind == "pump":
            entry = model.scene.catalog.pump(str(getattr(part, "model", "")))
            item = "air pump" if entry.air else "pump"
            yield _one(item, entry.name, entry.source, part.name, entry.note, bodies=built.bodies)
        else:
            sides = np.ptp(np.vstack([body.solid.bounds for body in built.bodies]), axis=0)
            said = f", {show(power, 'power')}" if power else ""
            size = _dimensions(model, *(float(side) for side in sides)) + said
            yield _one(part.kind.replace("_", " "), size, MODELLED, part.name, bodies=built.bodies)
