"""Slabs of a background from sheets: layers, sheets, and what of them is sawn or carved away.

Each layer is laid in strips as wide as a sheet, butted end to end where a slab is longer; rests of strips are
planned like bars. The last strip of a layer counts as a whole one: another way of cutting may take less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout3d.catalog.table import table
from layout3d.model.model import Model
from layout3d.scene.shop import Sheet
from layout3d.shop.cutting import StockBar, plan

__all__ = ["SheetUse", "SlabPiece", "sheet_uses", "slab_pieces"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabPiece:
    """One piece of a slab: the block that it is carved from, in its panel's axes, and itself, [m], [m³]."""

    name: str
    part: str
    material: str
    width: float
    height: float
    depth: float
    volume: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetUse:
    """How many sheets the slabs of one material take, and the share of them that does not stay, [-].

    ``cut_from`` is how much of them strips are cut from, in sheets: what is over is spare.
    """

    material: str
    sheet: Sheet
    source: str
    sheets: int
    cut_from: float
    layers: tuple[tuple[str, int], ...]
    waste: float
    parts: tuple[str, ...]


def slab_pieces(model: Model) -> tuple[SlabPiece, ...]:
    """Return every piece of every slab, in the file's order."""
    pieces = []
    for built in model.backgrounds:
        for slab in built.data.slabs:
            for body in (model.body(name) for name in slab.bodies):
                width, height, depth = (
                    float(side) for side in np.ptp(slab.panel.local(body.solid.vertices), axis=0)
                )
                pieces.append(
                    SlabPiece(
                        name=body.name,
                        part=body.part,
                        material=body.material,
                        width=width,
                        height=height,
                        depth=depth,
                        volume=body.solid.volume,
                    )
                )
    return tuple(pieces)


def sheet_uses(model: Model, pieces: tuple[SlabPiece, ...]) -> tuple[tuple[SheetUse, ...], tuple[str, ...]]:
    """Return the sheets by material, and the materials for which no sheet is known."""
    uses, unknown = [], []
    for material in dict.fromkeys(piece.material for piece in pieces):
        of = [piece for piece in pieces if piece.material == material]
        sheet, source = _sheet(model, material)
        if sheet is None:
            unknown.append(material)
            continue
        layers = {piece.name: math.ceil(piece.depth / sheet.thickness - 1e-6) for piece in of}
        count, rests = 0, list[float]()
        for piece in of:
            whole, left = _strips(piece, sheet)
            count += whole * layers[piece.name]
            rests += left * layers[piece.name]
        cut_from = count + sum(rests) / sheet.length
        count += len(plan(rests, [StockBar(length=sheet.length)]).bars)
        bought = count * sheet.length * sheet.width * sheet.thickness
        uses.append(
            SheetUse(
                material=material,
                sheet=sheet,
                source=source,
                sheets=count,
                cut_from=cut_from,
                layers=tuple(layers.items()),
                waste=1.0 - sum(piece.volume for piece in of) / bought,
                parts=tuple(dict.fromkeys(piece.part for piece in of)),
            )
        )
    return tuple(uses), tuple(unknown)


def _sheet(model: Model, material: str) -> tuple[Sheet | None, str]:
    own = [sheet for sheet in model.scene.shop.sheets if sheet.material == material]
    if own:
        return own[0], "the scene"
    shipped, family = table("sheet_stock"), "inch" if model.scene.units == "in" else "metric"
    for row in shipped.rows:
        if (row["family"], row["material"]) == (family, material):
            length, width, thick = (shipped.metres(row[key]) for key in ("length", "width", "thickness"))
            return Sheet(material=material, length=length, width=width, thickness=thick), shipped.source
    return None, ""


def _strips(piece: SlabPiece, sheet: Sheet) -> tuple[int, list[float]]:
    """Return the whole sheets of one layer, and the lengths of strips left over; the better way round."""
    ways = []
    for along, across in ((piece.width, piece.height), (piece.height, piece.width)):
        strips = math.ceil(across / sheet.width - 1e-6)
        whole = math.floor(along / sheet.length + 1e-6)
        rest = along - whole * sheet.length
        ways.append((strips * along, strips * whole, [rest] * strips if rest > 1e-6 else []))
    _, whole, rests = min(ways, key=lambda way: way[0])
    return whole, rests
