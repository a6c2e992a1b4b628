import math
import pickle

import manifold3d
import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.errors import MeshRefused
from layout3d.solid import shape as shape_module
from layout3d.solid.boolean import difference
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement, Shape

CUBE = box((1.0, 1.0, 1.0))
TUBE = tube(0.05, 0.04, 0.3)
angle = st.floats(-7.0, 7.0)
number = st.floats(-3.0, 3.0)
vector = st.tuples(number, number, number).filter(lambda v: math.hypot(*v) > 0.1)


def test_the_same_content_has_the_same_key():
    again = Shape.of(CUBE.vertices.tolist(), CUBE.faces.tolist())
    assert again == CUBE
    assert again.key == CUBE.key
    assert len(CUBE.key) == 32
    assert Shape.of(CUBE.vertices + 1e-12, CUBE.faces).key != CUBE.key
    assert Shape.of(-0.0 * CUBE.vertices[:, :1] + CUBE.vertices, CUBE.faces).key == CUBE.key


@pytest.mark.parametrize("apart", [0, 3_000_000])  # beyond what three numbers in one hold
def test_faces_of_a_boolean_stand_in_the_order_of_their_corners(apart):
    ball = manifold3d.Manifold.sphere(1.0, 24).to_mesh64().tri_verts.astype(np.uint64) + np.uint64(apart)
    mixed = np.random.default_rng(1).permutation(ball)
    mixed[::2], mixed[1::3] = np.roll(mixed[::2], 1, axis=1), np.roll(mixed[1::3], 2, axis=1)
    rows = shape_module.in_order(mixed).tolist()
    assert rows == sorted(min(face[k:] + face[:k] for k in range(3)) for face in ball.tolist())


def test_arrays_are_read_only_and_taken_by_copy():
    mine = CUBE.vertices.copy()
    shape = Shape.of(mine, CUBE.faces)
    mine[0] = 9.0
    assert shape.vertices[0] == pytest.approx([0, 0, 0])
    for array in (shape.vertices, shape.faces, shape.bounds, shape.centroid, shape.solid().vertices):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda v, f: (v, f[:-1]), r"3 open edges \(NotManifold\)"),
        (lambda v, f: (v, np.concatenate([f, f[:1]])), "edges shared by more than two faces"),
        (
            lambda v, f: (v, np.concatenate([f[:1, ::-1], f[1:]])),
            "3 edges whose two faces face opposite ways",
        ),
        (lambda v, f: (v, f[:, ::-1]), "flat or turned inside out"),
        (lambda v, f: (v * [1, 1, 0], f), "flat or turned inside out"),
        (lambda v, f: (v, f + 1), "a face names a vertex outside 0 … 7"),
        (lambda v, f: (v, f - 1), "a face names a vertex outside"),
        (lambda v, f: (v * math.inf, f), "not finite"),
        (lambda v, f: (v[:0], f[:0]), "empty"),
        (lambda v, f: (v, f[:0]), "empty"),
    ],
)
@pytest.mark.filterwarnings("ignore:invalid value encountered in multiply")
def test_what_is_no_closed_solid_is_refused(change, words):
    with pytest.raises(MeshRefused, match=words):
        Shape.of(*change(CUBE.vertices, CUBE.faces))


@given(vector, angle, vector)
def test_turning_and_moving_leave_the_volume(axis, turn, shift):
    solid = TUBE.solid().moved(Placement.turned(axis, turn)).moved(Placement.at(shift))
    moved = Shape.of(solid.vertices, solid.faces)
    assert moved.volume == pytest.approx(TUBE.volume, rel=1e-9)
    assert moved.area == pytest.approx(TUBE.area, rel=1e-9)
    assert moved.centroid == pytest.approx(solid.centroid, abs=1e-9)
    assert moved.bounds == pytest.approx(solid.bounds, abs=1e-12)
    assert solid.manifold.volume() == pytest.approx(TUBE.volume, rel=1e-9)


