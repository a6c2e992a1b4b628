"""Closed solids as triangle meshes, and where they stand. No open surfaces, no bending, no scaling."""

from __future__ import annotations

import atexit
import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any, TypeAlias, TypeVar

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.folds import FOLDED, unfolded
from layout3d.solid.placement import IDENTITY, Placement, Points
from layout3d.solid.trees import Trees, tree_of, trees_apart
from layout3d.units import show

__all__ = [
    "Carving",
    "Faces",
    "Placement",
    "Points",
    "Shape",
    "Solid",
    "hung_together",
    "in_order",
]

Made = TypeVar("Made")
Faces: TypeAlias = NDArray[np.int32]
IN_TREES, IN_BOOLEANS, IN_PLAN, IN_BOX = 560, 210, 56, 48
"""What a face takes in the libraries for distances and booleans, seen from above, and as a box, [bytes]."""
LATELY = 384 * 2**20
"""As much as that is held of all shapes, and the rest made again when it is asked for, [bytes]."""


class _Lately:
    """What is made of shapes and solids to work with: used lately, by content, at most so much of it."""

    def __init__(self) -> None:
        self._held: OrderedDict[tuple[str, str | bytes], tuple[Any, int]] = OrderedDict()
        self._size = 0
        self._lock = threading.RLock()

    def made(self, what: str, content: str | bytes, make: Callable[[], Made], size: int) -> Made:
        """Return what is held of a content, or make it, which takes about ``size`` [bytes]."""
        with self._lock:
            key = (what, content)
            if key in self._held:
                self._held.move_to_end(key)
                held: Made = self._held[key][0]
                return held
            made = make()
            self._held[key] = (made, size)
            self._size += size
            while self._size > LATELY and len(self._held) > 1:
                self._size -= self._held.popitem(last=False)[1][1]
            return made

    def has(self, what: str, content: str | bytes) -> bool:
        """Tell whether something is held of a content."""
        return (what, content) in self._held

    def clear(self) -> None:
        """Let go of all."""
        with self._lock:
            self._held.clear()
            self._size = 0


_LATELY = _Lately()
atexit.register(_LATELY.clear)  # before the interpreter goes: these are objects of other libraries


