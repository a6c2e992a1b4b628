"""Tops of pipes that water has to get over before it runs, on heads made by hand."""

import math
from types import SimpleNamespace

import pytest

from layout3d.errors import BeyondCurve, NoOperatingPoint
from layout3d.flow import solve as module
from layout3d.flow.network import Junction, Network, Pipe, Pump, Reservoir
from layout3d.flow.pump import Curve
from layout3d.flow.steady import Steady

CURVE = Curve(flows=(0.0, 1e-3), heads=(2.0, 0.0), name="pump")


def network(*, speed=1.0, levels=(0.3, -0.5)):
    """A pump in the lower of two waters, a top at 0.9 m and one at 0.6 m behind it."""
    waters = tuple(Reservoir(name=f"water_{n}", level=level) for n, level in enumerate(levels))
    tops = (Junction(name="top", elevation=0.9), Junction(name="hump", elevation=0.6))
    links = (
        Pump(name="pump", start="water_1", end="top", curve=CURVE, speed=speed),
        Pipe(name="up", start="top", end="hump", length=1.0, bore=0.02),
        Pipe(name="down", start="hump", end="water_0", length=1.0, bore=0.02),
    )
    return Network(nodes=(*waters, *tops), links=links)


@pytest.mark.parametrize(("speed", "reach"), [(1.0, 1.5), (0.5, 0.3), (0.0, 0.3), (0.7, -0.5 + 2 * 0.49)])
def test_the_highest_head_is_that_of_a_running_pump_or_of_open_water(speed, reach):
    """From -0.5 m by its shut-off head of 2 m, as the square of its speed; the upper water stands at 0.3."""
    assert module.highest_head(network(speed=speed)) == pytest.approx(reach)


def test_without_water_nothing_is_lifted():
    empty = SimpleNamespace(nodes=(), links=())
    assert module.highest_head(empty) == -math.inf
    dry = Pump(name="pump", start="a", end="b", curve=CURVE)
    assert module.highest_head(SimpleNamespace(nodes=(Reservoir(name="w", level=0.1),), links=(dry,))) == 0.1


def test_of_several_tops_the_one_that_lacks_most_is_told():
    """By 0.1 m and 0.2 m; at one without a head of its own the pump's whole lift stands."""
    crest = module._crest({"a": 0.9, "b": 0.6}, {"a": 0.8, "b": 0.4}, 1.5)
    assert (crest.node, crest.height, crest.level) == ("b", 0.6, 0.4)
    crest = module._crest({"a": 0.9, "b": 0.6}, {"a": 0.5, "b": 0.4}, 1.5)
    assert (crest.node, crest.height, crest.level) == ("a", 0.9, 0.5)
    # water that stands at the tank's very floor, 0, stands there
    crest = module._crest({"a": 0.1, "b": 0.6}, {"a": 0.0, "b": 0.55}, 1.5)
    assert (crest.node, crest.level) == ("a", 0.0)
    crest = module._crest({"a": 2.0, "b": 0.6}, {"a": None, "b": 0.4}, 1.5)
    assert (crest.node, crest.level) == ("a", 1.5)


def steady(heads, owners):
    nodes = {name: SimpleNamespace(head=head) for name, head in heads.items()}
    return Steady(links={}, nodes=nodes, bars={}, owners=owners)


OWNERS = {"pump": frozenset({"water_0"}), "up": frozenset({"water_0"}), "down": frozenset({"water_0"})}


@pytest.mark.parametrize(
    ("top", "hump", "count"),
    [
        (1.0, 0.7, 0),
        (0.9, 0.6, 0),
        (0.9 - 0.9 * module.SIPHON, 0.7, 0),
        (0.9 - 1.1 * module.SIPHON, 0.7, 1),
        (None, None, 0),
    ],
)
def test_a_way_has_tops_where_its_grade_line_lies_below_one(top, hump, count):
    """Then all its nodes with a height count, those over which it is lower and those behind."""
    found = module._tops(network(), steady({"top": top, "hump": hump}, OWNERS))
    assert found == ({"water_0": {"top": 0.9, "hump": 0.6}} if count else {})


def test_a_way_that_passes_no_such_top_has_none():
    owners = {"pump": frozenset({"a"}), "up": frozenset({"a"}), "down": frozenset({"b"})}
    found = module._tops(network(), steady({"top": 0.5, "hump": 0.7}, owners))
    assert found == {"a": {"top": 0.9, "hump": 0.6}}


@pytest.fixture
def started(monkeypatch):
    """Start ways over their tops, with the heads that stand where some of them are still shut."""

    def run(tops, heads):
        asked = []

        def solved(shut):
            asked.append(sorted(shut))
            found = heads[frozenset(shut)] if shut else {}
            if isinstance(found, Exception):
                raise found
            return steady(found, {})

        monkeypatch.setattr(module, "Case", lambda *given: SimpleNamespace(solved=solved))
        monkeypatch.setattr(module, "_tops", lambda network, found: tops)
        return asked, lambda: module.solve(network(), water=None)

    return run


def test_ways_start_lowest_first_and_each_changes_what_the_next_finds(started):
    """The lower one starts at the pump's whole lift, then the other's head is 0.95 m: over its top of 0.9."""
    tops = {"high": {"top": 0.9}, "low": {"hump": 0.6}}
    asked, solve = started(
        tops,
        {
            frozenset({"high", "low"}): NoOperatingPoint("nothing runs"),
            frozenset({"high"}): {"top": 0.9},
        },
    )
    found = solve()
    assert asked == [[], ["high", "low"], ["high"]]
    assert not found.unreached


def test_a_way_whose_top_stays_out_of_reach_is_told(started):
    tops = {"high": {"top": 0.9}, "low": {"hump": 0.6}}
    asked, solve = started(
        tops,
        {
            frozenset({"high", "low"}): NoOperatingPoint("nothing runs"),
            frozenset({"high"}): {"top": 0.8999},
        },
    )
    found = solve()
    assert asked[-1] == ["high"]
    assert {way: (crest.node, crest.level) for way, crest in found.unreached.items()} == {
        "high": ("top", 0.8999)
    }


def test_water_that_stands_at_the_tank_s_floor_gets_over_no_top(started):
    """At a height of exactly 0, which was taken for no figure, and so for the pump's whole lift."""
    _, solve = started(
        {"high": {"top": 0.9}, "low": {"hump": 0.6}},
        {frozenset({"high", "low"}): {"top": 0.0, "hump": 0.7}, frozenset({"high"}): {"top": 0.0}},
    )
    found = solve()
    assert {way: crest.level for way, crest in found.unreached.items()} == {"high": 0.0}


def test_where_no_way_starts_the_one_that_lacks_least_is_told(started):
    """The pump lifts to 1.5 m; tops at 1.9 and 1.7 m."""
    _, solve = started(
        {"a": {"top": 1.9}, "b": {"hump": 1.7}}, {frozenset({"a", "b"}): NoOperatingPoint("nothing runs")}
    )
    with pytest.raises(module.TopInTheWay) as told:
        solve()
    assert (told.value.crest.height, told.value.crest.level) == (1.7, 1.5)
    assert told.value.found.startswith("pump pump lifts water to 1.5 m over the tank's floor and its pipe ")


def test_a_pump_beyond_its_curve_while_they_start_is_refused(started):
    _, solve = started({"a": {"top": 1.9}}, {frozenset({"a"}): BeyondCurve("too much")})
    with pytest.raises(BeyondCurve):
        solve()
