"""The bodies of a model as the page's view draws them: fewer faces, whole numbers, one run of bytes.

Faces are reduced within ``TOLERANCE``: the page is to be looked at, and no figure comes from it. Positions
are steps of the body's own box, of which an axis has 65,535: 0.03 mm over two metres.
"""

from __future__ import annotations

import base64
import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import WATER_NAME
from layout3d.draw.skin import Skin, pane_skin, sharp_edges, smooth_skin
from layout3d.draw.stage import painted
from layout3d.draw.style import WATER, Finish, finish_of
from layout3d.draw.waters import water_piece, waters_of
from layout3d.keep import Form, code_of, kept, key_of
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.reduce import reduced_for_looks

__all__ = ["SOLIDS", "TOLERANCE", "solids_of"]

TOLERANCE = 0.001
"""How far a corner of the model may lie off what is drawn, [m]."""
STEPS = 65_535

Floats = NDArray[np.float64]
SOLIDS: Form[bytes] = Form("solids of a page", lambda content: content, lambda content: content, len)


def solids_of(model: Model) -> dict[str, Any]:
    """Return what the page's view draws: ``bodies``, each with the place of its arrays in ``bytes`` (base64).

    Of a body: ``points`` and how many there are, unsigned whole numbers of 16 bits from ``low`` over
    ``size``, [m]; ``normals``, signed, and ``colours`` with opacity, of 8 bits; ``faces`` of 16 or, ``wide``,
    32 bits; ``edges``, pairs of points as ``points`` are, where a pane is outlined.
    """
    key = key_of("solids of a page", code_of(), model.bodies, waters_of(model, model.bodies))
    facts: dict[str, Any] = json.loads(kept(key, SOLIDS, lambda: _made(model)))
    return facts


def _made(model: Model) -> bytes:
    pack = _Pack()
    for body in model.bodies:
        finish = finish_of(body)
        skin, edges = _skin(body, finish)
        placement = body.solid.placement
        pack.add(
            {"body": body.name, "part": body.part, "clear": finish.opacity < 1.0, "shine": finish.shine},
            placement.apply(skin.points),
            normals := placement.direction(skin.normals),
            painted(body, finish, skin, normals),
            skin.faces,
            placement.apply(edges.reshape(-1, 3)),
        )
    for water in waters_of(model, model.bodies):
        piece = water_piece(water)
        facts = {"body": WATER_NAME, "part": WATER_NAME, "clear": True, "shine": WATER.surface_opacity}
        pack.add(facts, piece.points, piece.normals, piece.colours / 255.0, piece.faces, np.zeros((0, 3)))
    return json.dumps(pack.facts()).encode()


def _skin(body: Body, finish: Finish) -> tuple[Skin, Floats]:
    """Return a body's surface in its own axes, and the edges that are drawn of it, (k, 2, 3)."""
    shape = body.solid.shape
    if finish.opacity < 1.0:
        outlined = finish.outline is not None
        return pane_skin(shape), sharp_edges(shape) if outlined else np.zeros((0, 2, 3))
    coarse, thin = reduced_for_looks(shape, TOLERANCE)
    return _with_faces(smooth_skin(coarse, finish.crease, divided=False), thin), np.zeros((0, 2, 3))


def _with_faces(skin: Skin, faces: Floats) -> Skin:
    """Return a surface with more faces (n, 3, 3), each flat and by itself."""
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    twice = np.linalg.norm(across, axis=1)
    faces, across, twice = faces[twice > 1e-14], across[twice > 1e-14], twice[twice > 1e-14]
    more = 3 * len(faces)
    return Skin(
        points=np.concatenate([skin.points, faces.reshape(-1, 3)]),
        normals=np.concatenate([skin.normals, np.repeat(across / twice[:, None], 3, axis=0)]),
        faces=np.concatenate([skin.faces, len(skin.points) + np.arange(more, dtype=np.int32).reshape(-1, 3)]),
        hollow=np.concatenate([skin.hollow, np.zeros(more)]),
        narrow=np.concatenate([skin.narrow, np.zeros(more, dtype=bool)]),
    )


class _Pack:
    """Arrays one behind the other, each beginning at a multiple of four bytes."""

    def __init__(self) -> None:
        self._arrays: list[bytes] = []
        self._length = 0
        self._bodies: list[dict[str, Any]] = []

    def add(
        self,
        facts: dict[str, Any],
        points: Any,
        normals: Any,
        paint: Floats,
        faces: NDArray[Any],
        edges: Floats,
    ) -> None:
        """Take in a body's arrays; ``points``, ``normals`` (n, 3), ``paint`` (n, 4), ``edges`` (2 k, 3)."""
        low, high = np.min(points, axis=0), np.max(points, axis=0)
        size = np.maximum(high - low, 1e-9)

        def steps(places: Any) -> NDArray[np.uint16]:
            return np.asarray(
                np.clip(np.rint((np.asarray(places) - low) / size * STEPS), 0, STEPS), dtype="<u2"
            )

        wide = len(points) > STEPS
        self._bodies.append(
            facts
            | {
                "low": [round(float(value), 7) for value in low],
                "size": [round(float(value), 9) for value in size],
                "count": len(points),
                "points": self._put(steps(points)),
                "normals": self._put(np.rint(np.clip(normals, -1.0, 1.0) * 127).astype("i1")),
                "colours": self._put(np.rint(np.clip(paint, 0.0, 1.0) * 255).astype("u1")),
                "corners": faces.size,
                "faces": self._put(faces.astype("<u4" if wide else "<u2")),
                "wide": wide,
                "ends": len(edges),
                "edges": self._put(steps(edges)),
            }
        )

    def _put(self, array: NDArray[Any]) -> int:
        content = array.tobytes()
        content += bytes(-len(content) % 4)
        begin = self._length
        self._arrays.append(content)
        self._length += len(content)
        return begin

    def facts(self) -> dict[str, Any]:
        """Return all bodies and their bytes."""
        return {"bodies": self._bodies, "bytes": base64.b64encode(b"".join(self._arrays)).decode()}
