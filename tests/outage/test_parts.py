"""One part that fails, by hand on a circuit of boxes (``made_circuits``)."""

from types import SimpleNamespace

import pytest
from made_circuits import band, drain, held, pump, return_way, running, siphon

from layout3d.outage import parts as module
from layout3d.outage.circuit import Circuit, Sock
from layout3d.outage.events import power_cut
from layout3d.outage.failures import Body
from layout3d.outage.running import Running
from layout3d.water.level_table import LevelTable

LEVELS = (0.300, 0.302, 0.306)

# -- socks --------------------------------------------------------------------------------------------------


def sock(rim, *, compartment="sump.inlet", floor=-0.6):
    return Sock(
        name="sock",
        compartment=compartment,
        low=(0.0, 0.0, floor - 0.005),
        high=(0.1, 0.1, rim),
        wall=0.005,
        area=0.02,
    )


@pytest.mark.parametrize(
    ("made", "taken"),
    [
        # from the water around it, at -498, -496 and -492 mm, up to its rim
        (sock(-0.4), (0.02 * 0.098, 0.02 * 0.096, 0.02 * 0.092)),
        # from its own floor where that is higher
        (sock(-0.4, floor=-0.48), (0.0016, 0.0016, 0.0016)),
        (sock(-0.495), (0.02 * 0.003, 0.02 * 0.001, 0.0)),
        (sock(-0.4, compartment="elsewhere"), (0.0, 0.0, 0.0)),
    ],
)
def test_a_clogged_sock_by_hand(made, taken):
    (event,) = module.clogged_socks(running(socks=(made,)))
    assert (event.kind, event.subject) == ("sock clogged", "sock")
    assert event.moves == pytest.approx(taken, abs=1e-12)
    assert event.chamber_levels == pytest.approx([-0.55 - one / 0.2 for one in taken])
    assert event.tank_levels == pytest.approx(LEVELS)
    assert event.after == event.before
    assert event.notes == ()


def test_a_sock_takes_no_more_than_the_chamber_holds():
    """30 L of it; a basket of 2 m² would take 196 L."""
    huge = Sock(
        name="sock", compartment="sump.inlet", low=(0, 0, -0.6), high=(0, 0, -0.4), wall=0.0, area=2.0
    )
    (event,) = module.clogged_socks(running(socks=(huge,)))
    assert event.moves == pytest.approx((0.03, 0.03, 0.03))
    assert event.chamber_levels == pytest.approx((-0.7, -0.7, -0.7))


@pytest.mark.parametrize(("rim", "notes"), [(-0.3, 0), (-0.299, 1)])
def test_a_sock_over_the_sump_s_rim_is_noted(rim, notes):
    (event,) = module.clogged_socks(running(socks=(sock(rim),)))
    assert len(event.notes) == notes


# -- stopped pumps ------------------------------------------------------------------------------------------


def scene(*pumps, holes=(), boxes=()):
    made = tuple(
        SimpleNamespace(part=SimpleNamespace(name=name, air=name.startswith("air"))) for name in pumps
    )
    return SimpleNamespace(
        pumps=made,
        tank_name="tank",
        tank=SimpleNamespace(holes={one.name: one for one in holes}),
        overflow_boxes=boxes,
        scene=SimpleNamespace(style="metric"),
    )


@pytest.mark.parametrize(("within", "told"), [(True, "levels stay"), (False, "not figured")])
def test_the_only_return_pump_stopped_is_a_power_cut_and_one_elsewhere_moves_nothing(
    monkeypatch, within, told
):
    monkeypatch.setattr(module, "_within_one_vessel", lambda model, name: within)
    made = running(model=scene("air", "wave", "pump"))
    cut = power_cut(made)
    still, stopped = module.stopped_pumps(made, cut)
    assert (still.kind, still.subject) == ("pump stopped", "wave")
    assert told in still.notes[0]
    assert still.tank_levels == pytest.approx(LEVELS)
    assert still.chamber_levels == (-0.55, -0.55, -0.55)
    assert (still.moves, still.after) == ((0.0, 0.0, 0.0), still.before)
    assert (stopped.kind, stopped.subject) == ("pump stopped", "pump")
    assert (stopped.moves, stopped.after) == (cut.moves, cut.after)


