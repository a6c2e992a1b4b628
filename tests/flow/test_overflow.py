"""Drains read off a model: crest, path, what they carry, how high the water stands over them."""

import math
from dataclasses import replace

import pytest

from layout3d.band import Band
from layout3d.fittings.losses import fitting_loss
from layout3d.fittings.strainer import STRAINER, strainer_slots
from layout3d.flow.drain import self_venting_flow, stack_flow
from layout3d.flow.intake import Rim
from layout3d.flow.overflow import carried_open, gravity_drains, lowest_in_each_box, over_water, running_level
from layout3d.flow.water import water_of
from layout3d.solid.level import area_at
from layout3d.units import shown_in

QUIET = Band.exact(1e-4)  # 360 L/h
DIP = "{back: 70 mm}, {down: 400 mm}, {front: 150 mm}, {up: 120 mm}, {front: 150 mm}, {down: 200 mm}, open"

THROTTLED = (
    "{{back: 70 mm}}, {{down: 100 mm}}, {{ball_valve: {}}}, {{down: 300 mm}}, {{front: 300 mm}}, "
    "{{down: 200 mm}}, open"
)


def only(model):
    (drain,) = gravity_drains(model)
    return drain


def test_a_standpipe_takes_water_in_at_its_rim(sump_scene):
    drain = only(sump_scene())
    assert drain.name == "overflow"
    assert drain.intake.words == "rim of a standpipe"
    assert drain.crest == pytest.approx(0.25)  # 150 mm of the hole and 100 mm up
    assert drain.siphon_level == drain.crest
    assert drain.parts == ("intake", "down")
    assert drain.outlet.vessel == "sump.inlet"
    assert drain.way.bore == pytest.approx(0.034)  # the bulkhead's own, PN 16
    assert (drain.traps, drain.rise) == ((), 0.0)


def test_a_strainer_takes_water_in_at_the_foot_of_its_slots(sump_scene):
    """The lowest level at which the built solid is cut open: its outside area falls where slots begin."""
    model = sump_scene(intake="{front: 100 mm}, {up: 100 mm}, strainer")
    drain = only(model)
    body = model.body(drain.mouth.body).solid
    slots = strainer_slots(STRAINER.size(model.scene.catalog, "d40 pn 10"))
    below, above = area_at(body, [drain.crest - 1e-4, drain.crest + 1e-4])
    wall = above + slots.width * 16 * 0.08 * slots.radius  # 16 slots through a wall of 8 % of the radius
    assert above < below
    assert below == pytest.approx(wall, rel=0.01)
    assert drain.intake.words == "strainer"
    assert drain.intake.screened


def test_slots_pass_what_their_size_says(sump_scene):
    model = sump_scene(intake="{front: 100 mm}, {up: 100 mm}, strainer")
    stage = only(model).intake.stages[0]
    slots = strainer_slots(STRAINER.size(model.scene.catalog, "d40 pn 10"))
    open_area = sum(slit.width * (slit.high - slit.low) for slit in stage.slits)
    assert open_area == pytest.approx(16 * slots.width * sum(end - start for start, end in slots.rows))
    assert sum(slit.width for slit in stage.slits) == pytest.approx(2 * 16 * slots.width)


def test_a_flush_hole_takes_water_in_at_the_lower_edge_of_its_bore(sump_scene):
    emergency_down = SECOND.partition("emergency_down")[2]
    model = sump_scene(more=f"emergency_down{emergency_down}", holes=HOLE)
    drain = next(drain for drain in gravity_drains(model) if drain.name == "emergency")
    assert drain.intake.words == "flush hole"
    assert drain.crest == pytest.approx(0.15 - drain.way.bore / 2)


def test_a_pipe_that_turns_down_siphons_to_its_mouth(sump_scene):
    drain = only(sump_scene(intake="{front: 100 mm}, {down: 90 mm}, open"))
    assert drain.intake.words == "pipe that turns down"
    # over the lower edge of the narrowest level bore behind it, the bulkhead's
    assert drain.crest == pytest.approx(0.15 - drain.way.bore / 2)
    assert drain.siphon_level == pytest.approx(0.06)
    assert any("siphons the tank" in note for note in drain.notes)


