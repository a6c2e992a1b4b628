"""Drains by hand: where water gets in, what shares a pipe, how high it stands. Nothing is read from a "
"scene."""

import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.band import Band
from layout3d.errors import NotPossible, OutOfRange
from layout3d.fittings.losses import Loss
from layout3d.flow import overflow as module
from layout3d.flow.intake import Rim, Slits
from layout3d.parts.run_data import DripHole
from layout3d.pipework.graph import Edge, Mouth, Pipework, Step, Way


def band(low, likely, high, note=""):
    return Band(low=low, likely=likely, high=high, note=note)


# -- what drains carry together -----------------------------------------------------------------------------


def stretch(to, low, likely, high):
    return SimpleNamespace(to=(to, 0.0, 0.0), flow=band(low, likely, high))


def test_drains_of_their_own_add_up_and_each_carries_its_least():
    one = SimpleNamespace(limits=(stretch(1.0, 2, 5, 9), stretch(2.0, 3, 4, 10)))
    other = SimpleNamespace(limits=(stretch(3.0, 1, 2, 3),))
    assert module.carried_open([one, other]) == band(3, 6, 12)


def test_a_stretch_that_two_share_counts_once():
    """Each carries 3 on its own, and 4 go through the pipe that they share: the second has 1 left."""
    one, other = (
        SimpleNamespace(limits=(stretch(own, 3, 3, 3), stretch(9.0, 4, 5, 6))) for own in (1.0, 2.0)
    )
    assert module.carried_open([one, other]) == band(4, 5, 6)
    third = SimpleNamespace(limits=(stretch(9.0, 4, 5, 6),))
    assert module.carried_open([one, other, third]) == band(4, 5, 6)  # nothing is left, and never less
    near = SimpleNamespace(limits=(stretch(9.0000001, 4, 5, 6),))
    assert module.carried_open([one, near]) == band(4, 5, 6)  # one place but for rounding


# -- levels -------------------------------------------------------------------------------------------------


def drain(name="a", *, crest=0.2, slope=1.0, full=math.inf, box="", mouth=None, outlet="o", back=None):
    """A drain that takes ``slope`` m³/s for each metre over its crest, and no more than ``full``."""
    return SimpleNamespace(
        name=name,
        crest=crest,
        box=box,
        intake=SimpleNamespace(
            stages=(None, SimpleNamespace(crest=crest if mouth is None else mouth)),
            slope=slope,
            crest=crest,
            formula=f"formula of {name}",
        ),
        backwater=back,
        outlet=SimpleNamespace(name=outlet),
        full_at=lambda level, *, setting, water: full(level, setting) if callable(full) else full,
    )


WIDE = {"low": 1.1, "likely": 1.0, "high": 0.9}
"""What an intake passes over what is likely, by the setting of the level: most at the low level."""


@pytest.fixture(autouse=True)
def straight(monkeypatch):
    """Let intakes pass what rises straight with the level; stopped slots take their share."""

    def intake_level(intake, flow, *, blocked, backwater):
        if intake.slope == 0.0:
            raise NotPossible("nothing gets in")
        over = {setting: flow / (intake.slope * wide * (1.0 - blocked)) for setting, wide in WIDE.items()}
        return band(*(intake.crest + over[setting] for setting in ("low", "likely", "high")))

    def intake_flow(intake, level, *, setting, blocked, backwater):
        return max(0.0, level - intake.crest) * intake.slope * WIDE[setting] * (1.0 - blocked)

    monkeypatch.setattr(module, "intake_level", intake_level)
    monkeypatch.setattr(module, "intake_flow", intake_flow)


def level(*drains, flow=(0.09, 0.1, 0.11), top=1.0, **more):
    found = module.running_level(drains, band(*flow), water=None, top=top, **more)
    return found and pytest.approx((found.low, found.likely, found.high)), found