@dataclass(frozen=True, eq=False)
class Shape:
    """A closed triangle mesh in its own axes, [m]; make one with :meth:`Shape.of`.

    ``vertices`` is (n, 3) float64 and ``faces`` (m, 3) int32, both read-only; a face's corners run
    anticlockwise seen from outside. ``key`` is 32 hexadecimal digits of the content's SHA-256: shapes
    with equal keys are equal. A shape may have several shells (parts apart from each other, cavities).
    That a surface does not run through itself is not tested.
    """

    vertices: Points
    faces: Faces
    key: str

    @property
    def carving(self) -> Carving | None:
        """What it is made of, where its figures are told without its mesh (see ``solid.carved``); or None."""
        return None

    @classmethod
    def of(cls, vertices: ArrayLike, faces: ArrayLike) -> Shape:
        """Return the shape with these triangles, after checking that they close.

        Parameters
        ----------
        vertices : (n, 3) float, [m]
        faces : (m, 3) int, indices into ``vertices``, anticlockwise seen from outside

        Raises
        ------
        MeshRefused : empty, not finite, an index out of range, an edge that is not shared evenly by
            faces on both sides, or no volume inside (flat, or turned inside out).
        """
        shape = cls.trusted(vertices, faces)
        count = len(shape.vertices)
        if not count or not len(shape.faces):
            raise MeshRefused("the mesh is empty", expected="vertices and faces")
        if not np.isfinite(shape.vertices).all():
            raise MeshRefused("the mesh has a vertex that is not finite", expected="finite coordinates")
        if shape.faces.min() < 0 or shape.faces.max() >= count:
            raise MeshRefused(f"a face names a vertex outside 0 … {count - 1}")
        status = shape.manifold.status()
        if status != manifold3d.Error.NoError:
            raise MeshRefused(
                f"the mesh is not closed: {_edge_faults(shape.faces)} ({status.name})",
                expected="each edge shared by faces on both sides, oriented alike",
                remedy="repair the mesh, or use its convex hull",
            )
        if not shape.volume > 0.0:
            raise MeshRefused(
                f"the mesh encloses no volume ({show(shape.volume, 'volume')}): it is flat or turned "
                "inside out",
                expected="faces anticlockwise seen from outside",
            )
        return shape

    @classmethod
    def trusted(cls, vertices: ArrayLike, faces: ArrayLike) -> Shape:
        """Return the shape with these triangles, unchecked: for results known to be closed."""
        points = np.array(vertices, dtype=np.float64, order="C").reshape(-1, 3) + 0.0
        corners = np.array(faces, dtype=np.int32, order="C").reshape(-1, 3)
        points.flags.writeable = False
        corners.flags.writeable = False
        digest = hashlib.sha256(f"{len(points)} {len(corners)} ".encode())
        digest.update(points.tobytes())
        digest.update(corners.tobytes())
        return cls(points, corners, digest.hexdigest()[:32])

    @classmethod
    def of_faces(cls, vertices: Points, faces: ArrayLike) -> Shape:
        """Return the shape of some faces of a mesh, unchecked, with the vertices that they use."""
        used, packed = np.unique(faces, return_inverse=True)
        return cls.trusted(vertices[used], packed.reshape(-1, 3))

    @classmethod
    def parted(cls, vertices: Points, faces: NDArray[Any], label: NDArray[Any]) -> list[Shape]:
        """Return the shapes of the faces of each ``label`` (m,), unchecked, by rising label."""
        order = np.argsort(label, kind="stable")
        groups = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
        return [cls.of_faces(vertices, faces[members]) for members in groups]

    @classmethod
    def from_manifold(cls, result: Any) -> Shape | None:
        """Return a manifold3d result as a shape; None where it is empty.

        Raises
        ------
        RuntimeError : the library reports an error, which only a fault of this program can cause.
        """
        status = result.status()
        if status != manifold3d.Error.NoError:
            raise RuntimeError(f"fault of the program: manifold3d reports {status.name} for a checked solid")
        if result.is_empty():
            return None
        mesh = result.to_mesh64()
        return cls.trusted(np.asarray(mesh.vert_properties)[:, :3], in_order(np.asarray(mesh.tri_verts)))

    @property
    def content_key(self) -> str:
        """What a result of this shape is kept under."""
        return self.key

    @cached_property
    def bounds(self) -> Points:
        """Lowest and highest corner of the bounding box, (2, 3), [m]."""
        return _read_only(np.stack([self.vertices.min(axis=0), self.vertices.max(axis=0)]))

    @cached_property
    def corners(self) -> Points:
        """The corners of each face, (m, 3, 3), [m]."""
        return _read_only(self.vertices[self.faces])

    @cached_property
    def _moments(self) -> tuple[float, Points]:
        # tetrahedra from the middle of the box: keeps the sum exact for solids far from the origin; written
        # out by columns, which takes a third of the time
        middle = self.bounds.mean(axis=0)
        x, y, z = np.ascontiguousarray((self.vertices - middle).T)
        a, b, c = np.ascontiguousarray(self.faces.T)
        sixfold = x[a] * (y[b] * z[c] - z[b] * y[c])
        sixfold += y[a] * (z[b] * x[c] - x[b] * z[c])
        sixfold += z[a] * (x[b] * y[c] - y[b] * x[c])
        volume = float(sixfold.sum()) / 6.0
        if volume == 0.0:
            return 0.0, _read_only(middle)
        moment = np.array([(sixfold * (k[a] + k[b] + k[c])).sum() for k in (x, y, z)])
        return volume, _read_only(middle + moment / (24.0 * volume))

    @property
    def volume(self) -> float:
        """Enclosed volume, [m³]."""
        return self._moments[0]

    @property
    def centroid(self) -> Points:
        """Centre of the enclosed volume, (3,), [m]."""
        return self._moments[1]

    @cached_property
    def area(self) -> float:
        """Area of the surface, cavities included, [m²]."""
        a, b, c = self.corners.transpose(1, 0, 2)
        return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0

    @cached_property
    def shell_of_face(self) -> Faces:
        """Number of the shell (connected piece of surface) that each face belongs to, (m,), from 0."""
        label = hung_together(len(self.vertices), self.faces.ravel(), np.roll(self.faces, 1, axis=1).ravel())
        _, number = np.unique(label[self.faces[:, 0]], return_inverse=True)
        numbers: Faces = number.ravel().astype(np.int32)
        numbers.flags.writeable = False
        return numbers

    @cached_property
    def shells(self) -> Points:
        """One vertex of each shell, (s, 3), [m]."""
        _, first = np.unique(self.shell_of_face, return_index=True)
        return _read_only(self.vertices[self.faces[first, 0]])

    @property
    def manifold(self) -> Any:
        """The same mesh for booleans (manifold3d.Manifold)."""
        return _LATELY.made("manifold", self.key, self._manifold, IN_BOOLEANS * len(self.faces))

    @property
    def has_manifold(self) -> bool:
        """Tell whether ``manifold`` is at hand, and need not be made first."""
        return _LATELY.has("manifold", self.key)

    def _manifold(self) -> Any:
        result = _taken_in(self.vertices.copy(), self.faces)
        if abs(result.volume() - self.volume) > FOLDED * abs(self.volume):
            # the library turns edges of faces that lie folded flat; folds that are kept grow with each cut
            result = _taken_in(unfolded(self.vertices, self.faces), self.faces)
        return result

    @property
    def tree(self) -> Any:
        """The same mesh for distances: a tree of bounding boxes (coal.BVHModelOBBRSS)."""
        make = partial(tree_of, self.vertices, self.faces)
        return _LATELY.made("tree", self.key, make, IN_TREES * len(self.faces))

    @property
    def trees(self) -> Trees:
        """As ``tree``, or the wide few of its faces by themselves: sooner told of what has such."""
        make, size = partial(trees_apart, self.vertices, self.faces), IN_TREES * len(self.faces)
        whole = _LATELY.has("tree", self.key) and not _LATELY.has("trees", self.key)
        return (not whole and _LATELY.made("trees", self.key, make, size)) or [
            (self.tree, range(len(self.faces)))
        ]

    @property
    def has_tree(self) -> bool:
        """Tell whether ``trees`` are at hand, and need not be made first."""
        return _LATELY.has("tree", self.key) or _LATELY.has("trees", self.key)

    def solid(self, placement: Placement | None = None) -> Solid:
        """Return this shape standing at ``placement``; without one, where it was made."""
        return Solid(self, IDENTITY if placement is None else placement)

    def __eq__(self, other: object) -> bool:
        return self.key == other.key if isinstance(other, Shape) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.key)

    def __repr__(self) -> str:
        return f"Shape({len(self.vertices)} vertices, {len(self.faces)} faces, key {self.key[:8]})"

    def __reduce__(self) -> tuple[Any, ...]:
        # the library objects held as caches can't be sent to another process, and are quick to remake
        return (Shape.trusted, (self.vertices, self.faces))


