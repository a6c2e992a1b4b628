"""What ``make`` writes and prints: parts, cuts, panes and sheets as JSON, CSV and text.

Text is in the units of ``units.shown_in``.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from typing import Any

from layout3d.model.model import Model
from layout3d.report.cautions import BENCH
from layout3d.report.json import heading, plain, told, written
from layout3d.report.text import title_lines
from layout3d.report.writing import Line, section, table
from layout3d.shop.cut_list import OFF
from layout3d.shop.fault import Fault
from layout3d.shop.rows import Row, told_length
from layout3d.shop.shop import Shop
from layout3d.units import in_own_units, length_unit, on_drawing, show, to_si

__all__ = [
    "amount_text",
    "bench_lines",
    "cost_line",
    "cut_text",
    "fault_lines",
    "make_files",
    "make_lines",
    "pack_text",
]

NO_EDGES = (
    "where no edges are told, how those panes meet is not modelled: have each edge arrissed at least (common "
    "practice, no source), and ask the glazier"
)
_COLUMNS = (
    *("number", "item", "size", "count", "length", "area", "volume", "mass", "buy", "packs", "pack", "cost"),
    *("marks", "parts", "note", "source"),
)
_UNITS = {"length": "m", "area": "m²", "volume": "m³", "mass": "kg", "count": ""}


def make_files(model: Model, shop: Shop) -> dict[str, bytes]:
    """Return the lists as files: path below the folder -> content."""
    head = heading(model)
    files = {
        "parts.json": written({**head, **_parts_json(model, shop)}),
        "parts.csv": _parts_csv(shop.parts),
        "cuts.json": written({**head, **_cuts_json(shop)}),
    }
    return {name: text.encode() for name, text in files.items()}


def _parts_json(model: Model, shop: Shop) -> dict[str, Any]:
    rows = []
    for row in shop.parts:
        amount = round(row.amount) if row.measure == "count" else row.amount
        facts = told(row, "number item size source marks parts spare note")
        facts |= {row.measure: amount, "buy": row.wanted}
        if row.mass:
            facts["mass"] = row.mass
        if row.spare:
            facts["spare_source"] = row.spare_source
        if row.pack:
            facts |= told(row, "pack packs pack_source")
        if row.cost is not None:
            facts["cost"] = row.cost
        rows.append(facts)
    costs = [row.cost for row in shop.parts if row.cost is not None]
    return {
        "rows": rows,
        "cost": sum(costs) if costs else None,
        "without_price": sum(row.cost is None for row in shop.parts),
        "currency": model.scene.shop.currency,
        "not_counted": list(shop.not_counted),
        "cautions": [BENCH],
    }


def _parts_csv(rows: Sequence[Row]) -> str:
    """Return the rows as CSV (RFC 4180), SI units; what a spreadsheet might take for a formula is quoted."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([f"{name} [{unit}]" if (unit := _UNITS.get(name, "")) else name for name in _COLUMNS])
    for row in rows:
        amounts = {row.measure: f"{row.amount:.6g}", "buy": f"{row.wanted:.6g}"}
        if row.mass:
            amounts["mass"] = f"{row.mass:.6g}"
        packs = {"packs": str(row.packs), "pack": f"{row.pack:.6g}"} if row.pack else {}
        cost = {"cost": f"{row.cost:.2f}"} if row.cost is not None else {}
        words = {name: getattr(row, name) for name in ("item", "size", "note", "source")}
        lists = {"marks": " ".join(row.marks), "parts": " ".join(row.parts)}
        cells: dict[str, str] = {"number": str(row.number), **amounts, **packs, **cost, **words, **lists}
        told = [cells.get(name, "") for name in _COLUMNS]
        writer.writerow([f"'{text}" if text[:1] in ("=", "+", "-", "@") else text for text in told])
    return text.getvalue()


