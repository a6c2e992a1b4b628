"""The graph of pipework: what hangs together, how long and high, where water gets in, what it costs."""

import math
from types import SimpleNamespace

import pytest

from layout3d.errors import OutOfRange
from layout3d.fittings.losses import (
    NO_LOSS,
    barb_loss,
    contraction_loss,
    expansion_loss,
    fitting_loss,
    throttled_loss,
)
from layout3d.parts.run_data import Element
from layout3d.pipework.closed import against, closed
from layout3d.pipework.losses import element_losses, mouth_losses
from layout3d.pipework.read import pipework

PATH = ((0.0, 0.0, 0.0), (0.1, 0.0, 0.0))
PUMP = "pump: {kind: pump, model: small 1000, outlet: d25 pn 10, at: {left: 150, back: 120, bottom: 0}}\n"


def run(name: str, start: str, route: str, more: str = "pipe: d25 pn 10") -> str:
    return f"{name}: {{kind: run, {more}, start: {start}, route: [{route}]}}\n"


def test_a_run_is_its_elements_in_a_row(scene):
    model = scene(PUMP + run("supply", "pump.outlet", "{up: 250}, {right: 300}, open"))
    graph = pipework(model)
    assert [edge.kind for edge in graph.edges] == ["pipe", "elbow_90", "pipe"]
    for before, after in zip(graph.edges, graph.edges[1:], strict=False):
        assert before.end == after.start
    assert graph.edges[0].start == graph.pumps[0].node == "pump.outlet"
    (mouth,) = graph.mouths
    assert (mouth.node, mouth.kind, mouth.vessel) == ("supply.end", "open", "tank")
    way = graph.way("pump.outlet", "supply.end")
    data = model.built["supply"].data
    assert way.length == pytest.approx(sum(element.flow_length for element in data.elements))
    # pipes have their friction by length, fittings by their loss
    assert [edge.length > 0 for edge in way.edges] == [True, False, True]


def test_a_branch_that_nothing_joins_is_a_mouth(scene):
    model = scene(PUMP + run("supply", "pump.outlet", "{up: 150}, {tee: right, name: side}, {up: 150}, cap"))
    (mouth,) = pipework(model).mouths
    assert (mouth.node, mouth.branch, mouth.words) == ("supply.side", True, "the branch supply.side")
    assert mouth.at == model.ports["supply.side"].at


def test_a_tee_costs_its_branch_or_its_run(scene):
    model = scene(
        PUMP
        + run("supply", "pump.outlet", "{up: 150}, {tee: right, name: side}, {up: 150}, open")
        + run("more", "supply.side", "{right: 200}, open")
    )
    graph = pipework(model)
    (part,) = graph.parts
    on, aside = (
        sum(loss.likely for loss, _ in part.way("pump.outlet", end).losses())
        for end in ("supply.end", "more.end")
    )
    bore = 0.022
    assert on == pytest.approx(fitting_loss("tee_run", bore).likely)
    assert aside == pytest.approx(fitting_loss("tee_branch", bore).likely)


def test_a_reducer_narrows_one_way_and_widens_the_other(scene):
    """Borda-Carnot for the widening, the mean of Crane and Rennels for the narrowing."""
    model = scene(
        PUMP.replace("d25 pn 10", "d32 pn 10")
        + run("supply", "pump.outlet", "{up: 150}, {reduce: d25 pn 10}, {up: 150}, open", "pipe: d32 pn 10")
    )
    graph = pipework(model)
    (bush,) = [edge for edge in graph.edges if edge.kind == "reducing_bush"]
    wide = graph.edges[0].bore
    assert bush.bore < wide
    assert bush.loss.likely == pytest.approx(contraction_loss(wide, bush.bore).likely)
    assert bush.loss_back.likely == pytest.approx(expansion_loss(bush.bore, wide).likely)
    widened = scene(PUMP + run("supply", "pump.outlet", "{up: 150}, {reduce: d32 pn 10}, {up: 150}, open"))
    (other,) = [edge for edge in pipework(widened).edges if edge.kind == "reducing_bush"]
    assert other.loss.likely == pytest.approx(bush.loss_back.likely)
    assert other.loss_back.likely == pytest.approx(bush.loss.likely)