def test_a_strainer_that_hangs_down_siphons_to_the_foot_of_its_slots(sump_scene):
    drain = only(sump_scene(intake="{front: 100 mm}, {down: 80 mm}, strainer", overflow=250))
    slots = strainer_slots(STRAINER.size(sump_scene().scene.catalog, "d40 pn 10"))
    assert drain.crest == pytest.approx(0.25 - drain.way.bore / 2)
    assert drain.siphon_level == pytest.approx(0.17 - slots.rows[1][1], abs=1e-6)


def test_a_level_pipe_end_takes_water_in_at_its_lower_edge(sump_scene):
    drain = only(sump_scene(intake="{front: 150 mm}, open"))
    assert drain.intake.words == "pipe that runs level"
    assert drain.crest == pytest.approx(0.15 - drain.way.bore / 2)


def test_a_dip_is_a_trap(sump_scene):
    drain = only(sump_scene(down=DIP))
    (trap,) = drain.traps
    assert trap.depth == pytest.approx(0.120)
    assert trap.sealed
    assert trap.at[2] == pytest.approx(0.15 - 0.40)
    assert drain.traps or drain.rise > 0.0


def test_an_end_above_the_crest_is_uphill(sump_scene):
    drain = only(sump_scene(down="{back: 70 mm}, {up: 300 mm}, {left: 200 mm}, open"))
    # the lower edge of the level pipe 300 mm up, over the standpipe's rim at 250 mm
    assert drain.crest == pytest.approx(0.15 + 0.30 - drain.way.bore / 2, abs=2e-3)
    assert drain.rise == pytest.approx(drain.crest - 0.25, abs=2e-3)
    assert drain.traps or drain.rise > 0.0


def test_a_closed_valve_is_no_drain(sump_scene):
    assert gravity_drains(sump_scene(down=THROTTLED.format("0 %"))) == ()


def test_open_flow_is_that_of_the_narrowest_leg_and_far_below_full(sump_scene):
    """Wyly and Eaton 1961 for the uprights; full flow is 2 to 5 times that in a drain like this."""
    drain = only(sump_scene())
    upright = next(limit for limit in drain.limits if limit.words == "upright, open")
    assert upright.flow.likely == pytest.approx(stack_flow(0.0362).likely)
    assert drain.open_flow.likely <= upright.flow.likely
    assert drain.full.likely > 2 * drain.open_flow.likely
    assert drain.full.note == "running full, without air: not to be relied on"


def test_what_a_drain_carries_is_told_in_the_units_of_each_scene_that_asks(sump_scene):
    model = sump_scene()
    drain = only(model)
    legs = tuple(replace(leg, bore=0.02) for leg in drain.legs)
    narrow = replace(drain, legs=legs, below=0.0)
    for system, unit in (("metric", "20 mm"), ("inch", "0.79 in")):
        with shown_in(system):
            limits = narrow.over(-9.0, water_of(model)).limits
        assert next(limit for limit in limits if limit.words == "upright, open").flow.note.count(unit) == 1


def test_running_level_of_one_drain_is_that_of_its_intake(sump_scene):
    """Rim as a weir, handbooks: Q = 1.77 pi D h^1.5, to 0.36 D."""
    model = sump_scene()
    level = running_level(gravity_drains(model), QUIET, water=water_of(model), top=0.5)
    assert level.likely == pytest.approx(0.25 + (1e-4 / (1.77 * math.pi * 0.0362)) ** (2 / 3))


def test_a_throttled_drain_backs_up(sump_scene):
    plain, shut = sump_scene(), sump_scene(down=THROTTLED.format("34 %"))
    water, flow = water_of(plain), Band.exact(3e-4)
    open_level = running_level(gravity_drains(plain), flow, water=water, top=0.5)
    level = running_level(gravity_drains(shut), flow, water=water, top=0.5)
    assert level.likely > open_level.likely + 0.01
    assert only(shut).full_at(level.likely, setting="likely", water=water) == pytest.approx(3e-4, rel=1e-6)


SECOND = """
emergency_in: {kind: run, pipe: d40 pn 10, start: emergency.inside,
  route: [{front: 100 mm}, {up: 130 mm}, open]}
emergency_down: {kind: run, pipe: d40 pn 10, start: emergency.outside,
  route: [{back: 70 mm}, {down: 500 mm}, {front: 300 mm}, {down: 100 mm}, open]}"""
