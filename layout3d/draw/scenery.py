"""What there is to draw of a model, apart from it: its bodies, waters and drips, and what a page tells.

It is kept with what was computed of a scene, so that a first picture needs no building. No light, no colour.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import WATER_NAME, Extent
from layout3d.draw.scan_skin import may_be_coloured
from layout3d.draw.stage_form import PAGE_FACTS, page_facts, page_read
from layout3d.draw.waters import waters_of
from layout3d.draw.wet import Drips, drips_of
from layout3d.errors import UnknownName, nearest
from layout3d.keep import Form, file_away, key_of, recalled
from layout3d.model.spot import CameraSpot
from layout3d.parts.base import Body
from layout3d.solid.carved import as_carved, made_of
from layout3d.solid.placement import Placement, vector
from layout3d.solid.shape import Solid
from layout3d.solid.store import SHAPE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout3d.draw.pieces import WaterBody
    from layout3d.model.model import Model

__all__ = ["SCENERY", "Scenery", "chosen", "extents_of", "scenery_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenery:
    """All that is drawn: ``plan`` is the tank's (k, 2), ``waters`` and ``drips`` are none where no water is.

    ``scanned`` tells that some bodies may have colours of their own, in the files that they come from. The
    rest is as in ``pieces.Stage``.
    """

    bodies: tuple[Body, ...]
    plan: NDArray[np.float64]
    drips: Drips | None
    scanned: bool
    extents: tuple[Extent, ...]
    waters: tuple[WaterBody, ...]
    title: str
    style: str
    waterline: float
    cameras: Mapping[str, CameraSpot]

    @property
    def page(self) -> dict[str, Any]:
        """Return what a stage has of it as it is."""
        return {name: getattr(self, name) for name in PAGE_FACTS}


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


# -- keeping ------------------------------------------------------------------------------------------------

_TOLD = tuple(f.name for f in fields(Body) if f.name not in ("solid", "uncut", "rough"))
_shape_key = partial(key_of, "shape of a body")


def _packed(scenery: Scenery) -> bytes:
    """Write it, each shape by its key alone: shapes are filed apart, once for all scenes they stand in."""
    drips = scenery.drips
    facts = page_facts(scenery) | {
        "bodies": [{name: getattr(b, name) for name in _TOLD} | _solid_told(b.solid) for b in scenery.bodies],
        "plan": scenery.plan.tolist(),
        "drips": drips and {f.name: getattr(drips, f.name).ravel().tolist() for f in fields(Drips)},
        "scanned": scenery.scanned,
    }
    return json.dumps(facts, default=np.ndarray.tolist).encode()


def _solid_told(solid: Solid) -> dict[str, Any]:
    told = {"shape": solid.shape.key, "turn": solid.placement.rotation, "at": solid.placement.offset}
    parts = made_of(solid.shape)
    if parts is None:
        file_away(_shape_key(solid.shape.key), SHAPE, solid.shape, once=True)
        return told
    whole, cutters, loose = parts
    return told | {"of": [[_solid_told(one) for one in some] for some in ((whole,), cutters, loose)]}


def _solid_read(told: dict[str, Any]) -> Solid:
    if "of" in told:
        (whole,), cutters, loose = ([_solid_read(one) for one in some] for some in told["of"])
        shape = as_carved(whole, cutters, loose, key=told["shape"])
    else:
        found = recalled(_shape_key(told["shape"]), SHAPE)
        if found is None or found.key != told["shape"]:
            raise ValueError("scenery without its shapes")
        shape = found
    return Solid(shape, Placement(np.array(told["turn"]), np.array(told["at"])))


def _unpacked(content: bytes) -> Scenery:
    facts = json.loads(content)
    drips, bodies = facts.pop("drips"), facts.pop("bodies")
    return Scenery(
        bodies=tuple(
            Body(**{name: body[name] for name in _TOLD}, solid=_solid_read(body)) for body in bodies
        ),
        plan=np.array(facts.pop("plan")),
        drips=drips and Drips(**{name: np.array(rows).reshape(-1, 3) for name, rows in drips.items()}),
        scanned=facts.pop("scanned"),
        **page_read(facts),
    )


SCENERY: Form[Scenery] = Form("scenery", _packed, _unpacked, lambda scenery: 2000 * len(scenery.bodies))