@dataclass(frozen=True, eq=False)
class Solid:
    """A shape standing at a placement; all its figures are in the scene's axes."""

    shape: Shape
    placement: Placement

    @cached_property
    def content_key(self) -> bytes:
        """What a result of this solid where it stands is kept under."""
        return self.shape.key.encode() + self.placement.rotation.tobytes() + self.placement.offset.tobytes()

    @cached_property
    def vertices(self) -> Points:
        """Vertices in the scene's axes, (n, 3), [m]."""
        if self.placement == IDENTITY:
            return self.shape.vertices
        return _read_only(self.placement.apply(self.shape.vertices))

    @property
    def faces(self) -> Faces:
        """Faces, (m, 3), indices into the vertices."""
        return self.shape.faces

    @cached_property
    def carving(self) -> Carving | None:
        """What it is made of where it stands, if its figures are told without its mesh; or None."""
        carving = self.shape.carving
        if carving is None or self.placement == IDENTITY:
            return carving
        return Carving(
            base=carving.base.moved(self.placement),
            cutters=tuple(cutter.moved(self.placement) for cutter in carving.cutters),
            taken=tuple(part.moved(self.placement) for part in carving.taken),
        )

    @property
    def face_count(self) -> int:
        """How many faces it is computed with: of a carved one those of what it is made of."""
        carving = self.carving
        if carving is None:
            return len(self.faces)
        return len(carving.base.faces) + sum(len(part.faces) for part in carving.taken)

    @property
    def uncarved(self) -> Solid:
        """The solid before others were taken out of it, which holds it; itself where none were."""
        return self.carving.base if self.carving is not None else self

    @cached_property
    def bounds(self) -> Points:
        """Lowest and highest corner of the bounding box, (2, 3), [m]."""
        if self.placement == IDENTITY:
            return self.shape.bounds
        vertices = self.vertices
        return _read_only(np.stack([vertices.min(axis=0), vertices.max(axis=0)]))

    @cached_property
    def _ends(self) -> list[float]:
        return self.bounds.ravel().tolist()

    def box_meets(self, other: Solid) -> bool:
        """Tell whether the bounding box meets another's; by plain numbers, for it is asked most of all."""
        x, y, z, far_x, far_y, far_z = self._ends
        low_x, low_y, low_z, high_x, high_y, high_z = other._ends
        over = low_x <= far_x and x <= high_x and low_y <= far_y and y <= high_y
        return over and low_z <= far_z and z <= high_z

    @property
    def volume(self) -> float:
        """Enclosed volume, [m³]."""
        return self.shape.volume

    @property
    def area(self) -> float:
        """Area of the surface, [m²]."""
        return self.shape.area

    @cached_property
    def centroid(self) -> Points:
        """Centre of the enclosed volume, (3,), [m]."""
        return _read_only(self.placement.apply(self.shape.centroid))

    @property
    def plan_and_heights(self) -> tuple[Points, Points, tuple[Points, Points, Points]]:
        """Faces as seen from above, the upright ones left out.

        Their signed areas in plan, (m,), [m²], above 0 where a face looks up; the heights of their corners
        above the solid's lowest point, (m, 3), [m], each row rising; and of faces by rising top these tops,
        (m,), with the sums of the first none, one, two, … of their areas and of these times their mean
        heights, (m + 1,).
        """
        return _LATELY.made("plan", self.content_key, self._plan_and_heights, IN_PLAN * len(self.faces))

    def _plan_and_heights(self) -> tuple[Points, Points, tuple[Points, Points, Points]]:
        x, y, z = (np.ascontiguousarray(k) for k in self.vertices.T)
        a, b, c = np.ascontiguousarray(self.faces.T)
        plan = ((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a])) / 2.0
        lying = np.flatnonzero(plan)
        heights = (z - self.bounds[0, 2])[self.faces[lying]]
        heights.sort(axis=1)
        plan, top = plan[lying], heights[:, 2]
        rank = np.argsort(top, kind="stable")
        sums = (np.concatenate([[0.0], np.cumsum(k[rank])]) for k in (plan, plan * heights.mean(axis=1)))
        area, moment = map(_read_only, sums)
        return _read_only(plan), _read_only(heights), (_read_only(top[rank]), area, moment)

    @property
    def face_bounds(self) -> tuple[Points, Points]:
        """Lowest and highest corner of each face's bounding box, both (3, m), [m]."""
        return _LATELY.made("boxes", self.content_key, self._face_bounds, IN_BOX * len(self.faces))

    def _face_bounds(self) -> tuple[Points, Points]:
        a, b, c = (np.ascontiguousarray(self.vertices[corner].T) for corner in self.faces.T)
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        return _read_only(low), _read_only(high)

    @property
    def manifold(self) -> Any:
        """The mesh in the scene's axes for booleans (manifold3d.Manifold)."""
        if self.placement == IDENTITY:
            return self.shape.manifold
        size = IN_BOOLEANS * len(self.faces)
        return _LATELY.made("manifold", self.content_key, self._manifold, size)

    def _manifold(self) -> Any:
        turned = np.column_stack([self.placement.rotation, self.placement.offset])
        return self.shape.manifold.transform(turned)

    def moved(self, placement: Placement) -> Solid:
        """Return this solid moved by ``placement`` from where it stands."""
        return Solid(self.shape, placement @ self.placement)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Solid):
            return NotImplemented
        return self.shape == other.shape and self.placement == other.placement

    def __hash__(self) -> int:
        return hash((self.shape.key, self.placement))

    def __reduce__(self) -> tuple[Any, ...]:
        return (Solid, (self.shape, self.placement))


