import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_flow import velocity_head

from layout3d.band import SETTINGS, Band
from layout3d.errors import LayoutError
from layout3d.fittings.losses import NO_LOSS, Loss, fitting_loss, total_loss
from layout3d.flow.drain import (
    drain_legs,
    full_flow,
    open_limits,
    self_venting_flow,
    stack_flow,
    standing_level,
    traps,
)
from layout3d.flow.pipe import friction_head
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6
ENDS = Loss.exact(1.5)


@given(bore=st.floats(0.01, 0.1), more=st.floats(1.001, 2.0))
def test_a_wider_stack_carries_more(bore, more):
    for setting in ("likely", "high"):
        assert stack_flow(bore * more).at(setting) > stack_flow(bore).at(setting)


def test_a_narrow_stack_is_told_with_care():
    assert "low is halved" in stack_flow(0.02).note
    assert "halved" not in stack_flow(0.04).note


@given(drop=st.floats(0.01, 3.0), length=st.floats(0.0, 10.0), bore=st.floats(0.004, 0.08))
def test_a_siphon_spends_its_drop(drop, length, bore):
    """Energy by hand: friction plus 1.5 velocity heads is the drop."""
    nu = water_at(20.0).viscosity
    flow = full_flow(bore, drop, length, loss=ENDS, water=water_at(20.0)).likely
    friction = friction_head(flow, length, inside_diameter=bore, viscosity=nu)
    spent = friction + 1.5 * velocity_head(flow, bore)
    assert spent == pytest.approx(drop, rel=1e-9)


@given(
    drop=st.floats(0.01, 3.0),
    more=st.floats(0.0, 1.0),
    length=st.floats(0.1, 10.0),
    longer=st.floats(0.0, 5.0),
)
def test_more_drop_never_less_longer_never_more(drop, more, length, longer):
    base = full_flow(0.02, drop, length, loss=ENDS).likely
    assert full_flow(0.02, drop + more, length, loss=ENDS).likely >= base * (1 - 1e-12)
    assert full_flow(0.02, drop, length + longer, loss=ENDS).likely <= base * (1 + 1e-12)


def test_fittings_make_the_siphon_a_band():
    loss = total_loss([ENDS, fitting_loss("elbow_90", 0.02).times(3)])
    band = full_flow(0.02, 0.6, 1.0, loss=loss)
    assert band.low < band.likely < band.high
    assert full_flow(0.02, 0.0, 1.0).high == 0.0


DEPTH = Band(low=0.5, likely=0.75, high=0.938, note="half to all but full")
BORE = 0.0452


def way(*points, bore=BORE, losses=None, valve=NO_LOSS):
    """Legs through points, each a piece of its own, its loss that of the elbow at its end."""
    pieces = list(pairwise(points))
    given = losses or [NO_LOSS] * len(pieces)
    return drain_legs((piece, bore, loss, valve) for piece, loss in zip(pieces, given, strict=True))


def carried(legs, below=-math.inf):
    limits = open_limits(legs, depth=DEPTH, below=below)
    return {setting: min(limit.flow.at(setting) for limit in limits) / LPH for setting in SETTINGS}


def dropped(length, fall=0.0, **more):
    """An upright of 450 mm, then a leg that falls by ``fall``, then an upright again."""
    end = -length * math.sin(math.atan(fall))
    along = length * math.cos(math.atan(fall))
    return way((0, 0, 0.45), (0, 0, 0), (along, 0, end), (along, 0, end - 0.3), **more)


def test_a_level_leg_has_air_over_it_and_carries_far_less_than_full():
    """By hand at 75 % deep: critical at the free end, 34 mm at the start, friction by Manning.

    1,619 L/h: yc 26.5 mm, V 0.452 m/s, energy 36.9 mm; at the start 33.9 mm and 0.348 m/s, 40.1 mm; friction
    slope halfway (30.2 mm, V 0.395 m/s, R 12.9 mm) 0.0052, times 0.6 m 3.1 mm.
    """
    legs = dropped(0.6)
    flows = carried(legs)
    assert flows["likely"] == pytest.approx(1619, rel=0.01)
    assert flows["high"] < 2600  # all but full
    drop = 0.45 + 0.3
    full = full_flow(BORE, drop, 0.45 + 0.6 + 0.3, loss=Loss.exact(2.4))
    assert flows["high"] < full.low / LPH / 2


