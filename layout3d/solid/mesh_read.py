"""Corners and faces out of mesh files: STL, OBJ, PLY, GLB. Nothing is mended here.

A file may claim no more than its own bytes can hold, so that reading it takes memory by its size.
"""

from __future__ import annotations

import io
import itertools
import json
import re
import warnings
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.shape import Points

__all__ = ["FACE_LIMIT", "READERS", "Raw"]

FACE_LIMIT = 2_000_000
BATCH = 100_000  # corners turned from text to numbers at a time

Numbers = NDArray[np.int64]
Raw = tuple[Points, Numbers, list[str]]
"""Vertices (n, 3), faces (m, 3), and what had to be overlooked in the file."""

_NUMBER = rb"\s+([^\s]{1,40})"
_CORNER = re.compile(rb"vertex" + _NUMBER * 3)
_PLY_TYPES = {
    **{"char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2"},
    **{"ushort": "u2", "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4"},
    **{"float": "f4", "float32": "f4", "double": "f8", "float64": "f8"},
}


def read_stl(content: bytes) -> Raw:
    """Read an STL of either kind; what follows the faces that its head counts is left out."""
    if content.lstrip()[:5].lower() == b"solid" and b"facet" in content[:4096]:
        return _text_stl(content)
    if len(content) < 84:
        raise _damaged("it ends before its first face")
    count = int.from_bytes(content[80:84], "little")
    held = (len(content) - 84) // 50
    if count > held:
        raise _damaged(f"it says {count:,} faces and holds {held:,}")
    rows = np.frombuffer(content, dtype="V12, (3, 3)<f4, V2", count=_few(count), offset=84)
    corners = rows["f1"].astype(np.float64).reshape(-1, 3)
    left = len(content) - 84 - 50 * count
    told = [f"left out {left:,} byte{'s' if left != 1 else ''} after its last face"] if left else []
    return corners, np.arange(3 * count).reshape(-1, 3), told


