"""Meshes in files: scans read, repaired and sized; solids written. STL, OBJ, PLY, GLB; no colours."""

from __future__ import annotations

import json
import math
import struct
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TypeAlias

import manifold3d
import numpy as np
from numpy.typing import NDArray

from layout3d.errors import MeshRefused
from layout3d.files import read, written
from layout3d.solid.mesh_read import FACE_LIMIT, READERS, Raw
from layout3d.solid.mesh_repair import RepairLog, repaired
from layout3d.solid.reduce import reduced
from layout3d.solid.shape import Points, Shape, Solid
from layout3d.solid.store import stored_reading
from layout3d.units import show

__all__ = ["Repair", "load_mesh", "save_mesh"]

Apart: TypeAlias = tuple[tuple[float, ...], tuple[float, ...], float]
"""Two points in a file's own axes and units, and their true distance, [m]."""

WRITABLE = (".stl", ".ply")
FILE_LIMIT = 200 * 2**20  # [bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What was done to a mesh on its way in.

    ``steps`` are sentences with counts, empty for a mesh that needed nothing. ``closed`` is the share of the
    surface that holes were closed with, ``bulge`` the share of the volume by which that may be wrong: that of
    half balls on the holes. ``lapped`` is the volume that the surface sums up over what it encloses: above
    1.0 where it ran through itself. ``loose`` is the share of the volume in pieces that don't touch the
    largest. ``hull`` is true where the surface could not be closed (``reason``)
    and its convex hull stands in for it; ``hull_factor`` is the hull's volume over what the open surface sums
    up, None where that can't be told. ``outlined`` is true where there was no mesh but two outlines, and the
    shape is the largest that shows both.

    A point of the file, turned ``up``, times ``to_metres``, less ``base``, [m], is where it lies in the
    part's axes.
    """

    file: str
    faces_read: int
    faces_kept: int
    steps: tuple[str, ...]
    scale: float
    closed: float = 0.0
    bulge: float = 0.0
    lapped: float = 1.0
    loose: float = 0.0
    hull: bool = False
    hull_factor: float | None = None
    outlined: bool = False
    up: str = "z"
    to_metres: float = 1.0
    base: tuple[float, float, float] = (0.0, 0.0, 0.0)
    reason: str = ""

    def __str__(self) -> str:
        done = "; ".join(self.steps) if self.steps else "nothing to repair"
        return f"{self.file}: {self.faces_read:,} faces read, {self.faces_kept:,} kept; {done}"


def load_mesh(
    path: str | Path,
    *,
    longest: float | None = None,
    volume: float | None = None,
    apart: Apart | None = None,
    unit: float = 1.0,
    up: str = "",
    hull: bool = False,
    tolerance: float = 0.0,
) -> tuple[Shape, Repair]:
    """Read a mesh, weld it, turn it outward, close its holes, and bring it to size.

    Parameters
    ----------
    path : STL, OBJ, PLY or GLB
    longest : wanted longest side of the bounding box, [m]
    volume : wanted volume, [m³]
    apart : two points in the file's own axes and units, and their true distance, [m]; give at most one of the
        three
    unit : length of the file's unit, [m]; 0.001 for mm. GLB is in metres by its standard, the others do not
        say
    up : 'y' or 'z', which of the file's axes points up; '' for y in GLB, by its standard, and z in the others
    hull : allow the convex hull to stand in for a surface that cannot be closed
    tolerance : how far the surface may stray from the file's for fewer triangles, [m]; 0 keeps it as it is

    Returns
    -------
    The shape, z up, about the file's own origin, and what was done. Both are kept under the file's content
    and these settings, so that a scan is mended once.

    Raises
    ------
    MeshRefused : no such file, not one of the formats, too large, damaged, or cannot be closed (and ``hull``
        is not set), with the reason.
    """
    file = Path(path)
    if sum(size is not None for size in (longest, volume, apart)) > 1:
        raise MeshRefused(f"{file}: more than one of longest, volume and apart", expected="one of them")
    span = None if apart is None else math.dist(apart[0], apart[1])
    for name, wanted in (
        ("longest", longest),
        ("volume", volume),
        ("unit", unit),
        ("the distance of the two points in the file", span),
        ("their true distance", None if apart is None else apart[2]),
    ):
        if wanted is not None and not (math.isfinite(wanted) and wanted > 0.0):
            raise MeshRefused(f"{file}: {name} must be above 0, got {wanted:g}")
    content = _content(file)
    kind = file.suffix.lower()
    up = up or ("y" if kind == ".glb" else "z")
    factor = unit if apart is None or not span else apart[2] / span
    how = f"mesh {kind} {longest} {volume} {factor} {up} {hull} {tolerance}"
    try:
        shape, note = stored_reading(
            content, how, lambda: _load(content, kind, longest, volume, factor, up, hull, tolerance)
        )
    except MeshRefused as refusal:
        refusal.found = f"{file}: {refusal.found}"
        raise
    done = json.loads(note)
    less = done.pop("less")
    if less is not None:
        strayed, count, change = less
        done["steps"].append(
            f"reduced to {done['faces_kept']:,} faces: strays by {show(strayed, 'length', digits=2)} at "
            f"most, measured at {count:,} points; its volume changed by {100 * change:+.2g} %"
        )
    told = {"file": str(file), "steps": tuple(done["steps"]), "base": tuple(done["base"])}
    return shape, Repair(**done | told)


def _load(
    content: bytes,
    kind: str,
    longest: float | None,
    volume: float | None,
    unit: float,
    up: str,
    hull: bool,
    tolerance: float,
) -> tuple[Shape, str]:
    """Read, repair and size a mesh; what was done comes as JSON."""
    vertices, faces, told = _read(content, kind)
    log = RepairLog(steps=told)
    if up == "y":
        vertices = np.column_stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]])
        log.steps.append("turned from y up to z up")
    vertices = vertices * unit
    reason, factor = "", None
    try:
        shape = repaired(vertices, faces, log)
    except MeshRefused as refusal:
        if not hull:
            raise
        reason = refusal.found
        shape = _hull(vertices)
        factor = _hull_factor(shape, vertices, faces)
        log = RepairLog(
            steps=[*log.steps, f"used the convex hull, for the surface can't be closed: {reason}"]
        )
    scale = 1.0
    if longest is not None:
        scale = longest / float(np.ptp(shape.bounds, axis=0).max())
    elif volume is not None:
        scale = (volume / shape.volume) ** (1.0 / 3.0)
    if scale != 1.0:
        shape = Shape.of(shape.vertices * scale, shape.faces)
        log.steps.append(f"scaled by {scale:.6g}")
    less = None
    if tolerance:
        fine = shape
        shape, strayed, count = reduced(fine, tolerance)
        less = (
            float(strayed),
            count,
            float(shape.volume / fine.volume - 1),
        )  # told in the units of each scene
    done = Repair(
        file="",
        faces_read=len(faces),
        faces_kept=len(shape.faces),
        steps=tuple(log.steps),
        scale=scale,
        closed=log.closed,
        bulge=log.bulge,
        lapped=log.lapped,
        loose=log.loose,
        hull=bool(reason),
        hull_factor=factor,
        reason=reason,
        up=up,
        to_metres=unit * scale,
    )
    return shape, json.dumps(asdict(done) | {"less": less})


def save_mesh(solid: Solid | Shape, path: str | Path, unit: float = 0.001) -> None:
    """Write a solid, where it stands, as STL or PLY: whole or not at all.

    Parameters
    ----------
    path : the suffix decides the format; an existing file is replaced
    unit : length of the file's unit, [m]; 0.001 writes mm

    Notes
    -----
    STL (binary) holds single precision, about 0.1 µm on a metre; PLY (binary) holds double.

    Raises
    ------
    MeshRefused : the suffix is not one of the formats.
    LayoutError : the file cannot be written.
    """
    file = Path(path)
    suffix = file.suffix.lower()
    if suffix not in WRITABLE:
        raise MeshRefused(f"{file}: {suffix or 'no suffix'!r} can't be written", expected=_either(WRITABLE))
    if not (math.isfinite(unit) and unit > 0.0):
        raise MeshRefused(f"{file}: unit must be above 0, got {unit:g}")
    write = _ply if suffix == ".ply" else _stl
    content = write(solid.vertices / unit, solid.faces)
    with written(file) as partial:
        partial.write_bytes(content)


def _content(file: Path) -> bytes:
    suffix = file.suffix.lower()
    if suffix not in tuple(READERS):
        raise MeshRefused(
            f"{file}: {suffix or 'no suffix'!r} is not a mesh format", expected=_either(tuple(READERS))
        )
    try:
        size = file.stat().st_size
        if not file.is_file():
            raise MeshRefused(f"{file}: not a file")
    except (OSError, ValueError) as fault:
        raise MeshRefused(f"{file}: can't be read: {getattr(fault, 'strerror', '') or fault}") from fault
    if size > FILE_LIMIT:
        raise MeshRefused(
            f"{file}: {size / 2**20:.0f} MB",
            expected=f"at most {FILE_LIMIT / 2**20:.0f} MB",
            remedy="thin the scan out before using it here",
        )
    try:
        return read(file)
    except OSError as fault:
        raise MeshRefused(f"{file}: can't be read: {fault.strerror or fault}") from fault


def _read(content: bytes, kind: str) -> Raw:
    """Return vertices, faces, and what was overlooked; refused where the faces name no vertices."""
    vertices, faces, told = READERS[kind](content)
    if not len(faces):
        raise MeshRefused("holds no faces", remedy="check that the file is whole and is a mesh")
    if len(faces) > FACE_LIMIT:
        raise MeshRefused(
            f"{len(faces):,} faces",
            expected=f"at most {FACE_LIMIT:,}",
            remedy="thin the scan out before using it here",
        )
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise MeshRefused("damaged: a face names a vertex that is not there")
    return vertices, faces, told


def _hull(vertices: Points) -> Shape:
    finite = np.unique(vertices[np.isfinite(vertices).all(axis=1)], axis=0)
    shape = Shape.from_manifold(manifold3d.Manifold.hull_points(finite)) if len(finite) > 3 else None
    if shape is None or not shape.volume > 0.0:
        raise MeshRefused("all its points lie in one plane, so that even its hull is flat")
    return shape


def _hull_factor(hull: Shape, vertices: Points, faces: NDArray[np.int64]) -> float | None:
    """Return a hull's volume over what an open surface sums up about its middle; None past a hundredfold."""
    corners = vertices[faces]
    corners = corners[np.isfinite(corners).all(axis=(1, 2))]
    a, b, c = (corners - hull.centroid).transpose(1, 0, 2)
    summed = abs(float(np.einsum("ij,ij->", a, np.cross(b, c)))) / 6.0
    return hull.volume / summed if summed > hull.volume / 100.0 else None


def _stl(vertices: Points, faces: NDArray[np.int32]) -> bytes:
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    records = np.zeros(len(faces), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    records["normal"] = normal / np.where(length > 0.0, length, 1.0)[:, None]
    records["corners"] = corners
    return b"binary STL".ljust(80) + struct.pack("<I", len(faces)) + records.tobytes()


def _ply(vertices: Points, faces: NDArray[np.int32]) -> bytes:
    header = (
        "ply\nformat binary_little_endian 1.0\n"
        f"element vertex {len(vertices)}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    records = np.zeros(len(faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    records["count"] = 3
    records["corners"] = faces
    return header.encode("ascii") + vertices.astype("<f8").tobytes() + records.tobytes()


def _either(suffixes: tuple[str, ...]) -> str:
    return "one of: " + ", ".join(suffixes)
