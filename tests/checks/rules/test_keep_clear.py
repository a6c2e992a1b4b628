"""Space kept clear over equipment."""

from types import SimpleNamespace

import pytest
from made_bodies import made_body, made_join, with_bodies
from made_outages import made_model

from layout3d.checks.rules import keep_clear as module
from layout3d.parts.base import KeepClear

RULE = "keep-clear"


@pytest.mark.parametrize(
    ("over", "severity", "measured"),
    [
        (120, None, None),
        (119.8, "fault", 0.0002),
        (60, "fault", 0.03),
    ],
)
def test_either_side_of_each_limit(faulty, over, severity, measured):
    """A pump 65 mm high with 120 mm over it; the depth is at most as wide as the heater, 30 mm."""
    found = faulty(RULE, over=over)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


PUMP = "pump: {PUMP, outlet: OUT, clear: 120, at: {left: 60, front: 200, bottom: 0}, fixed_to: FIX}\n"


def test_the_run_on_the_outlet_is_let_off_and_others_are_not(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    own = "hose: {TUBE, start: pump.outlet, route: [{up: 250}, open]}"
    strange = own.replace("start: pump.outlet", "start: [70, 200, 120]")
    assert check(RULE, pump + own) == ()
    (finding,) = check(RULE, pump + strange)
    assert finding.parts == ("hose.tube_1", "pump")


def test_what_it_is_fixed_to_is_let_off_but_not_the_whole_of_that_part(check):
    """Fixed to the left pane, under a brace of the same tank: the brace is still in the way of a hand."""
    brace = "perimeter_brace: {width: 60, thickness: 10, below_top: 40}"
    tank = f"kind: tank, inside: [600, 400, 200], glass: 10, {brace}"
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    (finding,) = check(RULE, pump, tank=tank)
    assert finding.parts == ("tank.perimeter_brace", "pump")


def test_sand_over_a_buried_pump_is_in_the_way(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    (finding,) = check(RULE, pump + "sand: {SAND, depth: 120, pitch: 100}")
    assert finding.parts == ("sand", "pump")


def test_leaves_give_way(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    fern = "fern: {FERN, at: [60, 200, 100], fixed_to: room}"
    assert check(RULE, pump + fern) == ()


@pytest.mark.parametrize(("part", "count"), [("TUBE", 0), ("PIPE", 1)])
def test_a_hose_that_pours_into_a_basket_is_let_off_and_a_stiff_pipe_is_not(check, part, count):
    sock = "sock: {kind: filter_basket, size: [100, 100, 100], at: [300, 200, 0]}\n"
    over = f"over: {{{part}, start: [300, 200, 350], route: [{{down: 200}}, open]}}"
    assert len(check(RULE, sock + over)) == count


EQUIPMENT = made_body("pump", (0, 0, 0), (100, 100, 100), group="equipment", kind="pump", where="room")
SPACE = KeepClear(
    name="pump.cable",
    part="pump",
    solid=made_body("space", (0, 0, 100), (100, 100, 200)).solid,
    why="its cable",
)


def judged(monkeypatch, *bodies, joins=(), runs=(), **parts):
    """Run the rule over boxes around a pump that needs 100 mm over it."""
    model = with_bodies(made_model(), EQUIPMENT, *bodies, joins=joins, **parts)
    model.keep_clear = (SPACE,)
    model.tank.panels = {}
    monkeypatch.setattr(module, "runs", lambda model: runs)
    return list(module.keep_clear.find(model))


def block(name="block", *, left=90, kind="rock", group="rock"):
    return made_body(name, (left, 0, 120), (left + 200, 100, 180), kind=kind, group=group, where="room")


def test_what_stands_in_the_space_is_told_in_full(monkeypatch):
    (one,) = judged(monkeypatch, block("beside", left=101), block())
    assert (one.severity, one.parts, one.limit) == ("fault", ("block", "pump"), 0.0)
    assert one.measured == pytest.approx(0.010)
    assert one.at == pytest.approx((0.095, 0.05, 0.15))
    assert one.message == "block is 10 mm deep in the space that pump needs for its cable"
    assert one.remedy == "move block at least 10 mm to the right"
    (bed,) = judged(monkeypatch, block("bed", group="substrate"))
    assert bed.remedy == "lay bed lower there, or move pump up"


def test_leaves_and_what_belongs_there_are_let_off(monkeypatch):
    assert judged(monkeypatch, block(kind="foliage", group="plant")) == []
    own = made_body("pump.lid", (0, 0, 100), (100, 100, 150), group="equipment")
    assert judged(monkeypatch, own) == []
    held = made_join("pump", "block", "held")
    assert judged(monkeypatch, block(), joins=(held,)) == []
    assert len(judged(monkeypatch, block(), joins=(made_join("pump", "block", "rests"),))) == 1
    # held by a whole part it may be held anywhere on it
    assert len(judged(monkeypatch, block("stand.leg"), joins=(made_join("pump", "stand", "held"),))) == 1


@pytest.mark.parametrize(
    ("how", "group", "count"), [("socket", "plumbing", 0), ("barb", "plumbing", 0), ("held", "plumbing", 0)]
)
def test_a_run_that_leads_to_it_is_let_off_with_all_its_pieces(monkeypatch, how, group, count):
    first = made_body("hose.tube_1", (40, 40, 100), (60, 60, 110), group=group, kind="tube", where="room")
    second = block("hose.elbow_1", kind="elbow", group=group)
    joins = (made_join("hose.tube_1", "pump", how),)
    found = judged(monkeypatch, first, second, joins=joins)
    assert [one.parts[0] for one in found] == ([] if how != "held" else ["hose.elbow_1"])


def test_what_is_joined_but_no_pipework_leads_nowhere(monkeypatch):
    first = made_body("lid.one", (40, 40, 100), (60, 60, 110), where="room")
    found = judged(monkeypatch, first, block("lid.two"), joins=(made_join("lid.one", "pump", "socket"),))
    assert [one.parts[0] for one in found] == ["lid.one", "lid.two"]


@pytest.mark.parametrize(
    ("at", "way", "flexible", "port", "let_off"),
    [
        ((0.05, 0.05, 0.3), (0.0, 0.0, -1.0), True, "", True),
        ((0.1, 0.0, 0.3), (0.0, 0.0, -1.0), True, "", True),  # at the edge of its plan
        ((0.101, 0.05, 0.3), (0.0, 0.0, -1.0), True, "", False),
        ((0.05, -0.001, 0.3), (0.0, 0.0, -1.0), True, "", False),
        ((0.05, 0.101, 0.3), (0.0, 0.0, -1.0), True, "", False),
        ((0.05, 0.05, 0.3), (0.0, 0.86, -0.51), True, "", True),
        ((0.05, 0.05, 0.3), (0.0, 0.87, -0.5), True, "", False),
        ((0.05, 0.05, 0.3), (0.0, 0.0, -1.0), False, "", False),
        ((0.05, 0.05, 0.3), (0.0, 0.0, -1.0), True, "sump.in", False),
    ],
)
def test_a_hose_that_pours_down_into_it_is_bent_aside(monkeypatch, at, way, flexible, port, let_off):
    hose = block("hose.tube_1", kind="tube", group="plumbing")
    run = SimpleNamespace(end_at=at, end_direction=way, flexible=flexible, end_port=port)
    assert len(judged(monkeypatch, hose, runs=[("hose", run)])) == (0 if let_off else 1)


def test_a_light_is_never_sent_down_to_the_water(check):
    parts = (
        "lamp: {kind: light, size: [600, 200, 40], at: {left: 400, front: 200, bottom: 180}}\n"
        "mist: {kind: mist_maker, at: {left: 400, front: 200, bottom: 150}, fixed_to: tank.front}\n"
    )
    found = check("keep-clear", parts, waterline=200)
    assert ("lamp", "mist") in [finding.parts for finding in found]
    assert not [finding.remedy for finding in found if finding.remedy.endswith(" down")]
