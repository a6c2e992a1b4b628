"""What is told of a solved network, on cases made by hand: bands, costs, speeds, failures; none is solved."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from made_bars import bar, hole
from made_circuits import band

from layout3d.errors import BeyondCurve, NoOperatingPoint, NotSettled, OutOfRange
from layout3d.fittings.losses import Loss
from layout3d.flow import plumbing
from layout3d.flow import running as module
from layout3d.flow.bar import Bar
from layout3d.flow.network import DrilledPipe, Junction, Outlet, Pipe, Pump, Reservoir
from layout3d.flow.pump import Curve
from layout3d.flow.solve import TopInTheWay
from layout3d.flow.steady import Crest

CURVE = Curve(flows=(0.0, 1e-3), heads=(2.0, 0.0), name="pump")
BORE = 0.02
AREA = math.pi / 4 * BORE**2
BAR = Bar(
    positions=(0.1, 0.2),
    diameters=(0.003, 0.004),
    heights=(0.5, 0.6),
    length=0.3,
    bore=BORE,
    coefficient=band(0.6, 0.6, 0.6),
)


def link(flow, loss, *, velocity=None, state="flowing"):
    return SimpleNamespace(flow=flow, loss=loss, velocity=velocity, state=state)


def node(outflow, head):
    return SimpleNamespace(outflow=outflow, head=head)


def bar_flow(flows=(1e-5, 3e-5), heads=(0.1, 0.2), *, inlet=4e-5, far=0.0, total=0.8):
    return SimpleNamespace(
        flows=np.array(flows),
        hole_heads=np.array(heads),
        flow=sum(flows),
        inlet_flow=inlet,
        far_flow=far,
        inlet_velocity=-inlet / AREA,
        static_head=total - 0.05,
        total_head=total,
        variation=flows[1],
        low_quarter_uniformity=0.9,
        margin=heads[0],
    )


def case(scale=1.0, *, head=1.0, **more):
    """A pump of 1.5 m brings 1e-4 m³/s up a pipe: 0.6e-4 out of a mouth, the rest through a bar."""
    flow = 1e-4 * scale
    return SimpleNamespace(
        links={
            "pump": link(flow, -1.5 * scale),
            "pipe": link(flow, 0.5 * scale, velocity=flow / AREA),
            "branch": link(-0.6 * flow, -0.2, velocity=-0.6 * flow / AREA),
            "bar": link(4e-5, 0.1, velocity=4e-5 / AREA),
        },
        nodes={
            "tank": node(-flow, 0.3),
            "a": node(0.0, 0.3 + 1.5 * scale),
            "b": node(0.0, head),
            "mouth": node(0.6 * flow, 0.8),
        },
        bars={"bar": bar_flow()},
        unreached={},
        **more,
    )


def laid(*, speed=1.0, end=None):
    nodes = (
        Reservoir(name="tank", level=0.3),
        Junction(name="a", elevation=0.2),
        Junction(name="b", elevation=0.5),
        Outlet(name="mouth", elevation=0.7, bore=BORE),
    )

    def of(name, part):
        return {"name": name, "body": f"{part}.{name}", "kind": "pipe", "part": part}

    links = (
        Pump(**of("pump", "pump"), start="tank", end="a", curve=CURVE, speed=speed),
        Pipe(
            **of("pipe", "line"), start="a", end="b", length=1.0, bore=BORE, loss=Loss.exact(1.0, "a table")
        ),
        Pipe(**of("branch", "line"), start="mouth", end="b", length=1.0, bore=BORE),
        DrilledPipe(**of("bar", "drip"), start="b", bar=BAR, end=end),
    )
    pumps = tuple(one for one in links if isinstance(one, Pump))
    drilled = tuple(one for one in links if isinstance(one, DrilledPipe))
    outlets = {"mouth": "end of line"}
    return SimpleNamespace(
        nodes=nodes, links=links, pumps=pumps, drilled=drilled, outlets=outlets, refused={}
    )


LIMITS = {"siphon_draw": 0.05, "drip_spurt_speed": 1e9, "drip_weep_heads": 1.5}


def gathering(*cases, still=False, **more):
    catalog = SimpleNamespace(limit=lambda name: SimpleNamespace(value=LIMITS[name]))
    pumps = (SimpleNamespace(part=SimpleNamespace(name="pump", model="small")),)
    model = SimpleNamespace(pumps=pumps, scene=SimpleNamespace(catalog=catalog))
    return module._Gathering(model, laid(**more), cases or (case(),), None, still)


THREE = (case(1.0), case(0.8, head=0.9), case(1.3, head=1.2))


def ends(found):
    return found.low, found.likely, found.high


def near(*figures):
    return pytest.approx(figures, rel=1e-9)


# -- bands --------------------------------------------------------------------------------------------------


def test_bands_reach_over_all_cases_and_to_nothing_where_an_end_stands_still():
    (pump,) = gathering(*THREE).pumps()
    assert ends(pump.flow) == near(0.8e-4, 1e-4, 1.3e-4)
    assert ends(pump.head) == near(1.2, 1.5, 1.95)
    assert (pump.pump, pump.model, pump.water, pump.state) == ("pump", "small", "tank", "flowing")
    assert pump.curve == CURVE
    (pump,) = gathering(*THREE, still=True).pumps()
    assert ends(pump.flow) == near(0.0, 1e-4, 1.3e-4)
    assert ends(pump.head) == near(1.2, 1.5, 1.95)


@pytest.mark.parametrize(("speed", "top"), [(0.5, 0.5), (0.0, 2.0)])
def test_a_pump_has_its_curve_at_its_speed_and_its_rated_one_where_it_is_stopped(speed, top):
    (pump,) = gathering(speed=speed).pumps()
    assert pump.curve.shut_off_head == pytest.approx(top)


def test_stretches_have_the_share_of_the_power_that_is_lost_in_them():
    """1.5 m of 1e-4: the pipe loses 0.5 of the same flow, the branch 0.2 of 0.6e-4, whichever way it runs."""
    pipe, branch, bar = gathering(*THREE).stretches()
    assert (pipe.share, branch.share) == pytest.approx((0.5 / 1.5, 0.2 * 0.6 / 1.5))
    assert ends(branch.flow) == near(-0.6 * 1.3e-4, -0.6e-4, -0.6 * 0.8e-4)
    assert branch.velocity.likely == pytest.approx(0.6e-4 / AREA)
    assert ends(branch.loss) == near(0.2, 0.2, 0.2)
    assert (pipe.source, branch.source, bar.source) == ("a table", "", "")
    assert [one.link.part for one in (pipe, branch, bar)] == ["line", "line", "drip"]
    # what its water brings, 4e-5 at 0.8 m, less what leaves by its holes: 1e-5 at 0.6 and 3e-5 at 0.8
    assert bar.share == pytest.approx((4e-5 * 0.8 - 1e-5 * 0.6 - 3e-5 * 0.8) / 1.5e-4)


def test_a_link_that_is_cut_off_in_any_case_has_no_loss():
    cut = case()
    cut.links["pipe"] = link(0.0, None, state="shut")
    pipe, *_ = gathering(case(), cut).stretches()
    assert pipe.loss is None
    assert gathering(cut).stretches()[0].share == 0.0


def test_drilled_pipe_fed_from_both_ends_is_as_fast_as_its_faster_end():
    """And its far end brings its flow at the head there."""
    both = case()
    both.bars["bar"] = bar_flow(inlet=1e-5, far=3e-5)
    both.links["bar"].velocity = 1e-5 / AREA
    made = gathering(both, end="mouth")
    assert made._speed("bar", both) == pytest.approx(3e-5 / AREA)
    assert made._lost("bar") == pytest.approx(1e-5 * 0.8 + 3e-5 * 0.8 - 1e-5 * 0.6 - 3e-5 * 0.8)
    both.links["bar"].velocity = -9e-5 / AREA
    assert made._speed("bar", both) == pytest.approx(9e-5 / AREA)
    both.bars["bar"] = bar_flow(inlet=5e-5, far=-4e-5)  # run through: it leaves there
    both.links["bar"].velocity = 0.0
    assert made._speed("bar", both) == pytest.approx(4e-5 / AREA)


# -- ways out -----------------------------------------------------------------------------------------------


def test_ways_out_are_mouths_holes_and_water_that_a_pipe_runs_into():
    mouth, bar = gathering(*THREE).outs()
    assert (mouth.kind, mouth.where, mouth.part, mouth.height) == ("mouth", "end of line", "line", 0.7)
    assert ends(mouth.velocity) == near(0.8 * 0.6e-4 / AREA, 0.6e-4 / AREA, 1.3 * 0.6e-4 / AREA)
    assert (bar.kind, bar.where, bar.part, bar.height) == ("bar", "drip bar bar", "drip", 0.5)
    assert bar.flow.likely == pytest.approx(4e-5)
    assert gathering(end="mouth").outs()[1].where == "holes of bar"
    back = case()
    back.nodes["tank"] = node(1e-5, 0.3)
    back.nodes["mouth"] = node(-1e-5, 0.8)
    water, mouth, _ = gathering(back).outs()
    assert (water.kind, water.where, water.height) == ("water", "the water of tank", 0.3)
    assert mouth.velocity.likely == pytest.approx(1e-5 / AREA)
    still = case()
    still.nodes["tank"] = node(0.0, 0.3)
    assert [out.kind for out in gathering(still).outs()] == ["mouth", "bar"]


def test_what_a_top_keeps_the_water_from_is_told_with_it():
    top = Crest(node="t", height=0.9, level=0.8)
    dry = case()
    dry.unreached = {"bar": top, "mouth": top}
    made = gathering(dry)
    assert [out.crest for out in made.outs()] == [top, top]
    (bar,) = made.bars()
    assert bar.crest == top
    assert {hole.state for hole in bar.holes} == {"dry"}
    assert [hole.head for hole in bar.holes] == pytest.approx([-0.1, -0.1])


def test_a_bar_is_told_hole_by_hole(monkeypatch):
    monkeypatch.setattr(module, "hold_head", lambda diameter, *, water: 10.0 * diameter)
    asked = []

    def hole_state(head, flow, *, weeps, spurts):
        asked.append((head, flow, weeps, spurts))
        return "runs"

    monkeypatch.setattr(module, "hole_state", hole_state)
    less = case()
    less.bars["bar"] = bar_flow((0.5e-5, 2e-5), (0.05, 0.1), inlet=2.5e-5, total=0.7)
    (bar,) = gathering(case(), less).bars()
    first, second = bar.holes
    assert (first.number, second.number) == (1, 2)
    assert (second.along, second.diameter, second.height, second.head) == (0.2, 0.004, 0.6, 0.2)
    assert ends(second.flow) == near(2e-5, 3e-5, 3e-5)
    assert [hole.hold for hole in bar.holes] == pytest.approx([0.03, 0.04])
    assert asked == [(0.1, 1e-5, pytest.approx(0.045), 1e9), (0.2, 3e-5, pytest.approx(0.06), 1e9)]
    assert (bar.run, bar.body) == ("drip", "bar")
    assert ends(bar.static_head) == near(0.65, 0.75, 0.75)
    assert ends(bar.total_head) == near(0.7, 0.8, 0.8)
    assert ends(bar.velocity) == near(2.5e-5 / AREA, 4e-5 / AREA, 4e-5 / AREA)
    assert ends(bar.margin) == near(0.05, 0.1, 0.1)
    assert ends(bar.variation) == near(2e-5, 3e-5, 3e-5)
    assert bar.uniformity.likely == 0.9


# -- the grade line and where the power goes ----------------------------------------------------------------


def test_the_grade_line_has_each_node_s_head_and_its_fastest_pipe():
    tank, a, b, mouth = gathering(*THREE).grade()
    assert (tank.elevation, a.elevation, b.elevation) == (None, 0.2, 0.5)
    assert ends(b.head) == near(0.9, 1.0, 1.2)
    assert (tank.velocity, a.velocity) == (0.0, pytest.approx(1e-4 / AREA))  # pumps are no pipe
    assert b.velocity == pytest.approx(1e-4 / AREA)  # of 1, 0.6 and 0.4e-4
    assert mouth.velocity == pytest.approx(0.6e-4 / AREA)
    cut = case()
    cut.nodes["b"] = node(0.0, None)
    assert gathering(case(), cut).grade()[2].head is None


@pytest.mark.parametrize(("head", "count"), [(0.45, 0), (0.449, 1), (0.6, 0)])
def test_where_the_grade_line_lies_below_the_pipe_it_siphons(head, count):
    """The node lies at 500 mm; 50 are let be (limit siphon_draw)."""
    points = list(gathering(case(head=head)).siphons())
    assert [(point.node, point.draw) for point in points] == [("b", pytest.approx(0.051))] * count
    still = case(head=head)
    for one in still.links.values():
        one.velocity = 0.0
    assert list(gathering(still).siphons()) == []


def test_where_the_power_goes_adds_up():
    """1.5e-4 m⁴/s: lost in line and drip; lifted from 0.3 m to the mouth and the holes; the rest is speed."""
    costs = {cost.what: cost for cost in gathering().costs()}
    power = 1.5e-4
    assert costs["line"].share == pytest.approx((0.5e-4 + 0.2 * 0.6e-4) / power)
    lift = -1e-4 * 0.3 + 0.6e-4 * 0.7 + 1e-5 * 0.5 + 3e-5 * 0.6
    assert costs["lifting the water"].share == pytest.approx(lift / power)
    left = 0.6e-4 * 0.1 + 1e-5 * 0.1 + 3e-5 * 0.2
    assert costs["speed of the water that leaves"].share == pytest.approx(left / power)
    shares = [cost.share for cost in gathering().costs()]
    assert shares == sorted(shares, reverse=True)
    assert {cost.kind for cost in costs.values()} == {"part", "lift", "exit"}
    idle = case()
    idle.links["pump"] = link(0.0, -2.0)
    assert gathering(idle).costs() == ()


# -- what fails ---------------------------------------------------------------------------------------------


def test_how_far_the_lowest_way_out_lies_over_the_highest_source():
    """The bar's lower hole at 500 mm, under the mouth; the water at 300."""
    assert module._lift(laid()) == pytest.approx(0.2)
    bare = laid()
    bare.drilled = ()
    assert module._lift(bare) == pytest.approx(0.4)
    second = Pump(name="q", start="sump", end="a", curve=CURVE)
    bare.pumps = (*bare.pumps, second)
    bare.nodes = (*bare.nodes, Reservoir(name="sump", level=-0.5))
    assert module._lift(bare) == pytest.approx(0.4)
    bare.pumps = ()
    assert module._lift(bare) is None


