"""Scans of every fault a scan can have, made here from a ball whose volume is known."""

import json
import math
import re
import struct
import time
import tracemalloc

import manifold3d
import numpy as np
import pytest
import trimesh
from closed_solids import ball
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout3d import keep
from layout3d.errors import LayoutError, MeshRefused
from layout3d.solid import mesh_file
from layout3d.solid.boolean import difference
from layout3d.solid.mesh_file import load_mesh, save_mesh
from layout3d.solid.mesh_read import READERS
from layout3d.solid.mesh_repair import RepairLog, repaired
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement, Shape
from layout3d.units import shown_in

BALL = ball(0.05, n=40)
pytestmark = pytest.mark.usefixtures("memory_alone")
BALL_VOLUME = 4 / 3 * math.pi * 0.05**3


def write_ply(path, vertices, faces):
    """A plain text PLY, written without the package."""
    lines = ["ply", "format ascii 1.0", f"element vertex {len(vertices)}"]
    lines += [f"property double {axis}" for axis in "xyz"]
    lines += [f"element face {len(faces)}", "property list uchar int vertex_indices", "end_header"]
    lines += [" ".join(f"{c:.17g}" for c in vertex) for vertex in vertices]
    lines += ["3 " + " ".join(str(int(i)) for i in face) for face in faces]
    path.write_text("\n".join(lines) + "\n")
    return path


def together(*parts):
    shifts = np.cumsum([0, *(len(vertices) for vertices, _ in parts[:-1])])
    return (
        np.concatenate([vertices for vertices, _ in parts]),
        np.concatenate([faces + shift for (_, faces), shift in zip(parts, shifts, strict=True)]),
    )


def soup(shape):
    """Every face with three vertices of its own, as in STL."""
    return shape.vertices[shape.faces].reshape(-1, 3), np.arange(3 * len(shape.faces)).reshape(-1, 3)


def at(shape, *offset):
    return shape.vertices + np.array(offset), shape.faces


def test_a_clean_mesh_needs_no_repair(tmp_path):
    shape, repair = load_mesh(write_ply(tmp_path / "clean.ply", BALL.vertices, BALL.faces))
    assert repair.steps == ()
    assert "nothing to repair" in str(repair)
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)


def write_glb(path, solid):
    """Written by another program, in metres and y up: glTF 2.0, Khronos Group, section 3.4."""
    upright = np.column_stack([solid.vertices[:, 0], solid.vertices[:, 2], -solid.vertices[:, 1]])
    trimesh.Trimesh(upright, solid.faces, process=False).export(path)


@pytest.mark.parametrize(("suffix", "slack"), [("stl", 1e-6), ("ply", 1e-14), ("glb", 1e-6)])
def test_written_and_read_again_is_the_same_solid_in_the_same_place(tmp_path, suffix, slack):
    solid = box((0.1, 0.2, 0.3)).solid(Placement.at((0.5, -0.6, 0.7)))
    path = tmp_path / f"block.{suffix}"
    if suffix == "glb":
        write_glb(path, solid)
    else:
        save_mesh(solid, path, 0.001)
    shape, repair = load_mesh(path, unit=1.0 if suffix == "glb" else 0.001)
    assert shape.bounds == pytest.approx(solid.bounds, abs=1e-6)
    assert shape.volume == pytest.approx(0.006, rel=slack)
    assert [step for step in repair.steps if "turned" not in step and "welded" not in step] == []
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_a_scan_is_mended_once(tmp_path, monkeypatch):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(keep, "WORTH_FILING", 0.0)
    path = write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces[:, ::-1])
    first = load_mesh(path)
    keep.forget()
    monkeypatch.setattr(mesh_file, "repaired", None)  # a second mending would fail
    assert load_mesh(path) == first
    moved = path.rename(tmp_path / "again.ply")
    shape, repair = load_mesh(moved)
    assert (shape, repair.steps) == (first[0], ("turned 1 shell inside out",))
    assert repair.file == str(moved)
    with pytest.raises(TypeError):
        load_mesh(moved, unit=0.5)