def test_one_drain_stands_over_its_crest_by_what_its_intake_asks():
    told, found = level(drain())
    assert told == (0.2 + 0.09 / 1.1, 0.3, 0.2 + 0.11 / 0.9)
    assert found.note == "formula of a"
    assert level(drain(), blocked=0.5)[0] == (0.2 + 0.18 / 1.1, 0.4, 0.2 + 0.22 / 0.9)
    assert level(drain(), flow=(0.0, 0.0, 0.0))[0] == (0.2, 0.2, 0.2)


def test_a_drain_at_or_over_the_top_is_no_way_out():
    assert level(drain(crest=1.0))[1] is None
    assert level()[1] is None
    # likely the top, held there at the high figure
    assert level(drain(), top=0.32)[0] == (0.2 + 0.09 / 1.1, 0.3, 0.32)
    assert level(drain(), top=0.299)[1] is None
    # at the top itself it still runs away
    assert level(drain(crest=0.25), flow=(0.25, 0.25, 0.25), top=0.5)[1].likely == 0.5


def test_two_drains_share_once_the_second_is_reached():
    """Over 250 mm the second takes as much again: 0.05 to there, the rest over twice the slope."""
    second = drain("b", crest=0.25, outlet="p")
    told, found = level(drain(), second, flow=(0.1, 0.1, 0.1))
    low, high = 0.25 + (0.1 - 0.055) / 2.2, 0.25 + (0.1 - 0.045) / 1.8
    assert told == (low, 0.275, high)
    assert found.note == "formula of a; formula of b"
    # one that the likely level does not reach is neither counted nor told
    told, found = level(drain(), drain("b", crest=0.3, outlet="p"), flow=(0.1, 0.1, 0.1))
    assert found.likely == pytest.approx(0.3)
    assert found.note == "formula of a"
    assert level(drain(), drain("b", outlet="p"), flow=(0.1, 0.1, 0.1))[1].likely == pytest.approx(0.25)


def test_a_drain_that_is_full_takes_no_more_and_the_next_takes_the_rest():
    """0.04 run full; the second's share begins at 300 mm: 0.06 over it."""
    told, _ = level(drain(full=0.04), drain("b", crest=0.3, outlet="p"), flow=(0.1, 0.1, 0.1))
    assert told == (0.3 + 0.06 / 1.1, 0.36, 0.3 + 0.06 / 0.9)
    # alone it fills up until its own full flow rises with the level: 0.2 of it a metre
    told, _ = level(drain(full=lambda z, setting: 0.2 * z), flow=(0.1, 0.1, 0.1))
    assert told == (0.5, 0.5, 0.5)


def test_full_flow_is_asked_at_the_setting_that_gives_the_level_its_own():
    """A drain carries least where the level is told high."""
    most = {"low": 0.12, "likely": 0.2, "high": 0.4}
    told, _ = level(drain(full=lambda z, setting: most[setting] * z), flow=(0.1, 0.1, 0.1))
    assert told == (0.2 + 0.1 / 1.1, 0.5, 0.1 / 0.12)


def test_an_intake_that_passes_nothing_by_itself_is_looked_for_with_the_others():
    told, _ = level(drain(slope=0.0), drain("b", crest=0.3, outlet="p"), flow=(0.1, 0.1, 0.1))
    assert told == (0.3 + 0.1 / 1.1, 0.4, 0.3 + 0.1 / 0.9)


def test_drains_into_one_outlet_run_full_once():
    """Each would take 0.08 full; together they share 0.08 of one outlet, and 0.16 of two."""
    same = [drain(name, full=lambda z, setting: 0.16 * z) for name in "ab"]
    apart = [drain(name, full=lambda z, setting: 0.16 * z, outlet=name) for name in "ab"]
    assert level(*same, flow=(0.08, 0.08, 0.08))[1].likely == pytest.approx(0.5)
    assert level(*apart, flow=(0.08, 0.08, 0.08))[1].likely == pytest.approx(0.25, abs=0.01)


def test_of_drains_in_one_box_only_the_lowest_mouth_counts():
    low, high = drain("low", box="box", mouth=0.1), drain("high", box="box", mouth=0.12)
    other, free = drain("other", box="other", mouth=0.15), drain("free", mouth=0.05)
    assert module.lowest_in_each_box((high, low, free, other)) == (low, free, other)
    assert level(high, low, flow=(0.1, 0.1, 0.1))[1].likely == pytest.approx(0.3)