def test_a_way_takes_each_loss_as_it_passes_it(scene):
    """Up through the bush water is narrowed, back down it is widened; the crest is the open end.

    An upright has no edge below its middle, so water rises to the end itself.
    """
    model = scene(
        PUMP.replace("d25 pn 10", "d32 pn 10")
        + run("supply", "pump.outlet", "{up: 150}, {reduce: d25 pn 10}, {up: 150}, open", "pipe: d32 pn 10")
    )
    graph = pipework(model)
    (mouth,) = graph.mouths
    (bush,) = [edge for edge in graph.edges if edge.kind == "reducing_bush"]
    up, down = graph.way("pump.outlet", mouth.node), graph.way(mouth.node, "pump.outlet")
    assert (bush.loss, bush.bore) in up.losses()
    assert (bush.loss_back, bush.bore) in down.losses()
    assert bush.loss.likely != bush.loss_back.likely
    assert up.crest()[0] == pytest.approx(mouth.at[2])


def test_a_closed_valve_parts_its_run_and_says_so(scene):
    route = "{up: 150}, {ball_valve: 0, name: tap}, {up: 150}, {right: 100}, open"
    graph = pipework(scene(PUMP + run("supply", "pump.outlet", route)))
    (mouth,) = graph.mouths
    assert graph.way("pump.outlet", mouth.node) is None
    assert len(graph.parts) == 2
    assert graph.closed_before(mouth) == "supply.tap"
    wide = pipework(scene(PUMP + run("supply", "pump.outlet", route.replace("valve: 0", "valve: 1"))))
    assert wide.closed_before(wide.mouths[0]) == ""


def test_a_check_valve_knows_its_way(scene):
    route = "{up: 150}, check_valve, {up: 150}, open"
    graph = pipework(scene(PUMP + run("supply", "pump.outlet", route)))
    on = graph.way("pump.outlet", "supply.end")
    back = graph.way("supply.end", "pump.outlet")
    assert on.valve_for() != ""
    assert back.valve_for() == ""


def test_what_no_run_joins_is_a_pump_s_own_outlet(scene):
    graph = pipework(scene(PUMP))
    (mouth,) = graph.mouths
    assert (mouth.kind, mouth.node) == ("outlet", "pump.outlet")
    assert graph.heights["pump.outlet"] == mouth.at[2] == graph.part_of("pump.outlet").heights["pump.outlet"]


@pytest.mark.parametrize(("away", "joined"), [(0.9, True), (1.1, False)])
def test_an_end_joins_its_port_within_the_limit(scene, away, joined):
    """The limit port_gap is 1 mm: nearer it is joined, farther it is open and knows its port."""
    tank = (
        "kind: tank, inside: [1200, 500, 600], glass: 12, "
        "holes: {out: {panel: back, left: 600, bottom: 300, bulkhead: 3/4 in thin}}"
    )
    plain = scene(run("drain", "[0, 0, 300]", "{up: 100}, open", "pipe: 3/4 in sch 40"), tank=tank)
    port = plain.ports["tank.out.inside"]
    x, y, z = (1000 * value for value in port.at)
    start = f"[{x}, {y - 200 - away}, {z}]"
    text = run("drain", start, "{back: 200}, open", "pipe: 3/4 in sch 40, end_at: out.inside")
    graph = pipework(scene(text, tank=tank))
    assert (graph.way("drain.start", "tank.out.outside") is not None) == joined
    assert [mouth.meant for mouth in graph.mouths if mouth.node == "drain.end"] == (
        [] if joined else ["tank.out.inside"]
    )
    assert graph.joined("tank.out.inside")


def test_crest_of_a_level_pipe_is_half_a_bore_below_its_middle(scene):
    graph = pipework(scene(PUMP + run("supply", "pump.outlet", "{up: 250}, {right: 300}, {down: 100}, open")))
    way = graph.way("pump.outlet", "supply.end")
    middle = max(point[2] for point in way.points)
    assert way.top == middle
    height, _ = way.crest()
    assert height == pytest.approx(middle - 0.022 / 2)


def test_edges_hold_the_water_of_their_bores(scene):
    graph = pipework(scene(PUMP + run("supply", "pump.outlet", "{up: 250}, open")))
    (edge,) = graph.edges
    assert edge.volume == pytest.approx(math.pi / 4 * 0.022**2 * edge.centre_line)


# -- each element where it lies -----------------------------------------------------------------------------