@pytest.mark.parametrize(("system", "unit"), [("metric", "mm"), ("inch", "in")])
def test_how_far_a_reduced_mesh_strays_is_told_in_the_scenes_units(tmp_path, system, unit):
    path = write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces)
    with shown_in(system):
        shape, repair = load_mesh(path, unit=1.0, tolerance=0.002)
    assert len(shape.faces) < len(BALL.faces)
    assert re.search(
        rf"reduced to {len(shape.faces)} faces: strays by [\d.]+ {unit} at most", repair.steps[-1]
    )


def test_stl_without_shared_vertices_and_with_faces_turned_over(tmp_path):
    vertices, faces = soup(BALL)
    faces = faces.copy()
    faces[::7] = faces[::7, ::-1]
    shape, repair = load_mesh(write_ply(tmp_path / "soup.ply", vertices, faces))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    turned = math.ceil(len(BALL.faces) / 7)
    assert f"turned {turned:,} faces over" in repair.steps
    assert f"welded {len(vertices) - len(BALL.vertices):,} doubled vertices" in repair.steps


def test_inside_out(tmp_path):
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces[:, ::-1]))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    assert repair.steps == ("turned 1 shell inside out",)


def test_faces_without_area_and_faces_laid_on_another(tmp_path):
    faces = np.concatenate([BALL.faces, [[5, 5, 9], [7, 8, 7]], BALL.faces[:3], BALL.faces[10:12, ::-1]])
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", BALL.vertices, faces))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    assert repair.steps == (
        "dropped 2 faces without area",
        "dropped 5 faces laid on one another (no thickness)",
    )


def test_a_fin_of_no_thickness_is_dropped(tmp_path):
    a, b, _ = BALL.faces[0]
    tip = len(BALL.vertices)
    vertices = np.concatenate([BALL.vertices, [[0.0, 0.0, 0.2]]])
    faces = np.concatenate([BALL.faces, [[a, b, tip], [b, a, tip]]])
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", vertices, faces))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    assert repair.steps == ("dropped 2 faces laid on one another (no thickness)",)


def test_a_scan_without_its_base_is_closed_flat(tmp_path):
    """Closed form: half a ball is 2/3 pi r³; the mesh's rim is its equator, in the plane z = 0."""
    upper = (BALL.vertices[BALL.faces][:, :, 2] >= -1e-12).all(axis=1)
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces[upper]))
    assert shape.volume == pytest.approx(BALL_VOLUME / 2, rel=1e-9)
    assert len(repair.steps) == 1
    # the base is a third of the whole surface of a half ball: pi r² of 3 pi r²
    assert repair.steps[0].startswith("closed 1 hole of ")
    assert "(33 % of the surface, 0 % off flat)" in repair.steps[0]


def test_small_holes_are_closed_and_counted(tmp_path):
    gone = [0, 300, 600]
    kept = np.delete(np.arange(len(BALL.faces)), gone)
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces[kept]))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    assert "closed 3 holes, the longest of 3 edges" in repair.steps[0]


def test_the_open_end_of_a_hollow_log_is_closed_as_a_ring(tmp_path):
    """Closed form: pi (R² - r²) l + pi r² wall for a cup; its open rim is left out of the mesh."""
    outer, inner = cylinder(0.05, 0.2), cylinder(0.03, 0.2)
    cup = difference(outer.solid(), [inner.solid(Placement.at((0, 0, 0.01)))])
    rim = (cup.vertices[cup.faces][:, :, 2] > 0.2 - 1e-9).all(axis=1)
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", cup.vertices, cup.faces[~rim]))
    expected = math.pi * (0.05**2 - 0.03**2) * 0.2 + math.pi * 0.03**2 * 0.01
    assert shape.volume == pytest.approx(expected, rel=1e-9)
    assert "closed 1 hole" in repair.steps[-1]


def test_a_seam_that_almost_meets_is_welded(tmp_path):
    """The left half stands 0.1 µm off the right: less than 1e-5 of the diagonal."""
    vertices, faces = BALL.vertices, BALL.faces
    left = vertices[faces].mean(axis=1)[:, 0] < 0.0
    halves = together((vertices - [1e-7, 0, 0], faces[left]), (vertices, faces[~left]))
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", *halves))
    assert any("along seams" in step for step in repair.steps)
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-4)


