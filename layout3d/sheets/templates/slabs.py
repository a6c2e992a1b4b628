"""Templates of a background: its pieces, what is cut out of them, and what they are foamed around."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.background import Background
from layout3d.parts.background_data import BackgroundData, Slab
from layout3d.parts.base import Built
from layout3d.sheets.drawing import Element, Path, Text
from layout3d.sheets.placer import Placer
from layout3d.sheets.templates.template import TEXT, Box, Ruler, Template, length_words
from layout3d.solid.boolean import flat_outline, union
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box
from layout3d.solid.shape import Solid

__all__ = ["slab_templates"]

EDGE = 12.0
"""Paper that is kept around what is cut out, [mm]."""

Ring = tuple[tuple[float, float], ...]


def slab_templates(model: Model) -> list[Template]:
    """Return a template of each slab that something is cut out of or foamed into."""
    made = []
    for built in model.backgrounds:
        made += [
            template for slab in built.data.slabs if (template := _template(model, built, slab)) is not None
        ]
    return made


def _template(model: Model, built: Built[Background, BackgroundData], slab: Slab) -> Template | None:
    name, ruler = built.part.name, Ruler(TEXT)
    outlines = [ring for body in slab.bodies for ring in _rings(slab, [model.body(body).solid])]
    cuts: list[tuple[str, str, list[Ring]]] = []
    by_run: dict[str, list[Solid]] = {}
    for run, piece in slab.channels:
        by_run.setdefault(run, []).append(piece)
    for run, pieces in by_run.items():
        cuts.append((f"channel for {run}", "outline", _rings(slab, pieces)))
    for number, opening in enumerate(slab.openings, start=1):
        cuts.append((f"cut-out {number}", "outline", _rings(slab, [opening])))
    for embed in built.part.embeds:
        solids = list(_embedded(model, embed, slab))
        if solids:
            cuts.append((embed, "hidden", _rings(slab, solids)))
    cuts = [(what, kind, rings) for what, kind, rings in cuts if rings]
    if not cuts:
        return None
    frame = [point for ring in outlines for point in ring]
    low = (min(x for x, _ in frame), min(y for _, y in frame))
    high = (max(x for x, _ in frame), max(y for _, y in frame))

    def shifted(ring: Ring) -> Ring:
        return tuple((x - low[0], y - low[1]) for x, y in ring)

    made: list[Element] = [Path(shifted(ring), "outline", closed=True) for ring in outlines]
    needed: list[Box] = []
    notes = [
        f"{name} on {slab.panel.body}: {length_words((high[0] - low[0]) / 1000.0)} × "
        f"{length_words((high[1] - low[1]) / 1000.0)} before anything is cut out of it.",
    ]
    dimensions = []
    boxes = []
    for what, kind, rings in cuts:
        made += [Path(shifted(ring), kind, closed=True, layer="holes") for ring in rings]
        points = np.array([point for ring in rings for point in shifted(ring)])
        (left, bottom), (right, top) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        boxes.append((what, (left, bottom, right, top)))
        needed.append((left - EDGE, bottom - EDGE, right + EDGE, top + EDGE))
        x, y = (left + right) / 2, (bottom + top) / 2
        near_left = left <= high[0] - low[0] - right
        edge_x, at_x = (0.0, left) if near_left else (high[0] - low[0], right)
        near_low = bottom <= high[1] - low[1] - top
        edge_y, at_y = (0.0, bottom) if near_low else (high[1] - low[1], top)
        dimensions += [
            ruler.across(f"{what} across", (edge_x, y), (at_x, y), y),
            ruler.up(f"{what} up", (x, edge_y), (x, at_y), x),
        ]
        needed += [
            (min(edge_x, at_x), y - 1.0, max(edge_x, at_x), y + 1.0),
            (x - 1.0, min(edge_y, at_y), x + 1.0, max(edge_y, at_y)),
        ]
        notes.append(
            f"{what}: {length_words((right - left) / 1000.0)} × "
            f"{length_words((top - bottom) / 1000.0)}, "
            f"its left end {length_words(left / 1000.0)} from the slab's left edge, its lower edge "
            f"{length_words(bottom / 1000.0)} over the slab's."
        )
    placer = Placer(made)
    for dimension in dimensions:
        made += placer.put_dimension(dimension) if dimension.value > 0.002 else []
    for what, (left, bottom, right, top) in boxes:
        made += placer.put(
            Text((x, y), what, TEXT, "middle")
            for away in range(1, 8)
            for y in (top + 2.5 * away, bottom - TEXT - 2.5 * away)
            for x in ((left + right) / 2, left + 20.0, right - 20.0)
        )
    kept = "-" + slab.panel.name if len(built.data.slabs) > 1 else ""
    return Template(
        name=f"{name}{kept}",
        title=f"{name} on {slab.panel.name}",
        seen="Seen from inside the tank, towards the glass",
        elements=tuple(made),
        notes=(
            *notes,
            "Full lines: cut out. Dashed: what is foamed in, behind the carved face. No depths are on it.",
        ),
        needed=tuple(needed),
    )


def _rings(slab: Slab, solids: Iterable[Solid]) -> list[Ring]:
    """Return the outline of solids as they lie over the slab's panel, [mm]."""
    whole = union(solids)
    if whole is None:
        return []
    rings = flat_outline(whole, right=slab.panel.along, out=slab.panel.inward, origin=slab.panel.origin)
    return [tuple((1000.0 * float(x), 1000.0 * float(y)) for x, y in ring) for ring in rings]


def _embedded(model: Model, name: str, slab: Slab) -> Iterator[Solid]:
    """Yield the solids of an embedded part or hole's bulkhead that lie within the slab's own room."""
    near, far = (slab.u[0], slab.v[0], 0.0), (slab.u[-1], slab.v[-1], slab.front.max())
    backgrounds = {built.part.name for built in model.backgrounds}
    for body in model.bodies_of(name, f"{model.tank_name}.{name}"):
        if body.part in backgrounds or (body.group == "glass" and body.kind == "panel"):
            continue
        local = slab.panel.local(body.solid.vertices)
        if (local.min(axis=0) < far).all() and (local.max(axis=0) > near).all():
            yield body.solid
    for built in model.overflow_boxes:
        if built.part.name == name:  # the slab leaves its water free as well
            corners = np.concatenate([body.solid.bounds for body in built.bodies])
            low, high = corners.min(axis=0), corners.max(axis=0)
            yield box(high - low).solid(Placement.at(low))
