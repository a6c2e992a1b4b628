"""A search among solids is kept by those that lie where it looked."""

import numpy as np
import pytest

from layout3d.keep import key_of
from layout3d.solid.nearby import kept_by_place
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box

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

        (count,), _ = kept_by_place(key_of(what, limit), solids, find)
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
