"""Bulkheads, clips and suction cups."""

import math

import pytest
from seated import frame

from layout3d.catalog import default
from layout3d.errors import OutOfRange
from layout3d.fittings.bulkhead import bulkhead_shape
from layout3d.fittings.supports import clip, clip_stand, suction_cup, suction_cup_stand
from layout3d.solid.distance import gap, inside, overlap
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement
from layout3d.units import shown_in

CATALOG = default()


@pytest.mark.parametrize("name", CATALOG.names("bulkheads"))
def test_bulkhead_in_its_glass(name):
    """It goes through its hole without touching the wall, and sits on both faces of the glass."""
    entry = CATALOG.bulkhead(name)
    thickness = 0.012
    fitting = bulkhead_shape(entry, thickness)
    assert fitting.shape.manifold.genus() == 1
    assert len(fitting.shape.faces) <= 4000
    body = fitting.shape.solid()
    hole = cylinder(entry.hole_diameter / 2, 0.05).solid(Placement.at((0, 0, -0.03)))
    from layout3d.solid.boolean import difference

    glass = difference(
        box((0.3, 0.3, thickness), centre=True).solid(Placement.at((0, 0, -thickness / 2))), [hole]
    )
    assert overlap(body, glass) is None
    assert gap(body, glass).distance < 1e-9
    assert fitting.port("inside").at == pytest.approx((0, 0, entry.inside_height))
    assert fitting.port("outside").at == pytest.approx((0, 0, -entry.outside_length))
    assert entry.inside_height + entry.outside_length == pytest.approx(entry.length)


@pytest.mark.parametrize("name", ["3/4 in thin", "1 in heavy", "d50"])
def test_a_pipe_in_both_sockets_of_a_bulkhead(name):
    entry = CATALOG.bulkhead(name)
    fitting = bulkhead_shape(entry, 0.010)
    body = fitting.shape.solid()
    for port in fitting.ports:
        piece = tube(entry.socket_diameter / 2, entry.bore / 2, 0.1).solid(frame(port))
        assert overlap(body, piece) is None
        assert gap(body, piece).distance < 1e-6
    assert not inside(body, [(0.0, 0.0, -0.02)])[0]


def test_glass_too_thick_for_the_thread_is_refused():
    with pytest.raises(OutOfRange, match=r"expected glass above 0 and up to 35 mm thick"):
        bulkhead_shape(CATALOG.bulkhead("1/2 in thin"), 0.060)
    with pytest.raises(OutOfRange):
        bulkhead_shape(CATALOG.bulkhead("1/2 in thin"), 0.0)
    with shown_in("inch"), pytest.raises(OutOfRange) as refused:
        bulkhead_shape(CATALOG.bulkhead("1/2 in thin"), 0.060)
    assert " in thick" in str(refused.value)
    assert " mm" not in str(refused.value)


@pytest.mark.parametrize(("maker", "least"), [(clip, clip_stand), (suction_cup, suction_cup_stand)])
@pytest.mark.parametrize("diameter", [0.006, 0.016, 0.02667, 0.0603])
def test_supports_hold_the_pipe_and_stand_on_their_surface(maker, least, diameter):
    for height in (least(diameter), least(diameter) + 0.012):
        holder = maker(diameter, height)
        assert len(holder.shape.manifold.decompose()) == 1
        assert holder.port("foot").at == pytest.approx((0.0, 0.0, -height))
        assert holder.shape.bounds[0, 2] == pytest.approx(-height, abs=1e-9)
        pipe = tube(diameter / 2, 0.4 * diameter, 0.2).solid(
            Placement.from_frame((-0.1, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
        )
        assert overlap(holder.shape.solid(), pipe) is None
        assert gap(holder.shape.solid(), pipe).distance < 1e-6
        # the mouth is open: nothing right above the pipe
        above = math.ceil(1e3 * diameter) * 1e-3
        assert not inside(holder.shape.solid(), [(0.0, 0.0, 0.55 * above)])[0]
    with pytest.raises(ValueError, match="below the least"):
        maker(diameter, 0.5 * diameter)
