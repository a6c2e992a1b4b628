"""The graph of pipework: what hangs together, how long and high, where water gets in, what it costs."""

import math

import pytest

from layout3d.fittings.losses import contraction_loss, expansion_loss, fitting_loss
from layout3d.pipework.read import pipework

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
