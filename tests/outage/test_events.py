"""Power cut, blocked drains and drains beside the sump, by hand on a circuit of boxes (``made_circuits``)."""

from types import SimpleNamespace

import pytest
from made_circuits import band, drain, pump, return_way, running, siphon

from layout3d.outage.events import (
    _rises,
    blocked_drains,
    drains_beside,
    failed_power_cuts,
    power_cut,
)
from layout3d.outage.failures import Body
from layout3d.outage.running import Running
from layout3d.water.level_table import LevelTable


def whole_level(volume):
    """Level of the return chamber at which all of the sump holds so much, by its plan below and above."""
    return -0.7 + (volume - 0.02) / 0.2 if volume <= 0.06 else -0.5 + (volume - 0.06) / 0.3


# -- power cut ----------------------------------------------------------------------------------------------


def test_a_power_cut_by_hand():
    """The tank falls to the crest, at the high figure to the drain's mouth; pipes and drains run empty."""
    cut = power_cut(running())
    moved = (0.5 * 0.010 + 0.001 + 0.0001, 0.5 * 0.012 + 0.001 + 0.0002, 0.5 * 0.021 + 0.001 + 0.0004)
    assert cut.moves == pytest.approx(moved)
    assert cut.tank_levels == pytest.approx((0.29, 0.29, 0.285))
    before = (0.1 * 0.202 + 0.03, 0.1 * 0.204 + 0.03, 0.1 * 0.208 + 0.03)
    assert cut.before.sump == pytest.approx(before)
    assert cut.before.pipes == pytest.approx((0.0011, 0.0012, 0.0014))
    assert cut.after.sump == pytest.approx([b + m for b, m in zip(before, moved, strict=True)])
    assert cut.chamber_levels == pytest.approx([whole_level(held) for held in cut.after.sump])
    assert cut.after.pipes == pytest.approx((0.0, 0.0, 0.0))
    assert cut.after.floor == (0.0, 0.0, 0.0)
    assert cut.rules == ("overflow", "overflow", "overflow")
    assert (cut.kind, cut.subject, cut.tank_rim, cut.sump_rim) == ("power cut", "", 0.5, -0.3)
    assert cut.notes == ("high figure: a drain that runs full goes on as a siphon down to its mouth",)
    assert power_cut(running(drain(siphon_level=0.29))).notes == ()


def test_what_the_sump_has_no_room_for_is_spilled():
    """100 mm of 0.5 m² less than 70 L of room are 50 L; from 306 mm down to 60 it is 123 L and a pipe's."""
    cut = power_cut(running(drain(crest=0.06, siphon_level=0.06)))
    room = 0.12 - cut.before.sump[2]
    assert cut.after.floor[2] == pytest.approx(0.5 * 0.246 + 0.0014 - room)
    assert cut.chamber_levels[2] == -0.3


@pytest.mark.parametrize(
    ("valves_hold", "breaks_open", "level", "contents"),
    [
        (True, True, 0.29, 0.0004),  # the valve holds: the crest rules
        (False, True, 0.25, 0.001),  # to the break
        (True, False, 0.29, 0.0004),
        (False, False, 0.15, 0.001),  # to the mouth
    ],
)
def test_check_valve_and_siphon_break(valves_hold, breaks_open, level, contents):
    way = return_way(
        siphons=(siphon(broken_at=0.25, blocked_at=0.15, check_valve="valve"),), check_valves=("valve",)
    )
    cut = power_cut(running(returns=(way,)), valves_hold=valves_hold, breaks_open=breaks_open, devices="so")
    assert cut.tank_levels[1] == pytest.approx(level)
    assert cut.moves[1] == pytest.approx(0.5 * (0.302 - level) + contents + 0.0002)
    assert cut.rules[1] == ("overflow" if level == 0.29 else "nozzle")
    assert cut.devices == "so"
    # what a valve holds back stays in its pipe
    assert cut.after.pipes[1] == pytest.approx(0.001 - contents)


