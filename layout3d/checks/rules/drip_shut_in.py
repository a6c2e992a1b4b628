"""Drip holes in a background's channel that nothing opens to the front: their water stays in the slab."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING, cast

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length, limit, missing, runs
from layout3d.model.model import Model
from layout3d.parts.background_data import Slab
from layout3d.parts.run_data import DripHole
from layout3d.solid.boolean import components, difference, intersection, trim
from layout3d.solid.contain import inside
from layout3d.solid.shape import Solid
from layout3d.water.remembered import kept

if TYPE_CHECKING:
    from layout3d.parts.background_data import BackgroundData
    from layout3d.parts.run_data import RunData


@rule(
    "drip-shut-in",
    asks="The channel of a drip bar opens to the front of the background, below and beside each hole.",
    limits=("drip_hole_to_slit",),
)
def drip_holes_shut_in(model: Model) -> Findings:
    """Find holes whose channel opens nowhere near below them, told together for each pipe and background."""
    most = limit(model, "drip_hole_to_slit")
    walls = [built.part.name for built in model.backgrounds]
    for name, run in runs(model):
        for element in run.elements:
            for wall in walls if element.holes else ():
                far = [
                    one for one in _ways(model, name, wall).get(element.body, ()) if missing(-one[0], -most)
                ]
                if not far:
                    continue
                way, hole = max(far, key=lambda one: one[0])
                near = (
                    "" if np.isinf(way) else f": the farthest lies {length(way)} beside its nearest opening"
                )
                yield Finding(
                    parts=(element.body, wall),
                    measured=None if np.isinf(way) else way,
                    limit=None if np.isinf(way) else most,
                    at=hole.at,
                    message=f"{len(far)} of {len(element.holes)} drip holes of {element.body} lie in a "
                    f"channel of {wall} that opens nowhere to the front below them within {length(most)} "
                    f"along it (limit drip_hole_to_slit){near}; their water runs off inside the slab, or "
                    "behind it, and the face stays dry",
                    remedy=f"cut a slit (`cut_outs:` of {wall}) along all of the holes, as high as the foot "
                    "of the channel, and deep enough to meet it (a smaller `stop:`)",
                )


@kept
def _ways(model: Model, run: str, wall: str) -> dict[str, list[tuple[float, DripHole]]]:
    """Return by pipe how far each hole in a channel behind the face lies beside an opening below it, [m].

    Parameters
    ----------
    run, wall : names of a run and of a background
    """
    found: dict[str, list[tuple[float, DripHole]]] = defaultdict(list)
    pipes, data = cast("RunData", model.built[run].data), cast("BackgroundData", model.built[wall].data)
    for slab in data.slabs:
        outs: dict[Solid, list[Solid]] = {}
        ends: dict[tuple[Solid, float], list[tuple[float, float]]] = {}
        channels = [channel for name, channel in slab.channels if name == run]
        for element in pipes.elements if channels else ():
            at = np.array([hole.at for hole in element.holes]).reshape(-1, 3)
            held, along = slab.holds(at), slab.panel.local(at)[:, 0].tolist()
            within = [(channel, held & inside(channel, at)) for channel in channels] if held.any() else []
            for number, hole in enumerate(element.holes):
                level = round(hole.at[2], 9)
                around = [channel for channel, holds in within if holds[number]]
                for channel in around:
                    if channel not in outs:
                        outs[channel] = list(_outs(model, slab, channel))
                    if (channel, level) not in ends:
                        ends[channel, level] = [e for out in outs[channel] for e in _beside(slab, out, level)]
                if around:
                    here, opened = along[number], [e for channel in around for e in ends[channel, level]]
                    way = min((max(a - here, here - b, 0.0) for a, b in opened), default=np.inf)
                    found[element.body].append((way, hole))
    return dict(found)


def _outs(model: Model, slab: Slab, channel: Solid) -> Iterator[Solid]:
    """Return where cut-outs meet a channel, and what of it comes out of the face by itself."""
    for opening in slab.openings:
        if (met := intersection(channel, opening)) is not None:
            yield met
    rooms = [each.behind() for built in model.backgrounds for each in built.data.slabs]
    bare = difference(channel, rooms)
    within = intersection(bare, model.tank.interior) if bare is not None else None
    if within is not None:
        yield within


def _beside(slab: Slab, out: Solid, level: float) -> Iterator[tuple[float, float]]:
    """Return from where to where along the panel each piece of an opening lies below a level, [m]."""
    low = trim(out, normal=(0.0, 0.0, 1.0), offset=level)
    for piece in components(low) if low is not None else ():
        along = slab.panel.local(piece.vertices)[:, 0]
        yield float(along.min()), float(along.max())
