"""The graph by itself, on edges laid by hand: ways, crests, what hangs together, what stays dry."""

import math

import pytest

from layout3d.fittings.losses import NO_LOSS, fitting_loss
from layout3d.parts.run_data import DripHole
from layout3d.pipework.graph import Edge, Mouth, Pipework, PumpPort, Step, Way, level_share

BORE = 0.02


def edge(start, end, *points, **more):
    given = {"kind": "pipe", "bore": BORE, "points": points or ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))}
    name = f"{start}{end}"
    return Edge(name=name, body=f"run.{name}", part="run", start=start, end=end, **(given | more))


def mouth(node, *, kind="open", at=(0.0, 0.0, 0.3), direction=(1.0, 0.0, 0.0), bore=BORE, vessel="", **more):
    given = {"name": node, "part": "run", "body": "run.pipe", "at": at, "direction": direction}
    return Mouth(node=node, kind=kind, bore=bore, vessel=vessel, **(given | more))


def graph(*edges, mouths=(), pumps=(), **more):
    return Pipework(edges=edges, mouths=tuple(mouths), pumps=tuple(pumps), **more)


def pump(node, **more):
    return PumpPort(name=f"pump_{node}", node=node, inlet=(0.0, 0.0, 0.0), **more)


def hole(x, y, z, diameter):
    return DripHole(at=(x, y, z), direction=(0.0, -1.0, 0.0), diameter=diameter, wall=0.001, along=0.0)


@pytest.mark.parametrize(
    ("direction", "share"),
    [
        ((0.0, 0.0, -2.0), 0.0),
        ((0.0, 3.0, 0.0), 1.0),
        ((3.0, 4.0, 0.0), 1.0),
        ((3.0, 0.0, 4.0), 0.6),  # a slope of 3, 4, 5
        ((0.0, 3.0, -4.0), 0.6),
        ((0.0, 0.0, 0.0), 0.0),
    ],
)
def test_level_share_of_a_direction(direction, share):
    assert level_share(direction) == pytest.approx(share)


def test_the_lower_edge_of_a_mouth_is_half_its_bore_below_as_far_as_it_looks_sideways():
    assert mouth("a").lower_edge == pytest.approx(0.3 - 0.01)
    assert mouth("a", direction=(0.0, 0.0, -1.0)).lower_edge == pytest.approx(0.3)
    assert mouth("a", direction=(0.6, 0.0, 0.8)).lower_edge == pytest.approx(0.3 - 0.6 * 0.01)


def test_the_lower_edge_of_drip_holes_is_that_of_the_hole_that_reaches_lowest():
    """The middle of the wide hole lies higher, 0.301, its lower edge lower: 0.301 - 0.005."""
    holes = (hole(0.1, 0.2, 0.300, 0.004), hole(0.5, 0.05, 0.301, 0.010), hole(0.9, 0.3, 0.302, 0.004))
    assert mouth("a", kind="holes", holes=holes).lower_edge == pytest.approx(0.296)


@pytest.mark.parametrize(
    ("kind", "node", "words", "branch"),
    [
        ("open", "run.start", "the start of run", False),
        ("open", "run.end", "the end of run", False),
        ("nozzle", "run.end", "the end of run", False),
        ("strainer", "run.end", "the end of run", False),
        ("open", "run.side", "the branch run.side", True),
        ("holes", "run.side", "a drip hole of run.pipe", False),
        ("bulkhead", "tank.out.inside", "the bulkhead at tank.out.inside", False),
        ("outlet", "run.outlet", "the outlet of run", False),
        ("air_stone", "run.end", "the air stone of run", False),
    ],
)
def test_a_mouth_says_what_it_is(kind, node, words, branch):
    one = mouth(node, kind=kind)
    assert (one.words, one.branch) == (words, branch)


def test_an_edge_is_as_long_as_its_legs_and_holds_what_fits_its_bore():
    bent = edge("a", "b", (0.0, 0.0, 0.0), (0.3, 0.0, 0.0), (0.3, 0.4, 0.0))
    assert bent.centre_line == pytest.approx(0.7)
    assert bent.volume == pytest.approx(math.pi * 0.01**2 * 0.7)
    assert not bent.closed
    assert not edge("a", "b", opening=0.01).closed
    assert edge("a", "b", opening=0.0).closed


def test_a_step_back_turns_everything_round():
    loss, back = fitting_loss("elbow_90", BORE), fitting_loss("tee_run", BORE)
    one = edge("a", "b", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 1.0, 0.0), loss=loss, loss_back=back)
    on, backward = Step(one, True), Step(one, False)
    assert (on.start, on.end, on.loss) == ("a", "b", loss)
    assert (backward.start, backward.end, backward.loss) == ("b", "a", back)
    assert on.points == one.points
    assert backward.points == ((1.0, 1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 0.0))