@given(low=st.floats(0.001, 0.2), more=st.floats(0.001, 0.2))
def test_more_flow_never_stands_lower(low, more):
    drains = drain(), drain("b", crest=0.25, outlet="p")
    first, second = (level(*drains, flow=(q, q, q))[1] for q in (low, low + more))
    assert second.low > first.low
    assert second.likely > first.likely


# -- a way through pipe -------------------------------------------------------------------------------------


def edge(*points, bore=0.04, kind="pipe", body="run.pipe_1", part="run", **more):
    name = f"{body}|{points[0]}"
    return Edge(
        name=name, body=body, part=part, kind=kind, bore=bore, points=points, start="a", end="b", **more
    )


def way(*edges):
    return Way(steps=tuple(Step(edge=one, forward=True) for one in edges))


def mouth(kind="open", *, at=(0.0, 0.0, 0.3), direction=(0.0, 0.0, 1.0), bore=0.04, **more):
    made = {"name": "m", "node": "run.start", "part": "run", "body": "run.pipe_1", "vessel": "tank"}
    return Mouth(kind=kind, at=at, direction=direction, bore=bore, **made | more)


DOWN = edge((0.0, 0.0, 0.3), (0.0, 0.0, 0.0))
WALL = edge((0.0, 0.0, 0.1), (0.0, 0.05, 0.1), kind="bulkhead", body="tank.drain", part="tank")
OUT = edge((0.0, 0.05, 0.1), (0.0, 0.1, 0.1), body="out.pipe_1", part="out")


def test_a_drain_bears_the_name_of_its_hole_or_of_its_part():
    model = SimpleNamespace(tank_name="tank")
    assert module._name(model, way(DOWN, WALL, OUT), mouth()) == "drain"
    box = edge((0.0, 0.0, 0.1), (0.0, 0.05, 0.1), kind="bulkhead", body="box.hole", part="box")
    assert module._name(model, way(box, DOWN), mouth()) == "run"
    assert module._name(model, way(DOWN), mouth()) == "run"


@pytest.mark.parametrize(("top", "rise"), [(0.1, 0.0), (0.09, 0.02), (0.3, 0.20)])
def test_what_a_drain_climbs_outside_counts_from_what_it_got_over_inside(top, rise):
    """Level through the wall at 100 mm, lower edge at 80; outside up and on, 20 mm under the top.

    Where the pipe outside turns down at once, its upright begins at 100 mm.
    """
    foot = edge((0.0, 0.0, 0.1), (0.0, 0.01, 0.1))
    corner = edge((0.0, 0.05, 0.1), (0.0, 0.05, top), (0.0, 0.2, top), body="out.pipe_1", part="out")
    assert module._rise(way(foot, WALL, OUT if top == 0.1 else corner)) == pytest.approx(rise)
    assert module._rise(way(foot, WALL)) == 0.0
    assert module._rise(way(foot, corner)) == 0.0


@pytest.mark.parametrize(
    ("given", "words", "crest"),
    [
        (mouth(), "rim of a standpipe", 0.3),
        (mouth("bulkhead"), "rim of a bulkhead", 0.3),
        (mouth("bulkhead", direction=(0.0, 1.0, 0.0)), "flush hole", None),
        (mouth(direction=(0.0, 0.0, -1.0)), "pipe that turns down", None),
        (mouth(direction=(0.0, -1.0, 0.0)), "pipe that runs level", None),
        (mouth(at=(0.0, 0.0, 0.29)), "pipe over a hump", None),
    ],
)
def test_a_mouth_takes_water_in_at_its_rim_or_over_the_crest_of_its_way(given, words, crest):
    """The way's crest is the upright's top, 300 mm; a rim below it lets water in only over that."""
    found = module._intake(None, given, way(DOWN))
    assert found.words == words
    (stage,) = found.stages
    if crest is None:
        assert isinstance(stage, Slits)
        assert found.crest == pytest.approx(0.3)
        assert max(slit.high for slit in stage.slits) == pytest.approx(0.34)  # its bore over that
    else:
        assert stage == Rim(diameter=0.04, crest=0.3)


