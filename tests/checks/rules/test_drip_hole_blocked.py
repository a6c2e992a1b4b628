"""Ways out of drip holes."""

from types import SimpleNamespace

import pytest

from layout3d.checks.rules.drip_hole_blocked import free_way
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

RULE = "drip-hole-blocked"


BAR = "bar: {PIPE, start: [200, 360, 300], route: [{right: 200, drip: {diameter: 3, pitch: 40, \
angles: [ANGLE]}}, cap]}\n"
WALL = "wall: {kind: background, panels: [back], thickness: 80, relief: {form: flat}, HOW}"


def test_holes_in_foam_are_blocked_whichever_way_they_face(check):
    for angle in ("0 deg", "90 deg", "-120 deg", "180 deg"):
        (finding,) = check(RULE, BAR.replace("ANGLE", angle) + WALL.replace("HOW", "embeds: [bar]"))
        assert finding.measured == 0.0
        assert "4 of 4 drip holes" in finding.message


@pytest.mark.parametrize(("gap", "count"), [(3.0, 0), (2.7, 1)])
def test_a_channel_leaves_a_way_of_its_gap(check, gap, count):
    """3 mm (limit drip_hole_way), less a fifth of a millimetre for the flat sides of the channel."""
    wall = WALL.replace("HOW", f"channels: [{{follow: bar, gap: {gap}}}]")
    found = check(RULE, BAR.replace("ANGLE", "90 deg") + wall)
    assert [f.severity for f in found] == ["fault"] * count
    assert [f.measured for f in found] == pytest.approx([gap / 1000] * count, abs=2e-4)


def test_a_slit_in_front_of_the_holes_frees_them(check):
    wall = WALL.replace(
        "HOW", "embeds: [bar], cut_outs: [{panel: back, along: 300, up: 300, width: 300, height: 10}]"
    )
    assert check(RULE, BAR.replace("ANGLE", "90 deg") + wall) == ()


@pytest.mark.parametrize(("y", "count"), [(387, 0), (387.15, 0), (387.25, 1), (387.3, 1)])
def test_the_glass_blocks_a_hole_that_faces_it(check, y, count):
    """A pipe of 20 mm and the glass at 400: 3 mm are left at 387; a fifth of a millimetre is let be."""
    bar = BAR.replace("ANGLE", "-90 deg").replace("360", str(y))
    found = check(RULE, bar)
    assert [f.parts for f in found] == [("bar.pipe_1", "tank.back")] * count


def test_sand_blocks_and_leaves_do_not(check):
    bar = BAR.replace("ANGLE", "0 deg").replace("360, 300", "200, 30")
    assert len(check(RULE, bar + "sand: {SAND, depth: 40, pitch: 100}")) == 1
    fern = "fern: {FERN, at: [300, 200, 0], fixed_to: room}"
    assert check(RULE, bar + fern) == ()


@pytest.mark.parametrize(
    ("off", "way"), [(0.002, 0.002), (5e-6, 0.0), (-1e-6, 0.0), (-0.0005, 0.0), (0.011, 0.010)]
)
def test_a_way_ends_where_it_first_meets_a_body(off, way):
    """A plate 2 mm thick across the way, so far off the pipe; what touches the pipe is looked at off it."""
    plate = SimpleNamespace(solid=box((0.1, 0.1, 0.002)).solid(Placement.at((-0.05, -0.05, 0.3 + off))))
    hole = SimpleNamespace(at=(0.0, 0.0, 0.3), direction=(0.0, 0.0, 1.0))
    assert free_way(plate, hole, 0.010) == pytest.approx(way, abs=1e-9)


def test_what_ends_at_the_pipe_does_not_block_the_way_off_it():
    """A slab cut around the pipe ends at the hole, on the far side of the way."""
    slab = SimpleNamespace(solid=box((0.1, 0.1, 0.05)).solid(Placement.at((-0.05, -0.05, 0.25))))
    hole = SimpleNamespace(at=(0.0, 0.0, 0.3), direction=(0.0, 0.0, 1.0))
    assert free_way(slab, hole, 0.010) == 0.010