def test_shells_that_run_together_count_once(tmp_path):
    """Closed form: two equal balls less their lens, pi (4 R + d)(2 R - d)² / 12."""
    d = 0.06
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", *together(at(BALL, 0, 0, 0), at(BALL, d, 0, 0))))
    lens = math.pi * (4 * 0.05 + d) * (2 * 0.05 - d) ** 2 / 12
    assert shape.volume == pytest.approx(2 * BALL_VOLUME - lens, rel=1e-3)
    assert repair.steps == ("joined 2 shells into one solid",)
    assert repair.loose == 0.0


def test_shells_that_stand_apart_are_told_with_the_share_that_is_loose(tmp_path):
    """A ball of half the radius beside another: 1 of 9 eighths."""
    small = ball(0.025, n=40)
    mesh = together(at(ball(0.05, n=40), 0, 0, 0), at(small, 0.2, 0, 0))
    _, repair = load_mesh(write_ply(tmp_path / "m.ply", *mesh))
    assert repair.loose == pytest.approx(1 / 9, rel=1e-9)
    assert repair.steps == ("took 2 shells that don't all touch as one solid",)


def test_a_cavity_stays_and_a_stone_in_it_too(tmp_path):
    hollow, stone = ball(0.03, n=40), ball(0.01, n=40)
    mesh = together(at(BALL, 0, 0, 0), (hollow.vertices, hollow.faces[:, ::-1]), at(stone, 0, 0, 0))
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", *mesh))
    assert shape.volume == pytest.approx(4 / 3 * math.pi * (0.05**3 - 0.03**3 + 0.01**3), rel=1e-9)
    assert "kept 1 cavity" in repair.steps


def test_the_same_all_turned_inside_out(tmp_path):
    hollow = ball(0.03, n=40)
    mesh = together((BALL.vertices, BALL.faces[:, ::-1]), at(hollow, 0, 0, 0))
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", *mesh))
    assert shape.volume == pytest.approx(4 / 3 * math.pi * (0.05**3 - 0.03**3), rel=1e-9)
    assert repair.steps == ("turned 2 shells inside out", "kept 1 cavity")


def test_crumbs_are_dropped(tmp_path):
    mesh = together(at(BALL, 0, 0, 0), at(ball(0.0001, n=40), 0.2, 0, 0))
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", *mesh))
    assert shape.bounds[1, 0] < 0.06
    assert repair.steps == ("dropped 1 crumb of next to no volume",)


def test_a_sheet_that_hangs_on_the_surface_is_dropped(tmp_path):
    a, b, _ = BALL.faces[0]
    tip = len(BALL.vertices)
    vertices = np.concatenate([BALL.vertices, [[0.0, 0.0, 0.06], [0.0, 0.01, 0.06]]])
    faces = np.concatenate([BALL.faces, [[a, b, tip], [b, tip + 1, tip]]])
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", vertices, faces))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-12)
    assert repair.steps == ("dropped 2 faces that hang on the surface by an edge",)


def test_three_faces_on_an_edge_are_refused_or_hulled(tmp_path):
    """A membrane across the equator: which of the two halves is the solid can't be told."""
    level = np.isclose(BALL.vertices[:, 2], 0.0)
    rim = np.flatnonzero(level)
    rim = rim[np.argsort(np.arctan2(BALL.vertices[rim, 1], BALL.vertices[rim, 0]))]
    hub = len(BALL.vertices)
    fan = np.column_stack([rim, np.roll(rim, -1), np.full(len(rim), hub)])
    vertices = np.concatenate([BALL.vertices, [[0.0, 0.0, 0.0]]])
    path = write_ply(tmp_path / "m.ply", vertices, np.concatenate([BALL.faces, fan]))
    words = rf"m\.ply: {len(rim)} edges where more than two faces meet without pairing up"
    with pytest.raises(MeshRefused, match=words):
        load_mesh(path)
    shape, repair = load_mesh(path, hull=True)
    assert repair.hull
    assert "more than two faces" in repair.reason
    assert any("convex hull" in step for step in repair.steps)
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=1e-9)


def test_loose_faces_are_refused_with_what_to_do(tmp_path):
    """Each face apart from its neighbours by more than a seam."""
    vertices, faces = soup(ball(0.005, n=40))
    shaken = vertices + np.random.default_rng(1).normal(0, 2e-5, vertices.shape)
    with pytest.raises(MeshRefused, match=r"falls apart into .* flat pieces") as refusal:
        load_mesh(write_ply(tmp_path / "m.ply", shaken, faces))
    assert "weld the scan's vertices" in str(refusal.value)