def test_holes_let_water_in_each_by_itself_and_then_over_the_crest():
    holes = tuple(
        DripHole(at=(0.0, 0.0, z), direction=(0.0, 1.0, 0.0), diameter=0.01, wall=0.002, along=z)
        for z in (0.25, 0.28)
    )
    found = module._intake(None, mouth("holes", holes=holes), way(DOWN))
    first, second = found.stages
    assert (found.words, first.screens) == ("holes in its pipe", True)
    area = sum((slit.high - slit.low) * slit.width for slit in first.slits)
    assert area == pytest.approx(2 * math.pi / 4 * 0.01**2)
    assert (first.crest, second.crest) == pytest.approx((0.245, 0.3))


@pytest.mark.parametrize(("lean", "upright"), [(0.71, True), (0.69, False)])
def test_a_strainer_stands_over_a_rim_or_over_the_crest(monkeypatch, lean, upright):
    monkeypatch.setattr(module, "_strainer_stage", lambda model, mouth: hole_of_slots())
    given = mouth("strainer", direction=(0.0, math.sqrt(1.0 - lean**2), lean), at=(0.0, 0.0, 0.26))
    found = module._intake(None, given, way(DOWN))
    assert found.words == "strainer"
    assert isinstance(found.stages[1], Rim) == upright
    assert found.stages[1].crest == pytest.approx(0.26 if upright else 0.3)


def hole_of_slots():
    return module.hole_slits(0.3, 0.01, screens=True)


@pytest.fixture
def basket(monkeypatch):
    """A basket of 20 mm radius with one row of slots from 10 to 40 mm, 2 mm wide, at two angles."""
    slots = SimpleNamespace(rows=((0.010, 0.040),), angles=(0.0, math.pi / 2), width=0.002, radius=0.020)
    monkeypatch.setattr(module, "strainer_slots", lambda size: slots)
    monkeypatch.setattr(module, "STRAINER", SimpleNamespace(size=lambda catalog, size: None))
    model = SimpleNamespace(scene=SimpleNamespace(catalog=None))
    return lambda direction: module._strainer_stage(model, mouth("strainer", direction=direction))


def spans(stage):
    return [(slit.low, slit.high, slit.width) for slit in stage.slits]


def test_slots_of_an_upright_strainer_are_as_tall_as_they_are_long(basket):
    """Both at the same height: two of 2 mm, 30 mm tall, from 10 mm over the end of the pipe."""
    ((low, high, width),) = spans(basket((0.0, 0.0, 1.0)))
    assert (low, high, width) == pytest.approx((0.310, 0.340, 0.004))
    ((low, high, width),) = spans(basket((0.0, 0.0, -1.0)))
    assert (low, high, width) == pytest.approx((0.260, 0.290, 0.004))


def test_slots_of_a_level_strainer_lie_on_top_and_at_its_sides(basket):
    """At the side as tall as it is wide and 30 mm long; on top, seen from above, it has next to no height."""
    side, top = spans(basket((1.0, 0.0, 0.0)))
    assert side == pytest.approx((0.299, 0.301, 0.030), abs=1e-7)
    assert top[:2] == pytest.approx((0.320 - 5e-5, 0.320 + 5e-5), abs=1e-7)
    assert (top[1] - top[0]) * top[2] == pytest.approx(0.030 * 0.002, rel=0.01)  # its area is kept


def test_a_loss_of_a_drain_is_told_on_its_least_bore():
    """An entrance of 0.5 on 40 mm is 0.5 (30 / 40)^4 on 30; what is in 30 mm counts as it is."""
    narrow = edge((0.0, 0.0, 0.0), (0.0, 0.1, 0.0), bore=0.03, loss=Loss.exact(1.0))
    given = mouth(entry_loss=Loss.exact(0.5))
    end = mouth(exit_loss=Loss.exact(1.0), bore=0.03)
    entry, whole = module._loss(given, end, way(DOWN, narrow))
    assert entry.likely == pytest.approx(0.5)
    assert whole.likely == pytest.approx(0.5 * 0.75**4 + 1.0 + 1.0)
    first = edge((0.0, 0.0, 0.3), (0.0, 0.0, 0.0), bore=0.08)
    assert module._loss(given, end, way(first, narrow))[0].likely == pytest.approx(0.5 * 2**4)
    unknown = edge((0.0, 0.0, 0.0), (0.0, 0.1, 0.0), body="run.valve", loss=None, no_loss="half open")
    with pytest.raises(OutOfRange, match=r"run\.valve: half open"):
        module._loss(given, end, way(DOWN, unknown))