@pytest.mark.parametrize(
    ("error", "kind", "figures"),
    [
        (NoOperatingPoint("too low"), "no flow", False),
        (BeyondCurve("too much"), "beyond the curve", False),
        (NotSettled("no end"), "not figured", False),
        (OutOfRange("no loss"), "not figured", False),
        (TopInTheWay("pump", Crest(node="t", height=0.9, level=0.8)), "no flow", (0.8, 0.9)),
    ],
)
def test_a_failure_is_told_with_its_figures_where_the_pump_is_too_weak(error, kind, figures):
    found = module._failure(laid(), error, "high")
    assert (found.kind, found.setting, found.parts, found.message) == (kind, "high", ("pump",), error.found)
    assert (found.measured, found.limit) == (figures or (None, None))


@pytest.mark.parametrize(("speed", "told"), [(0.3, True), (0.316, True), (0.33, False)])
def test_a_pump_is_weak_that_lifts_no_more_than_the_lowest_way_out(speed, told):
    """Its 2 m go with the square of its speed: 0.18, 0.1997 and 0.22 m, and 0.2 are wanted."""
    found = module._failure(laid(speed=speed), NoOperatingPoint("too low"), "likely")
    assert (found.measured, found.limit) == (
        (pytest.approx(2.0 * speed**2), pytest.approx(0.2)) if told else (None, None)
    )


