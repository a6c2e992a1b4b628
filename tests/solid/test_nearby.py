"""A search among solids is kept by those that lie where it looked."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.keep import key_of
from layout3d.solid.boolean import difference, intersection, union
from layout3d.solid.carved import carved
from layout3d.solid.nearby import FEW_FACES, content_in, kept_by_place, lies_in
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box, heightfield
from layout3d.solid.shape import Shape

pytestmark = pytest.mark.usefixtures("memory_alone")

CUBE = box((0.1, 0.1, 0.1))


def cube(x):
    return CUBE.solid(Placement.at((x, 0.0, 0.0)))


class Looking:
    """Counts the cubes that begin below a place; looks no farther than the first that doesn't."""

    def __init__(self):
        self.times = 0

    def at(self, solids, limit, what="cubes"):
        def find():
            self.times += 1
            ends = sorted(solid.bounds[0, 0] for solid in solids)
            below = [x for x in ends if x < limit]
            return (float(len(below)),), np.array([[[-1.0, 0.0, 0.0], [limit, 0.1, 0.1]]])

        (count,) = kept_by_place(key_of(what, limit), solids, find)
        return count


def test_only_what_lies_where_it_looked_counts():
    looking = Looking()
    assert looking.at([cube(0.0), cube(0.2), cube(0.9)], 0.5) == 2
    assert looking.at([cube(0.0), cube(0.2), cube(0.7)], 0.5) == 2
    assert looking.at([cube(0.0), cube(0.2)], 0.5) == 2
    assert looking.times == 1
    assert looking.at([cube(0.0), cube(0.21)], 0.5) == 2  # one was moved there
    assert looking.at([cube(0.0), cube(0.21), cube(0.3)], 0.5) == 3  # and one came
    assert looking.at([cube(0.0)], 0.5) == 1
    assert looking.times == 4
    assert looking.at([cube(0.0), cube(0.2), cube(0.8)], 0.5) == 2  # as at first
    assert looking.times == 4


def test_another_question_is_searched_for_itself():
    looking = Looking()
    assert looking.at([cube(0.2)], 0.5) == 1
    assert looking.at([cube(0.2)], 0.1) == 0
    assert looking.at([cube(0.2)], 0.5, "others") == 1
    assert looking.times == 3


def test_what_touches_the_edge_of_a_place_lies_in_it():
    looking = Looking()
    looking.at([cube(0.5)], 0.5)
    looking.at([cube(0.5 + 1e-9)], 0.5)
    assert looking.times == 2


def ground(rise=0.0):
    """Return a metre of rough ground, of more faces than are told as a whole; raised at its far end."""
    steps = np.linspace(0.0, 1.0, 30)
    heights = 0.1 + 0.01 * np.sin(40.0 * steps)[:, None] * np.cos(30.0 * steps)[None, :]
    heights[-1] += rise
    return heightfield(steps, steps, heights, 0.0).solid()


HERE = np.array([[0.2, 0.2, 0.05], [0.4, 0.4, 0.2]])


def test_what_is_cut_or_raised_elsewhere_leaves_the_content_of_a_box():
    whole = ground()
    assert len(whole.faces) > FEW_FACES
    hole = box((0.05, 0.05, 0.5))
    for other in (ground(0.02), difference(whole, [hole.solid(Placement.at((0.8, 0.8, -0.1)))])):
        assert other != whole
        assert content_in(other, HERE) == content_in(whole, HERE)
    for other in (
        difference(whole, [hole.solid(Placement.at((0.3, 0.3, -0.1)))]),
        whole.moved(Placement.at((0, 0, 1e-9))),
    ):
        assert content_in(other, HERE) != content_in(whole, HERE)


def test_a_box_without_faces_is_told_by_whether_it_is_in_the_solid():
    deep = np.array([[0.2, 0.2, 0.02], [0.4, 0.4, 0.04]])
    over = deep + np.array([0.0, 0.0, 0.3])
    assert content_in(ground(), deep) == content_in(ground(0.02), deep) != content_in(ground(), over)
    both = np.stack([deep, over])
    assert len({content_in(ground(), places) for places in (deep, over, both, both[::-1].copy())}) == 4


def test_faces_are_told_in_any_order_but_not_turned_inside_out():
    whole = ground()
    rows = np.random.default_rng(1).permutation(len(whole.faces))
    shuffled = Shape.trusted(whole.vertices, np.roll(whole.faces[rows], 1, axis=1)).solid()
    assert shuffled != whole
    assert content_in(shuffled, HERE) == content_in(whole, HERE)
    turned = Shape.trusted(whole.vertices, whole.faces[:, ::-1]).solid()
    assert content_in(turned, HERE) != content_in(whole, HERE)


def test_a_carved_solid_is_told_without_cutting_it():
    hole = box((0.05, 0.05, 0.5))
    near, far, farther = (hole.solid(Placement.at((x, x, -0.1))) for x in (0.3, 0.7, 0.8))
    one, other, beside = (
        carved(ground(), [], loose=holes) for holes in ([near, far], [near, farther], [far])
    )
    assert content_in(one, HERE) == content_in(other, HERE) != content_in(beside, HERE)
    assert not any("_cut" in vars(each.shape) for each in (one, other, beside))


def domed():
    """Return a slab with a dome on it: all other faces are flat."""
    dome = Shape.from_manifold(manifold3d.Manifold.sphere(0.1, 48)).solid(Placement.at((0.3, 0.3, 0.1)))
    return union([box((1.0, 1.0, 0.1)).solid(), dome])


@settings(max_examples=10)
@given(st.integers(0, 2**32 - 1))
def test_two_solids_that_differ_in_a_box_are_told_apart_there(seed):
    random = np.random.default_rng(seed)
    size = random.choice([0.05, 0.1, 0.2], 3)
    low = random.choice(np.linspace(-0.05, 0.95, 21), 3) * [1.0, 1.0, 0.1]
    place = np.stack([low, low + size])
    hole = box(random.choice([0.01, 0.05, 0.15], 3))
    holes = random.choice(np.linspace(0.0, 0.9, 19), (2, 3)) * [1.0, 1.0, random.choice([0.0, 0.1])]
    holes[:, 2] -= 0.005
    walls = [difference(domed(), [hole.solid(Placement.at(at))]) for at in holes]
    here = box(size).solid(Placement.at(low))
    one, other = (intersection(wall, here) for wall in walls)
    if one is None or other is None:
        alike = one is other
    else:
        parts = (difference(one, [other]), difference(other, [one]))
        alike = all(part is None or part.volume < 1e-15 for part in parts)
    told = [lies_in(wall, place) for wall in walls]
    assert alike or told[0] != told[1]


def test_a_hole_beside_a_box_leaves_where_a_solid_lies_in_it_but_not_its_faces():
    """It parts all of the flat underside anew."""
    wall = domed()
    assert len(wall.faces) > FEW_FACES
    one, other = (
        difference(wall, [box((0.05, 0.05, 0.01)).solid(Placement.at((x, 0.5, -0.005)))]) for x in (0.5, 0.52)
    )
    under = np.array([[0.2, 0.2, -0.01], [0.4, 0.4, 0.01]])
    assert content_in(one, under) != content_in(other, under)
    assert lies_in(one, under) == lies_in(other, under)
    hole = np.array([[0.505, 0.505, -0.01], [0.545, 0.52, 0.002]])
    assert lies_in(one, hole) != lies_in(other, hole)