@dataclass(frozen=True, slots=True, kw_only=True)
class Carving:
    """A solid as it was before, less ``cutters``; ``taken`` is what these take of it, none of it twice."""

    base: Solid
    cutters: tuple[Solid, ...]
    taken: tuple[Solid, ...]


def hung_together(count: int, a: NDArray[Any], b: NDArray[Any]) -> NDArray[np.intp]:
    """Return for each of ``count`` things the lowest number of those that it hangs together with, (count,).

    Parameters
    ----------
    a, b : (k,) int; pairs of numbers that hang together, each of them both ways
    """
    label = np.arange(count)
    while True:  # the lowest number spreads along the pairs, and jumps from label to label
        lowest = label.copy()
        np.minimum.at(lowest, label[a], label[b])
        lowest = lowest[lowest[lowest]]
        if (lowest == label).all():
            return label
        label = lowest


def _read_only(array: Points) -> Points:
    array.flags.writeable = False
    return array


def in_order(faces: NDArray[Any]) -> NDArray[Any]:
    """Return faces in an order of their own: the library's hangs on which operand was made first."""
    a, b, c = np.ascontiguousarray(faces.T).astype(np.int64)
    second, third = (b < a) & (b < c), (c < a) & (c < b)
    x, y, z = (np.where(second, q, np.where(third, r, p)) for p, q, r in ((a, b, c), (b, c, a), (c, a, b)))
    span = int(faces.max(initial=0)) + 1
    # one number a face is sorted sooner than three; past some two million corners it has no room for them
    order = np.argsort((x * span + y) * span + z) if span**3 < 2**63 else np.lexsort((z, y, x))
    return np.stack([x[order], y[order], z[order]], axis=1)


def _taken_in(vertices: Points, faces: Faces) -> Any:
    return manifold3d.Manifold(manifold3d.Mesh64(vertices, faces.astype(np.uint64)))


def _edge_faults(faces: Faces) -> str:
    """Say in words, with counts, what is wrong with the edges of a mesh."""
    starts, ends = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    span = int(faces.max()) + 1
    low, high = np.minimum(starts, ends).astype(np.int64), np.maximum(starts, ends).astype(np.int64)
    _, edge, shared = np.unique(low * span + high, return_inverse=True, return_counts=True)
    balance = np.bincount(edge, weights=np.where(starts < ends, 1.0, -1.0))
    words = [
        (int((shared == 1).sum()), "open edges"),
        (int((shared > 2).sum()), "edges shared by more than two faces"),
        (int(((shared == 2) & (balance != 0)).sum()), "edges whose two faces face opposite ways"),
    ]
    return ", ".join(f"{count} {what}" for count, what in words if count) or "its faces can't be paired"
