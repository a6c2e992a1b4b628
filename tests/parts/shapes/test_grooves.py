"""Channels for pipework, as slabs are cut for them."""

import numpy as np

from layout3d.parts.shapes.grooves import by_corners, rod
from layout3d.solid.boolean import cropped, difference
from layout3d.solid.primitives import box
from layout3d.solid.shape import Shape

WINDOW = np.array([[0.2, -1.0, -1.0], [0.5, 1.0, 1.0]])


def test_a_groove_is_the_same_where_it_is_cut_wherever_it_ends():
    """Its sides are parted by other lines from end to end; corners of what is cut out of it are the same."""
    made = set()
    for end in (0.9, 0.904, 0.95):
        groove = rod(np.array([[0.0, 0.0, 0.0], [end, 0.0, 0.0]]), 0.02)
        turned = Shape.trusted(groove.vertices[::-1], len(groove.vertices) - 1 - groove.faces).solid()
        for each in (groove, turned):
            (part,) = map(by_corners, cropped([each], WINDOW))
            made.add(part.content_key)
            assert abs(part.volume - cropped([each], WINDOW)[0].volume) < 1e-15
    assert len(made) == 1


def test_what_is_not_convex_stays_as_it_is():
    hollow = difference(box((0.1, 0.1, 0.1)).solid(), [box((0.05, 0.05, 0.05)).solid()])
    assert by_corners(hollow) is hollow