@pytest.fixture
def one_of_two(monkeypatch):
    """Stop pump a of two; the other brings a flow, and the tank stands over its drain at a level."""

    def stopped(*, flow, back=0.0, level=None, siphons=(), later=(0.0, 0.0, 0.0), together=False):
        a, b = pump("a"), pump("b")
        ways = (
            (return_way(a, b, siphons=siphons),)
            if together
            else (return_way(b, contents=0.005), return_way(a, siphons=siphons))
        )
        monkeypatch.setattr(Circuit, "flow_without", lambda self, model, name: (flow, back))
        monkeypatch.setattr(Running, "level_over", lambda self, drains, flow: level)
        monkeypatch.setattr(Running, "in_drains", lambda self, drains, *, flow, level: later)
        inlet = SimpleNamespace(level=band(-0.500, -0.499, -0.498))
        monkeypatch.setattr(module, "running_levels", lambda model, sump, flow: (inlet, None))
        made = running(returns=ways, model=scene("a", "b"))
        return next(one for one in module.stopped_pumps(made, power_cut(made)) if one.subject == "a")

    return stopped


def test_one_of_two_pumps_stopped_by_hand(one_of_two):
    """The tank falls to the level of the other's flow, its own pipe runs empty, and the drain's water with "
    "it."""
    event = one_of_two(
        flow=band(1e-4, 1e-4, 1e-4), level=band(0.295, 0.296, 0.310), later=(0.00005, 0.00005, 0.001)
    )
    assert event.tank_levels == pytest.approx((0.295, 0.296, 0.306))  # it never rises
    comes = (0.001 + 0.00005, 0.001 + 0.00015, 0.001)
    moved = [0.5 * fall + own for fall, own in zip((0.005, 0.006, 0.0), comes, strict=True)]
    assert event.moves == pytest.approx(moved)
    assert event.after.pipes == pytest.approx(
        [0.006 + own - c for own, c in zip((1e-4, 2e-4, 4e-4), comes, strict=True)]
    )
    for n, inlet in enumerate((-0.500, -0.499, -0.498)):
        assert held([inlet, event.chamber_levels[n]]) == pytest.approx(event.after.sump[n])
    assert event.notes == ()


def test_a_pump_on_a_shared_pipe_leaves_it_full(one_of_two):
    event = one_of_two(flow=band(1e-4, 1e-4, 1e-4), level=band(0.3, 0.3, 0.3), together=True)
    assert event.moves == pytest.approx((0.0001, 0.001 + 0.0002, 0.003 + 0.0004))


def test_what_is_not_known_of_the_others_is_taken_as_nothing(one_of_two):
    event = one_of_two(flow=None, back=1e-4, level=None)
    assert event.tank_levels == pytest.approx(LEVELS)
    assert event.notes == (
        "what the others bring could not be figured: taken as nothing",
        "no check valve stops 360 L/h from running back through a into the sump",
    )


@pytest.mark.parametrize(
    ("broken_at", "valve", "count"), [(0.3059, "", 1), (0.306, "", 0), (0.2, "valve", 0)]
)
def test_a_mouth_under_water_lets_the_others_water_back(one_of_two, broken_at, valve, count):
    found = one_of_two(
        flow=band(1e-4, 1e-4, 1e-4),
        level=band(0.3, 0.3, 0.3),
        siphons=(siphon(broken_at=broken_at, check_valve=valve),),
    )
    assert len(found.notes) == count


# -- what lets go -------------------------------------------------------------------------------------------


def hole(name="hole", z=0.2, *, panel="back"):
    return SimpleNamespace(name=name, panel=panel, at=(0.1, 0.4, z), diameter=0.04)


def ways(*edges, mouths=()):
    """Pipework of edges by body and part; each mouth is reached from a hole by one edge of its own."""
    made = tuple(SimpleNamespace(name=f"{body} edge", body=body, part="run", points=()) for body in edges)
    return SimpleNamespace(
        edges=made,
        mouths=mouths,
        way=lambda start, end: SimpleNamespace(edges=[SimpleNamespace(body="run.pipe_1")]),
    )


def mouth(lower_edge, *, vessel="tank"):
    return SimpleNamespace(node="m", lower_edge=lower_edge, vessel=vessel)