def _text_stl(content: bytes) -> Raw:
    corners = []
    found = _CORNER.finditer(content)
    while batch := [match.groups() for match in itertools.islice(found, BATCH)]:
        corners.append(_numbers(batch))
    points = np.concatenate(corners) if corners else np.zeros((0, 3))
    if len(points) % 3 or len(points) != 3 * content.count(b"outer loop"):
        raise _damaged("a face in it has not three corners, each of three figures")
    told = [] if b"endsolid" in content[-400:] else ["it has no `endsolid`: read to where it ends"]
    return points, np.arange(_few(len(points) // 3) * 3).reshape(-1, 3), told


def read_obj(content: bytes) -> Raw:
    """Read the ``v`` and ``f`` lines of an OBJ; faces of more corners are cut into fans."""
    corners: list[list[bytes]] = []
    polygons: list[list[int]] = []
    for number, line in enumerate(re.sub(rb"\\\r?\n", b" ", content).splitlines(), start=1):
        words = line.split()
        if not words or words[0] not in (b"v", b"f"):
            continue
        if words[0] == b"v":
            corners.append(words[1:4])
            continue
        try:
            named = [int(word.partition(b"/")[0]) for word in words[1:]]
        except ValueError as fault:
            raise _damaged(f"line {number} is not a face") from fault
        polygon = [index - 1 if index > 0 else len(corners) + index for index in named]
        if len(polygon) < 3 or 0 in named or min(polygon) < 0:
            raise _damaged(f"the face in line {number} names a corner that is not there, or too few")
        polygons.append(polygon)
    if any(len(corner) != 3 for corner in corners):
        raise _damaged("a `v` line has not three figures")
    return _numbers(corners), _fans(polygons), []


def read_ply(content: bytes) -> Raw:
    """Read the vertices, and the faces or strips of triangles, of a PLY of any of its three kinds."""
    head, mark, _ = content.partition(b"end_header")
    lines = [line.split() for line in head.decode("ascii", "replace").splitlines()]
    if not mark or not lines or lines[0] != ["ply"]:
        raise _damaged("its head is not that of a PLY")
    at = content.find(b"\n", len(head)) + 1 or len(content)
    order, elements = _ply_head(lines[1:])
    body: Any = io.BytesIO(content[at:])
    points, polygons = None, np.zeros((0, 3), dtype=np.int64)
    for name, count, fields in elements:
        if count > len(content) - at:
            raise _damaged(f"it says {count:,} of {name!r} in {len(content) - at:,} bytes")
        columns = [field for field, _, _ in fields]
        rows = (_ply_text if order == "" else _ply_binary)(body, count, fields, order)
        if name == "vertex":
            if not {"x", "y", "z"} <= set(columns):
                raise _damaged("its vertices lack x, y or z")
            points = np.column_stack([np.asarray(rows[axis], dtype=np.float64) for axis in "xyz"])
        elif name in ("face", "tristrips"):
            key = next((c for c in columns if c in ("vertex_indices", "vertex_index")), None)
            if key is None:
                raise _damaged(f"its {name} lacks `vertex_indices`")
            strips = name == "tristrips"
            polygons = np.concatenate([polygons, _strips(rows[key]) if strips else _fans(rows[key])])
    if points is None:
        raise _damaged("it holds no vertices")
    return points, polygons, []


def _ply_head(lines: list[list[str]]) -> tuple[str, list[tuple[str, int, list[tuple[str, str, str]]]]]:
    """Return the byte order ('' for text), and name, count and fields (name, type, type of count) of each."""
    order, elements = None, []
    orders = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
    try:
        for words in lines:
            match words:
                case ["format", kind, *_]:
                    order = orders[kind]
                case ["element", name, count]:
                    elements.append((name, int(count), list[tuple[str, str, str]]()))
                case ["property", "list", counter, kind, name]:
                    elements[-1][2].append((name, _PLY_TYPES[kind], _PLY_TYPES[counter]))
                case ["property", kind, name]:
                    elements[-1][2].append((name, _PLY_TYPES[kind], ""))
    except (KeyError, ValueError, IndexError) as fault:
        raise _damaged(f"its head has a line that can't be read: {' '.join(words)[:60]!r}") from fault
    if order is None or any(count < 0 for _, count, _ in elements):
        raise _damaged("its head does not say how it is written")
    return order, elements


def _ply_text(body: io.BytesIO, count: int, fields: list[tuple[str, str, str]], order: str) -> Any:
    """Return the columns of the next lines, by name."""
    rows = [line.split() for line in itertools.islice(body, count)]
    if len(rows) < count:
        raise _damaged("it ends too early")
    if not any(counter for _, _, counter in fields):
        values = _numbers(rows, len(fields))
        return {name: values[:, k] for k, (name, _, _) in enumerate(fields)}
    columns: dict[str, list[Any]] = {name: [] for name, _, _ in fields}
    for row in rows:
        try:
            place = 0
            for name, kind, counter in fields:
                number = int(row[place]) if counter else 1
                place += bool(counter)
                words = row[place : place + number]
                if number < 0 or len(words) < number:
                    raise _damaged("a line in it is too short")
                columns[name].append([int(w) if kind[0] != "f" else float(w) for w in words])
                place += number
        except (ValueError, IndexError) as fault:
            raise _damaged("a line in it is not of figures") from fault
    return columns


def _ply_binary(body: io.BytesIO, count: int, fields: list[tuple[str, str, str]], order: str) -> Any:
    """Return the columns of the next rows, by name."""
    start = body.tell()
    data = body.getbuffer()
    # most files have lists of one length, that of the first row: those are read at a stroke
    first, place = [], start
    for _, kind, counter in fields:
        number = _one(data, place, order + counter) if counter and count else 1
        first.append(number)
        place += (np.dtype(counter).itemsize if counter else 0) + number * np.dtype(kind).itemsize
    parts: list[Any] = []
    for k, ((_, kind, counter), number) in enumerate(zip(fields, first, strict=True)):
        parts += [(f"n{k}", order + counter)] if counter else []
        parts.append((f"v{k}", order + kind, (number,)) if counter else (f"v{k}", order + kind))
    row = np.dtype(parts)
    if row.itemsize and count * row.itemsize <= len(data) - start:
        rows = np.frombuffer(data, dtype=row, count=count, offset=start)
        if all((rows[f"n{k}"] == n).all() for k, n in enumerate(first) if fields[k][2]):
            body.seek(start + count * row.itemsize)
            return {name: rows[f"v{k}"] for k, (name, _, _) in enumerate(fields)}
    if not any(counter for _, _, counter in fields):
        raise _damaged("it ends too early")
    columns: dict[str, list[Any]] = {name: [] for name, _, _ in fields}
    place = start
    for _ in range(count):
        for name, kind, counter in fields:
            number = _one(data, place, order + counter) if counter else 1
            place += np.dtype(counter).itemsize if counter else 0
            size = number * np.dtype(kind).itemsize
            if place + size > len(data):
                raise _damaged("it ends too early")
            columns[name].append(np.frombuffer(data, order + kind, number, place).tolist())
            place += size
    body.seek(place)
    return columns


def _one(data: memoryview, place: int, kind: str) -> int:
    """Return the count that stands before a list."""
    if place + np.dtype(kind).itemsize > len(data):
        raise _damaged("it ends too early")
    number = int(np.frombuffer(data, kind, 1, place)[0])
    if not 0 <= number <= len(data) - place:
        raise _damaged("a list in it is longer than the file")
    return number


def read_glb(content: bytes) -> Raw:
    """Read every mesh of a GLB where its nodes place it."""
    import trimesh

    document = _gltf_document(content)
    squeezed = [str(name) for name in document.get("extensionsRequired", []) if "compression" in str(name)]
    if squeezed:
        raise MeshRefused(
            f"its faces are compressed ({', '.join(squeezed)[:60]})", remedy="save it without compression"
        )
    try:
        claimed = sum(int(accessor.get("count", 0)) for accessor in document.get("accessors", []))
    except (AttributeError, TypeError, ValueError) as fault:
        raise _damaged("what it says of its figures is no count") from fault
    if claimed > len(content):
        raise _damaged(f"it says {claimed:,} figures in {len(content):,} bytes")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a damaged scan makes the reader divide by 0; it is judged later
            scene: Any = trimesh.load_scene(
                io.BytesIO(content), file_type="glb", process=False, skip_materials=True
            )
            meshes = {k: g for k, g in scene.geometry.items() if isinstance(g, trimesh.Trimesh)}
            placed = [scene.graph[node] for node in scene.graph.nodes_geometry]
            placed = [(matrix, meshes[name]) for matrix, name in placed if name in meshes]
            _few(sum(len(mesh.faces) for _, mesh in placed))
            found = [
                (
                    np.asarray(mesh.vertices) @ matrix[:3, :3].T + matrix[:3, 3],
                    np.asarray(mesh.faces)[:, :: -1 if np.linalg.det(matrix[:3, :3]) < 0 else 1],
                )
                for matrix, mesh in placed
            ]
    except MeshRefused:
        raise
    except Exception as fault:  # the reader raises anything at all on a damaged file
        raise _damaged("its parts do not hang together as a GLB's have to") from fault
    if not found:
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), []
    shifts = np.cumsum([0, *(len(vertices) for vertices, _ in found[:-1])])
    faces = [part + shift for (_, part), shift in zip(found, shifts, strict=True)]
    return np.concatenate([part for part, _ in found]), np.concatenate(faces).astype(np.int64), []


def _gltf_document(content: bytes) -> dict[str, Any]:
    """Return a GLB's first chunk, which says what the second holds."""
    if content[:4] != b"glTF":
        raise _damaged("its head is not that of a GLB")
    size = int.from_bytes(content[12:16], "little")
    try:
        document = json.loads(content[20 : 20 + size])
    except (ValueError, RecursionError) as fault:
        raise _damaged("its first part can't be read") from fault
    if not isinstance(document, dict):
        raise _damaged("its first part is no list of meshes")
    return document


def _few(count: int) -> int:
    """Return a number of faces that is not too many."""
    if count > FACE_LIMIT:
        raise MeshRefused(
            f"{count:,} faces", expected=f"at most {FACE_LIMIT:,}", remedy="thin the scan out first"
        )
    return count


def _numbers(rows: list[Any], columns: int = 3) -> Points:
    """Return figures of rows of words, (n, columns)."""
    try:
        words = np.array([word for row in rows for word in row[:columns]])
        return words.astype(np.float64).reshape(-1, columns)
    except ValueError as fault:
        raise _damaged("a corner in it is not of three figures") from fault


def _fans(polygons: Any) -> Numbers:
    """Cut faces of any number of corners into triangles that share the first."""
    if isinstance(polygons, np.ndarray):
        fans = (
            [polygons[:, [0, k, k + 1]] for k in range(1, polygons.shape[1] - 1)]
            if polygons.ndim == 2
            else []
        )
        _few(sum(map(len, fans)))
        return np.concatenate(fans).astype(np.int64) if fans else np.zeros((0, 3), dtype=np.int64)
    _few(sum(max(len(polygon) - 2, 0) for polygon in polygons))
    return _triples((p[0], p[k], p[k + 1]) for p in polygons for k in range(1, len(p) - 1))


def _strips(rows: Any) -> Numbers:
    """Return the triangles of strips, each turned the other way from the last; -1 ends a strip."""
    triangles = []
    for row in rows:
        listed = np.asarray(row, dtype=np.int64)
        for strip in np.split(listed, np.flatnonzero(listed < 0)):
            strip = strip[strip >= 0]
            threes = np.stack([strip[:-2], strip[1:-1], strip[2:]], axis=1) if len(strip) > 2 else None
            if threes is not None:
                threes[1::2] = threes[1::2, ::-1]
                triangles.append(threes)
    _few(sum(map(len, triangles)))
    return np.concatenate(triangles) if triangles else np.zeros((0, 3), dtype=np.int64)


def _triples(triples: Iterable[tuple[int, int, int]]) -> Numbers:
    return np.fromiter(itertools.chain.from_iterable(triples), dtype=np.int64).reshape(-1, 3)


def _damaged(why: str) -> MeshRefused:
    return MeshRefused(f"damaged, or not a mesh: {why}", remedy="save the scan anew")


READERS = {".stl": read_stl, ".obj": read_obj, ".ply": read_ply, ".glb": read_glb}