DRILLED = (
    "kind: tank, inside: [1200, 500, 600], glass: 12, holes: {"
    "out: {panel: back, left: 600, bottom: 300, bulkhead: d25}, "
    "low: {panel: bottom, left: 900, back: 150, bulkhead: d40}, "
    "shut: {panel: back, left: 300, bottom: 300, bulkhead: d25, plugged: true}}"
)
SOCKET = 0.0185  # of a d25 pipe, ISO 727-1: half the diameter and 6 mm


def behind(port, depth):
    """Return the point so far behind a port's face."""
    return pytest.approx([a - depth * way for a, way in zip(port.at, port.direction, strict=True)])


def reversed_(vector):
    return pytest.approx([-value for value in vector])


@pytest.fixture(scope="module")
def drilled(scene):
    """Build a pump with a tee, of which one way ends in a nozzle, and an intake that goes out at the back."""
    route = "{up: 150}, {tee: right, name: side}, {up: 150}, {front: 100}, nozzle"
    runs = run("supply", "pump.outlet", route) + run("more", "supply.side", "{right: 200}, open")
    loose = run("loose", "[300, 100, 200]", "{right: 100}, {up: 50}, open")
    return scene(PUMP + runs + run("intake", "out.inside", "{front: 100}, strainer") + loose, tank=DRILLED)


def edges_of(model):
    return {edge.name: edge for edge in pipework(model).edges}


def mouths_of(model):
    return {mouth.node: mouth for mouth in pipework(model).mouths}


def test_edges_meet_where_they_say_and_nodes_lie_at_their_ends(drilled):
    graph = pipework(drilled)
    ends: dict = {}
    for edge in graph.edges:
        if edge.kind == "strainer":
            continue  # its own body, beyond the mouth, is no pipe
        for node, point in ((edge.start, edge.points[0]), (edge.end, edge.points[-1])):
            ends.setdefault(node, []).append(point)
    for node, points in ends.items():
        for point in points:
            assert point == pytest.approx(points[0]), node
        if node not in drilled.ports:  # a port's height is that of its face, and the pipe ends behind it
            assert graph.heights[node] == pytest.approx(points[0][2])
    assert {"supply.side.middle", "supply.side", "supply.end", "more.end", "loose.start"} <= set(ends)
    for name in ("pump.outlet", "supply.side", "tank.out.inside", "tank.low.outside"):
        assert graph.heights[name] == drilled.ports[name].at[2]


def test_a_bulkhead_reaches_to_the_bottom_of_a_socket_in_use_and_to_the_face_of_one_that_is_not(drilled):
    edges, ports = edges_of(drilled), drilled.ports
    out, low = edges["tank.out"], edges["tank.low"]
    assert out.points[0] == behind(ports["tank.out.inside"], SOCKET)
    assert out.points[1] == behind(ports["tank.out.outside"], 0.0)
    assert out.length == pytest.approx(math.dist(*out.points))
    assert low.points == (ports["tank.low.inside"].at, ports["tank.low.outside"].at)
    assert out.bore == min(ports["tank.out.inside"].bore, ports["tank.out.outside"].bore)
    assert (out.start, out.end) == ("tank.out.inside", "tank.out.outside")
    # a plugged one is no way out
    assert "tank.shut" not in edges
    mouths = mouths_of(drilled)
    assert not any("shut" in node for node in mouths)
    assert {node for node, one in mouths.items() if one.kind == "bulkhead"} == {
        "tank.out.outside",
        "tank.low.inside",
        "tank.low.outside",
    }
    inside, under = mouths["tank.low.inside"], mouths["tank.low.outside"]
    assert (inside.vessel, under.vessel) == ("tank", "")
    assert inside.direction == (0.0, 0.0, 1.0)
    assert under.direction == (0.0, 0.0, -1.0)
    assert under.at[2] < 0.0 < inside.at[2]