def test_without_a_check_valve_on_its_way_a_siphon_runs_on():
    """The valve of another pipe of the same return holds that one's contents only."""
    way = return_way(siphons=(siphon(broken_at=0.25),), check_valves=("elsewhere",))
    assert power_cut(running(returns=(way,))).tank_levels == pytest.approx((0.25, 0.25, 0.25))


@pytest.mark.parametrize(
    ("valve", "blocked_at", "devices"),
    [
        ("", 0.25, []),
        ("valve", 0.25, ["check valves fail"]),
        ("", 0.25 - 1.1e-6, ["siphon breaks are clogged"]),
        ("", 0.25 - 0.9e-6, []),
        (
            "valve",
            0.15,
            [
                "check valves fail",
                "siphon breaks are clogged",
                "check valves fail and siphon breaks are clogged",
            ],
        ),
    ],
)
def test_only_what_is_there_can_fail(valve, blocked_at, devices):
    plain = return_way()
    other = return_way(
        siphons=(siphon(broken_at=0.25, blocked_at=blocked_at, check_valve=valve),),
        check_valves=(valve,) if valve else (),
    )
    events = failed_power_cuts(running(returns=(plain, other)))
    assert [event.devices for event in events] == devices
    levels = {"check valves fail": 0.25, "siphon breaks are clogged": 0.29 if valve else blocked_at}
    for event in events:
        assert event.tank_levels[1] == pytest.approx(levels.get(event.devices, blocked_at))


@pytest.mark.parametrize(
    ("inside", "beside", "floor"),
    [
        (None, 0.29, (1, 1, 1)),  # it ends beside the sump, and takes all
        (0.29, 0.295, (0, 0, 1)),  # likely the lower crest takes all, at the high figure those beside
        (0.295, 0.29, (0, 1, 1)),
        (0.29, 0.306, (0, 0, 0)),  # one that does not run lets nothing out
        (0.307, 0.295, (1, 1, 1)),
    ],
)
def test_what_a_drain_beside_the_sump_lets_out(inside, beside, floor):
    """All that comes down of tank and drains; what stood in the return's own pipe comes to the sump."""
    drains = [drain("beside", crest=beside, siphon_level=beside, vessel="")]
    if inside:
        drains.insert(0, drain("inside", crest=inside, siphon_level=inside))
    cut = power_cut(running(*drains))
    lowest = min(crest for crest in (inside, beside) if crest)
    tank = [0.5 * max(0.0, level - lowest) for level in (0.300, 0.302, 0.306)]
    comes = [whole + own for whole, own in zip(tank, (0.0001, 0.0002, 0.0004), strict=True)]
    assert cut.after.floor == pytest.approx([f * c for f, c in zip(floor, comes, strict=True)])
    gets_there = [
        held + 0.001 + (1 - f) * c for held, f, c in zip(cut.before.sump, floor, comes, strict=True)
    ]
    assert cut.chamber_levels == pytest.approx([whole_level(held) for held in gets_there])


# -- overflow boxes -----------------------------------------------------------------------------------------

BOX = Body(
    name="box", table=LevelTable(levels=(0.1, 0.35), volumes=(0.0, 0.005), name="box"), level=0.25, rim=0.35
)
"""An overflow box of 0.02 m² with water up to 250 mm."""


def with_box(*drains, crest=0.3):
    data = SimpleNamespace(data=SimpleNamespace(crest=crest), part=SimpleNamespace(name="box"))
    return running(*drains, boxes=(BOX,), model=SimpleNamespace(overflow_boxes=(data,)))


def in_box(name, mouth_crest, lower_edge=0.22):
    mouth = SimpleNamespace(lower_edge=lower_edge)
    return drain(name, crest=0.3, siphon_level=0.3, box="box", mouth_crest=mouth_crest, mouth=mouth)


