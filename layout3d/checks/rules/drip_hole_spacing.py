"""Drip holes drilled so near each other that the pipe tears between them."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, length, limit, runs
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.parts.run_data import Element


@rule(
    "drip-hole-spacing",
    asks="Drip holes keep apart, so that the pipe between them holds.",
    limits=("drip_hole_spacing_diameters", "drip_hole_spacing_least"),
)
def drip_hole_spacing(model: Model) -> Findings:
    """Find the two nearest holes of each pipe, middle to middle, if they are too near."""
    diameters = limit(model, "drip_hole_spacing_diameters")
    least_diameters = limit(model, "drip_hole_spacing_least")
    for name, run in runs(model):
        for element in run.elements:
            if len(element.holes) < 2:
                continue
            apart, first, second = _nearest(element)
            diameter = max(element.holes[first].diameter, element.holes[second].diameter)
            yield from judged(
                model,
                apart,
                diameters * diameter,
                least_diameters * diameter,
                parts=(element.body,),
                at=vector((np.array(element.holes[first].at) + element.holes[second].at) / 2),
                says=f"two drip holes of {element.body} are {length(apart)} apart",
                told=" (limit drip_hole_spacing_diameters)",
                remedy=f"drill {name} with a larger `pitch:`, `angles:` further apart, or smaller holes",
            )


def _nearest(element: Element) -> tuple[float, int, int]:
    """Return the least distance of two holes, straight, [m], and their indices."""
    points = np.array([hole.at for hole in element.holes])
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    first, second = np.unravel_index(int(apart.argmin()), apart.shape)
    return float(apart[first, second]), int(first), int(second)