@settings(max_examples=10)
@given(st.integers(0, 2**32 - 1))
def test_any_damage_ends_in_a_closed_solid_or_a_reason(seed):
    rng = np.random.default_rng(seed)
    small = ball(0.0005, n=40)
    vertices, faces = small.vertices.copy(), small.faces.astype(np.int64)
    for _ in range(rng.integers(1, 4)):
        some = rng.choice(len(faces), int(rng.integers(1, 20)), replace=False)
        match rng.integers(0, 7):
            case 0:
                faces = np.delete(faces, some, axis=0)
            case 1:
                faces[some] = faces[some, ::-1]
            case 2:
                faces = np.concatenate([faces, faces[some], faces[some, ::-1]])
            case 3:
                vertices[rng.choice(len(vertices), 3)] = vertices[rng.choice(len(vertices), 3)]
            case 4:
                vertices, faces = vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3)
            case 5:
                faces = np.concatenate([faces, rng.integers(0, len(vertices), (2, 3))])
            case _:
                shift = rng.normal(0, 4e-4, 3)
                vertices, faces = together((vertices, faces), (vertices * 0.7 + shift, faces))
    try:
        shape = repaired(vertices, faces, RepairLog())
    except MeshRefused:
        return  # with a reason; any other error fails
    assert Shape.of(shape.vertices, shape.faces).volume > 0


def test_hull_is_not_used_where_the_mesh_closes(tmp_path):
    cup = difference(box((0.1, 0.1, 0.1)).solid(), [box((0.08, 0.08, 0.2)).solid(Placement.at((0.01,) * 3))])
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", cup.vertices, cup.faces), hull=True)
    assert not repair.hull
    assert shape.volume == pytest.approx(0.001 - 0.08 * 0.08 * 0.09, rel=1e-9)


def test_a_moebius_strip_is_refused(tmp_path):
    t = np.linspace(0, 2 * math.pi, 40, endpoint=False)
    edge = [
        np.column_stack(
            [(1 + w * np.cos(t / 2)) * np.cos(t), (1 + w * np.cos(t / 2)) * np.sin(t), w * np.sin(t / 2)]
        )
        for w in (-0.2, 0.2)
    ]
    faces = []
    for i in range(40):
        a, b, c, d = i, (i + 1) % 40, 40 + (i + 1) % 40, 40 + i
        if i == 39:
            b, c = c, b
        faces += [[a, b, c], [a, c, d]]
    with pytest.raises(MeshRefused, match="only one side"):
        load_mesh(write_ply(tmp_path / "m.ply", np.concatenate(edge), faces))


def test_a_hole_that_is_not_flat_is_refused(tmp_path):
    """Half the skin of a ball cut along a wavy line, up and down by 0.9 of its radius."""
    middle = BALL.vertices[BALL.faces].mean(axis=1)
    wave = 0.045 * np.sin(2 * np.arctan2(middle[:, 1], middle[:, 0]))
    path = write_ply(tmp_path / "m.ply", BALL.vertices, BALL.faces[middle[:, 2] > wave])
    with pytest.raises(MeshRefused, match="not flat enough to close"):
        load_mesh(path)


def test_sizes(tmp_path):
    path = write_ply(tmp_path / "m.ply", *at(box((100.0, 50.0, 20.0)), 0, 0, 0))
    assert load_mesh(path, unit=0.001)[0].volume == pytest.approx(1e-4)
    shape, repair = load_mesh(path, longest=0.4)
    assert np.ptp(shape.bounds, axis=0) == pytest.approx([0.4, 0.2, 0.08])
    assert repair.scale == pytest.approx(0.004)
    assert load_mesh(path, volume=0.002)[0].volume == pytest.approx(0.002)
    with pytest.raises(MeshRefused, match="more than one of longest, volume"):
        load_mesh(path, volume=0.002, longest=1.0)
    with pytest.raises(MeshRefused, match="longest must be above 0"):
        load_mesh(path, longest=0.0)


@pytest.mark.parametrize("suffix", ["stl", "obj", "ply", "glb"])
@pytest.mark.parametrize(
    "content",
    [b"", b"garbage", b"\x00" * 200, b"solid\nfacet\n", b"ply\nformat ascii 1.0\nelement vertex 9\n"],
)
def test_damaged_files_are_refused_by_name(tmp_path, suffix, content):
    path = tmp_path / f"bad.{suffix}"
    path.write_bytes(content)
    with pytest.raises(MeshRefused, match=f"bad.{suffix}: "):
        load_mesh(path)