def lets_go(monkeypatch, *, part=None, hole_at=None, **more):
    one = hole_at or hole()
    made = running(model=scene("pump", holes=(one,), boxes=more.pop("scene_boxes", ())), **more)
    monkeypatch.setattr(module, "pipework", lambda model: SimpleNamespace(parts=(part,) if part else ()))
    monkeypatch.setattr(Running, "in_drains", lambda self, drains, *, flow, level: (1e-4, 2e-4, 4e-4))
    return made, module.failing_holes(made)


def test_a_dry_fitting_empties_the_tank_to_the_hole_s_lower_edge(monkeypatch):
    """From 300 mm to 200 less 20: 0.5 m² of it, and what the pumps lift to it out of the sump until dry."""
    made, (event,) = lets_go(monkeypatch)
    down = [0.5 * (level - 0.18) for level in LEVELS]
    sump = [whole - 0.03 for whole in made.before.sump]
    assert event.after.floor == pytest.approx([a + b for a, b in zip(down, sump, strict=True)])
    assert event.moves == pytest.approx(sump)
    assert event.tank_levels == pytest.approx((0.18, 0.18, 0.18))
    assert event.chamber_levels == (-0.65, -0.65, -0.65)
    assert (event.kind, event.subject, event.rules[1]) == ("lets go", "hole", "the hole's lower edge")
    assert event.notes == ()


def test_a_hole_over_the_water_that_no_pump_feeds_lets_nothing_out(monkeypatch):
    _, (event,) = lets_go(monkeypatch, hole_at=hole(z=0.4))
    assert event.after.floor == pytest.approx((0.0, 0.0, 0.0))
    assert event.chamber_levels == (-0.55, -0.55, -0.55)


def test_through_the_bottom_all_of_it_runs_out(monkeypatch):
    _, (event,) = lets_go(monkeypatch, hole_at=hole(z=0.4, panel="bottom"))
    assert event.tank_levels == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("mouths", "level"),
    [
        ((mouth(0.05), mouth(0.1)), 0.05),
        ((mouth(-0.01),), 0.0),  # no lower than the floor
        ((mouth(0.05, vessel="sump.inlet"),), 0.18),
        ((mouth(0.25),), 0.18),
    ],
)
def test_a_mouth_inside_siphons_the_tank_further_down(monkeypatch, mouths, level):
    part = ways("tank.hole", mouths=mouths)
    _, (event,) = lets_go(monkeypatch, part=part, drains=())
    assert event.tank_levels == pytest.approx((level, level, level))
    words = "a mouth inside, by siphon" if level < 0.18 else "the hole's lower edge"
    assert event.rules == (words, words, words)
    part.way = lambda start, end: None
    assert lets_go(monkeypatch, part=part, drains=())[1][0].tank_levels[1] == pytest.approx(0.18)
    out = SimpleNamespace(edges=[SimpleNamespace(body="tank.hole")])
    part.way = lambda start, end: out  # through the hole itself: that lies outside
    assert lets_go(monkeypatch, part=part, drains=())[1][0].tank_levels[1] == pytest.approx(0.18)


def test_a_pumped_hole_throws_out_the_chamber_and_its_pipe(monkeypatch):
    part = ways("tank.hole")
    other = ways("tank.other")
    returns = (return_way(pipework=other, contents=0.5), return_way(pipework=part, holes=("hole",)))
    made, (event,) = lets_go(monkeypatch, part=part, hole_at=hole(z=0.4), returns=returns)
    sump = [whole - 0.03 for whole in made.before.sump]
    assert event.after.floor == pytest.approx([whole + 0.001 for whole in sump])
    assert event.after.pipes == pytest.approx((0.5001, 0.5002, 0.5004))
    assert event.chamber_levels == (-0.65, -0.65, -0.65)
    assert event.notes == ("the pumps go on until the return chamber is dry",)


def test_what_runs_in_a_drain_is_spilled_with_it(monkeypatch):
    """Of the drain whose way begins in the pipework that lets go."""
    part = ways("tank.hole")
    own = drain(edges=part.edges)
    made = running(own, model=scene("pump", holes=(hole(z=0.4),)))
    asked = []
    monkeypatch.setattr(module, "pipework", lambda model: SimpleNamespace(parts=(ways("x"), part)))

    def in_drains(self, drains, *, flow, level):
        asked.append((list(drains), flow, level))
        return (1e-4, 2e-4, 4e-4)

    monkeypatch.setattr(Running, "in_drains", in_drains)
    (event,) = module.failing_holes(made)
    assert event.after.floor == pytest.approx((1e-4, 2e-4, 4e-4))
    assert event.after.pipes == pytest.approx((0.001, 0.001, 0.001))
    assert asked[0] == ([own], made.circuit.flow, made.circuit.level)


