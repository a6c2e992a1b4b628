"""Make a closed, outward-facing shape of a scanned mesh: weld, drop, orient, close, join.

Vertices stay where they are, but for those welded along a seam. Shells that run together are joined.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass, field

import manifold3d
import numpy as np
from numpy.typing import NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.contain import inside
from layout3d.solid.mesh_holes import Indices, edges, forward, hole_patches, open_edges
from layout3d.solid.shape import Points, Shape
from layout3d.solid.untangle import untangled

__all__ = ["RepairLog", "repaired"]

WELD_REACHES = (1e-5, 1e-4, 1e-3)  # open edges this near, by the box's diagonal, are the same edge, [-]
WELD_LEAST_EDGE = 0.25  # of the median open edge: a seam wider than that is a hole, [-]
FLAP = 0.01  # a sheet that hangs on the surface may be dropped up to this part of its faces, [-]
FLAT = 1e-9  # volume over area to the power 1.5 (a ball has 0.094): below this it is rounding, [-]
CRUMB = 1e-6  # a shell of less than this part of the whole volume is a leftover of the scan, [-]


@dataclass(slots=True)
class RepairLog:
    """What was done to a mesh, in words, in order; and in figures, as in ``Repair``."""

    steps: list[str] = field(default_factory=list)
    closed: float = 0.0
    bulge: float = 0.0
    lapped: float = 1.0
    loose: float = 0.0

    def note(self, count: int, step: str) -> None:
        """Add a step unless the count is 0: ``#`` stands for it, ``[one|many]`` for words that go with it."""
        if count:
            told = re.sub(r"\[(.*?)\|(.*?)\]", r"\1" if count == 1 else r"\2", step)
            self.steps.append(told.replace("#", f"{count:,}"))


def repaired(vertices: Points, faces: Indices, log: RepairLog) -> Shape:
    """Return the closed shape of a mesh, and write what was done into the log.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int
    log : gains one line a step

    Raises
    ------
    MeshRefused : the mesh cannot be closed, with the reason.
    """
    vertices, faces = _welded(vertices, faces, log)
    faces = _without_leftovers(faces, log)
    for reach in WELD_REACHES:
        if len(open_edges(faces)):
            vertices, faces = _welded_rims(vertices, faces, reach, log)
            faces = _without_leftovers(faces, log)
    if not len(faces):
        raise MeshRefused("the mesh has no surface left: all of it was doubled or without area")
    faces = _without_flaps(faces, log)
    faces = _oriented(faces, log)
    faces = _closed(vertices, faces, log)
    shape = _joined(vertices, faces, log)
    log.bulge /= shape.volume
    return shape


def _welded(vertices: Points, faces: Indices, log: RepairLog) -> tuple[Points, Indices]:
    """Make one vertex of those at the same point, and drop the unused."""
    whole = np.isfinite(vertices[faces]).all(axis=(1, 2))
    log.note(int((~whole).sum()), "dropped # [face with a corner|faces with corners] nowhere")
    faces = faces[whole]
    if not len(faces):
        raise MeshRefused("the mesh has no faces")
    used, packed = np.unique(faces, return_inverse=True)
    points, index = np.unique(vertices[used] + 0.0, axis=0, return_inverse=True)
    merged = len(used) - len(points)
    log.note(merged, "welded # doubled [vertex|vertices]")
    return points, np.asarray(index.ravel()[packed.reshape(-1, 3)], dtype=np.int64)


