"""Returns that siphon the tank below its overflow."""

import re
from types import SimpleNamespace

import pytest
from made_outages import made_circuit, made_drain, made_model

from layout3d.checks.rules import siphon as module
from layout3d.outage.circuit import circuit
from layout3d.outage.outages import outages

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


BESIDE = """
side: {SUMP, at: [-620, 0, BOTTOM], inside: [500, 400, 410], flow: right_to_left, fixed_to: room, \
compartments: [{name: a, length: 280, level: 340, baffle: {height: 340}}, {name: b, level: 300}]}
dr: {kind: run, pipe: d40 pn 10, start: d.outside, route: [{left: 180}, open]}
p: {PUMP, outlet: d20 pn 16, at: {in: side.b, left: 60, front: 200, bottom: 0}, clear: 0}
ret: {PIPE, start: p.outlet, route: [{up: 520}, {until: back, reach: \
{from: s.outside, offset: [0, 100, 0]}}, {until: right, reach: s.outside}, \
{until: down, reach: s.outside}, join: s.outside]}
mouth: {PIPE, start: s.inside, route: [{front: 60}, {down: 260}, open]}
"""


@pytest.mark.parametrize(("bottom", "count"), [(-130, 0), (-165, 1)])
def test_a_sump_beside_the_tank_stops_it_where_outage_says(model_of, bottom, count):
    """A mouth 100 mm up siphons until both waters are level: from 0.32 m² of tank into 0.2 m² of sump.

    The sump starts with 0.112 m² x 343 mm and 0.086 m² x 300 mm, which over all of it is 321 mm; from a
    tank at 301 mm down to level takes 0.2 / 0.52 of what lies between, less 1 to 2 mm by pipes that empty.
    """
    model = model_of(
        BESIDE.replace("BOTTOM", str(bottom)),
        tank="kind: tank, inside: [800, 400, 400], glass: 10",
        holes="d: {panel: left, front: 300, bottom: 295, bulkhead: d40}, "
        "s: {panel: back, left: 400, bottom: 360, bulkhead: d20}",
        waterline=306,
    )
    found = list(module.siphon.find(model))
    assert [one.severity for one in found] == ["fault"] * count
    rest = outages(model).power_cut.tank_levels[1]
    begun = bottom / 1000 + 0.008 + 0.321
    assert rest == pytest.approx(0.301 - 0.2 / 0.52 * (0.301 - begun) + 0.0015, abs=0.002)
    crest = circuit(model).drains[0].crest
    assert [one.measured for one in found] == pytest.approx([crest - rest] * count)


def test_a_sump_beside_the_tank_holds_up_no_return_that_also_runs_out_elsewhere(model_of):
    """The same with a branch of the return that ends over the floor: it empties to the mouth at 100 mm."""
    branch = "{up: 320}, {tee: back, name: by}, {up: 200}"
    model = model_of(
        BESIDE.replace("BOTTOM", "-130").replace("{up: 520}", branch)
        + "by: {PIPE, start: ret.by, route: [{back: 560}, {down: 300}, open]}\n",
        tank="kind: tank, inside: [800, 400, 400], glass: 10",
        holes="d: {panel: left, front: 300, bottom: 295, bulkhead: d40}, "
        "s: {panel: back, left: 400, bottom: 360, bulkhead: d20}",
        waterline=306,
    )
    found = list(module.siphon.find(model))
    assert [one.measured for one in found] == pytest.approx([0.178], abs=0.002)


def judged(monkeypatch, *, broken_at, crests=(0.29,), check_valve="", bottom=0.0):
    """Run the rule over returns that stop at a level, with a tank of 0.32 m² that runs at 300 mm."""
    mouth = SimpleNamespace(name="the nozzle", part="nozzle", at=(0.1, 0.2, 0.26))
    siphon = SimpleNamespace(mouth=mouth, broken_at=broken_at, check_valve=check_valve)
    pump = SimpleNamespace(sump="sump")
    way = SimpleNamespace(siphons=(siphon,), pumps=(pump,), pipework=SimpleNamespace(mouths=()))
    tank = SimpleNamespace(bottom=bottom, volume=lambda level: 0.32 * (level - bottom))
    drains = tuple(made_drain(crest=crest) for crest in crests)
    made = made_circuit(tank=tank, returns=(way,), drains=drains)
    monkeypatch.setattr(module, "circuit", lambda model: made)
    cut = SimpleNamespace(tank_levels=(0.0, 0.0, 0.0))  # of a sump that stands below it
    monkeypatch.setattr(module, "power_cut", lambda running, **devices: cut)
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
