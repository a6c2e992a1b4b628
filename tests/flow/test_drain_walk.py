"""Water followed upstream through a drain's legs: under pressure, up a riser, from a foot; words, places."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.band import SETTINGS, Band
from layout3d.fittings.losses import NO_LOSS, Loss
from layout3d.flow.drain import (
    DrainLeg,
    _drives,
    _through_upright,
    open_limits,
    stack_flow,
    standing_level,
    traps,
)
from layout3d.flow.open_channel import (
    FULLEST,
    Reach,
    backwater,
    critical_depth,
    critical_flow,
    depth_of_energy,
    energy,
    normal_depth,
    uniform_flow,
)

G = 9.80665
LPH = 1 / 3.6e6
BORE = 0.0452
AREA = math.pi / 4 * BORE**2
DEPTH = Band(low=0.5, likely=0.75, high=0.938, note="half to all but full")
FLOW = 1500 * LPH
SPEED = FLOW / AREA


def leg(start, end, bore=BORE, loss=NO_LOSS, valve=NO_LOSS):
    return DrainLeg(start=start, end=end, bore=bore, length=math.dist(start, end), loss=loss, valve=valve)


def manning(n):
    """Friction slope of the full bore by hand: (V n)² / R^(4/3), R a quarter of the bore."""
    return (SPEED * n) ** 2 / (BORE / 4) ** (4 / 3)


# -- uprights -----------------------------------------------------------------------------------------------


def test_a_drowned_upright_stands_higher_by_friction_and_what_its_entrance_takes():
    """0.5 m of upright under 0.6 m of water: Manning full, n 0.010, and 0.7 velocity heads."""
    drop = leg((0, 0, 0.5), (0, 0, 0.0))
    head = SPEED**2 / (2 * G)
    level = standing_level((drop,), FLOW, "likely", entry=Loss.exact(0.7), below=0.6)
    assert level == pytest.approx(0.6 + manning(0.010) * 0.5 + 0.7 * head)
    # codes' roughness, 0.013, at the least it carries, a clean pipe's at the most
    for setting, n in (("low", 0.013), ("high", 0.009)):
        assert standing_level((drop,), FLOW, setting, below=0.6) == pytest.approx(0.6 + manning(n) * 0.5)
    # water up to its top and no higher falls away in it
    assert standing_level((drop,), FLOW, "likely", below=0.5) == -math.inf


@pytest.mark.parametrize(("below", "stands"), [(-math.inf, 0.3), (0.1, 0.3), (0.4, 0.4)])
def test_up_a_riser_water_stands_over_its_end_or_the_water_there(below, stands):
    riser = leg((0, 0, 0.0), (0, 0, 0.3))
    level = _through_upright(riser, riser.reach("likely"), FLOW, below, 2.0)
    assert level == pytest.approx(stands + manning(0.010) * 0.3 + 2.0 * SPEED**2 / (2 * G))


def test_a_foot_sends_water_on_fast_from_as_high_as_its_energy_and_loss_ask():
    """Uniform at 5 %, depth and velocity by Manning: the upright has to give y + V²/2g and 1.2 heads."""
    reach = Reach(bore=BORE, length=1.0, fall=0.05, n=0.010)
    depth = normal_depth(reach, FLOW)
    whole = energy(BORE, FLOW, depth)
    assert depth < critical_depth(BORE, FLOW)
    needed = whole + 1.2 * (whole - depth)
    for more, drives in ((1e-5, True), (-1e-5, False)):
        assert _drives(leg((0, 0, needed + more), (0, 0, 0)), reach, FLOW, 1.2) == drives
        high_up = leg((0, 0, 7.0 + needed + more), (0, 0, 7.0))
        assert _drives(high_up, reach, FLOW, 1.2) == drives
    level = Reach(bore=BORE, length=1.0, fall=0.0, n=0.010)
    assert not _drives(leg((0, 0, 5.0), (0, 0, 0)), level, FLOW, 0.0)  # it never runs uniform


def test_a_leg_is_as_steep_as_it_falls_and_reaches_half_its_bore_up_and_down():
    """A slope of 3, 4, 5: falls 0.6 of its length, its lowest line 0.8 of half the bore below its middle."""
    slope = leg((0, 0, 0.3), (0.4, 0, 0.0))
    assert slope.fall == pytest.approx(0.6)
    assert not slope.upright
    assert slope.floor(0.3) == pytest.approx(0.3 - 0.8 * BORE / 2)
    assert slope.crown(0.3) == pytest.approx(0.3 + 0.8 * BORE / 2)
    drop = leg((0, 0, 0.3), (0, 0, 0.0))
    assert drop.upright
    assert drop.floor(0.1) == drop.crown(0.1) == 0.1
    assert leg((0, 0, 0.0), (0.3, 0, 0.3)).fall == pytest.approx(-math.sqrt(0.5))
    assert not leg((0, 0, 0.0), (0.3, 0, 0.3)).upright
    assert leg((0, 0, 0.301), (0.3, 0, 0.0)).upright
    assert not leg((0, 0, 0.299), (0.3, 0, 0.0)).upright


# -- what is told of each stretch ---------------------------------------------------------------------------


def test_each_stretch_is_told_where_it_is_in_its_own_words():
    legs = (
        leg((0, 0, 1.0), (0, 0, 0.5)),
        leg((0, 0, 0.5), (0.4, 0, 0.496)),
        leg((0.4, 0, 0.496), (0.4, 0.3, 0.496)),
        leg((0.4, 0.3, 0.496), (0.4, 0.3, 0.0)),
        leg((0.4, 0.3, 0.0), (0.4, 0.5, -0.004), bore=0.03),
        leg((0.4, 0.5, -0.004), (0.4, 0.5, -0.3)),
    )
    first, second, third, upper, lower = open_limits(legs, depth=DEPTH)
    assert [one.words for one in (first, second, third)] == ["upright, open"] * 3
    assert [one.at for one in (first, second, third)] == [legs[0].start, legs[3].start, legs[5].start]
    assert [one.to for one in (first, second, third)] == [legs[0].end, legs[3].end, legs[5].end]
    # of the two in a row the level one stands fuller: up the other the bottom rises by more than friction
    assert (upper.at, upper.to) == (legs[1].start, legs[2].end)
    assert upper.words == "level leg, part full"
    assert (lower.at, lower.to) == (legs[4].start, legs[4].end)
    assert lower.words == "slope of 2.0%, part full"
    assert "level leg" not in upper.flow.note
    level = open_limits(
        (legs[0], leg((0, 0, 0.5), (0.6, 0, 0.5)), leg((0.6, 0, 0.5), (0.6, 0, 0))), depth=DEPTH
    )
    assert [one.words for one in level] == ["upright, open", "upright, open", "level leg, part full"]
    assert "free end" in level[-1].flow.note
    assert lower.flow.likely < upper.flow.likely  # on its own, narrower bore
    for one in (first, second, third, upper, lower):
        assert one.flow.low <= one.flow.likely <= one.flow.high
        assert one.flow.high <= stack_flow(BORE).high * (1 + 1e-12)


def test_a_leg_filled_as_far_as_is_allowed_carries_its_limit():
    """Following the water at the flow that is told, the fullest point of the leg is the share asked for."""
    run = leg((0, 0, 0.5), (0.6, 0, 0.499))
    legs = (leg((0, 0, 1.0), (0, 0, 0.5)), run, leg((0.6, 0, 0.499), (0.6, 0, 0)))
    limit = open_limits(legs, depth=DEPTH)[-1]
    for setting in SETTINGS:
        water = backwater(run.reach(setting), limit.flow.at(setting))
        assert water.most / BORE == pytest.approx(DEPTH.at(setting), rel=1e-4)


def test_a_valve_partly_shut_is_told_only_in_an_upright_above_the_water():
    half = Loss.exact(20.0)
    drop = leg((0, 0, 0.5), (0, 0, 0), valve=half)
    words = [one.words for one in open_limits((drop,), depth=DEPTH)]
    assert words == ["upright, open", "valve partly shut"]
    assert open_limits((drop,), depth=DEPTH)[1].at == drop.start
    drowned = [one.words for one in open_limits((drop,), depth=DEPTH, below=0.5)]
    assert drowned == ["under water, air has to go back up"]
    just = [one.words for one in open_limits((drop,), depth=DEPTH, below=0.499)]
    assert just == ["upright, open", "valve partly shut", "under water, air has to go back up"]


def test_of_several_legs_under_water_the_narrowest_lets_least_air_back():
    """Plugs rise with the root of the bore and fill its section: bore^2.5, whichever comes first."""
    wide, narrow = leg((0, 0, 0.5), (0, 0, 0.2), bore=0.05), leg((0, 0, 0.2), (0, 0, 0), bore=0.04)
    for legs in (
        (wide, narrow),
        (leg((0, 0, 0.5), (0, 0, 0.2), bore=0.04), leg((0, 0, 0.2), (0, 0, 0), bore=0.05)),
    ):
        limit = open_limits(legs, depth=DEPTH, below=0.3)[-1]
        least = math.pi / 4 * 0.04**2.5 * math.sqrt(G)
        assert limit.flow.low == pytest.approx(0.30 * least)
        assert limit.flow.high == pytest.approx(0.345 * least)


# -- traps --------------------------------------------------------------------------------------------------


def path(*heights):
    return [(float(number), 0.0, height) for number, height in enumerate(heights)]


def test_a_level_stretch_on_the_way_up_or_down_ends_no_trap():
    """Down, level at the bottom, up in two steps with a level one between them, and down: one trap of 0.2."""
    (trap,) = traps(path(1.0, 0.5, 0.5, 0.6, 0.6, 0.7, 0.0), 0.05)
    assert (trap.first, trap.last) == (0, 5)
    assert trap.depth == pytest.approx(0.2)
    assert trap.at[2] == 0.5
    # it ends at the side that is lower: 0.55 before, not 0.7 behind
    (shallow,) = traps(path(0.55, 0.5, 0.7, 0.0), 0.05)
    assert shallow.depth == pytest.approx(0.05)
    assert shallow.sealed  # just as deep as the bore
    # a path that ends as it rises holds water too, one that begins so doesn't
    assert [one.depth for one in traps(path(1.0, 0.5, 0.6), 0.05)] == [pytest.approx(0.1)]
    assert traps(path(0.5, 0.6, 0.6, 0.2), 0.05) == ()
    assert traps(path(0.5, 0.5, 0.2), 0.05) == ()


def test_after_a_trap_the_next_begins_where_the_rise_ended():
    both = traps(path(1.0, 0.5, 0.9, 0.9, 0.4, 0.6, 0.0), 0.05)
    assert [(one.first, one.last) for one in both] == [(0, 3), (3, 5)]
    assert [one.depth for one in both] == [pytest.approx(0.4), pytest.approx(0.2)]


def test_the_same_path_turned_round_holds_the_same_water():
    heights = (0.9, 0.5, 0.8, 0.4, 0.9)
    there, back = traps(path(*heights), 0.05), traps(path(*heights[::-1]), 0.05)
    assert sorted(one.depth for one in there) == pytest.approx(sorted(one.depth for one in back))


# -- legs of open channel in pieces -------------------------------------------------------------------------


@given(
    fall=st.floats(-0.01, 0.06),
    length=st.floats(0.1, 4.0),
    share=st.floats(0.05, 0.95),
    flow=st.floats(200.0, 2500.0),
    end=st.floats(0.0, 0.25),
)
@settings(max_examples=30)
def test_a_leg_in_two_pieces_is_the_whole_leg(fall, length, share, flow, end):
    """The depth at the start of the lower piece is that at the end of the upper one."""

    def start(part, last):
        return backwater(Reach(bore=BORE, length=part, fall=fall, n=0.010), flow * LPH, last).start

    whole = start(length, end)
    pieces = start(length * (1 - share), start(length * share, end))
    # 160 steps of depth; near the full bore and critical depth the surface is steepest
    assert pieces == pytest.approx(whole, abs=0.02 * BORE)


def test_a_leg_drowned_at_its_foot_runs_full_up_to_where_the_pressure_ends():
    """Falling 3 %, water 60 mm over the crown of its end: full for 60 mm over fall less friction slope.

    Manning full at 1,500 L/h, n 0.010, as by hand above; from there on it is a leg that begins brimful.
    """
    over = 0.060
    full = over / (0.03 - manning(0.010))
    for beyond in (0.05, 0.3):
        whole = backwater(Reach(bore=BORE, length=full + beyond, fall=0.03, n=0.010), FLOW, BORE + over)
        rest = backwater(Reach(bore=BORE, length=beyond, fall=0.03, n=0.010), FLOW, BORE)
        assert whole.start == pytest.approx(rest.start, rel=1e-6)
        assert whole.start < BORE
    just = backwater(Reach(bore=BORE, length=full - 0.01, fall=0.03, n=0.010), FLOW, BORE + over)
    assert just.start == pytest.approx(BORE + 0.01 * (0.03 - manning(0.010)))
    assert just.most == BORE + over


def test_a_leg_that_fills_on_its_way_up_runs_on_under_pressure():
    """Level, 40 m long, at 1,500 L/h: full before its start, then 1 m more adds its friction."""
    long = [backwater(Reach(bore=BORE, length=length, fall=0.0, n=0.010), FLOW) for length in (40.0, 41.0)]
    assert long[0].start > BORE
    assert long[1].start - long[0].start == pytest.approx(manning(0.010) * 1.0, rel=1e-6)
    assert long[0].most == long[0].start
    assert long[0].energy == pytest.approx(long[0].start + SPEED**2 / (2 * G))


def test_energy_and_its_depth_are_each_others_inverse():
    for depth in (0.03, 0.04, BORE, 0.06):
        head = energy(BORE, FLOW, depth)
        assert depth_of_energy(BORE, FLOW, head) == pytest.approx(depth, rel=1e-6)
    assert energy(BORE, FLOW, 0.06) - energy(BORE, FLOW, 0.05) == pytest.approx(0.01)  # pressure
    least = critical_depth(BORE, FLOW)
    assert depth_of_energy(BORE, FLOW, energy(BORE, FLOW, least) - 1e-3) == least
    assert energy(BORE, FLOW, 0.0) == 0.0


def test_no_water_has_no_depth_and_too_much_fills_the_bore():
    level, steep = (
        Reach(bore=BORE, length=1.0, fall=0.0, n=0.010),
        Reach(bore=BORE, length=1.0, fall=0.02, n=0.010),
    )
    assert critical_depth(BORE, 0.0) == normal_depth(level, 0.0) == normal_depth(steep, 0.0) == 0.0
    assert critical_depth(BORE, 1.0) == BORE
    assert critical_flow(BORE, 0.0) == 0.0
    assert normal_depth(level, FLOW) == math.inf
    assert uniform_flow(BORE, 0.0, 0.5, 0.010) == uniform_flow(BORE, -0.1, 0.5, 0.010) == 0.0
    assert uniform_flow(BORE, 0.02, 0.0, 0.010) == 0.0
    most = uniform_flow(BORE, 0.02, FULLEST, 0.010)
    assert normal_depth(steep, 0.999 * most) < FULLEST * BORE
    dry = backwater(Reach(bore=BORE, length=1.0, fall=0.05, n=0.010), 0.0, 0.02)
    assert (dry.start, dry.most) == (0.0, 0.02)
    rising = backwater(Reach(bore=BORE, length=1.0, fall=-0.05, n=0.010), 0.0, 0.0)
    assert (rising.start, rising.most, rising.energy) == (0.05, 0.05, 0.05)


def test_a_sloped_pipe_between_elbows_is_told_by_its_own_fall():
    """Its elbows lean half as far, and the water stands fullest in one of them."""
    legs = (
        leg((0, 0, 0.5), (0, 0, 0.0)),
        leg((0, 0, 0.0), (0.03, 0, -0.000225)),
        leg((0.03, 0, -0.000225), (0.6, 0, -0.008775)),
        leg((0.6, 0, -0.008775), (0.63, 0, -0.009)),
        leg((0.63, 0, -0.009), (0.63, 0, -0.3)),
    )
    assert open_limits(legs, depth=DEPTH)[-1].words == "slope of 1.5%, part full"


@pytest.mark.parametrize("fall", [0.0, 0.001, -0.002])
def test_a_leg_that_fills_on_its_way_loses_friction_and_gains_its_fall_from_there(fall):
    """40 m and 41 m: each metre under pressure stands higher by the friction slope less the fall."""
    long = [backwater(Reach(bore=BORE, length=length, fall=fall, n=0.010), FLOW) for length in (40.0, 41.0)]
    assert long[0].start > BORE
    assert long[1].start - long[0].start == pytest.approx(manning(0.010) - fall, rel=1e-6)


def test_a_steep_row_carries_no_more_than_an_upright_of_its_narrowest_bore():
    """Both legs fall by 0.6 of their length: they never fill, and the stack's formula bounds them."""
    narrow = leg((0, 0, 1.0), (0.4, 0, 0.7), bore=0.04)
    wide = leg((0.4, 0, 0.7), (0.8, 0, 0.4), bore=0.06)
    end = leg((0.8, 0, 0.4), (0.8, 0, 0), bore=0.06)
    deep = Band(low=0.9, likely=0.92, high=0.938, note="deep")
    row = open_limits((leg((0, 0, 2.0), (0, 0, 1.0), bore=0.06), narrow, wide, end), depth=deep)[-1]
    assert row.words == "slope of 60.0%, part full"
    assert row.flow.likely == pytest.approx(stack_flow(0.04).likely)
    assert (row.at, row.to) == (narrow.start, wide.end)


@pytest.mark.parametrize(
    ("rise", "words"),
    [
        (0.0, "level leg, part full"),
        (0.00099, "level leg, part full"),
        (0.0011, "slope of 0.1%, part full"),
        (-0.00099, "level leg, part full"),
        (-0.0011, "leg that climbs 0.1%, part full"),
    ],
)
def test_a_leg_that_falls_by_a_thousandth_is_level(rise, words):
    """Its slope stands in its words; the note says what holds of all of them."""
    run = leg((0, 0, 0.0), (1.0, 0, -rise))
    (limit,) = open_limits((run,), depth=DEPTH)
    assert limit.words == words
    assert "with air over the water to its free end" in limit.flow.note
    assert "0.1%" not in limit.flow.note