def test_obj_with_four_sided_faces(tmp_path):
    path = tmp_path / "cube.obj"
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    quads = [(1, 2, 4, 3), (5, 7, 8, 6), (1, 5, 6, 2), (3, 4, 8, 7), (1, 3, 7, 5), (2, 6, 8, 4)]
    text = [f"v {x} {y} {z}" for x, y, z in corners] + ["f " + " ".join(map(str, q)) for q in quads]
    path.write_text("mtllib missing.mtl\n" + "\n".join(text) + "\n")
    assert load_mesh(path)[0].volume == pytest.approx(1.0)


def test_refusals_before_reading(tmp_path, monkeypatch):
    with pytest.raises(MeshRefused, match=r"none\.stl: can't be read"):
        load_mesh(tmp_path / "none.stl")
    with pytest.raises(MeshRefused, match="not a mesh format"):
        load_mesh(tmp_path / "notes.txt")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshRefused, match="not a file"):
        load_mesh(tmp_path / "folder.stl")
    path = write_ply(tmp_path / "m.ply", *at(box((1, 1, 1)), 0, 0, 0))
    monkeypatch.setattr(mesh_file, "FACE_LIMIT", 11)
    with pytest.raises(MeshRefused, match="12 faces"):
        load_mesh(path)
    monkeypatch.setattr(mesh_file, "FILE_LIMIT", 100)
    with pytest.raises(MeshRefused, match="MB"):
        load_mesh(path)


def test_flat_mesh_is_refused_even_as_hull(tmp_path):
    path = write_ply(tmp_path / "m.ply", [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], [[0, 1, 2], [1, 3, 2]])
    with pytest.raises(MeshRefused):
        load_mesh(path)
    with pytest.raises(MeshRefused, match="even its hull is flat"):
        load_mesh(path, hull=True)


def test_writing_refuses_and_leaves_nothing(tmp_path):
    with pytest.raises(MeshRefused, match="can't be written"):
        save_mesh(BALL, tmp_path / "ball.glb", 0.001)
    with pytest.raises(LayoutError, match="can't be written"):
        save_mesh(BALL, tmp_path / "missing" / "ball.stl", 0.001)
    assert list(tmp_path.iterdir()) == []


