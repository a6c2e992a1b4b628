"""Points of parts that are measured from by keys."""

import pytest

from layout3d.solid.placement import Placement
from layout3d.view.looks import Thing
from layout3d.view.points import points_of


def test_ports_and_anchors_come_first_then_middle_sides_and_corners_of_the_box_around_it():
    def thing(name, low, high, **named):
        where = {"shape": name, "stands": Placement.identity(), "box": (low, high)}
        return Thing(name=name, part="pump", group="equipment", kind="pump", **where, **named)

    outlet, foot = (0.1, 0.1, 0.3), (0.1, 0.1, 0.0)
    one = thing("pump", (0.0, 0.0, 0.0), (0.2, 0.2, 0.1), ports={"outlet": outlet}, anchors={"foot": foot})
    points = points_of("pump", (one, thing("pump.head", (0.1, 0.0, 0.1), (0.4, 0.2, 0.3))))
    assert points[:2] == (("outlet", outlet), ("foot", foot))
    assert points[2] == ("middle of its box", pytest.approx((0.2, 0.1, 0.15)))
    names = dict(points)
    assert len(names) == len(points) == 2 + 1 + 6 + 8
    assert names["its box, middle of the top"] == pytest.approx((0.2, 0.1, 0.3))
    assert names["corner of its box, right front bottom"] == pytest.approx((0.4, 0.0, 0.0))
    assert points_of("nothing", (one,)) == ()