@settings(max_examples=25)  # the first call imports trimesh
@given(vector)
def test_figures_agree_with_trimesh(shift):
    """Against another library's sums: trimesh."""
    import trimesh

    solid = TUBE.solid(Placement.turned((1, 1, 0), 0.7)).moved(Placement.at(shift))
    other = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    assert other.is_watertight
    assert solid.volume == pytest.approx(other.volume, rel=1e-9)
    assert solid.area == pytest.approx(other.area, rel=1e-9)
    assert solid.centroid == pytest.approx(other.center_mass, abs=1e-9)


def test_volume_far_from_the_origin_is_still_exact():
    far = Shape.of(cylinder(0.01, 0.1).vertices + 1000.0, cylinder(0.01, 0.1).faces)
    assert far.volume == pytest.approx(math.pi * 1e-4 * 0.1, rel=1e-8)


def test_moves_are_put_on_top():
    solid = CUBE.solid(Placement.at((1, 0, 0))).moved(Placement.turned((0, 0, 1), math.pi / 2))
    assert solid.bounds == pytest.approx(np.array([[-1, 1, 0], [0, 2, 1]]))


def test_shells_of_a_hollow_ball_and_one_apart():
    from layout3d.solid.boolean import union

    hollow = difference(ball(0.05, n=40).solid(), [ball(0.03, n=40).solid()])
    both = union([hollow, ball(0.02, n=40).solid(Placement.at((0.2, 0, 0)))])
    assert len(both.shape.shells) == 3
    sizes = np.bincount(both.shape.shell_of_face)
    assert sorted(sizes) == sorted(len(ball(r, n=40).faces) for r in (0.05, 0.03, 0.02))


def test_solids_can_be_sent_to_another_process():
    solid = TUBE.solid(Placement.at((1, 2, 3)))
    assert solid.shape.tree is not None
    again = pickle.loads(pickle.dumps(solid))
    assert again == solid
    assert hash(again) == hash(solid)
    assert again.shape.manifold.volume() == pytest.approx(TUBE.volume)


def test_a_boolean_gives_the_same_shape_whichever_operand_was_made_first():
    """The library numbers its objects as they are made, and orders faces by that number."""

    def cut(first):
        block = Shape.trusted(box((0.3, 0.2, 0.1)).vertices, box((0.3, 0.2, 0.1)).faces).solid()
        knob = Shape.trusted(ball(0.06, n=40).vertices, ball(0.06, n=40).faces).solid()
        for solid in (block, knob) if first == "block" else (knob, block):
            assert solid.shape.manifold.status() == manifold3d.Error.NoError
        return Shape.from_manifold(block.manifold - knob.manifold)

    assert cut("block").key == cut("knob").key


def test_what_libraries_hold_of_shapes_is_bounded_and_made_again(monkeypatch):
    lately = shape_module._Lately()
    monkeypatch.setattr(shape_module, "_LATELY", lately)
    monkeypatch.setattr(shape_module, "LATELY", 2 * shape_module.IN_TREES * len(CUBE.faces))
    cubes = [box((1.0, 1.0, side)) for side in (1.0, 2.0, 3.0)]
    lately.clear()
    first = cubes[0].tree
    assert cubes[0].tree is first
    assert Shape.trusted(CUBE.vertices, CUBE.faces).tree is first  # by content
    assert cubes[1].tree is not None
    assert cubes[0].tree is first  # used later than the second
    assert cubes[2].tree is not None
    assert cubes[0].tree is first
    assert not lately.has("tree", cubes[1].key)


def test_what_is_nearly_a_turn_is_refused():
    flat = np.eye(3)
    for wrong in (
        1.001 * flat,
        flat[::-1],
        flat + 1e-6 * np.eye(3, k=1),
        np.full((3, 3), np.nan),
    ):
        with pytest.raises(ValueError, match="Placement"):
            Placement(wrong, np.zeros(3))
    assert Placement(flat + 1e-12, np.zeros(3)).offset.tolist() == [0, 0, 0]
