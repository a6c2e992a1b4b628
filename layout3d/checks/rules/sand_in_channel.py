"""Sand in a background's channel, which is to be open: it holds the run in it, and closes its holes."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import limit
from layout3d.model.model import Model
from layout3d.parts.background_data import Slab
from layout3d.parts.base import Body, vector
from layout3d.solid.boolean import intersection, union
from layout3d.solid.shape import Solid
from layout3d.units import show


@rule(
    "sand-in-channel",
    asks="Channels of a background stay open: no sand lies in them.",
    limits=("overlap_volume",),
)
def sand_in_channels(model: Model) -> Findings:
    """Find beds that reach into a channel behind the front of its slab, told once for each run."""
    least = limit(model, "overlap_volume")
    beds = [body for built in model.substrates for body in built.bodies]
    for built in model.backgrounds:
        for bed in beds:
            found: dict[str, list[Solid]] = {}
            for slab in built.data.slabs:
                for run, piece in _sand(bed, slab):
                    found.setdefault(run, []).append(piece)
            for run, pieces in found.items():
                sand = union(pieces)
                if sand is None or sand.volume <= least:
                    continue
                top = show(float(sand.bounds[1, 2]), "length")
                yield Finding(
                    parts=(bed.part, built.part.name, run),
                    measured=sand.volume,
                    limit=least,
                    unit="m³",
                    at=vector(sand.centroid),
                    message=f"{show(sand.volume, 'volume')} of {bed.part} lies in the channel of {run} in "
                    f"{built.part.name}, up to {top} over the tank's floor: it should be open there; the bed "
                    "holds the run and closes its holes",
                    remedy=f"lead {run} into the slab above the bed, keep the bed away (`region:`), or let "
                    f"{built.part.name} be foamed around it (`embeds:`)",
                )


def _sand(bed: Body, slab: Slab) -> Iterator[tuple[str, Solid]]:
    """Return what of a bed lies in each channel between the glass and the slab's front, with its run."""
    room: Solid | None = None
    for run, channel in slab.channels:
        sand = intersection(bed.solid, channel)
        if sand is None:
            continue
        if room is None:
            room = slab.behind()
        behind = intersection(sand, room)
        if behind is not None:
            yield run, behind