def _cuts_json(shop: Shop) -> dict[str, Any]:
    cuts = shop.cuts
    bars = [
        {
            "size": each.size,
            "stock": bar.stock,
            "pieces": [each.marks[index] for index in bar.pieces],
            "offcut": bar.offcut,
        }
        for each in cuts.plans
        for bar in each.plan.bars
    ]
    return {
        "pieces": plain(cuts.pieces),
        "bars": bars,
        "kerf": cuts.kerf,
        "kerf_source": cuts.kerf_source,
        "optimal": cuts.optimal,
        "plans": [
            told(each, "size source bars=plan.bars cost=plan.cost bound=plan.bound")
            | {"bars": len(each.plan.bars), "optimal": each.plan.optimal}
            for each in cuts.plans
        ],
        "runs": plain(cuts.fits),
        "panes": plain(shop.panes),
        "slabs": plain(shop.slabs),
        "sheets": plain(shop.sheets),
        "faults": plain(shop.faults),
        "cautions": [BENCH],
    }


# -- text -----------------------------------------------------------------------------------------------


@in_own_units
def make_lines(model: Model, shop: Shop) -> list[Line]:
    """Return the cut list, the bars and what to buy as text."""
    return [*bench_lines(shop), *_buy_lines(model, shop)]


def bench_lines(shop: Shop) -> list[Line]:
    """Return the cut list, the bars, the dry fit, panes and slabs as text."""
    return [
        *_cut_lines(shop),
        *_bar_lines(shop),
        *_fit_lines(shop),
        *_pane_lines(shop),
        *_slab_lines(shop),
    ]


def cut_text(length: float) -> str:
    """Return a length as it is set on the saw: mm to a tenth, or inches as on sheets with mm beside.

    >>> from layout3d.units import shown_in
    >>> with shown_in("inch"):
    ...     cut_text(1.1804)
    '46 15/32 in (1180.4 mm)'
    """
    millimetres = f"{length / to_si(1, 'mm'):.1f} mm"
    return millimetres if length_unit() == "mm" else f"{on_drawing(length)} in ({millimetres})"


def fault_lines(model: Model, faults: Sequence[Fault]) -> list[Line]:
    """Return the head of the text, and what can't be made."""
    lines = [*title_lines(model), *([Line("")] if faults else [])]
    for fault in faults:
        lines += [Line(f"fault    {fault.message}", style="fault"), Line(fault.remedy, 9)]
    return lines


def _cut_lines(shop: Shop) -> list[Line]:
    rows = [("mark", "", "length", "pipe", "", "for")]
    for cut in dict.fromkeys(piece.cut for piece in shop.cuts.pieces):
        of = [piece for piece in shop.cuts.pieces if piece.cut == cut]
        first = of[0]
        where = ", ".join(f"{p.mark} {p.part}" if len(of) > 1 else p.part for p in of)
        drilled = f"{first.holes} holes" if first.holes else ""
        rows.append((cut, f"{len(of)} x", cut_text(first.length), first.size, drilled, where))
    head = "Cut list: socket bottom to socket bottom; take none of it from a dry fit"
    return section(head, table(rows, right=(1,), headed=True) if shop.cuts.pieces else ())


def _bar_lines(shop: Shop) -> list[Line]:
    cuts = shop.cuts
    rows = [("pipe", "bar", "length", "cut to", "rest")]
    for each in cuts.plans:
        for number, bar in enumerate(each.plan.bars, start=1):
            marks = " ".join(each.marks[index] for index in bar.pieces)
            rest = cut_text(bar.offcut)
            rows.append((each.size, f"{number}", told_length(bar.stock), marks, rest))
    unproved = [
        Line(f"{each.size}: not proved the best: {each.plan.cost:.2f}, none below {each.plan.bound:.2f}", 2)
        for each in cuts.plans
        if not each.plan.optimal
    ]
    lines = [*table(rows, right=(1, 2), headed=True), *unproved] if cuts.plans else []
    return section(f"Bars, {told_length(cuts.kerf)} a cut", lines)


def _fit_lines(shop: Shop) -> list[Line]:
    rows = [("run", "joints", "stand out", "the end is off by")]
    for fit in shop.cuts.fits:
        if fit.joints:
            low, high = (show(value, "length") for value in fit.stands_out)
            worst = [show(value, "length") for value in fit.worst]
            joints = "1 socket" if fit.joints == 1 else f"{fit.joints} sockets"
            moved = f"x {worst[0]}, y {worst[1]}, z {worst[2]}"
            rows.append((fit.part, joints, f"{low} to {high}", moved))
    off = show(OFF, "length")
    head = f"Dry fit: what all joints together stand out; how far the end is off if each cut is off by {off}"
    return section(head, table(rows, headed=True) if len(rows) > 1 else ())