def test_a_way_there_and_back_is_the_same_turned_round():
    """A ring back to its first point: each point once where two edges meet, the first twice."""
    ring = graph(
        edge("a", "b", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), bore=0.03),
        edge("c", "b", (1.0, 1.0, 0.5), (1.0, 0.0, 0.0), bore=0.01),
        edge("c", "d", (1.0, 1.0, 0.5), (0.0, 0.0, 0.0)),
    )
    way, back = ring.way("a", "d"), ring.way("d", "a")
    assert way.nodes == ("a", "b", "c", "d")
    assert back.nodes == way.nodes[::-1]
    assert way.points == ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 1.0, 0.5), (0.0, 0.0, 0.0))
    assert back.points == way.points[::-1]
    assert way.bore == back.bore == 0.01
    assert way.top == back.top == 0.5
    assert way.length == pytest.approx(1.0 + math.hypot(1.0, 0.5) + math.sqrt(2.25))
    assert way.crest() == (pytest.approx(back.crest()[0]), back.crest()[1])


def test_a_way_from_a_node_to_itself_is_empty_and_none_where_nothing_leads():
    one = graph(edge("a", "b"), edge("c", "d"))
    assert one.way("a", "a") == Way(steps=())
    assert one.way("a", "a").nodes == ()
    assert one.way("a", "d") is None


def test_of_two_ways_that_with_fewer_edges_is_taken():
    ring = graph(edge("a", "b"), edge("b", "c"), edge("c", "z"), edge("z", "x"), edge("x", "a"))
    assert ring.way("a", "z").nodes == ("a", "x", "z")
    assert ring.way("z", "a").nodes == ("z", "x", "a")


def test_a_way_past_a_check_valve_is_taken_whatever_its_length():
    """With the valve's own way the short one is open, against it the long one; without that it is barred."""
    valve, past = edge("a", "b", one_way=True), (edge("a", "c"), edge("c", "d"), edge("d", "b"))
    found = graph(valve, *past)
    assert found.way("a", "b").nodes == ("a", "b")
    assert found.way("b", "a").nodes == ("b", "d", "c", "a")
    assert graph(valve).way("b", "a").barred_by() == valve.body


def test_only_a_closed_valve_stops_a_way_and_a_check_valve_is_told():
    valve = edge("b", "c", one_way=True, kind="check_valve")
    line = graph(edge("a", "b"), valve, edge("c", "d", one_way=True), edge("d", "e", opening=0.0))
    assert line.way("a", "d").valve_for() == "run.bc"  # the first of the two
    assert line.way("d", "a").valve_for() == ""
    assert line.way("a", "b").valve_for() == ""
    assert line.way("a", "e") is None
    assert set(line.reached("a")) == {"a", "b", "c", "d"}
    assert line.reached("a")[0] == "a"
    assert set(line.reached("a", through=lambda one: not one.one_way)) == {"a", "b"}


def test_an_edge_without_a_known_loss_is_told_and_left_out_of_the_sum():
    unknown = edge("b", "c", loss=None, loss_back=NO_LOSS, no_loss="a gate a tenth open", bore=0.015)
    line = graph(edge("a", "b"), unknown)
    assert line.way("a", "c").without_loss() == (unknown,)
    assert line.way("c", "a").without_loss() == ()
    assert line.way("a", "c").losses() == ((NO_LOSS, BORE),)
    assert line.way("c", "a").losses() == ((NO_LOSS, 0.015), (NO_LOSS, BORE))


# -- how high water has to rise -----------------------------------------------------------------------------


def crest(*points, bore=BORE):
    return graph(edge("a", "b", *points, bore=bore)).way("a", "b").crest()


def test_over_an_upright_bend_water_rises_to_the_level_leg_s_lower_edge():
    hump = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.5), (0.4, 0.0, 0.5), (0.4, 0.0, 0.1))
    height, where = crest(*hump)
    assert height == pytest.approx(0.49)
    assert where[2] == 0.5
    assert crest(*hump[::-1])[0] == pytest.approx(0.49)


def test_over_a_sloped_leg_it_rises_to_its_upper_end_less_its_share_of_half_the_bore():
    """A slope of 3, 4, 5 ends at z = 0.4 open: its lower edge there is 0.6 of half the bore lower."""
    height, where = crest((0.0, 0.0, 0.0), (0.3, 0.0, 0.4))
    assert height == pytest.approx(0.4 - 0.6 * 0.01)
    assert where == (0.3, 0.0, 0.4)
    # along y as along x
    assert crest((0.0, 0.0, 0.0), (0.0, 0.3, 0.4))[0] == pytest.approx(height)
    # where it meets a level leg the level side's lower edge is lower, and water goes over that
    assert crest((0.0, 0.0, 0.0), (0.3, 0.0, 0.4), (0.6, 0.0, 0.4))[0] == pytest.approx(0.39)


