"""A tube bent tighter than it allows: it kinks, and the flow is gone."""

from __future__ import annotations

import math

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, length, runs
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.run_data import RunData

STRAIGHT = math.radians(0.5)
"""A turn of less than this at a point of a tube's path is no bend, [rad]."""


@rule("bend-radius", asks="Tubes bend no tighter than their kind allows.")
def bend_radii(model: Model) -> Findings:
    """Find tubes whose bends are too tight."""
    for name, run in runs(model):
        middle = _first_bend(run) if run.flexible else None
        if middle is None:
            continue
        source = model.scene.catalog.tube(run.size).source
        yield from judged(
            model,
            run.bend,
            run.least_bend,
            parts=(name,),
            at=middle,
            says=f"{name} bends with {length(run.bend)} radius",
            told=f", the least that {run.size} allows ({source})",
            remedy=f"bend it with {length(run.least_bend)} or more, or use elbows",
        )


def _first_bend(run: RunData) -> Vector | None:
    """Return a point in the middle of a tube's first bend; None where it has none."""
    for element in run.elements:
        ways = np.diff(np.array(element.path), axis=0)
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        turns = np.arccos(np.clip(np.sum(ways[:-1] * ways[1:], axis=1), -1.0, 1.0))
        bent = np.flatnonzero(turns > STRAIGHT)
        if len(bent):
            breaks = np.flatnonzero(np.diff(bent) > 1)
            first = bent[: breaks[0] + 1] if len(breaks) else bent
            return element.path[int(first[len(first) // 2]) + 1]
    return None
