"""Search trees of meshes for distances (coal): of all faces, or of the wide few by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import coal
import numpy as np
from numpy.typing import NDArray

__all__ = ["Trees", "tree_of", "trees_apart"]

WIDE, FEW = 8.0, 0.05  # times as wide as half of the faces are, and of all at most such a share, [-]
Trees: TypeAlias = list[tuple[Any, Sequence[int]]]
"""Search trees with the numbers of their faces in the mesh."""


def tree_of(vertices: NDArray[np.float64], faces: NDArray[Any]) -> Any:
    """Return the search tree of some faces, as ``Shape.tree``."""
    tree = coal.BVHModelOBBRSS()
    tree.beginModel(len(faces), len(vertices))
    tree.addVertices(vertices)
    tree.addTriangles(faces.astype(np.int64))
    tree.endModel()
    return tree


def trees_apart(vertices: NDArray[np.float64], faces: NDArray[Any]) -> Trees:
    """Return two trees: of a mesh without its wide few faces, and of these; none where it has no such.

    Those under a bed reach from side to side, and so does each box that a tree has them in with others.
    """
    size = np.ptp(vertices[faces], axis=1).max(axis=1)
    wide = size > WIDE * np.median(size)
    if not 0 < wide.sum() < FEW * len(wide):
        return []
    parts = [np.flatnonzero(some) for some in (~wide, wide)]
    return [(tree_of(vertices, faces[part]), part.tolist()) for part in parts]
