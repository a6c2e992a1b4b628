"""A union: two hubs and a nut with twelve flats, drawn tight; what can be opened again."""

from __future__ import annotations

from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, within_corners

NUT_SIDES = 12


class Union(Fitting):
    """A union with a nut as wide as its body over the corners."""

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        outside, face = size.pipe.hub_diameter / 2.0, size.face[0]
        nut = within_corners(size.body_diameter / 2.0, NUT_SIDES)
        back, front = -0.30 * face, 0.45 * face
        collar, foot = (outside + nut) / 2.0, back - 0.15 * face
        return hubs.straight(
            size,
            [
                *corners(BODY_SIDES, (outside, foot), (collar, foot), (collar, back)),
                *corners(NUT_SIDES, (nut, back), (nut, front)),
                (outside, front, BODY_SIDES),
            ],
        )


UNION = Union(
    kind="union",
    place="inline",
    word="union",
    alone="a union",
    lengths=("union_gap", "union_body"),
    hand="open",
    comes_apart=True,
    finish="valve",
)
