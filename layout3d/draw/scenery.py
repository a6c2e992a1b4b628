"""What there is to draw of a model, apart from it: its bodies, waters and drips, and what a page tells.

It is kept with what was computed of a scene, so that a first picture needs no building. No light, no colour.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import PAGE_KINDS, WATER_NAME, Extent, PageFacts
from layout3d.draw.scan_skin import may_be_coloured
from layout3d.draw.style import finish_of
from layout3d.draw.waters import waters_of
from layout3d.draw.wet import Drips, drips_of
from layout3d.errors import UnknownName, nearest
from layout3d.keep import Form
from layout3d.parts.base import Body
from layout3d.plain import form_of
from layout3d.solid.boolean import difference, whole
from layout3d.solid.placement import Placement, vector
from layout3d.solid.shape import Solid
from layout3d.solid.store import file_shape, filed_shape

if TYPE_CHECKING:
    from layout3d.model.model import Model

__all__ = ["SCENERY", "Scenery", "chosen", "extents_of", "scenery_of", "seen_whole"]

FILLED = ("rock", "wood", "plant")
"""Groups of solid things: nothing is seen inside of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenery(PageFacts):
    """All that is drawn: ``plan`` is the tank's (k, 2), ``waters`` and ``drips`` are none where no water is.

    ``scanned`` tells that some bodies may have colours of their own, in the files that they come from.
    """

    bodies: tuple[Body, ...]
    plan: NDArray[np.float64]
    drips: Drips | None
    scanned: bool


def chosen(
    model: Model, *, hide: Iterable[str] = (), show: Iterable[str] = ()
) -> tuple[tuple[Body, ...], bool]:
    """Return the bodies to draw, and whether water is.

    Parameters
    ----------
    hide, show : bodies, parts, groups or 'water'. With ``show`` only these; ``hide`` takes away from that.

    Raises
    ------
    UnknownName : a name that nothing in the model bears.
    """
    hidden, shown = tuple(hide), tuple(show)
    known = {WATER_NAME}.union(*({b.name, b.part, b.group} for b in model.bodies))
    for name in (*hidden, *shown):
        if name not in known:
            raise UnknownName(
                f"nothing to show or hide is called {name!r}", expected=nearest(name, known, most=20)
            )
    bodies = model.bodies_of(*shown) if shown else model.bodies
    away = {body.name for body in model.bodies_of(*hidden)} if hidden else set()
    water = (not shown or WATER_NAME in shown) and WATER_NAME not in hidden and model.waterline > 0.0
    return tuple(body for body in bodies if body.name not in away), water


def extents_of(model: Model, bodies: Iterable[Body]) -> tuple[Extent, ...]:
    """Return where bodies of a model are."""
    found = []
    for body in bodies:
        low, high = body.solid.bounds
        # of a lamp its body, where its weight is
        top = min(high[2], 2.0 * body.solid.centroid[2] - low[2]) if body.kind == "light" else high[2]
        over = body.where == "room" and low[2] >= model.tank.height
        box = (vector(low), vector(high), float(top))
        found.append(Extent(body.name, body.part, *box, overhead=bool(over)))
    return tuple(found)


def scenery_of(model: Model, *, hide: Iterable[str] = (), show: Iterable[str] = ()) -> Scenery:
    """Return what there is to draw of a model; ``hide`` and ``show`` as ``chosen`` takes them.

    Raises
    ------
    UnknownName : a name that nothing in the model bears, or nothing is left to draw.
    """
    bodies, water = chosen(model, hide=hide, show=show)
    if not bodies:
        raise UnknownName("nothing is left to draw", expected="at least one body shown")
    return Scenery(
        bodies=bodies,
        plan=np.array(model.tank.plan),
        drips=drips_of(model) if water else None,
        scanned=any(b.scan is not None and may_be_coloured(b.scan) for b in model.built.values()),
        extents=extents_of(model, bodies),
        waters=waters_of(model, bodies) if water else (),
        title=model.scene.title or Path(model.scene.file).stem,
        style=model.scene.style or "metric",
        waterline=model.waterline,
        cameras=model.cameras,
    )


def seen_whole(scenery: Scenery) -> Scenery:
    """Return it with its beds not cut by rock, wood and plants, which hide what they take of them.

    It looks the same where all of them are shown and nothing is cut open, and no bed has to be cut for that.
    """
    filled = {
        body.solid for body in scenery.bodies if body.group in FILLED and finish_of(body).opacity == 1.0
    }

    def as_seen(body: Body) -> Body:
        carving = body.solid.carving
        if carving is None:
            return body
        others = (cutter for cutter in carving.cutters if cutter not in filled)
        return replace(body, solid=whole(difference(carving.base, others), "bed"))

    return replace(scenery, bodies=tuple(map(as_seen, scenery.bodies)))


# -- keeping ------------------------------------------------------------------------------------------------


def _solid_told(solid: Solid) -> dict[str, Any]:
    """Tell a solid, its shape by the key alone: shapes are filed apart, once for all scenes they stand in."""
    file_shape(solid.shape)
    return {"shape": solid.shape.key, "turn": solid.placement.rotation, "at": solid.placement.offset}


def _solid_read(told: dict[str, Any]) -> Solid:
    shape = filed_shape(told["shape"])
    if shape is None:
        raise ValueError("scenery without its shapes")
    return Solid(shape, Placement(told["turn"], told["at"]))


_SCENERY = form_of(
    "scenery",
    *(Scenery, Body, Drips, *PAGE_KINDS),
    size=lambda scenery: 2000 * len(scenery.bodies),
    others={Solid: (_solid_told, _solid_read)},
)
SCENERY: Form[Scenery] = replace(
    _SCENERY,
    pack=lambda scenery: _SCENERY.pack(
        replace(scenery, bodies=tuple(replace(body, uncut=None, rough=None) for body in scenery.bodies))
    ),
)