def test_a_tee_has_three_arms_from_its_middle(drilled):
    edges, branch = edges_of(drilled), drilled.ports["supply.side"]
    into, aside, on = (edges[f"supply.side{end}"] for end in (".in", ".branch", ""))
    middle = into.points[-1]
    assert aside.points == (middle, behind(branch, SOCKET))
    assert on.points[0] == middle
    # up the middle of the pump's outlet, and the branch to the right of it
    assert middle[:2] == pytest.approx(drilled.ports["pump.outlet"].at[:2])
    assert branch.at[0] > middle[0]
    assert branch.at[1:] == pytest.approx(middle[1:])
    assert into.loss == into.loss_back == NO_LOSS
    assert aside.loss == aside.loss_back == fitting_loss("tee_branch", 0.022)
    assert on.loss == on.loss_back == fitting_loss("tee_run", 0.022)
    assert [one.length for one in (into, aside, on)] == [0.0, 0.0, 0.0]


def test_a_branch_that_nothing_joins_ends_at_its_face(scene):
    model = scene(PUMP + run("supply", "pump.outlet", "{up: 150}, {tee: right, name: side}, {up: 150}, cap"))
    assert edges_of(model)["supply.side.branch"].points[-1] == model.ports["supply.side"].at


def test_mouths_lie_at_the_ends_and_look_outward(drilled):
    mouths, data = mouths_of(drilled), drilled.built["supply"].data
    nozzle, strainer = mouths["supply.end"], mouths["intake.end"]
    assert (nozzle.kind, nozzle.direction) == ("nozzle", pytest.approx((0.0, -1.0, 0.0)))
    assert nozzle.at == data.elements[-1].path[-1]  # the tip, not where its socket begins
    assert nozzle.at[1] < data.elements[-1].path[0][1]
    assert nozzle.bore == pytest.approx(0.6 * 0.022)  # its mouth is 0.6 of the pipe's bore
    # a cone down to 0.6 of the bore: inward, the mouth is a projecting entrance that widens at once
    widened = expansion_loss(nozzle.bore, 0.022)
    entrance = fitting_loss("entrance_projecting", nozzle.bore)
    assert nozzle.entry_loss.likely == pytest.approx(entrance.likely + widened.likely)
    assert strainer.kind == "strainer"
    assert strainer.at == drilled.built["intake"].data.end_at
    start, end = mouths["loose.start"], mouths["loose.end"]
    assert (start.kind, start.direction, start.at) == (
        "open",
        (-1.0, 0.0, 0.0),
        pytest.approx((0.3, 0.1, 0.2)),
    )
    assert (end.kind, end.direction) == ("open", pytest.approx((0.0, 0.0, 1.0)))
    assert end.at == pytest.approx((0.4, 0.1, 0.25))
    assert {one.size for one in (nozzle, strainer, start, end)} == {"d25 pn 10"}
    assert {one.vessel for one in (nozzle, strainer, start, end)} == {"tank"}
    assert (nozzle.part, nozzle.body) == ("supply", "supply.nozzle_1")


@pytest.mark.parametrize("rise", [60, -60])
def test_an_open_start_looks_back_along_its_run(scene, rise):
    """A run that begins upward or downward draws from the other side."""
    way = f"up: {rise}" if rise > 0 else f"down: {-rise}"
    model = scene(run("loose", "[300, 100, 200]", f"{{{way}}}, {{front: 60}}, open"))
    direction = mouths_of(model)["loose.start"].direction
    assert direction == pytest.approx((0.0, 0.0, -math.copysign(1.0, rise)))


def test_drip_holes_are_one_mouth_where_they_lie_and_in_order(scene):
    drip = "{up: 250}, {right: 300, drip: {diameter: 3, pitch: 50, margin: 40, angles: [0, 90 deg]}}, cap"
    model = scene(PUMP + run("bar", "pump.outlet", drip))
    (mouth,) = pipework(model).mouths
    (edge,) = [edge for edge in pipework(model).edges if edge.holes]
    element = next(one for one in model.built["bar"].data.elements if one.holes)
    assert (mouth.kind, mouth.name, mouth.node) == ("holes", element.body, edge.start)
    assert mouth.at == element.path[0]
    assert mouth.direction == element.holes[0].direction
    assert set(mouth.holes) == set(element.holes)
    along = [hole.along for hole in edge.holes]
    assert along == sorted(along)
    assert mouth.exit_loss == NO_LOSS
    assert mouth.vessel == "tank"
    # on a level bar every hole is as far along as it is to the right of the bar's begin
    for hole in edge.holes:
        assert hole.along == pytest.approx(hole.at[0] - edge.points[0][0], abs=1e-9)