def tube(path, radius, sides=24):
    """A closed tube swept along a closed path (k, 3) in space."""
    along = np.roll(path, -1, 0) - np.roll(path, 1, 0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    side = np.cross(along, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side, axis=1)[:, None]
    up = np.cross(side, along)
    turn = np.arange(sides) * 2 * math.pi / sides
    ring = np.cos(turn)[None, :, None] * side[:, None] + np.sin(turn)[None, :, None] * up[:, None]
    vertices = (path[:, None] + radius * ring).reshape(-1, 3)
    i, j = (k.ravel() for k in np.meshgrid(np.arange(len(path)), np.arange(sides), indexing="ij"))
    m, n = (i + 1) % len(path), (j + 1) % sides
    a, b, c, d = i * sides + j, m * sides + j, m * sides + n, i * sides + n
    return vertices, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def figure_of_eight():
    t = np.linspace(0, 2 * math.pi, 120, endpoint=False)
    path = np.stack([0.1 * np.sin(t), 0.1 * np.sin(t) * np.cos(t), 0 * t], axis=1)
    return tube(path, 0.01)


def test_a_tube_that_runs_through_itself_is_made_one_skin(tmp_path):
    """Two ways to the same: plane sections of the tube as it is, filled once, and summed up."""
    vertices, faces = figure_of_eight()
    whole = manifold3d.Manifold(manifold3d.Mesh64(vertices, np.ascontiguousarray(faces).astype(np.uint64)))
    low, high = vertices[:, 2].min(), vertices[:, 2].max()
    levels = low + (np.arange(400) + 0.5) / 400 * (high - low)
    truth = sum(whole.slice(level).area() for level in levels.tolist()) * (high - low) / 400
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", vertices, faces))
    summed = abs(Shape.trusted(vertices, faces).volume)
    assert summed > 1.02 * truth
    assert shape.volume == pytest.approx(truth, rel=1e-3)
    assert repair.lapped == pytest.approx(summed / truth, rel=1e-3)
    assert any("runs through itself" in step for step in repair.steps)


def bow_tie(low, high):
    """Two wedges edge to edge as one skin, the upper one inside out; each as high as wide, and 1 deep."""
    ring = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2.0
    lower = np.column_stack([low * ring[:, 0], ring[:, 1], np.full(4, -low)])
    upper = np.column_stack([-high * ring[:, 0], ring[:, 1], np.full(4, high)])
    faces = [[0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7]]
    for k in range(4):
        j = (k + 1) % 4
        faces += [[k, j, j + 4], [k, j + 4, k + 4]]
    return np.concatenate([lower, upper]), np.array(faces)


@pytest.mark.parametrize("high", [0.3, 0.5, 0.9])
def test_a_skin_that_is_inside_out_behind_a_crossing_is_refused_not_subtracted(tmp_path, high):
    vertices, faces = bow_tie(1.0, high)
    path = write_ply(tmp_path / "m.ply", vertices, faces)
    with pytest.raises(MeshRefused, match=r"runs through itself, and .* inside out") as refusal:
        load_mesh(path)
    told = float(re.search(r"([0-9.]+) % of what", refusal.value.found)[1])
    assert told == pytest.approx(100 * high**2 / (1 + high**2), rel=0.06)  # told to two figures
    assert load_mesh(path, hull=True)[1].hull


@settings(max_examples=4)
@given(st.integers(0, 2**32 - 1))
def test_a_ball_pushed_through_itself_has_its_true_volume_or_is_refused(seed):
    """What a shaken ball encloses, counted at random places: within 0.5 % and four deviations."""
    rng = np.random.default_rng(seed)
    small = Shape.from_manifold(manifold3d.Manifold.sphere(0.05, 20))
    vertices = small.vertices.copy()
    near = np.linalg.norm(vertices - vertices[rng.integers(len(vertices))], axis=1) < rng.uniform(0.01, 0.05)
    vertices[near] += rng.normal(0, 0.05, 3)
    log = RepairLog()
    try:
        shape = repaired(vertices, small.faces.astype(np.int64), log)
    except MeshRefused:
        return
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    places = rng.uniform(low, high, (4_000, 3))
    a, b, c = vertices[small.faces].transpose(1, 0, 2)
    count = 0.0
    for part in np.array_split(places, 8):
        u, v, w = (k[None] - part[:, None] for k in (a, b, c))
        lu, lv, lw = (np.linalg.norm(k, axis=2) for k in (u, v, w))
        over = np.einsum("ijk,ijk->ij", u, np.cross(v, w))
        under = lu * lv * lw
        under += (u * v).sum(2) * lw + (v * w).sum(2) * lu + (w * u).sum(2) * lv
        count += (np.abs(np.arctan2(over, under).sum(axis=1) / (2 * math.pi)) > 0.5).sum()
    share = count / len(places)
    box_volume = float(np.prod(high - low))
    slack = 4 * math.sqrt(share * (1 - share) / len(places)) * box_volume
    assert shape.volume == pytest.approx(share * box_volume, rel=0.005, abs=slack)


def test_what_closing_may_change_is_told_in_figures(tmp_path):
    """Half a ball without its flat side: a third of the surface is closed; a half ball there doubles it."""
    middle = BALL.vertices[BALL.faces].mean(axis=1)
    _, repair = load_mesh(write_ply(tmp_path / "half.ply", BALL.vertices, BALL.faces[middle[:, 2] > 0]))
    assert repair.closed == pytest.approx(1 / 3, rel=0.02)
    assert repair.bulge == pytest.approx(1.0, rel=0.05)


def test_a_surface_with_every_face_twice_is_that_surface(tmp_path):
    for name, twin in (("alike", BALL.faces), ("turned", BALL.faces[:, ::-1])):
        path = write_ply(tmp_path / f"{name}.ply", BALL.vertices, np.concatenate([BALL.faces, twin]))
        shape, repair = load_mesh(path)
        assert shape.volume == pytest.approx(BALL.volume)
        assert any("laid on one another" in step for step in repair.steps)
    middle = BALL.vertices[BALL.faces].mean(axis=1)
    bowl = BALL.faces[middle[:, 2] > 0]
    shape, _ = load_mesh(
        write_ply(tmp_path / "bowl.ply", BALL.vertices, np.concatenate([bowl, bowl[:, ::-1]]))
    )
    assert shape.volume == pytest.approx(BALL.volume / 2, rel=0.01)


@pytest.mark.parametrize("apart", [1e-5, 3e-5, 1e-4])
def test_corners_a_hair_apart_on_a_hand_sized_stone_are_welded(tmp_path, apart):
    vertices, faces = soup(BALL)
    shaken = vertices + np.random.default_rng(1).uniform(-apart / 2, apart / 2, vertices.shape) / math.sqrt(3)
    shape, repair = load_mesh(write_ply(tmp_path / "m.ply", shaken, faces))
    assert shape.volume == pytest.approx(BALL_VOLUME, rel=0.005)
    assert any("welded" in step and "apart" in step for step in repair.steps)


def test_binary_stl_with_bytes_after_its_end(tmp_path):
    path = tmp_path / "m.stl"
    save_mesh(BALL, path, 1.0)
    path.write_bytes(path.read_bytes() + b"tail!")
    shape, repair = load_mesh(path)
    assert shape.volume == pytest.approx(BALL.volume, rel=1e-5)
    assert "left out 5 bytes after its last face" in repair.steps
    path.write_bytes(path.read_bytes()[:-60])
    with pytest.raises(
        MeshRefused, match=f"says {len(BALL.faces):,} faces and holds {len(BALL.faces) - 2:,}"
    ):
        load_mesh(path)


def text_stl(shape, end):
    rows = ["solid stone"]
    for face in shape.vertices[shape.faces]:
        rows += ["facet normal 0 0 0", "outer loop"]
        rows += ["vertex " + " ".join(f"{c:.9e}" for c in corner) for corner in face]
        rows += ["endloop", "endfacet"]
    return "\n".join(rows) + end


@pytest.mark.parametrize(("end", "told"), [("\nendsolid stone\n", False), ("\n", True), ("", True)])
def test_text_stl_with_and_without_its_last_line(tmp_path, end, told):
    path = tmp_path / "m.stl"
    path.write_text(text_stl(BALL, end))
    shape, repair = load_mesh(path)
    assert shape.volume == pytest.approx(BALL.volume, rel=1e-6)
    assert any("endsolid" in step for step in repair.steps) == told


@pytest.mark.parametrize("order", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_ply_of_each_kind_with_other_things_in_it_and_strips(tmp_path, order):
    """A tetrahedron as one strip of four: the sixth of a box."""
    sign = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}[order]
    points = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)]
    head = (
        f"ply\nformat {order} 1.0\ncomment made here\nelement camera 1\nproperty list uchar int lens\n"
        "property float x\nelement vertex 4\nproperty uchar red\nproperty float x\nproperty float y\n"
        "property float z\n"
    )
    strip = [0, 1, 2, 3, 0, 1, -1]
    polygons = [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]
    for name, rows in (("tristrips", [strip]), ("face", polygons)):
        words = [[2, 7, 8, 1.5], *([9, *p] for p in points), *([len(r), *r] for r in rows)]
        text = head + f"element {name} {len(rows)}\nproperty list int int vertex_indices\nend_header\n"
        if sign:
            body = struct.pack(f"{sign}Biif", *words[0])
            body += b"".join(struct.pack(f"{sign}Bfff", *w) for w in words[1:5])
            body += b"".join(struct.pack(f"{sign}{len(w)}i", *w) for w in words[5:])
        else:
            body = "".join(" ".join(map(str, w)) + "\n" for w in words).encode()
        path = tmp_path / f"{name}.ply"
        path.write_bytes(text.encode() + body)
        assert load_mesh(path)[0].volume == pytest.approx(1 / 6)
        reference = trimesh.load(path, process=False) if name == "face" else None
        assert reference is None or abs(reference.volume) == pytest.approx(1 / 6)