@pytest.mark.parametrize(("opening", "loss"), [(1.0, 0.0), (0.6, 4.0)])
def test_only_a_valve_partly_shut_counts_as_one(opening, loss):
    valve = edge((0.0, 0.0, 0.0), (0.0, 0.1, 0.0), kind="ball_valve", opening=opening, loss=Loss.exact(4.0))
    assert module._valve_loss(Step(edge=valve, forward=True)).likely == loss


def test_water_standing_in_a_drain_asks_for_the_highest_of_what_smoother_ones_ask():
    """By capacity: the rough one's levels end early, and what the smooth one asks for then counts."""
    levels = {
        "low": ((0.0, 1.0), (0.0, 0.3)),
        "likely": ((0.0, 2.0), (0.0, 0.2)),
        "high": ((0.0, 4.0), (0.0, 0.4)),
    }
    drain = SimpleNamespace(back=levels)
    ask = module.GravityDrain.backwater
    assert ask(drain, 0.5, "high") == pytest.approx(0.15)  # at low capacity the roughest
    assert ask(drain, 0.5, "likely") == pytest.approx(0.05)
    assert ask(drain, 0.5, "low") == pytest.approx(0.05)
    assert ask(drain, 4.0, "likely") == pytest.approx(0.4)
    assert ask(drain, 1.0, "low") == pytest.approx(0.1)


def test_levels_of_standing_water_rise_from_the_mouth_and_end_where_it_fills(monkeypatch):
    """24 flows up to the full one, closer together where they are small."""
    asked = []

    def standing_level(legs, flow, setting, *, entry, below):
        asked.append((flow, setting, entry, below))
        return math.inf if flow > {"low": 0.5, "likely": 0.9, "high": 2.0}[setting] else flow - 0.2

    monkeypatch.setattr(module, "standing_level", standing_level)
    drain = SimpleNamespace(mouth_crest=0.1, legs=(), entry="entry")
    found = module._back(drain, -0.4, band(0.5, 0.8, 1.0))
    flows, levels = found["high"]
    assert len(flows) == len(levels) == 25
    assert (flows[0], levels[0]) == (0.0, 0.1)
    assert flows[-1] == pytest.approx(1.0)
    assert flows[12] == pytest.approx(0.5**1.5)
    assert levels == pytest.approx([max(0.1, flow - 0.2) for flow in flows])
    assert found["likely"][0][-1] <= 0.9 < flows[len(found["likely"][0])]
    assert len(found["low"][0]) < len(found["likely"][0]) < 25
    assert {(entry, below) for _, _, entry, below in asked} == {("entry", -0.4)}


def test_an_upright_that_takes_it_all_leaves_the_level_at_the_mouth(monkeypatch):
    monkeypatch.setattr(module, "standing_level", lambda *given, **more: -math.inf)
    drain = SimpleNamespace(mouth_crest=0.1, legs=(), entry=None)
    for flows, levels in module._back(drain, -0.4, band(0.0, 0.0, 0.0)).values():
        assert set(levels) == {0.1}
        assert flows[-1] == pytest.approx(1e-6)  # where nothing runs full they are still told apart