def _pane_lines(shop: Shop) -> list[Line]:
    rows = [("pane", "of", "length x height x thickness", f"holes, {length_unit()}", "edges")]
    for pane in shop.panes:
        size = " x ".join(told_length(side) for side in pane.size)
        holes = []
        for hole in pane.holes:
            wide, left, up = (
                on_drawing(length) for length in (hole.diameter, hole.from_left, hole.from_bottom)
            )
            holes.append(f"{hole.name} ⌀ {wide} at {left}, {up}")
        works = dict.fromkeys(work for _, work in pane.edges)
        edges = [f"{', '.join(side for side, of in pane.edges if of == work)}: {work}" for work in works]
        rows.append((pane.name, pane.material, size, "; ".join(holes), "; ".join(edges)))
    head = "Panes, seen from inside; holes from the left and the lower edge to their centres"
    lines = table(rows, headed=True) if shop.panes else []
    if not all(pane.edges for pane in shop.panes):
        lines.append(Line(NO_EDGES, 2, "faint"))
    return section(head, lines)


def _slab_lines(shop: Shop) -> list[Line]:
    layers = {name: n for use in shop.sheets for name, n in use.layers}
    rows = [("slab", "of", "width x height x depth, carved", "layers")]
    for slab in shop.slabs:
        sides = (slab.width, slab.height, slab.depth)
        size = " x ".join(show(side, "length") for side in sides)
        rows.append((slab.name, slab.material, size, f"{layers.get(slab.name, '')}"))
    lines = table(rows, right=(3,), headed=True) if shop.slabs else []
    for use in shop.sheets:
        count = f"{use.sheets} sheet{'' if use.sheets == 1 else 's'} of {use.material}"
        sheet = (use.sheet.length, use.sheet.width, use.sheet.thickness)
        size = " x ".join(told_length(side) for side in sheet)
        lines.append(Line(f"{count}, {size}: {use.waste:.0%} of it is sawn or carved away", 2))
    return section("Slabs of the background", lines)


def _buy_lines(model: Model, shop: Shop) -> list[Line]:
    rows = [("", "", "item", "size", "")]
    for row in shop.parts:
        packs = pack_text(row, model.scene.shop.currency)
        rows.append((f"{row.number}", amount_text(row), row.item, row.size, packs))
    cost = cost_line(model, shop)
    lines = [*table(rows, right=(0, 1), headed=True), *([Line(cost, 2)] if cost else [])]
    return section("Parts", lines) + section("Not counted", (Line(text, 2) for text in shop.not_counted))


def cost_line(model: Model, shop: Shop) -> str:
    """Return what all that has a price costs together; empty where nothing has one."""
    costs = [row.cost for row in shop.parts if row.cost is not None]
    if not costs:
        return ""
    without = sum(row.cost is None for row in shop.parts)
    rest = f"; {without} rows have no price" if without else ""
    return f"{sum(costs):,.2f} {model.scene.shop.currency}".rstrip() + f" together{rest}"


def amount_text(row: Row) -> str:
    """Return how much is bought."""
    if row.measure == "count":
        return f"{math.ceil(row.wanted - 1e-9)}"
    return show(row.wanted, "liquid" if row.liquid else row.measure)


def pack_text(row: Row, currency: str) -> str:
    """Return the packs that it takes, the spare in it, its cost and the note."""
    packs = f"{row.packs} packs" if row.packs > 1 else "1 pack" if row.packs else ""
    packs = "" if row.measure == "count" and row.pack == 1 else packs
    spare = f"{row.spare:.0%} spare in it" if row.spare else ""
    cost = f"{row.cost:,.2f} {currency}".rstrip() if row.cost is not None else ""
    return ", ".join(text for text in (packs, spare, cost, row.note) if text)