def test_what_a_leg_carries_rises_steadily_with_its_fall():
    """A hose that falls 0.7 mm in 700 mm was told three times what one carries that falls 1.2 mm."""
    flows = [carried(dropped(0.7, fall))["likely"] for fall in (0.0, 0.001, 0.0017, 0.003, 0.006, 0.01, 0.02)]
    assert flows == sorted(flows)
    assert flows[2] < 1.1 * flows[0]


@given(fall=st.floats(-0.001, 0.3), more=st.floats(0.0, 0.1), length=st.floats(0.05, 5.0))
@settings(max_examples=30, deadline=None)
def test_more_fall_never_carries_less_longer_never_more(fall, more, length):
    flows, steeper = carried(dropped(length, fall)), carried(dropped(length, fall + more))
    longer = carried(dropped(length * 1.5, fall))
    for setting in SETTINGS:
        assert steeper[setting] >= flows[setting] * (1 - 1e-4)
        assert longer[setting] <= flows[setting] * (1 + 1e-3)
        assert flows[setting] <= stack_flow(BORE).at(setting) / LPH * (1 + 1e-9)


def test_a_long_leg_at_one_percent_carries_what_manning_says():
    """Half full at n 0.013, as code tables have it, by hand: A 802 mm², R 11.3 mm, V 0.388 m/s, 1,120 L/h."""
    assert carried(dropped(30.0, 0.01))["low"] == pytest.approx(1120, rel=0.01)


def test_legs_in_a_row_hand_on_what_stands_in_them():
    """Two legs of 0.3 m and an elbow carry less than one of 0.6 m; without its loss they are that one."""
    turned = [(0, 0, 0.45), (0, 0, 0), (0.3, 0, 0), (0.3, 0.3, 0), (0.3, 0.3, -0.3)]
    lossless, one = carried(way(*turned)), carried(dropped(0.6))
    assert lossless["likely"] == pytest.approx(one["likely"], rel=1e-3)
    elbow = [NO_LOSS, Loss.exact(1.0), NO_LOSS, NO_LOSS]
    assert carried(way(*turned, losses=elbow))["likely"] < 0.97 * one["likely"]


def test_an_upright_between_two_legs_is_a_free_end():
    down = way((0, 0, 1), (0, 0, 0.5), (0.4, 0, 0.5), (0.4, 0, 0.1), (0.7, 0, 0.1), (0.7, 0, -0.3))
    limits = [limit for limit in open_limits(down, depth=DEPTH) if "level" in limit.words]
    assert [limit.at for limit in limits] == [(0, 0, 0.5), (0.4, 0, 0.1)]
    for limit, length in zip(limits, (0.4, 0.3), strict=True):
        assert limit.flow.likely / LPH == pytest.approx(carried(dropped(length))["likely"], rel=1e-6)


def test_a_leg_that_the_tank_feeds_starts_over_its_critical_depth():
    """A steep leg behind the wall carries no more than is critical at its mouth, 0.540 sqrt(g) D^2.5."""
    legs = way((0, 0, 0), (1.0, 0, -0.05))
    assert carried(legs)["likely"] == pytest.approx(0.5397 * math.sqrt(9.80665) * BORE**2.5 / LPH, rel=1e-3)
    assert carried(dropped(1.0, 0.05))["likely"] > 1.3 * carried(legs)["likely"]


def test_an_outlet_under_water_lets_air_back_up_only_slowly():
    """Davies and Taylor 1950: a plug of air rises at 0.345 sqrt(g D), 0.230 m/s; by hand 1,327 L/h full."""
    legs = dropped(0.4)
    assert carried(legs, below=-0.31)["likely"] == carried(legs)["likely"]
    flows = carried(legs, below=-0.2)
    assert flows["high"] == pytest.approx(0.345 * math.sqrt(9.80665 * BORE) * math.pi / 4 * BORE**2 / LPH)
    assert flows["high"] == pytest.approx(1327, rel=1e-3)


def test_a_sealed_trap_shuts_off_the_air():
    dip = way((0, 0, 0.5), (0, 0, 0), (0.2, 0, 0), (0.2, 0, 0.1), (0.5, 0, 0.1), (0.5, 0, -0.3))
    words = [limit.words for limit in open_limits(dip, depth=DEPTH)]
    assert "under water, air has to go back up" in words
    assert carried(dip)["high"] <= self_venting_flow(BORE).high / LPH


def test_a_valve_partly_shut_in_an_upright_throttles_it():
    """Torricelli by hand, one bore of water over it, K 50: 0.942 m/s / sqrt(51) on 1,605 mm² is 762 L/h."""
    legs = way((0, 0, 0.5), (0, 0, 0), valve=Loss.exact(50.0))
    assert carried(legs)["likely"] == pytest.approx(762, rel=2e-3)
    assert carried(way((0, 0, 0.5), (0, 0, 0)))["likely"] == stack_flow(BORE).likely / LPH


