"""Returns that siphon the tank below its overflow."""

import re
from types import SimpleNamespace

import pytest
from made_outages import made_circuit, made_drain, made_model

from layout3d.checks.rules import siphon as module

RULE = "siphon"
INSIDE = 0.8 * 0.4  # of the tank, [m²]


@pytest.mark.parametrize(("mouth", "depth"), [(160, 0.0277), (165, None)])
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
    (finding,) = faulty_text(RULE, ("up: 400,", "up: 200, check_valve, up: 200,"))
    assert finding.severity == "warning"
    assert finding.message.count("check valve") == 2


def test_a_hole_under_the_water_breaks_it(faulty_text):
    """One hole of 4 mm in a piece that stands upright, its upper part above the overflow's crest."""
    feed = (
        "route: [{front: 60}, nozzle]",
        "route: [{front: 60},\n    {up: 120, drip: {diameter: 4, pitch: 10, margin: 30, count: 1}},\n"
        "    {front: 60}, {down: 120}, open]",
    )
    assert faulty_text(RULE, feed) == ()
    capped = (feed[0], "route: [{front: 60}, {up: 120}, {front: 60}, {down: 120}, open]")
    assert [f.severity for f in faulty_text(RULE, capped)] == ["fault"]


def judged(monkeypatch, *, broken_at, crests=(0.29,), check_valve="", bottom=0.0):
    """Run the rule over returns that stop at a level, with a tank of 0.32 m² that runs at 300 mm."""
    mouth = SimpleNamespace(name="the nozzle", part="nozzle", at=(0.1, 0.2, 0.26))
    siphon = SimpleNamespace(mouth=mouth, broken_at=broken_at, check_valve=check_valve)
    way = SimpleNamespace(siphons=(siphon,))
    tank = SimpleNamespace(bottom=bottom, volume=lambda level: 0.32 * (level - bottom))
    drains = tuple(made_drain(crest=crest) for crest in crests)
    made = made_circuit(tank=tank, returns=(way,), drains=drains)
    monkeypatch.setattr(module, "circuit", lambda model: made)
    return list(module.siphon.find(made_model(siphon_depth=0.025)))


@pytest.mark.parametrize(("broken_at", "count"), [(0.265, 0), (0.2649, 1)])
def test_from_the_lowest_crest_under_the_water_exactly_the_limit_is_let_be(monkeypatch, broken_at, count):
    """Crests at 295 and 290 mm; the one at 310 lies over the water, and takes nothing."""
    assert len(judged(monkeypatch, broken_at=broken_at, crests=(0.295, 0.31, 0.29))) == count


def test_what_a_siphon_takes_is_told_in_full(monkeypatch):
    """From 290 down to 240 mm over 0.32 m²: 16 L; 25 of the 50 mm are too many."""
    (one,) = judged(monkeypatch, broken_at=0.24)
    assert (one.severity, one.parts, one.limit, one.at) == ("fault", ("nozzle",), 0.025, (0.1, 0.2, 0.26))
    assert one.measured == pytest.approx(0.05)
    assert one.message == (
        "when the pump stops, the nozzle siphons the tank 50 mm below its overflow, 16 L, and nothing stops "
        "it (25 mm at most, limit siphon_depth)"
    )
    assert one.remedy == (
        "raise the mouth by 25 mm or more, or drill a siphon break of 3 mm to 6 mm into the return just "
        "under the water"
    )


def test_without_a_drain_it_counts_from_the_water_and_only_down_to_the_floor(monkeypatch):
    """From 300 mm to the floor at 200 mm, although the mouth lies at 150: 32 L."""
    (one,) = judged(monkeypatch, broken_at=0.15, crests=(), bottom=0.2, check_valve="riser.check_valve_1")
    assert (one.severity, one.measured) == ("warning", pytest.approx(0.15))
    assert (
        "150 mm below its overflow, 32 L, and only the check valve riser.check_valve_1 stops" in one.message
    )