def test_a_power_cut_empties_the_box_to_its_lowest_mouth():
    """Likely to its rim at 240 mm, at the high figure to the lower edge of its mouth, at 220."""
    cut = power_cut(with_box(in_box("main", 0.24), in_box("second", 0.26, 0.25)))
    assert cut.tank_levels == pytest.approx((0.3, 0.3, 0.3))
    assert cut.before.tank == pytest.approx([0.5 * level + 0.003 for level in (0.300, 0.302, 0.306)])
    assert cut.moves == pytest.approx(
        (0.0 + 0.0002 + 0.0011, 0.001 + 0.0002 + 0.0012, 0.003 + 0.0006 + 0.0014)
    )


@pytest.mark.parametrize(
    ("every", "open_ones", "fills"),
    [
        ((0.24,), (), 0.05),  # from the water at 250 up to the weir at 300 mm
        ((0.26,), (), 0.04),  # from the mouth, which is higher
        ((0.24, 0.28), (0.28,), 0.03),
        ((0.24, 0.28), (0.24,), 0.0),  # the lower one stays: nothing rises
        ((0.24, 0.27, 0.28), (0.28, 0.27), 0.02),
        ((0.24, 0.40), (0.40,), 0.10),  # no higher than the box
    ],
)
def test_a_box_takes_water_up_to_the_lowest_open_mouth(every, open_ones, fills):
    drains = {mouth: in_box(f"at {mouth}", mouth) for mouth in every}
    other = drain("other", box="other", mouth_crest=0.0)
    made = with_box(other, *drains.values())
    rises = _rises(made, [other, *(drains[mouth] for mouth in open_ones)])
    assert sum(high - low for low, high in rises.values()) == pytest.approx(fills)


# -- blocked drains -----------------------------------------------------------------------------------------


@pytest.fixture
def others(monkeypatch):
    """Let drains that stay open stand 8 mm over their crest, and hold 0.1 L each at 300 mm and 1 mL more "
    "per mm."""

    def level_over(self, drains, flow):
        if not drains:
            return None
        level = min(one.crest for one in drains) + 0.008
        return band(level - 0.001, level, level + 0.002)

    def in_drains(self, drains, *, flow, level):
        if flow is None or level is None:
            return (0.0, 0.0, 0.0)
        return tuple(len(drains) * (0.0001 + 0.001 * (level.likely - 0.302)) for _ in range(3))

    monkeypatch.setattr(Running, "level_over", level_over)
    monkeypatch.setattr(Running, "in_drains", in_drains)


def test_the_only_drain_blocked_lifts_the_chamber_into_the_tank(others):
    """From -550 down to the inlet at -650 mm: 20 L of 0.2 m², and what ran in the drain."""
    (event,) = blocked_drains(running())
    # the inlet's water over its baffle comes as well: the whole sump is pumped down to the suction
    least = 0.02 + 0.2 * 0.05
    moved = [held - least + own for held, own in zip(event.before.sump, (1e-4, 2e-4, 4e-4), strict=True)]
    assert event.moves == pytest.approx(moved)
    assert event.tank_levels == pytest.approx(
        [level + 2 * up for level, up in zip((0.300, 0.302, 0.306), moved, strict=True)]
    )
    assert event.chamber_levels == pytest.approx((-0.65, -0.65, -0.65))
    assert event.after.pipes == pytest.approx((0.001, 0.001, 0.001))
    assert event.after.sump == pytest.approx((least, least, least))
    assert (event.subject, event.kind, event.rules) == ("overflow", "blocked drain", ("", "", ""))
    assert event.notes == ("pump runs dry before anything overflows",)


def test_what_has_no_room_in_the_tank_runs_over(others):
    (event,) = blocked_drains(running(spill=0.34))
    assert event.after.floor == pytest.approx(
        [moved - 0.5 * (0.34 - level) for moved, level in zip(event.moves, (0.3, 0.302, 0.306), strict=True)]
    )
    assert event.rules == ("the rim of tank",) * 3
    assert event.notes == ()
    (narrow,) = blocked_drains(running(spill=0.3443))
    assert narrow.rules == ("", "", "the rim of tank")
    assert narrow.notes == ()