def test_a_hole_in_an_overflow_box_empties_the_box_and_the_tank_to_its_weir(monkeypatch):
    """20 L/m of box from 250 mm down to the hole at 180; the weir at 290 mm."""
    table = LevelTable(levels=(0.1, 0.35), volumes=(0.0, 0.005), name="box")
    boxes = tuple(Body(name=name, table=table, level=0.25, rim=0.35) for name in ("other", "box"))
    built = SimpleNamespace(
        part=SimpleNamespace(name="box"), data=SimpleNamespace(holes=("hole",), crest=0.29)
    )
    aside = SimpleNamespace(part=SimpleNamespace(name="other"), data=SimpleNamespace(holes=(), crest=0.1))
    made, (event,) = lets_go(monkeypatch, boxes=boxes, scene_boxes=(aside, built))
    assert event.tank_levels == pytest.approx((0.29, 0.29, 0.29))
    assert event.rules == ("the weir of box",) * 3
    sump = [whole - 0.03 for whole in made.before.sump]
    down = [0.5 * (level - 0.29) + 0.02 * 0.07 for level in LEVELS]
    assert event.after.floor == pytest.approx([a + b for a, b in zip(down, sump, strict=True)])
    assert event.after.tank == pytest.approx([0.5 * 0.29 + 2 * 0.003 - 0.0014] * 3)
    # a hole under the weir's crest but over the box's water takes none of that
    _, (high,) = lets_go(monkeypatch, boxes=boxes, scene_boxes=(built,), hole_at=hole(z=0.29))
    assert high.after.tank == pytest.approx([0.5 * 0.29 + 2 * 0.003] * 3)
    # and one that a mouth siphons below the box's floor leaves the box empty
    part = ways("tank.hole", mouths=(mouth(0.05),))
    _, (low,) = lets_go(monkeypatch, boxes=boxes, scene_boxes=(built,), part=part, drains=())
    assert low.after.tank == pytest.approx([0.5 * 0.29 + 0.003] * 3)


def test_a_return_over_the_rim_lets_go_where_it_hangs_over_the_room(monkeypatch):
    inside, over = (0.1, 0.1, 0.2), (0.1, 0.9, 0.2)
    monkeypatch.setattr(module, "vessel_at", lambda model, point: "" if point == over else "tank")

    def spilled(*points, mouths=(), holes=()):
        part = SimpleNamespace(
            edges=(SimpleNamespace(name="e", body="hose.tube_1", part="hose", points=points),), mouths=mouths
        )
        way = return_way(pipework=part, holes=holes)
        return lets_go(monkeypatch, hole_at=hole(z=0.4), returns=(way,))[1]

    assert len(spilled(inside)) == len(spilled(over, holes=("other",))) == 1
    first, second = spilled(inside, over)  # what spills most comes first
    assert (first.subject, second.subject) == ("hose", "hole")
    assert first.tank_levels == pytest.approx(LEVELS)
    assert first.rules[1] == ""
    assert first.after.pipes == pytest.approx((1e-4, 2e-4, 4e-4))
    mouths = (mouth(0.25), mouth(0.22), mouth(0.306), mouth(0.1, vessel="sump.inlet"))
    siphoned = spilled(over, mouths=mouths)[0]
    assert siphoned.tank_levels == pytest.approx((0.22, 0.22, 0.22))
    assert siphoned.rules[1] == "a mouth inside, by siphon"
    assert spilled(over, mouths=(mouth(-0.1),))[0].tank_levels == (0.0, 0.0, 0.0)
    assert spilled(over, mouths=(mouth(0.306),))[0].rules[1] == ""


@pytest.mark.parametrize(
    ("heights", "level"), [([-0.5], -0.6), ([-0.5], -0.45), ([-0.5], -0.3), ([-0.5], -0.7)]
)
def test_the_chamber_s_level_that_holds_so_much(heights, level):
    circuit = running().circuit
    water = held([max(heights[0], level), level])
    assert module._chamber_for(circuit, heights, water) == pytest.approx(level, abs=1e-9)
    assert module._chamber_for(circuit, heights, 1.0) == -0.3
    assert module._chamber_for(circuit, heights, 0.0) == -0.7
