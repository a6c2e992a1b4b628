import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.draw.camera import VIEWS
from layout3d.view import eye

BOXES = [np.array([[0.0, 0.0, 0.0], [1.2, 0.5, 0.6]])]
SIZE = (800, 600)
views = st.sampled_from(sorted(VIEWS))


@given(view=views, around=st.floats(-3.0, 3.0), over=st.floats(-3.0, 3.0))
def test_turning_keeps_up_up_and_the_distance(view, around, over):
    start = replace(eye.from_side(view, BOXES, SIZE), parallel=False)
    end = eye.turned(start, around, over)
    assert math.dist(end.position, end.focal) == pytest.approx(math.dist(start.position, start.focal))
    assert end.focal == start.focal
    assert end.axes()[1][2] > 0.0
    assert abs(end.axes()[0][2]) < 1e-9  # the horizon is level


@given(view=views, x=st.floats(0.0, 800.0), y=st.floats(0.0, 600.0), factor=st.floats(0.3, 3.0))
def test_what_is_under_the_pointer_stays_there_as_one_comes_nearer(view, x, y, factor):
    start = eye.from_side(view, BOXES, SIZE)
    begin, way = eye.ray(start, x, y)
    point = begin + way * (np.subtract(start.focal, begin) @ start.axes()[2] / (way @ start.axes()[2]))
    assert start.project(point)[0] == pytest.approx((x, y), abs=1e-6)
    end = eye.nearer(start, factor, tuple(point))
    assert end.project(point)[0] == pytest.approx((x, y), abs=1e-6)
    assert end.pixels_per_metre(point)[0] == pytest.approx(start.pixels_per_metre(point)[0] / factor)


@given(one=views, other=views)
def test_a_named_view_keeps_the_zoom(one, other):
    start = eye.from_side(one, BOXES, SIZE)
    end = eye.from_side(other, BOXES, SIZE, start)
    assert end.focal == start.focal
    assert end.pixels_per_metre(end.focal)[0] == pytest.approx(start.pixels_per_metre(start.focal)[0])


@given(one=views, other=views, share=st.floats(0.0, 1.0))
def test_a_flight_begins_and_ends_where_it_should_and_is_somewhere_between(one, other, share):
    start, end = (eye.from_side(name, BOXES, SIZE) for name in (one, other))
    assert eye.between(start, end, 1.0) == end
    now = eye.between(start, end, share)
    assert np.isfinite(now.position).all()
    assert math.dist(now.position, now.focal) > 0.1


def test_shifting_follows_the_hand():
    start = eye.from_side("front", BOXES, SIZE)
    before = start.project(start.focal)[0]
    after = eye.shifted(start, 30.0, -20.0).project(start.focal)[0]
    assert after - before == pytest.approx((30.0, -20.0))


@pytest.mark.parametrize("parallel", [True, False])
@pytest.mark.parametrize(
    ("view", "point", "axis", "pixels", "way"),
    [
        ("front", (0.0, 0.25, 0.2), 0, (40, 0), (0, 1, 0)),  # the left wall: to the right is away
        ("front", (1.2, 0.25, 0.2), 0, (40, 0), (0, -1, 0)),
        ("front", (1.2, 0.25, 0.2), 0, (0, -40), (0, 0, 1)),
        ("back", (0.0, 0.25, 0.2), 0, (-40, 0), (0, -1, 0)),
        ("plan", (0.0, 0.25, 0.2), 0, (0, -40), (0, 1, 0)),
        ("right", (0.5, 0.5, 0.2), 1, (-40, 0), (-1, 0, 0)),  # the back wall
        ("front", (0.5, 0.2, 0.1), 2, (0, -40), (0, 1, 0)),  # a top, seen from higher up: up is away
        ("right", (0.0, 0.25, 0.2), 0, (40, 0), (0, 1, 0)),  # seen from the front, as it is pointed at
    ],
)
def test_along_a_face_that_is_seen_edge_on_a_hand_goes_into_the_depth(
    view, point, axis, pixels, way, parallel
):
    camera = replace(eye.from_side(view, BOXES, SIZE), parallel=parallel)
    x, y = camera.project(point)[0]
    goes = eye.along_face(camera, point, x + pixels[0], y + pixels[1], axis)
    assert goes @ np.array(way) == pytest.approx(np.linalg.norm(goes), rel=0.02)
    assert np.linalg.norm(goes) == pytest.approx(40.0 / camera.pixels_per_metre(point)[0], rel=0.02)
    assert goes[axis] == 0.0
