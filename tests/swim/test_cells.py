"""Which cells a solid has a part in: against the distance of each cell, as a box, to the solid."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.solid.contain import inside
from layout3d.solid.distance import gap
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement, Shape
from layout3d.swim.cells import CELLS, Grid, cells_of

GRID = Grid(low=(0.0, 0.0, 0.0), cell=0.01, counts=(6, 5, 4))
CUBE = box((0.01, 0.01, 0.01))
MIDDLES = 0.01 * np.argwhere(np.ones(GRID.counts, dtype=bool))


def masks(solid):
    found = cells_of(solid, GRID)
    whole = np.zeros((2, *GRID.counts), dtype=bool)
    whole[0][found.block], whole[1][found.block] = found.surface, found.within
    return whole


SHAPES = {
    "plate": box((0.04, 0.03, 0.0004)),
    "block": box((0.035, 0.03, 0.025)),
    "needle": box((0.06, 0.001, 0.001)),
    "rod": cylinder(0.02, 0.05),
    "ball": Shape.from_manifold(manifold3d.Manifold.sphere(0.028, 20)),
}


@settings(max_examples=4, deadline=None)
@given(
    which=st.sampled_from(sorted(SHAPES)),
    axis=st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1),
    turn=st.floats(-3.0, 3.0),
    at=st.tuples(*[st.floats(0.0, 0.04)] * 3),
)
def test_a_cell_is_taken_where_the_solid_and_its_box_meet(which, axis, turn, at):
    taken(SHAPES[which].solid(Placement.at(at) @ Placement.turned(axis, turn)))


def taken(solid):
    """Hold each cell against the distance of its cube from the solid."""
    surface, within = masks(solid)
    middle = inside(solid, MIDDLES).reshape(GRID.counts)
    for place, (x, y, z) in enumerate(MIDDLES):
        cell = CUBE.solid(Placement.at((x - 0.005, y - 0.005, z - 0.005)))
        index = np.unravel_index(place, GRID.counts)
        if gap(cell, solid).distance > 1e-9:
            assert not surface[index]
            assert not within[index]
        elif not surface[index]:
            # wholly inside, or it only touches: corners drawn in a hair are on one side
            corners = MIDDLES[place] + 0.004999 * (2 * np.argwhere(np.ones((2, 2, 2))) - 1)
            assert (inside(solid, corners) == within[index]).all()
            assert middle[index] == within[index]


@pytest.mark.parametrize(
    ("axis", "turn", "at"),
    [((0.0625, 0.0, 0.75), -0.5, (0.03125, 0.0, 0.015625)), ((0, 0, -1), 0.375, (0.03125, 0.03515625, 0.0))],
)
def test_what_reaches_past_the_grid_takes_nothing_at_its_end(axis, turn, at):
    """Found by chance: a part that leaves the grid was drawn in to the last cells beside it."""
    taken(SHAPES["block"].solid(Placement.at(at) @ Placement.turned(axis, turn)))


@pytest.mark.parametrize("axis", range(3))
def test_a_sheet_between_two_layers_of_cells_parts_them(axis):
    """Its faces lie exactly in planes of the grid: one layer is closed, wherever rounding puts them."""
    size = [0.2, 0.2, 0.2]
    size[axis] = 1e-6
    at = [-0.05, -0.05, -0.05]
    at[axis] = 0.015
    surface, _ = masks(box(size).solid(Placement.at(at)))
    closed = np.moveaxis(surface, axis, 0)
    assert closed[1].all() or closed[2].all()
    assert not closed[[0, 3]].any()


def test_what_lies_beside_the_grid_takes_nothing():
    assert not masks(CUBE.solid(Placement.at((0.3, 0.0, 0.0)))).any()
    assert masks(box((1.0, 1.0, 1.0)).solid(Placement.at((-0.5, -0.5, -0.5))))[1].all()


def test_cells_are_read_back_as_they_were():
    found = cells_of(SHAPES["ball"].solid(Placement.at((0.03, 0.02, 0.01))), GRID)
    again = CELLS.unpack(CELLS.pack(found))
    assert again.first == found.first
    assert (again.surface == found.surface).all()
    assert (again.within == found.within).all()
    with pytest.raises(ValueError, match="no cells"):
        CELLS.unpack(CELLS.pack(found)[:-1])
