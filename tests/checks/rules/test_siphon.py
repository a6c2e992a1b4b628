"""Returns that siphon the tank below its overflow."""

import re

import pytest

RULE = "siphon"
INSIDE = 0.8 * 0.4  # of the tank, [m²]


@pytest.mark.parametrize(("mouth", "depth"), [(130, 0.0577), (160, 0.0277), (165, None), (170, None)])
def test_either_side_of_the_depth(faulty, mouth, depth):
    """The crest at 182.6 mm less the nozzle's lower edge, 5.1 mm below its middle; 25 mm are let be."""
    found = faulty(RULE, mouth=mouth)
    if depth is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == "fault"
        assert finding.measured == pytest.approx(depth, abs=1e-3)
        assert finding.parts == ("nozzle",)
        litres = float(re.search(r"([\d.]+) L,", finding.message)[1])
        assert litres == pytest.approx(depth * INSIDE * 1000, rel=0.01)  # pipes take a little
        raised = float(re.search(r"by ([\d.]+) mm", finding.remedy)[1])
        assert raised == pytest.approx((depth - 0.025) * 1000, abs=1.1)


def test_a_check_valve_alone_is_a_warning(faulty_text):
    (finding,) = [
        f for f in faulty_text(RULE, ("up: 400,", "up: 200, check_valve, up: 200,")) if f.rule == RULE
    ]
    assert finding.severity == "warning"
    assert finding.message.count("check valve") == 2


def test_a_hole_under_the_water_breaks_it(faulty_text):
    """One hole of 4 mm in a piece that stands upright, its upper part above the overflow's crest."""
    feed = (
        "route: [{front: 60}, nozzle]",
        "route: [{front: 60},\n    {up: 120, drip: {diameter: 4, pitch: 10, margin: 30, count: 1}},\n"
        "    {front: 60}, {down: 120}, open]",
    )
    assert [f for f in faulty_text(RULE, feed) if f.rule == RULE] == []
    capped = (feed[0], "route: [{front: 60}, {up: 120}, {front: 60}, {down: 120}, open]")
    assert [f.severity for f in faulty_text(RULE, capped) if f.rule == RULE] == ["fault"]