# -- whole drains -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("height", "first"),
    [
        (0.1, (0.1, 0.3)),  # the tank fills what lies below the crest, and the upright stands out of it
        (0.279, (0.279, 0.3)),
        (0.281, (0.281, 0.281)),  # level pipe whose upper side reaches over the crest belongs to it
    ],
)
def test_legs_count_from_the_crest_on(height, first):
    """Level pipe of 40 mm inside the tank, up to 300 mm, level again, and down."""
    foot = edge((0.0, -0.2, height), (0.0, 0.0, height))
    up = edge((0.0, 0.0, height), (0.0, 0.0, 0.3))
    over = edge((0.0, 0.0, 0.3), (0.0, 0.2, 0.3))
    down = edge((0.0, 0.2, 0.3), (0.0, 0.2, 0.0))
    legs = module._legs(way(foot, up, over, down))
    assert (legs[0].start[2], legs[0].end[2]) == first
    assert [leg.end[2] for leg in legs[-3:]] == [0.3, 0.3, 0.0]
    assert len(legs) == 3 + (first[0] == first[1])


def found(*mouths, ways=None, pumps=()):
    """Name mouth and ends of each way down; a way that is named None is none."""
    known = {} if ways is None else ways
    part = SimpleNamespace(
        mouths=mouths, pumps=pumps, way=lambda start, end: known.get(start, way(DOWN, WALL, OUT))
    )
    return [(one.name, [end.name for end in ends]) for one, ends, _ in Pipework.ways_down(part, "tank")]


def inside(name="in", **more):
    return mouth(name=name, node=name, **more)


def outside(name="out", z=-0.4, *, kind="open", vessel="sump.inlet"):
    return mouth(kind, name=name, node=name, at=(0.0, 0.2, z), vessel=vessel)


def test_a_drain_leads_from_each_mouth_in_the_tank_to_its_lowest_way_out():
    low, high = outside("low", -0.5), outside("high", -0.4)
    ends = ["low", "high"]
    assert found(inside("a"), high, low, inside("b")) == [("a", ends), ("b", ends)]
    assert found(inside("a"), outside("b", -0.5), outside("a2", -0.5))[0][1][0] == "a2"


def test_what_has_a_pump_or_no_way_out_is_no_drain():
    assert found(inside(), outside(), pumps=("p",)) == []
    assert found(inside(), inside("b")) == []
    assert found(inside(), outside(), ways={"in": None}) == []
    assert found(inside(), outside(), ways={"in": Way(steps=())}) == []
    # the bare bulkhead in the glass is a leak; over a sump it is a way out
    assert found(inside(), outside(kind="bulkhead", vessel="")) == []
    assert len(found(inside(), outside(kind="bulkhead"))) == 1
    assert len(found(inside(), outside(vessel=""))) == 1


@pytest.mark.parametrize(
    ("limits", "told"), [((0.5, 0.75, 0.95), (0.5, 0.75, 0.938)), ((0.8, 0.6, 0.7), (0.6, 0.7, 0.8))]
)
def test_how_full_counts_as_open_is_no_more_than_carries_most(limits, told):
    """And low, likely and high are in order whatever the scene sets."""
    values = dict(zip(("low", "likely", "high"), limits, strict=True))
    catalog = SimpleNamespace(
        limit=lambda name: SimpleNamespace(value=values[name.removeprefix("open_drain_depth_")])
    )
    found = module.open_depth(SimpleNamespace(scene=SimpleNamespace(catalog=catalog)))
    assert (found.low, found.likely, found.high) == told


def test_the_teeth_of_a_weir_pass_nothing():
    weirs = (SimpleNamespace(slot_height=0.02, width=0.3), SimpleNamespace(slot_height=0.03, width=0.1))
    stage = module._weir_stage(SimpleNamespace(crest=0.4, weirs=weirs))
    assert stage.screens
    assert spans(stage) == [(0.4, pytest.approx(0.42), 0.3), (0.4, pytest.approx(0.43), 0.1)]


def test_the_water_of_a_compartment_stands_as_the_scene_sets_it():
    compartments = [SimpleNamespace(name=name, water_z=z) for name, z in (("a", -0.5), ("b", -0.6))]
    sump = SimpleNamespace(part=SimpleNamespace(name="sump"), data=SimpleNamespace(compartments=compartments))
    model = SimpleNamespace(sumps=(sump,))
    assert module.set_levels(model) == {"sump.a": -0.5, "sump.b": -0.6}