HOLE = ", emergency: {panel: back, left: 650 mm, bottom: 150 mm, bulkhead: d40}"


def test_two_drains_share_the_flow_once_the_second_is_reached(sump_scene):
    model = sump_scene(more=SECOND, holes=HOLE)
    first, second = gravity_drains(model)
    assert (first.name, second.name) == ("overflow", "emergency")
    assert second.crest - first.crest == pytest.approx(0.030)
    water = water_of(model)
    quiet = running_level((first, second), QUIET, water=water, top=0.5)
    assert quiet.likely == running_level((first,), QUIET, water=water, top=0.5).likely
    torrent = Band.exact(9e-4)
    both = running_level((first, second), torrent, water=water, top=0.5)
    assert both.likely < running_level((first,), torrent, water=water, top=0.5).likely


def test_no_drain_no_level(sump_scene):
    assert running_level((), QUIET, water=water_of(sump_scene()), top=0.5) is None


def test_a_flow_that_finds_no_way_out_has_no_level(sump_scene):
    model = sump_scene()
    assert running_level(gravity_drains(model), Band.exact(5e-3), water=water_of(model), top=0.3) is None


def twin(drain):
    """The same drain beside it, with an outlet of its own."""
    apart = [replace(limit, to=(9.0, 9.0, limit.to[2])) for limit in drain.limits]
    return replace(drain, name="twin", outlet=replace(drain.outlet, name="twin.end"), limits=tuple(apart))


def test_slots_stopped_count_where_several_drains_share(sump_scene):
    """Two alike take half each: the level of two at 2 Q is that of one at Q, a third of all slots stopped."""
    model = sump_scene(intake="{front: 100 mm}, {up: 100 mm}, strainer")
    drain, water = only(model), water_of(model)
    one = running_level((drain,), QUIET, water=water, blocked=1 / 3, top=0.5)
    both = running_level(
        (drain, twin(drain)), QUIET.map(lambda q: 2 * q), water=water, blocked=1 / 3, top=0.5
    )
    assert both.likely == pytest.approx(one.likely, abs=1e-7)
    clear = running_level((drain, twin(drain)), QUIET.map(lambda q: 2 * q), water=water, top=0.5)
    assert both.likely > clear.likely + 1e-3


def test_losses_count_on_the_least_bore(sump_scene):
    """By hand: entrance, four elbows and exit of 36.2 mm, on the bulkhead's 34.0 mm: times (34.0/36.2)^4."""
    drain = only(sump_scene())
    own = [fitting_loss(kind, 0.0362).likely for kind in ("entrance_projecting", "exit", *["elbow_90"] * 4)]
    widths = drain.loss.likely - sum(own) * (0.0340 / 0.0362) ** 4
    # what is left is the narrowing into the bulkhead and the widening behind it, if they are counted
    assert 0.0 <= widths < 0.1


def test_a_stretch_that_drains_share_counts_once(sump_scene):
    drain = only(sump_scene())
    shared = carried_open((drain, replace(drain, name="second")))
    assert shared.likely == pytest.approx(drain.open_flow.likely)
    apart = carried_open((drain, twin(drain)))
    assert apart.likely == pytest.approx(2 * drain.open_flow.likely)


def test_drains_into_one_outlet_run_full_once(sump_scene):
    """A torrent through two intakes of one pipe stands as high as through one that takes as much."""
    model = sump_scene()
    drain, water = only(model), water_of(model)
    same = replace(drain, name="second")
    most = drain.full_at(0.3, setting="likely", water=water)
    flow = Band.exact(1.5 * most)
    shared = running_level((drain, same), flow, water=water, top=0.5)
    apart = running_level((drain, twin(drain)), flow, water=water, top=0.5)
    assert shared is None or shared.likely > apart.likely


