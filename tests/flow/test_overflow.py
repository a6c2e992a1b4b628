"""Drains read off a model: crest, path, what they carry, how high the water stands over them."""

import math
from dataclasses import replace

import pytest

from layout3d.band import Band
from layout3d.fittings.losses import fitting_loss
from layout3d.fittings.strainer import STRAINER, strainer_slots
from layout3d.flow.drain import self_venting_flow, stack_flow
from layout3d.flow.overflow import carried_open, gravity_drains, over_water, running_level
from layout3d.flow.water import water_of
from layout3d.solid.level import area_at

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