def test_a_stopped_pump_lifts_nothing_to_be_told():
    found = module._failure(laid(speed=0.0), NoOperatingPoint("too low"), "likely")
    assert (found.measured, found.limit) == (None, None)


@pytest.mark.parametrize(
    ("branches", "solved"),
    [(1, 0), (2, 4), (module.MOST_BRANCHES, 2 * module.MOST_BRANCHES), (module.MOST_BRANCHES + 1, 0)],
)
def test_each_branch_is_solved_against_the_others_at_both_ends(monkeypatch, branches, solved):
    """Its own links and those that no way out hangs on at one end, the others at the other.

    Where a case finds no flow it is left out.
    """
    names = [f"way_{number:02}" for number in range(branches)]
    owners = {f"link_{name}": frozenset({name}) for name in names}
    owners |= {"header": frozenset(names), "stub": frozenset()}
    asked = []

    def solve(network, *, setting, water):
        asked.append({name: setting(name) for name in (*owners, "unknown")})
        if len(asked) == 2:
            raise NoOperatingPoint("too low")
        return len(asked)

    monkeypatch.setattr(module, "solve", solve)
    likely = SimpleNamespace(owners=owners)
    found = list(module._crosswise(SimpleNamespace(network=None), likely, None))
    assert len(asked) == solved
    assert len(found) == max(0, solved - 1)
    for number, settings in enumerate(asked):
        own, other = (("low", "high"), ("high", "low"))[number % 2]
        branch = names[number // 2]
        assert settings["header"] == settings["stub"] == settings["unknown"] == own
        assert settings[f"link_{branch}"] == own
        assert {settings[f"link_{name}"] for name in names if name != branch} == {other}


@pytest.mark.parametrize(
    ("water", "level"), [(None, 0.3), (("tank", 0.25), 0.3), (("tank", 0.35), 0.35), (("tank", 0.3), 0.3)]
)
def test_a_hole_and_a_mouth_work_against_their_height_or_the_water_over_it(monkeypatch, water, level):
    monkeypatch.setattr(plumbing, "water_at_point", lambda model, point: water)
    assert plumbing._level_at(None, (0.1, 0.2, 0.3)) == level
    end = SimpleNamespace(node="m", at=(0.1, 0.2, 0.3), bore=0.02, exit_loss=Loss.exact(1.0), entry_loss=None)
    found = plumbing._outlet(None, end)
    assert (found.name, found.elevation, found.back_head) == ("m.out", 0.3, level)
    assert found.level == (0.35 if level > 0.3 else None)


def test_all_cases_that_are_solved_count_the_likely_one_first(monkeypatch):
    """At likely, low and high losses, and with little recovery; where an end stands still, bands reach to "
    "0."""
    made = {"low": case(1.3), "likely": case(1.0), "high": case(0.8), "recovery": case(0.7)}

    def solve(network, *, setting="recovery", recovery=None, water):
        if isinstance(made[setting], Exception):
            raise made[setting]
        return made[setting]

    monkeypatch.setattr(module, "solve", solve)
    monkeypatch.setattr(module, "_crosswise", lambda *given: [case(1.5)])
    model = gathering().model
    given = laid()
    given.network = None
    (pump,) = module._system(model, given, None).pumps
    assert ends(pump.flow) == near(0.7e-4, 1e-4, 1.5e-4)
    made["high"] = NoOperatingPoint("too low")
    system = module._system(model, given, None)
    assert ends(system.pumps[0].flow) == near(0.0, 1e-4, 1.5e-4)
    assert [(one.setting, one.kind) for one in system.failures] == [("high", "no flow")]
    made["recovery"] = BeyondCurve("too much")
    told = module._system(model, given, None).failures
    assert [(one.setting, one.kind) for one in told] == [("high", "no flow"), ("low", "beyond the curve")]
    made["likely"] = NoOperatingPoint("too low")
    (failure,) = module._system(model, given, None).failures
    assert failure.setting == "likely"


def test_drip_holes_that_run_are_counted_by_pipe(monkeypatch):
    """None of a system without drip bars, nor of one that finds no flow or that no figure is had for."""
    bars = {"bar": SimpleNamespace(flows=np.array([0.0, 1e-6, 2e-6]))}

    def system(*names, refused=False, raises=False):
        pipes = [SimpleNamespace(name=name) for name in names]
        return SimpleNamespace(drilled=pipes, refused=refused, network=raises)

    def solve(network, *, water):
        if network:
            raise NoOperatingPoint("too low")
        return SimpleNamespace(bars=bars)

    systems = [system("bar"), system("dry", raises=True), system("other", refused=True), system(raises=True)]
    asked = []

    def at_levels(levels):
        asked.append(levels)
        return SimpleNamespace(systems=lambda: systems)

    monkeypatch.setattr(module, "solve", solve)
    monkeypatch.setattr(module, "water_of", lambda model: None)
    monkeypatch.setattr(module, "plumbing", lambda model: SimpleNamespace(at_levels=at_levels))
    assert module.dripping(None, {"sump.return": -0.6}) == {"bar": 2, "dry": 0, "other": 0}
    assert asked == [{"sump.return": -0.6}]


def test_holes_on_the_brink_are_those_that_run_under_too_little_head():
    """A drop breaks off at 14.7 mm: one runs at 20 mm, one at 10 mm, and one is dry."""
    runs, brink, dry = hole(1, head=0.020), hole(2, head=0.010), hole(3, head=0.010, flow=(0.0, 0.0, 0.0))
    assert bar(runs, brink, dry).on_the_brink == 1