def test_an_end_under_water_is_told_and_takes_its_share_of_the_drop(sump_scene):
    """The level of the water is the end of the drop; open it carries what lets air back up (36.2 mm)."""
    model = sump_scene()
    (drain,) = over_water(model, (only(model),), {"sump.inlet": only(model).outlet.at[2] - 0.1})
    assert drain.under_water == 0.0
    (deep,) = over_water(model, (drain,), {"sump.inlet": drain.outlet.at[2] + 0.2})
    assert deep.under_water == pytest.approx(0.2)
    assert deep.full.likely < drain.full.likely
    venting = self_venting_flow(0.0362)
    assert any(limit.flow.likely == venting.likely for limit in deep.limits)
    assert deep.open_flow.high <= venting.high
    (back,) = over_water(model, (deep,), {"sump.inlet": drain.outlet.at[2] - 0.1})
    assert back.limits == drain.limits


def test_water_standing_in_a_level_pipe_raises_the_tank(sump_scene):
    """A flush hole before a level pipe: over its edge stand critical depth and velocity head.

    By hand at 36.2 mm in the pipe, half full at its free end, pi/8 to the power 1.5 times sqrt(g) D^2.5.
    """
    model = sump_scene(intake="{front: 150 mm}, open")
    drain, water = only(model), water_of(model)
    bore = drain.legs[0].bore
    flow = (math.pi / 8) ** 1.5 * math.sqrt(9.80665) * bore**2.5
    level = running_level((drain,), Band.exact(flow), water=water, top=0.5).likely
    assert level > drain.crest + bore / 2 + 1.5 * math.pi / 16 * bore


def test_a_rougher_drain_asks_for_no_lower_level_where_its_own_levels_end(sump_scene):
    """It fills at a smaller flow than a smooth one; beyond that it needs the smooth one's level."""
    drain = only(sump_scene())
    rough, smooth = ((0.0, 1e-4), (0.25, 0.27)), ((0.0, 4e-4), (0.25, 0.30))
    drain = replace(drain, back={"low": rough, "likely": smooth, "high": smooth})
    for flow in (0.0, 0.5e-4, 1e-4, 2e-4, 4e-4, 8e-4):
        levels = [drain.backwater(flow, setting) for setting in ("low", "likely", "high")]
        assert levels == sorted(levels)
    assert drain.backwater(4e-4, "high") == pytest.approx(0.30)


# -- what it is read as -------------------------------------------------------------------------------------


def test_a_bulkhead_in_the_floor_takes_water_in_at_its_rim(sump_scene):
    """Nothing on its inside: the water runs over its flange, straight up."""
    down = "floor_down: {kind: run, pipe: d40 pn 10, start: floor.outside, route: [{down: 300 mm}, open]}"
    model = sump_scene(more=down, holes=", floor: {panel: bottom, left: 700 mm, back: 200 mm, bulkhead: d40}")
    drain = next(one for one in gravity_drains(model) if one.name == "floor")
    port = model.ports["tank.floor.inside"]
    assert drain.intake.words == "rim of a bulkhead"
    assert drain.crest == port.at[2]
    (rim,) = drain.intake.stages
    assert (rim.diameter, rim.crest) == (port.bore, port.at[2])
    assert drain.siphon_level == drain.crest
    assert drain.parts == ("floor_down",)


def test_a_mouth_behind_a_hump_takes_water_in_over_the_hump(sump_scene):
    """Up 250 mm, over, down 200 and up 100 to a mouth at 300 mm: the hump's lower edge is at 400 less R."""
    route = (
        "{front: 100 mm}, {up: 250 mm}, {front: 100 mm}, {down: 200 mm}, {front: 100 mm}, {up: 100 mm}, open"
    )
    drain = only(sump_scene(intake=route))
    assert drain.intake.words == "pipe over a hump"
    assert drain.mouth.at[2] == pytest.approx(0.30)
    assert drain.crest == pytest.approx(0.40 - 0.0362 / 2)
    # once full it goes on to its mouth's own edge
    assert drain.siphon_level == pytest.approx(0.30)


def test_holes_in_a_capped_pipe_take_water_in_from_the_lowest(sump_scene):
    """Three holes of 6 mm, 20 mm apart up the pipe: all of their area, from the lowest hole's foot."""
    holes = "drip: {diameter: 6 mm, pitch: 20 mm, margin: 30 mm, count: 3}"
    drain = only(sump_scene(intake=f"{{front: 100 mm}}, {{up: 200 mm, {holes}}}, cap"))
    assert drain.intake.words == "holes in its pipe"
    screen, bore = drain.intake.stages
    assert screen.screens
    assert not bore.screens
    area = sum(slit.width * (slit.high - slit.low) for slit in screen.slits)
    assert area == pytest.approx(3 * math.pi * 0.003**2)
    lowest = min(hole.at[2] for hole in drain.mouth.holes)
    assert screen.crest == pytest.approx(lowest - 0.003)
    assert screen.slits[-1].high - screen.crest == pytest.approx(0.046)