def hose(inner, outlet="", valve=""):
    """Return a pump and a hose on its barb."""
    head = f"pump: {{kind: pump, model: small 1000{outlet}, at: {{left: 150, back: 120, bottom: 0}}}}\n"
    return head + run("hose", "pump.outlet", f"{{up: 150}}, {valve}{{right: 200}}, open", f"tube: {inner}")


def test_a_tube_on_a_barb_has_an_edge_for_it_without_length(scene):
    """The pump's own outlet is a barb for a tube of 16 mm."""
    model = scene(hose("16/22 mm"))
    port = model.ports["pump.outlet"]
    assert port.end == "barb"
    graph = pipework(model)
    barb, tube = graph.edges
    assert (barb.kind, barb.name, barb.start, barb.end) == (
        "barb",
        "hose.start_barb",
        "pump.outlet",
        "hose.start",
    )
    assert barb.points == (behind(port, port.depth), behind(port, port.depth))
    assert barb.length == barb.volume == 0.0
    assert barb.loss == barb.loss_back == barb_loss(0.016, min(port.bore, 0.016))
    assert (tube.kind, tube.start, tube.end) == ("tube", "hose.start", "hose.end")
    assert tube.length == pytest.approx(model.built["hose"].data.elements[0].flow_length)
    assert graph.heights["hose.start"] == pytest.approx(port.at[2] - port.depth)
    assert graph.heights["pump.outlet"] == port.at[2]


def test_a_tube_with_a_top_between_its_ends_is_two_edges(scene):
    """What both have is what the one had; the node between them is as high as its middle gets."""
    model = scene(hose("16/22 mm").replace("{right: 200}, open", "{right: 270}, {down: 140}, open"))
    graph, element = pipework(model), model.built["hose"].data.elements[0]
    _, up, on = graph.edges
    assert (up.name, up.start, up.end) == (element.body, "hose.start", f"{element.body}.top")
    assert (on.name, on.start, on.end) == (f"{element.body}.on", up.end, "hose.end")
    assert graph.heights[up.end] == max(point[2] for point in element.path)
    assert (*up.points, *on.points[1:]) == element.path
    assert up.length + on.length == pytest.approx(element.flow_length)
    assert on.loss == on.loss_back == NO_LOSS
    assert up.loss == up.loss_back != NO_LOSS


def test_a_pipe_in_a_socket_has_none(drilled):
    assert not [edge for edge in pipework(drilled).edges if edge.kind == "barb"]


def test_a_tube_that_ends_on_a_barb_has_its_edge_at_the_end(scene):
    """A hose between two pumps, though nobody would: it ends on the other's barb, and so is no mouth."""
    second = "other: {kind: pump, model: small 1000, at: {left: 600, back: 120, bottom: 0}}\n"
    text = hose("16/22 mm").replace(
        "{right: 200}, open", "{until: right, reach: other.outlet}, {until: down, reach: other.outlet}"
    )
    model = scene(second + text.replace("start: pump.outlet,", "start: pump.outlet, end_at: other.outlet,"))
    graph = pipework(model)
    port = model.ports["other.outlet"]
    assert graph.mouths == ()
    barb = graph.edges[-1]
    assert (barb.name, barb.kind, barb.start, barb.end) == (
        "hose.end_barb",
        "barb",
        "hose.end",
        "other.outlet",
    )
    assert barb.points == (behind(port, port.depth),) * 2
    assert graph.way("pump.outlet", "other.outlet") is not None


def test_what_no_loss_is_known_of_is_told_with_the_reason(scene, monkeypatch):
    """What the reader lets through and the tables don't have is no loss of 0, but none, and its reason."""

    def none_known(run, index):
        if run.elements[index].kind == "ball_valve":
            raise OutOfRange("no figure for it", expected="another valve" if index > 1 else "")
        return known(run, index)

    known = element_losses
    monkeypatch.setattr("layout3d.pipework.read.element_losses", none_known)
    route = "{up: 150}, {ball_valve: 1}, {up: 150}, {ball_valve: 1}, {up: 50}, open"
    graph = pipework(scene(PUMP + run("supply", "pump.outlet", route)))
    first, second = (edge for edge in graph.edges if edge.kind == "ball_valve")
    assert first.loss is first.loss_back is second.loss is second.loss_back is None
    assert (first.no_loss, second.no_loss) == (
        "no figure for it",
        "no figure for it (expected another valve)",
    )
    assert graph.way("pump.outlet", "supply.end").without_loss() == (first, second)
    assert {edge.no_loss for edge in graph.edges} == {"", first.no_loss, second.no_loss}


