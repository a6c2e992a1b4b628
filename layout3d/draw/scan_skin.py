"""A scan's own surface and colours, for pictures: as fine as the file has it, holes and all. No repair.

Computing rests on the closed mesh; this is laid over the same place. Colours stand at the corners, or come
from a picture inside a GLB; an OBJ's pictures lie in other files and are not read.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from layout3d.draw.skin import Skin
from layout3d.files import read

if TYPE_CHECKING:
    from layout3d.model.model import Model
    from layout3d.solid.mesh_file import Repair

__all__ = ["may_be_coloured", "scan_skins"]

COLOURED = (".ply", ".glb", ".obj")


def scan_skins(model: Model) -> dict[str, Skin]:
    """Return the coloured surfaces of scans by the name of their body; those without colours are left out."""
    found = {}
    for name, built in model.built.items():
        scan = built.scan
        if scan is None or not may_be_coloured(scan):
            continue
        skin = _skin(read(model.scene.folder / scan.file), scan)
        if skin is not None:
            found[built.bodies[0].name if built.bodies else name] = skin
    return found


def may_be_coloured(scan: Repair) -> bool:
    """Tell whether the file of a scan may have colours that are drawn."""
    return not scan.outlined and scan.file.lower().endswith(COLOURED)


def _skin(content: bytes, scan: Repair) -> Skin | None:
    import trimesh

    kind = scan.file.rsplit(".", 1)[1].lower()
    try:
        mesh: Any = trimesh.load(io.BytesIO(content), file_type=kind, force="mesh", process=False)
        coloured = mesh.visual.kind in ("vertex", "face", "texture")
        at_corners = mesh.visual.to_color() if mesh.visual.kind == "texture" else mesh.visual
        colours = np.asarray(at_corners.vertex_colors)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, OSError):
        return None  # what the scan's own reader takes and this one doesn't: drawn in its material's colour
    if not coloured or len(colours) != len(mesh.vertices) or np.ptp(colours[:, :3], axis=0).max() == 0:
        return None
    points = np.asarray(mesh.vertices, dtype=np.float64)
    normals = np.asarray(mesh.vertex_normals, dtype=np.float64)
    if scan.up == "y":
        points, normals = (np.column_stack([a[:, 0], -a[:, 2], a[:, 1]]) for a in (points, normals))
    count = len(points)
    return Skin(
        points=points * scan.to_metres - np.asarray(scan.base),
        normals=normals,
        faces=np.asarray(mesh.faces, dtype=np.int32),
        hollow=np.zeros(count),
        narrow=np.zeros(count, dtype=bool),
        colours=colours[:, :3] / 255.0,
    )
