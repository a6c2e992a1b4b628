"""What a dragged part holds on to."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from layout3d.draw.pieces import Piece
from layout3d.solid.placement import Placement
from layout3d.view.looks import Heights, Thing
from layout3d.view.snap import Surfaces, lies_on, snapped

PLAN = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.5], [0.0, 0.5]])
GROUND = Heights(x=PLAN[:2, 0], y=np.array([0.0, 0.5]), heights=np.full((2, 2), 0.05), plan=PLAN)


def thing(name, group, low, high, *ports):
    where = {"shape": name, "stands": Placement.identity(), "box": (low, high)}
    where |= {"ports": {f"{name}.{number}": at for number, at in enumerate(ports)}}
    return Thing(name=name, part=name, group=group, kind=group, **where)


STONE = thing("stone", "rock", (0.4, 0.2, 0.05), (0.5, 0.3, 0.15))
LEDGE = thing("ledge", "rock", (0.6, 0.1, 0.05), (0.9, 0.4, 0.20))
PUMP = thing("pump", "equipment", (0.1, 0.1, 0.0), (0.2, 0.2, 0.2), (0.15, 0.15, 0.2))
HOSE = thing("hose", "plumbing", (0.3, 0.3, 0.3), (0.31, 0.31, 0.4), (0.3, 0.3, 0.3))
ALL = (STONE, LEDGE, PUMP, HOSE)


def piece(part, mesh):
    colours = np.zeros((len(mesh.vertices), 4), np.uint8)
    return Piece(
        body=part,
        part=part,
        group="rock",
        points=mesh.vertices,
        normals=mesh.vertex_normals,
        faces=mesh.faces.astype(np.int32),
        colours=colours,
    )


SURFACES = Surfaces([piece(one.part, trimesh.creation.box(bounds=np.array(one.box))) for one in ALL])


def held(part, offset, *, lifts, reach=0.01, things=ALL, surfaces=SURFACES, ground=GROUND):
    axes = (2,) if lifts else (0, 1)
    return snapped(part, np.array(offset), things, ground, surfaces, reach=reach, step=1e-3, axes=axes)


@pytest.mark.parametrize(
    ("part", "offset", "lifts", "expected", "words"),
    [
        ("stone", (-0.395, 0.06, 0.0), False, (-0.4, 0.06, 0.0), "at the left"),
        ("stone", (0.492, 0.195, 0.0), False, (0.5, 0.2, 0.0), "at the right, at the back"),
        ("stone", (-0.195, -0.06, 0.0), False, (-0.2, -0.06, 0.0), "at pump"),
        ("stone", (-0.195, 0.1, 0.0), False, (-0.195, 0.1, 0.0), ""),  # past it
        ("stone", (0.0, 0.0, 0.004), True, (0.0, 0.0, 0.0), "on the ground"),
        ("stone", (0.25, 0.0, 0.146), True, (0.25, 0.0, 0.15), "on ledge"),
        ("stone", (0.0, 0.0, 0.146), True, (0.0, 0.0, 0.146), ""),  # beside it
        ("hose", (-0.148, -0.149, -0.099), False, (-0.15, -0.15, -0.1), "to a port of pump"),
        ("nothing", (0.1, 0.0, 0.0), False, (0.1, 0.0, 0.0), ""),
    ],
)
def test_what_is_within_reach_is_held_on_to(part, offset, lifts, expected, words):
    found, told = held(part, offset, lifts=lifts)
    assert found == pytest.approx(expected, abs=1e-9)
    assert told == words


def test_at_a_bent_or_slanting_wall_a_part_is_held_where_the_wall_is_there():
    """The front from (0, 0.2) to (0.5, 0) and back to (1, 0.2): at x 0.2 and 0.1 it lies at 0.12 and 0.16."""
    plan = np.array([[0.0, 0.2], [0.5, 0.0], [1.0, 0.2], [1.0, 0.5], [0.0, 0.5]])
    bent = replace(GROUND, plan=plan)
    found, told = held("stone", (-0.3, -0.046, 0.0), lifts=False, ground=bent, things=(STONE,))
    assert found == pytest.approx((-0.3, 0.16 - 0.2, 0.0))
    assert told == "at the front"
    found, told = held("stone", (0.0, -0.195, 0.0), lifts=False, ground=bent, things=(STONE,))
    assert not told  # 5 mm off where the bend is deepest, in the glass where it isn't
    found, told = held("stone", (0.493, 0.15, 0.0), lifts=False, ground=bent, things=(STONE,))
    assert found == pytest.approx((0.5, 0.15, 0.0))
    assert told == "at the right"


@given(
    offset=st.tuples(*[st.floats(-1, 1)] * 3),
    lifts=st.booleans(),
    part=st.sampled_from(["stone", "pump", "hose"]),
)
def test_nothing_goes_farther_than_the_reach_and_what_holds_stays(offset, lifts, part):
    found, told = held(part, offset, lifts=lifts)
    assert np.abs(found - offset).max() <= 0.01 + 1e-12
    assert bool(told) or (found == offset).all()
    again, _ = held(part, found, lifts=lifts, reach=1e-6)
    assert again == pytest.approx(found, abs=2e-6)


@pytest.mark.parametrize("aside", [0.0, 0.03, 0.06])
def test_a_ball_comes_to_lie_on_a_ball_and_not_on_its_box(aside):
    """Closed form: balls that touch are as far apart as their radii together. Inscribed meshes: 0.1 mm."""
    ball = trimesh.creation.icosphere(4, 0.05)
    rise = lies_on(ball.triangles + np.array([aside, 0.01, 0.3]), ball.triangles)
    assert 0.3 + rise == pytest.approx(np.sqrt(0.1**2 - aside**2 - 0.01**2), abs=1e-4)
    own, under = (
        thing(name, "rock", (x - 0.05, -0.05, z - 0.05), (x + 0.05, 0.05, z + 0.05))
        for name, x, z in (("own", aside, 0.3), ("under", 0.0, 0.2))
    )
    surfaces = Surfaces(
        [
            piece(name, ball.copy().apply_translation(at))
            for name, at in (("own", (aside, 0, 0.3)), ("under", (0, 0, 0.2)))
        ]
    )
    touch = np.sqrt(0.1**2 - aside**2) - 0.1  # from where it is
    found, told = held("own", (0, 0, touch + 0.004), lifts=True, things=(own, under), surfaces=surfaces)
    assert told == "on under"
    assert touch - 1e-4 <= found[2] <= touch + 1.1e-3  # up to a whole step
    found, told = held("own", (0.11, 0, 0), lifts=True, things=(own, under), surfaces=surfaces)
    assert told == ""  # beside it
    past = ball.triangles + np.array([0.09, 0.09, 0.0])  # yet over its box
    assert lies_on(past, ball.triangles) == -np.inf


def test_a_point_comes_down_on_the_middle_of_a_wide_slab():
    point = trimesh.creation.cone(0.05, 0.1, sections=64).triangles * [1, 1, -1] + [0.013, 0.021, 0.4]
    slab = trimesh.creation.box((0.9, 0.7, 0.1)).triangles
    assert lies_on(point, slab) == pytest.approx(0.05 - 0.3, abs=5e-4)