def _without_leftovers(faces: Indices, log: RepairLog) -> Indices:
    """Drop faces that are a line or a point, and faces laid on one another."""
    flat = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    log.note(int(flat.sum()), "dropped # [face|faces] without area")
    faces = faces[~flat]
    if not len(faces):
        return faces
    _, first, group, copies = np.unique(
        np.sort(faces, axis=1), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    group = group.ravel()
    doubled = np.asarray(copies) > 1
    if not doubled.any():
        return faces
    # one of the copies stays where the faces round it need it; none where it is a fin of no thickness
    single = ~doubled[group]
    edge, count = edges(faces)
    rest = np.bincount(edge[np.tile(single, 3)], minlength=count)
    candidates = first[doubled]
    odd = np.stack([rest[edge[candidates + k * len(faces)]] % 2 for k in range(3)], axis=1)
    stays = (odd.sum(axis=1) >= 2) | _closes_by_itself(faces[candidates])
    if len(candidates) > int(single.sum()):  # the whole surface is there twice: none of it is a fin
        stays[:] = True
    kept = np.concatenate([np.flatnonzero(single), candidates[stays]])
    gone = len(faces) - len(kept)
    log.note(gone, "dropped # [face laid on another|faces laid on one another] (no thickness)")
    remaining: Indices = faces[np.sort(kept)]
    return remaining


def _closes_by_itself(faces: Indices) -> NDArray[np.bool_]:
    """Tell which faces belong to a piece that has a face on either side of each edge."""
    edge, count = edges(faces)
    piece = _pieces(edge, np.ones(count, dtype=np.bool_), len(faces))
    lone = np.bincount(edge, minlength=count)[edge] == 1
    ends = np.bincount(np.tile(piece, 3)[lone], minlength=len(faces)) > 0
    closes: NDArray[np.bool_] = ~ends[piece]
    return closes


def _without_flaps(faces: Indices, log: RepairLog) -> Indices:
    """Drop small sheets that hang on the surface by an edge and end in the open: they enclose nothing."""
    edge, count = edges(faces)
    shared = np.bincount(edge, minlength=count)
    if not (shared > 2).any():
        return faces
    total = len(faces)
    piece = _pieces(edge, shared == 2, total)
    hangs, ends = np.zeros(total, dtype=np.bool_), np.zeros(total, dtype=np.bool_)
    face = np.tile(np.arange(total), 3)
    hangs[face[shared[edge] > 2]] = True
    ends[face[shared[edge] == 1]] = True
    size = np.bincount(piece)
    flap = (np.bincount(piece, weights=hangs) > 0) & (np.bincount(piece, weights=ends) > 0)
    flap &= size <= max(FLAP * total, 1.0)
    hanging = int(size[flap].sum())
    log.note(hanging, "dropped # [face that hangs|faces that hang] on the surface by an edge")
    remaining: Indices = faces[~flap[piece]]
    return remaining


def _linked(count: int, a: Indices, b: Indices) -> Indices:
    """Return the group that each of ``count`` things falls into where ``a`` and ``b`` are linked in pairs."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
    label: Indices = connected_components(links, directed=False)[1]
    return label


def _pieces(edge: Indices, joins: NDArray[np.bool_], total: int) -> Indices:
    """Return the number of the piece each of ``total`` faces falls into where only some edges join."""
    face = np.tile(np.arange(total), 3)[joins[edge]]
    label = _linked(total + len(joins), face, total + edge[joins[edge]])
    _, piece = np.unique(label[:total], return_inverse=True)
    numbers: Indices = piece.ravel().astype(np.int64)
    return numbers


def _welded_rims(vertices: Points, faces: Indices, share: float, log: RepairLog) -> tuple[Points, Indices]:
    """Weld vertices of open edges that lie nearer each other than a share of the box's diagonal."""
    from scipy.spatial import cKDTree

    loose = open_edges(faces)
    rim = np.unique(loose)
    lengths = np.linalg.norm(np.diff(vertices[loose], axis=1), axis=2)
    diagonal = float(np.linalg.norm(np.ptp(vertices, axis=0)))
    reach = share * diagonal
    if share > WELD_REACHES[0]:
        reach = min(reach, WELD_LEAST_EDGE * float(np.median(lengths)))
    pairs = cKDTree(vertices[rim]).query_pairs(reach, output_type="ndarray")
    if not len(pairs):
        return vertices, faces
    size = len(rim)
    label = _linked(size, pairs[:, 0], pairs[:, 1])
    _, first = np.unique(label, return_index=True)
    index = np.arange(len(vertices))
    index[rim] = rim[first[label]]
    middle = np.stack([np.bincount(label, vertices[rim, k]) for k in range(3)], axis=1)
    welded = vertices.copy()
    welded[rim[first]] = middle / np.bincount(label)[:, None]
    seamless: Indices = index[faces]
    if share > WELD_REACHES[0] and 2 * len(open_edges(seamless)) > len(loose):
        return vertices, faces  # no seam: loose faces that only happen to lie near each other
    apart = np.linalg.norm(np.diff(vertices[rim[pairs]], axis=1), axis=2).max() / diagonal
    far = f", up to {100 * apart:.2g} % of its diagonal apart" if share > WELD_REACHES[0] else ""
    log.note(size - len(first), f"welded # [vertex along a seam|vertices along seams]{far}")
    return welded, seamless


def _oriented(faces: Indices, log: RepairLog) -> Indices:
    """Turn faces until neighbours agree; which way is out is settled later."""
    edge, count = edges(faces)
    shared = np.bincount(edge, minlength=count)
    rising = forward(faces)
    balance = np.bincount(edge, weights=np.where(rising, 1.0, -1.0), minlength=count)
    if not balance[shared != 1].any():
        return faces
    # each face stands twice, as read and turned over; neighbours that agree are linked like to like
    order = np.argsort(edge, kind="stable")
    pairs = order[np.repeat(shared == 2, shared)].reshape(-1, 2)
    total = len(faces)
    a, b = pairs[:, 0] % total, pairs[:, 1] % total
    clash = rising[pairs[:, 0]] == rising[pairs[:, 1]]
    rows = np.concatenate([a, a + total])
    columns = np.concatenate([np.where(clash, b + total, b), np.where(clash, b, b + total)])
    label = _linked(2 * total, rows, columns)
    if (label[:total] == label[total:]).any():
        raise MeshRefused("the surface has only one side (like a Möbius strip): it can't enclose a volume")
    over = label[:total] > label[total:]
    piece = np.minimum(label[:total], label[total:])
    turned, pieces = np.bincount(piece, weights=over), np.bincount(piece)
    over ^= (turned * 2 > pieces)[piece]  # of the two ways, the one that turns fewer faces over
    log.note(int(over.sum()), "turned # [face|faces] over")
    result = faces.copy()
    result[over] = result[over][:, ::-1]
    return result


def _closed(vertices: Points, faces: Indices, log: RepairLog) -> Indices:
    """Close each hole whose rim is nearly flat, and say how much of the surface that makes up."""
    edge, count = edges(faces)
    shared = np.bincount(edge, minlength=count)
    balance = np.bincount(edge, weights=np.where(forward(faces), 1.0, -1.0), minlength=count)
    bad = int(((shared > 1) & (balance != 0.0)).sum())
    if bad:
        raise MeshRefused(
            f"{bad:,} edge{'s' if bad != 1 else ''} where more than two faces meet without pairing up",
            expected="a surface in which each edge has a face on either side",
            remedy="mend the scan, or let its convex hull be used",
        )
    log.note(int((shared > 2).sum()), "kept # [edge|edges] where four or more faces meet in pairs")
    holes = hole_patches(vertices, faces)
    if not holes:
        return faces
    added = np.concatenate([hole.patch for hole in holes])
    longest = max(hole.longest for hole in holes)
    stray = 100.0 * max(hole.stray for hole in holes)
    area = _area(vertices, added)
    log.closed = area / (_area(vertices, faces) + area)
    log.bulge = sum(2.0 / (3.0 * math.sqrt(math.pi)) * _area(vertices, hole.patch) ** 1.5 for hole in holes)
    share = 100.0 * log.closed
    log.note(
        len(holes),
        f"closed # [hole|holes, the longest] of {longest:,} edges ({share:.2g} % of the surface, "
        f"[|at most ]{stray:.0f} % off flat)",
    )
    return np.concatenate([faces, added])


def _joined(vertices: Points, faces: Indices, log: RepairLog) -> Shape:
    """Turn every shell the right way out, drop crumbs, and join what stands apart or runs together."""
    edge, count = edges(faces)
    piece = _pieces(edge, np.ones(count, dtype=np.bool_), len(faces))
    volumes, areas = _sizes(vertices, faces, piece)
    solid = np.abs(volumes) > FLAT * areas**1.5
    if not solid.any():
        pieces = f"it falls apart into {len(volumes):,} flat pieces" if len(volumes) > 1 else "it is flat"
        raise MeshRefused(
            f"the mesh encloses no volume: {pieces}",
            expected="a surface whose faces share their edges",
            remedy="weld the scan's vertices, or let its convex hull be used",
        )
    real = solid & (np.abs(volumes) > CRUMB * float(np.abs(volumes).sum()))
    log.note(int((~real).sum()), "dropped # [crumb|crumbs] of next to no volume")
    kept = Shape.parted(vertices, faces[real[piece]], piece[real[piece]])
    kept.sort(key=lambda shell: -abs(shell.volume))
    backward = [shell.volume < 0.0 for shell in kept]
    outward = [
        Shape.trusted(shell.vertices, shell.faces[:, ::-1]) if turned else shell
        for shell, turned in zip(kept, backward, strict=True)
    ]
    for i, shell in enumerate(outward):
        if shell.manifold.status() != manifold3d.Error.NoError:
            Shape.of(shell.vertices, shell.faces)  # says what is wrong with it
        outward[i], lapped = untangled(shell)
        if lapped != 1.0:
            log.lapped = max(log.lapped, lapped)
            log.steps.append(
                f"made one skin where it runs through itself: as read {100 * (lapped - 1):.2g} % too large"
            )
    # as read, a cavity faces the other way than the outermost shell around it; the smaller lies in the larger
    outermost: list[int] = []
    for i, shell in enumerate(outward):
        around = next((j for j in range(i) if _holds(outward[j], shell)), i)
        outermost.append(outermost[around] if around != i else i)
    hollow = [backward[i] != backward[root] for i, root in enumerate(outermost)]
    turned_over = sum(turned != cavity for turned, cavity in zip(backward, hollow, strict=True))
    log.note(turned_over, "turned # [shell|shells] inside out")
    log.note(sum(hollow), "kept # [cavity|cavities]")
    if len(outward) == 1:
        return outward[0]
    whole = manifold3d.Manifold()
    for cavity, group in itertools.groupby(range(len(outward)), key=lambda i: hollow[i]):
        operation = manifold3d.OpType.Subtract if cavity else manifold3d.OpType.Add
        whole = manifold3d.Manifold.batch_boolean([whole, *(outward[i].manifold for i in group)], operation)
    bodies = len(outward) - sum(hollow)
    sizes = [size for size in (piece.volume() for piece in whole.decompose()) if size > 0.0]
    log.loose = 1.0 - max(sizes) / sum(sizes) if sizes else 0.0
    apart = "took # shells that don't all touch as one solid"
    log.note(bodies if bodies > 1 else 0, apart if len(sizes) > 1 else "joined # shells into one solid")
    result = Shape.from_manifold(whole)
    if result is None:
        raise MeshRefused("the mesh encloses no volume: its cavities take all of it")
    return result


def _holds(outer: Shape, inner: Shape) -> bool:
    (low, high), (inner_low, inner_high) = outer.bounds, inner.bounds
    if not ((low <= inner_low).all() and (high >= inner_high).all()):
        return False
    some = inner.vertices[:: max(len(inner.vertices) // 8, 1)]
    return bool(inside(outer.solid(), some).all())


def _sizes(vertices: Points, faces: Indices, piece: Indices) -> tuple[Points, Points]:
    """Volume, [m³], below 0 if it is inside out, and area, [m²], of each piece of a closed surface."""
    _, first = np.unique(piece, return_index=True)
    start = vertices[faces[first, 0]][piece]  # a place on the piece itself keeps small volumes exact
    a, b, c = (vertices[faces[:, k]] - start for k in range(3))
    normal = np.cross(b - a, c - a)
    volumes = np.bincount(piece, weights=np.einsum("ij,ij->i", a, normal)) / 6.0
    return volumes, np.bincount(piece, weights=np.linalg.norm(normal, axis=1)) / 2.0


def _area(vertices: Points, faces: Indices) -> float:
    a, b, c = vertices[faces].transpose(1, 0, 2)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0