# -- what elements and mouths cost --------------------------------------------------------------------------


def test_losses_of_an_element_rest_on_the_bores_beside_it():
    """A reducing bush by itself, first and last of its run: it has no pipe on one side to widen to."""
    wide, narrow = 0.0284, 0.022

    def element(kind, bore, **more):
        return Element(kind=kind, body=kind, size="", outside=0.03, bore=bore, path=PATH, **more)

    def losses(*elements, index):
        return element_losses(SimpleNamespace(elements=elements, bend=0.1), index)

    bush = element("reducing_bush", narrow)
    before, after = element("pipe", wide), element("pipe", narrow)
    on, back = losses(before, bush, after, index=1)
    assert on.likely == pytest.approx(contraction_loss(wide, narrow).likely)
    assert back.likely == pytest.approx(expansion_loss(narrow, wide).likely)
    on, back = losses(after, bush, before, index=1)
    assert on.likely == pytest.approx(expansion_loss(narrow, wide).likely)
    assert back.likely == pytest.approx(contraction_loss(wide, narrow).likely)
    # the wide pipe two elements on counts for nothing
    assert losses(after, bush, after, before, index=1) == losses(after, bush, after, index=1)
    assert losses(before, after, bush, after, index=2) == losses(after, after, bush, after, index=2)
    # an end in a fitting and a shut valve cost nothing here, a valve costs the same either way
    assert losses(before, element("cap", wide), index=1) == (NO_LOSS, NO_LOSS)
    assert losses(before, element("ball_valve", wide, opening=0.0), before, index=1) == (NO_LOSS, NO_LOSS)
    valve = losses(before, element("ball_valve", wide, opening=0.5), before, index=1)
    assert valve == (throttled_loss("ball_valve", wide, 0.5),) * 2
    assert (
        losses(before, element("ball_valve", wide, opening=0.5), index=1) == valve
    )  # with nothing behind it
    assert losses(before, index=0) == (NO_LOSS, NO_LOSS)


def test_a_mouth_costs_its_velocity_head_out_and_its_entrance_in():
    """Exit 1.0 (Borda); entrance 0.5 flush and 0.8 to 1.0 projecting (handbooks)."""
    flush, open_end = mouth_losses("bulkhead", 0.022, 0.022), mouth_losses("open", 0.022, 0.022)
    assert flush["exit_loss"].likely == open_end["exit_loss"].likely == 1.0
    assert flush["entry_loss"].likely == pytest.approx(0.5)
    assert 0.78 <= open_end["entry_loss"].likely <= 1.0
    strainer = mouth_losses("strainer", 0.022, 0.022)
    assert strainer["exit_loss"].likely == pytest.approx(1.0 + strainer["entry_loss"].likely)
    assert strainer["entry_loss"] == fitting_loss("suction_strainer", 0.022)
    # a nozzle's mouth no narrower than its pipe widens into nothing
    straight = mouth_losses("nozzle", 0.022, 0.022)
    assert straight["entry_loss"].likely == pytest.approx(open_end["entry_loss"].likely)


# -- what closes a mouth ------------------------------------------------------------------------------------


def test_a_mouth_in_sand_is_closed_and_one_over_it_is_not(scene):
    """A bed 100 mm deep: one run ends 40 mm over the floor, looking along it, the other over the bed."""
    sand = "bed: {kind: substrate, depth: 100}\n"
    runs = run("low", "[300, 100, 300]", "{down: 260}, {right: 60}, open") + run(
        "high", "[600, 100, 300]", "{down: 100}, {right: 60}, open"
    )
    model = scene(sand + runs)
    mouths = mouths_of(model)
    assert closed(model, mouths["low.end"])
    assert not closed(model, mouths["high.end"])
    assert not closed(model, mouths["low.start"])
    # drip holes are judged one by one, elsewhere
    bar = run("bar", "[300, 100, 50]", "{right: 300, drip: {diameter: 3, pitch: 50, margin: 40}}, cap")
    buried = scene(sand + bar)
    holes = next(one for one in pipework(buried).mouths if one.kind == "holes")
    assert not closed(buried, holes)
    assert holes not in against(buried)