def test_pieces_in_line_are_one_leg_with_their_least_bore_and_all_their_losses():
    """A loss on a wider bore grows by the fourth power of the ratio: 1.0 on 50 mm is 0.4096 on 40 mm."""
    (leg,) = drain_legs(
        [
            (((0, 0, 0), (0.1, 0, 0)), 0.05, Loss.exact(1.0), NO_LOSS),
            (((0.1, 0, 0), (0.3, 0, 0)), 0.04, Loss.exact(0.5), NO_LOSS),
        ]
    )
    assert (leg.bore, leg.length) == (0.04, pytest.approx(0.3))
    assert leg.loss.likely == pytest.approx(0.5 + 1.0 * (0.04 / 0.05) ** 4)


def test_water_that_stands_in_a_level_pipe_stands_before_it_too():
    """Critical at the free end, entrance of K 0.5, by hand: 1,205 L/h is half full, 22.6 + 1.5 x 8.9 mm."""
    (leg,) = legs = way((0, 0, 0.0), (1e-3, 0, 0.0))
    level = standing_level(legs, 1205 * LPH, "likely", entry=Loss.exact(0.5))
    assert level - leg.floor(0.0) == pytest.approx(0.0226 + 1.5 * 0.00887, rel=5e-3)
    assert standing_level(dropped(0.4), 1205 * LPH, "likely") == -math.inf
    assert standing_level(way((0, 0, 0), (3.0, 0, 0)), 3000 * LPH, "likely") == math.inf


def test_a_path_that_falls_has_no_trap():
    assert traps([(0, 0, 1.0), (0, 0, 0.5), (1, 0, 0.48), (1, 0, 0.0)], 0.05) == ()
    assert traps([(0, 0, 1.0), (1, 0, 1.0)], 0.05) == ()
    assert traps([(0, 0, 1.0)], 0.05) == ()


def test_a_path_that_rises_holds_water():
    found = traps([(0, 0, 1.0), (0, 0, 0.2), (1, 0, 0.25), (1, 0, 0.0)], 0.04)
    assert len(found) == 1
    assert found[0].at == (0, 0, 0.2)
    assert found[0].depth == pytest.approx(0.05)
    assert found[0].sealed
    shallow = traps([(0, 0, 1.0), (0, 0, 0.2), (1, 0, 0.22), (1, 0, 0.0)], 0.04)
    assert not shallow[0].sealed


def test_each_low_point_is_its_own_trap():
    path = [(0, 0, 1.0), (1, 0, 0.5), (2, 0, 0.7), (3, 0, 0.4), (4, 0, 0.6), (5, 0, 0.0)]
    assert [trap.depth for trap in traps(path, 0.05)] == [pytest.approx(0.2), pytest.approx(0.2)]


def test_a_small_rise_is_put_down_to_laying():
    path = [(0, 0, 1.0), (1, 0, 0.5), (2, 0, 0.5009), (3, 0, 0.0)]
    assert traps(path, 0.05) == ()
    assert len(traps([*path[:2], (2, 0, 0.5011), path[3]], 0.05)) == 1


@pytest.mark.parametrize(
    "call",
    [
        lambda: stack_flow(0.0),
        lambda: full_flow(0.02, 1.0, 0.0),
        lambda: full_flow(0.02, math.nan, 1.0),
        lambda: self_venting_flow(-0.01),
        lambda: traps([(0, 0, math.inf), (0, 0, 0)], 0.05),
    ],
)
def test_bad_figures_are_refused(call):
    with pytest.raises(LayoutError):
        call()


def test_settings_are_all_told():
    assert all(stack_flow(0.05).at(setting) > 0 for setting in SETTINGS)


@pytest.mark.parametrize(("end", "words"), [(-0.007, "leg that climbs 0.7%"), (0.007, "slope of 0.7%")])
def test_a_leg_that_rises_is_told_as_one_that_climbs(end, words):
    """1 m of pipe that ends 7 mm over its start, or under it."""
    points = [(0.0, 0.0, 0.0), (0.0, 0.0, -0.3), (1.0, 0.0, -0.3 - end), (1.0, 0.0, -0.6)]
    legs = drain_legs([(points, 0.04, NO_LOSS, NO_LOSS)])
    found = open_limits(legs, depth=Band.exact(0.5))
    assert [limit.words for limit in found if "%" in limit.words] == [f"{words}, part full"]