def test_a_point_that_stands_twice_is_no_leg():
    plain = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.5), (0.4, 0.0, 0.5))
    twice = (plain[0], plain[1], plain[1], plain[2])
    assert crest(*twice) == crest(*plain)


def test_the_crest_of_a_way_is_the_highest_of_its_steps_on_their_own_bores():
    line = graph(
        edge("a", "b", (0.0, 0.0, 0.30), (0.5, 0.0, 0.30), bore=0.10),  # lower edge 0.25
        edge("b", "c", (0.5, 0.0, 0.27), (0.9, 0.0, 0.27), bore=0.01),  # lower edge 0.265
        edge("c", "d", (0.9, 0.0, 0.26), (0.9, 0.4, 0.26), bore=0.01),
    )
    height, where = line.way("a", "d").crest()
    assert height == pytest.approx(0.265)
    assert where == (0.5, 0.0, 0.27)


# -- what hangs together ------------------------------------------------------------------------------------


def test_parts_share_out_everything_and_a_closed_valve_belongs_to_none():
    whole = graph(
        edge("a", "b"),
        edge("b", "c", opening=0.0),
        edge("c", "d"),
        edge("e", "f"),
        mouths=[mouth("b"), mouth("d"), mouth("f"), mouth("alone")],
        pumps=[pump("a"), pump("e", air=True), pump("lonely")],
        heights={"a": 0.1, "b": 0.2, "c": 0.3, "d": 0.4, "e": 0.5, "f": 0.6, "alone": 0.7},
    )
    assert whole.nodes == ("a", "b", "c", "d", "e", "f", "alone", "lonely")
    told = [
        (
            "".join(one.name for one in part.edges),
            [one.node for one in part.mouths],
            [one.node for one in part.pumps],
            dict(part.heights),
        )
        for part in whole.parts
    ]
    assert told == [
        ("ab", ["b"], ["a"], {"a": 0.1, "b": 0.2}),
        ("cd", ["d"], [], {"c": 0.3, "d": 0.4}),
        ("ef", ["f"], ["e"], {"e": 0.5, "f": 0.6}),
        ("", ["alone"], [], {"alone": 0.7}),
        ("", [], ["lonely"], {}),
    ]
    assert whole.part_of("d") is whole.parts[1]
    assert whole.part_of("nowhere") is None
    assert whole.air
    assert [one.node for one in whole.water_pumps] == ["a", "lonely"]
    assert not whole.parts[0].air
    assert whole.parts[2].water_pumps == ()


def test_a_port_is_joined_by_a_run_s_edge_or_by_an_end_meant_for_it():
    own = edge("tank.out.inside", "tank.out.outside")
    bulkhead = Edge(**{**{name: getattr(own, name) for name in own.__slots__}, "body": "tank.out"})
    assert not graph(bulkhead).joined("tank.out.inside")
    assert graph(bulkhead, edge("tank.out.inside", "x")).joined("tank.out.inside")
    assert graph(bulkhead, edge("x", "tank.out.inside")).joined("tank.out.inside")
    assert not graph(bulkhead, edge("tank.out.inside", "x")).joined("tank.out.outside")
    assert graph(bulkhead, mouths=[mouth("x", meant="tank.out.inside")]).joined("tank.out.inside")


def test_a_mouth_is_dry_behind_a_closed_valve_unless_something_on_its_side_holds_water():
    """Two closed valves stand in the house; only that at the mouth's own side is named."""
    far, near, pipe = edge("x", "y", opening=0.0), edge("b", "c", opening=0.0), edge("c", "d")
    end = mouth("d", vessel="tank")
    other = mouth("c")
    lines = (far, near, edge("a", "b"), pipe)
    assert graph(*lines, mouths=[end]).closed_before(end) == "run.bc"
    assert graph(*lines, mouths=[end, other]).closed_before(end) == "run.bc"  # the other is in the room
    wet = mouth("c", vessel="sump")
    assert graph(*lines, mouths=[end, wet]).closed_before(end) == ""
    assert graph(*lines, mouths=[end, mouth("a", vessel="sump")]).closed_before(end) == "run.bc"
    assert graph(*lines, mouths=[end], pumps=[pump("c")]).closed_before(end) == ""
    assert graph(*lines, mouths=[end], pumps=[pump("a")]).closed_before(end) == "run.bc"
    assert graph(far, pipe, mouths=[end]).closed_before(end) == ""
