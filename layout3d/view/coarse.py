"""Coarser surfaces, drawn while anything moves: points near to each other become one, and many surfaces too.

For the eye only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import Piece, Points, of_the_same
from layout3d.draw.sky import areas
from layout3d.wanted import go_on

__all__ = ["alike", "coarse", "together"]

FACES = 36_000  # of all pieces together, about
FEW = 120  # a piece of so many faces stays as it is
_ACROSS = 3.5  # cells across a piece, at least
_OTHER_SIDE = -0.5  # cosine between normals
_SHADOW = 0.1  # of the faces that its area would have: it is flat and dim
_SLANT = 0.25  # normals are told apart from where one of their shares goes over this


def coarse(pieces: Sequence[Piece]) -> dict[int, Piece]:
    """Return coarser surfaces by place in ``pieces``, of those that have many faces for their area.

    Corners are put together by cells of a grid, as wide as makes about ``FACES`` of the whole; those that
    look another way keep their own light, so that edges stay sharp. A piece that has little area keeps
    ``FEW`` faces. Clear surfaces stay as they are.
    """
    areas = {
        index: _area(piece)
        for index, piece in enumerate(pieces)
        if len(piece.faces) > FEW and not (piece.clear and piece.one_sided)
    }
    shares = {index: area * (1.0 if pieces[index].lighted else _SHADOW) for index, area in areas.items()}
    total = sum(shares.values())
    found = {}
    for index, area in areas.items():
        go_on()
        piece = pieces[index]
        target = max(FEW, FACES * shares[index] / total) if area > 0.0 else 0.0
        if area > 0.0 and target < 0.7 * len(piece.faces):
            cell = float(f"{np.sqrt(2.0 * area / target):.2g}")  # the same while little changes
            surface = (piece.points, piece.normals, piece.faces)
            few = of_the_same("few", surface, cell, make=partial(_put_together, *surface, cell))
            colours = of_the_same("few colours", (piece.colours, few.of), make=partial(_mixed, piece, few))
            found[index] = replace(
                piece, points=few.points, normals=few.normals, faces=few.faces, colours=colours
            )
    return found


def alike(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Return surfaces by how they look: those of each look can be drawn ``together``."""
    found: dict[object, list[Piece]] = {}
    for piece in pieces:
        look = (piece.shine, piece.gloss, piece.clear, piece.lighted, piece.one_sided, piece.body != "")
        found.setdefault(look, []).append(piece)
    return list(found.values())


def together(pieces: Sequence[Piece]) -> Piece:
    """Return surfaces that look alike as one, which bears the names of the first of them.

    A frame costs by actors as well as by faces. Fine grain is left out:
    it counts from each body's own point.
    """
    starts = np.cumsum([0, *(len(piece.points) for piece in pieces)])
    whole: dict[str, Any] = {
        name: np.concatenate([getattr(piece, name) for piece in pieces])
        for name in ("points", "normals", "colours")
    }
    faces = [piece.faces + start for piece, start in zip(pieces, starts, strict=False)]
    return replace(pieces[0], **whole, faces=np.concatenate(faces).astype(np.int32), rough=0.0)


def _area(piece: Piece) -> float:
    def make() -> float:
        return float(areas(*(piece.points[piece.faces[:, k]].astype(np.float64) for k in range(3))).sum())

    return of_the_same("area", (piece.points, piece.faces), make=make)


@dataclass(frozen=True, slots=True, eq=False)
class _Few:
    """Few points in place of many, as in a piece; ``of`` tells which one each of these is, (n,)."""

    points: NDArray[np.float32]
    normals: NDArray[np.float32]
    faces: NDArray[np.int32]
    of: NDArray[np.int64]


def _put_together(points: Points, normals: Points, faces: NDArray[np.int32], cell: float) -> _Few:
    """Return a surface with one place for all corners within a cell of a grid, [m]."""
    low, high = points.min(axis=0), points.max(axis=0)
    cells = np.clip((high - low) / _ACROSS, 1e-6, cell)  # both sides of a thin sheet stay apart
    at = np.floor((points - low) / cells).astype(np.int64)
    wide = at.max(axis=0) + 1
    place = (at[:, 0] * wide[1] + at[:, 1]) * wide[2] + at[:, 2]
    _, first, place = np.unique(place, return_index=True, return_inverse=True)
    place = place.ravel()
    # both sides of a thin wall stay apart
    away = np.einsum("ij,ij->i", normals, normals[first][place]) < _OTHER_SIDE
    _, place = np.unique(2 * place + away, return_inverse=True)
    place = place.ravel()
    ways = ((normals > _SLANT).astype(np.int64) - (normals < -_SLANT) + 1) @ (9, 3, 1)
    kinds, kind = np.unique(place * 27 + ways, return_inverse=True)
    kind = kind.ravel()
    ways_out = _means(normals, kind)
    ways_out /= np.maximum(np.linalg.norm(ways_out, axis=1, keepdims=True), 1e-9)
    corners = place[faces]
    whole = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    return _Few(
        points=_means(points, place)[kinds // 27].astype(np.float32),
        normals=ways_out.astype(np.float32),
        faces=np.unique(kind[faces[whole]], axis=0).astype(np.int32),
        of=kind,
    )


def _mixed(piece: Piece, few: _Few) -> NDArray[np.uint8]:
    return np.round(_means(piece.colours, few.of)).astype(np.uint8)


def _means(rows: NDArray[np.generic], label: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the mean of the rows that bear each label, (labels, columns)."""
    counts = np.bincount(label)
    sums = [np.bincount(label, weights=column) for column in np.asarray(rows, dtype=np.float64).T]
    return np.asarray(np.column_stack(sums) / counts[:, None])