def glb(document, body=b""):
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(body), b"BIN\x00") + body if body else b""
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


@pytest.mark.parametrize(
    ("name", "content"),
    [
        (
            "m.glb",
            glb(
                {
                    "asset": {"version": "2.0"},
                    "scene": 0,
                    "scenes": [{"nodes": [0]}],
                    "nodes": [{"mesh": 0}],
                    "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
                    "accessors": [{"componentType": 5126, "count": 150_000_000, "type": "VEC3"}],
                }
            ),
        ),
        (
            "m.ply",
            b"ply\nformat binary_little_endian 1.0\nelement vertex 150000000\nproperty double x\n"
            b"property double y\nproperty double z\nend_header\n",
        ),
        (
            "n.ply",
            b"ply\nformat binary_little_endian 1.0\nelement vertex 1\nproperty double x\nproperty double y\n"
            b"property double z\nelement face 1\nproperty list int int vertex_indices\nend_header\n"
            + bytes(24)
            + b"\xff\xff\xff\x7f",
        ),
        ("m.stl", bytes(80) + b"\xff\xff\xff\xff" + bytes(50)),
    ],
)
def test_a_file_that_claims_more_than_it_can_hold_is_refused_at_once(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    tracemalloc.start()
    with pytest.raises(MeshRefused, match="damaged"):
        load_mesh(path)
    assert tracemalloc.get_traced_memory()[1] < 50e6
    tracemalloc.stop()


def test_an_obj_costs_by_its_lines_however_many_materials_it_names(tmp_path):
    path = tmp_path / "m.obj"
    lines = [f"v {x} {y} {z}" for x, y, z in BALL.vertices.tolist()]
    for k, face in enumerate((BALL.faces + 1).tolist() * 1):
        lines += [f"usemtl m{k}", "f " + " ".join(f"{i}//{i}" for i in face)]
    path.write_text("\n".join(lines))
    begin = time.process_time()
    vertices, faces, _ = READERS[".obj"](path.read_bytes())
    assert time.process_time() - begin < 2.0
    assert (len(vertices), len(faces)) == (len(BALL.vertices), len(BALL.faces))
    assert load_mesh(path)[0].volume == pytest.approx(BALL.volume)


LIBRARY = re.compile(
    r"trimesh|numpy|manifold3d|Error\b|object|dtype|buffer|None|unpack|index \d", re.IGNORECASE
)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["stl", "obj", "ply", "glb"]), st.randoms(use_true_random=False))
def test_a_file_with_anything_changed_is_read_or_refused_in_our_words(tmp_path, suffix, random):
    path = tmp_path / f"m.{suffix}"
    small = box((1.0, 1.0, 1.0))
    if suffix == "obj":
        rows = [f"v {x} {y} {z}" for x, y, z in small.vertices.tolist()]
        path.write_text("\n".join(rows + ["f " + " ".join(map(str, f)) for f in (small.faces + 1).tolist()]))
    elif suffix == "ply" and random.random() < 0.5:
        write_ply(path, small.vertices, small.faces)
    elif suffix == "stl" and random.random() < 0.5:
        path.write_text(text_stl(small, "\nendsolid\n"))
    elif suffix == "glb":
        write_glb(path, small)
    else:
        save_mesh(small, path, 1.0)
    content = bytearray(path.read_bytes())
    for _ in range(random.randint(1, 8)):
        place = random.randrange(len(content) + 1)
        match random.randint(0, 2):
            case 0:
                content[place : place + 1] = bytes([random.randrange(256)])
            case 1:
                del content[place : place + random.randint(1, 30)]
            case _:
                content[place:place] = bytes(
                    random.choices(b"0123456789-. \n\x00\xffvf", k=random.randint(1, 9))
                )
        content = content or bytearray(b"x")
    path.write_bytes(bytes(content))
    told = ""
    try:
        load_mesh(path)
    except MeshRefused as refusal:
        told = refusal.found.replace(str(path), "")
    assert not LIBRARY.search(told)


def test_which_way_is_up_can_be_said(tmp_path):
    path = write_ply(tmp_path / "m.ply", *at(box((1.0, 2.0, 3.0)), 0, 0, 0))
    assert np.ptp(load_mesh(path)[0].bounds, axis=0) == pytest.approx([1, 2, 3])
    assert np.ptp(load_mesh(path, up="y")[0].bounds, axis=0) == pytest.approx([1, 3, 2])
    write_glb(tmp_path / "m.glb", box((1.0, 2.0, 3.0)))
    assert np.ptp(load_mesh(tmp_path / "m.glb", up="z")[0].bounds, axis=0) == pytest.approx([1, 3, 2])