def test_of_two_drains_each_is_blocked_alone_and_then_both(others):
    """The other one stands 8 mm over its crest: at 308 mm for that at 300, at 303 for that at 295."""
    low, high = drain("low", crest=0.295), drain("high", crest=0.300)
    first, second, both = blocked_drains(running(low, high))
    assert [event.subject for event in (first, second, both)] == ["low", "high", "all drains"]
    assert first.tank_levels == pytest.approx((0.307, 0.308, 0.310))
    # the running level where that is higher
    assert second.tank_levels == pytest.approx((0.302, 0.303, 0.306))
    assert first.moves == pytest.approx((0.5 * 0.007, 0.5 * 0.006, 0.5 * 0.004))
    kept = 0.0001
    comes = (0.0001 - kept, 0.0002 - kept, 0.0004 - kept)
    took = 0.001 * 0.006
    assert first.after.pipes == pytest.approx(
        [0.001 + own - c + took for own, c in zip((1e-4, 2e-4, 4e-4), comes, strict=True)]
    )
    assert first.notes == second.notes == ()
    assert both.tank_levels[1] > 0.33


def test_a_pipe_that_drains_share_is_blocked_for_all_of_them(others):
    """Two mouths over one bulkhead are one drain once that is stopped; a third with its own pipe runs on."""
    two = drain("low", crest=0.295, edges=("bulkhead",)), drain("high", edges=("hose", "bulkhead"))
    low, high, shared, both = blocked_drains(running(*two))
    assert (shared.subject, shared.tank_levels) == ("the pipe of low and high", both.tank_levels)
    assert low.tank_levels[1] < high.tank_levels[1] < shared.tank_levels[1]
    own = blocked_drains(running(*two, drain("own", crest=0.301, edges=("third",))))
    assert [event.subject for event in own][-2:] == ["the pipe of low and high", "all drains"]
    assert own[3].tank_levels[1] == pytest.approx(0.309)


def test_a_drain_that_only_the_rim_would_fill_spills(others):
    """The other stands 8 mm over its crest, 10 at the high figure: with a rim at 309 mm that runs over."""
    first, *_ = blocked_drains(running(drain("low", crest=0.295), drain("high", crest=0.300), spill=0.309))
    assert first.rules == ("", "", "the rim of tank")
    assert first.after.floor[1] == 0.0 < first.after.floor[2]


def test_without_a_drain_and_without_a_flow_nothing_carries(others):
    (none,) = blocked_drains(running(drain(), drains=()))
    assert none.subject == "no drain"
    first, _, both = blocked_drains(running(drain("a"), drain("b"), flow=None))
    assert first.tank_levels == pytest.approx(both.tank_levels)


def test_two_pumps_that_run_dry_are_told_by_name(others):
    ways = (return_way(pump("low", inlet=-0.65), pump("high", inlet=-0.6)),)
    (event,) = blocked_drains(running(returns=ways))
    assert event.chamber_levels[1] == pytest.approx(-0.65)  # pumped down to the lower inlet
    assert event.notes == ("low and high run dry before anything overflows",)


# -- drains beside the sump ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("crest", "vessel", "count"),
    [(0.29, "", 1), (0.29, "sump.inlet", 0), (0.306, "", 0), (0.3059, "", 1)],
)
def test_a_drain_that_runs_onto_the_floor(crest, vessel, count):
    """Tank down to the crest, sump to the suction, and all that is on its way in the drain."""
    events = drains_beside(running(drain(crest=crest, vessel=vessel)))
    assert len(events) == count
    for event in events:
        down = [0.5 * max(0.0, level - crest) for level in (0.300, 0.302, 0.306)]
        pumped = [held - 0.03 for held in event.before.sump]
        assert event.moves == pytest.approx(pumped)
        assert event.tank_levels == pytest.approx([min(level, crest) for level in (0.3, 0.302, 0.306)])
        assert event.after.floor == pytest.approx(
            [a + b + c for a, b, c in zip(down, pumped, (1e-4, 2e-4, 4e-4), strict=True)]
        )
        assert event.after.pipes == pytest.approx((0.001, 0.001, 0.001))
        assert event.after.sump == pytest.approx((0.03, 0.03, 0.03))
        assert event.chamber_levels == (-0.65, -0.65, -0.65)