def test_of_drains_in_one_box_only_the_lowest_mouth_takes_water(sump_scene):
    """One outside the box, one outside of it, and two in another, the higher of which comes first."""
    drain = only(sump_scene())

    def standing(name, crest, box):
        weir = Rim(diameter=0.2, crest=0.3)
        return replace(
            drain,
            name=name,
            box=box,
            intake=replace(drain.intake, stages=(weir, Rim(diameter=0.03, crest=crest))),
        )

    high, low = standing("high", 0.28, "box"), standing("low", 0.25, "box")
    other, free = standing("other", 0.29, "second"), standing("free", 0.1, "")
    assert lowest_in_each_box((high, low, other, free)) == (low, other, free)
    assert lowest_in_each_box((free, high)) == (free, high)
    assert lowest_in_each_box(()) == ()
    # of what is behind the weir, its own mouth rules; outside of a box, the higher of the two
    assert (high.mouth_crest, free.mouth_crest) == (0.28, 0.3)


def test_a_drain_in_a_box_runs_full_by_the_water_in_the_box(sump_scene):
    model = sump_scene()
    drain, water = only(model), water_of(model)
    boxed = replace(drain, box_level=0.22)
    assert boxed.full_at(0.4, setting="likely", water=water) == drain.full_at(
        0.22, setting="likely", water=water
    )
    assert boxed.full_at(0.2, setting="likely", water=water) == drain.full_at(
        0.2, setting="likely", water=water
    )


def test_water_at_the_edge_of_an_end_does_not_cover_it(sump_scene):
    """It ends upright: its lower edge is its end. A hair of water over that is none."""
    model = sump_scene()
    drain, water = only(model), water_of(model)
    edge = drain.outlet.at[2]
    assert drain.outlet.lower_edge == pytest.approx(edge)
    assert drain.over(edge, water).below == -math.inf
    wet = drain.over(edge + 0.05, water)
    assert wet.below == edge + 0.05
    assert wet.under_water == pytest.approx(0.05)
    assert wet.over(edge + 0.05, water) is wet


def test_the_band_of_what_several_carry_is_the_sum_of_their_own(sump_scene):
    drain = only(sump_scene())
    both = carried_open((drain, twin(drain)))
    for setting in ("low", "likely", "high"):
        assert both.at(setting) == pytest.approx(2 * drain.open_flow.at(setting))
        least = min(limit.flow.at(setting) for limit in drain.limits)
        assert drain.open_flow.at(setting) == drain.narrowest(setting).flow.at(setting) == least
        assert least <= drain.full.at(setting)


def test_a_second_way_out_is_told_and_not_counted(sump_scene):
    """A tee in the drain that opens over the sump as well: the lower end is the outlet."""
    down = (
        "{back: 70 mm}, {down: 200 mm}, {tee: left, name: side}, {down: 200 mm}, {front: 300 mm}, "
        "{down: 200 mm}, open"
    )
    drain = only(sump_scene(down=down))
    assert drain.outlet.name == "down.end"
    assert any("also opens at down.side: not counted" in note for note in drain.notes)
    assert not any("also opens" in note for note in only(sump_scene()).notes)


def test_full_and_closed_ends_of_a_torrent(sump_scene):
    """Where only the high figure finds no way out below the rim, it is held at the rim."""
    model = sump_scene()
    drain, water = only(model), water_of(model)
    top = 0.27
    most = drain.full_at(top, setting="likely", water=water)
    flow = Band(low=1e-4, likely=1.1e-4, high=2 * most)
    level = running_level((drain,), flow, water=water, top=top)
    assert level.high == top
    assert level.low < level.likely < top
    assert running_level((drain,), flow, water=water, top=drain.crest) is None
    still = running_level((drain,), Band.exact(0.0), water=water, top=top)
    assert (still.low, still.high) == (drain.crest, drain.crest)
