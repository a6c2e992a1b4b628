"""Ends that are meant to meet."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from made_outages import made_model

from layout3d.checks.rules.ports_meet import _judge, _way

RULE = "ports-meet"


@pytest.mark.parametrize(
    ("aside", "severity", "measured"),
    [
        (1, None, None),
        (1.1, "fault", 0.0011),
        (12, "fault", 0.012),
    ],
)
def test_either_side_of_each_limit(faulty, aside, severity, measured):
    """1 mm apart at most (limit port_gap)."""
    found = faulty(RULE, aside=aside)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


PUMP = "pump: {PUMP, outlet: 12/16 mm, clear: 0, at: {left: 300, front: 200, bottom: 0}}\n"


@pytest.mark.parametrize(("slant", "count"), [(2.6, 0), (2.7, 1)])
def test_an_end_comes_in_line_with_its_port(check, slant, count):
    """Over 150 mm, 1 degree (limit port_angle, 0.0175 rad) is 2.625 mm aside."""
    hose = f"hose: {{TUBE, start: {{from: pump.outlet, offset: [{slant}, 0, 150]}}, \
route: [{{by: [-{slant}, 0, -150]}}, open], end_at: pump.outlet}}"
    found = check(RULE, PUMP + hose)
    assert [f.unit for f in found] == ["rad"] * count


HOLE = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
START = "{from: hole.inside, offset: [0, -200, 0]}"
RUN = f"run: {{PIPE, start: {START}, route: [{{back: LENGTH}}, open], end_at: NAME}}"


@pytest.mark.parametrize("name", ["hole.inside", "tank.hole.inside"])
def test_a_port_of_a_hole_goes_by_either_name(check, name):
    assert check(RULE, RUN.replace("NAME", name).replace("LENGTH", "200"), holes=HOLE) == ()


def test_a_pipe_may_end_at_the_face_of_a_socket_or_at_its_bottom(check, model_of):
    depth = model_of("", holes=HOLE).ports["tank.hole.inside"].depth * 1000
    for length, count in ((200, 0), (200 + depth, 0), (200 + depth / 2, 1)):
        run = RUN.replace("NAME", "hole.inside").replace("LENGTH", repr(length))
        assert len(check(RULE, run, holes=HOLE)) == count


def test_a_name_that_no_port_bears_is_told_with_the_nearest(check):
    (finding,) = check(RULE, RUN.replace("NAME", "hole.insid").replace("LENGTH", "200"), holes=HOLE)
    assert "nearest: 'hole.inside'" in finding.message


def test_the_remedy_says_which_way_in_words(faulty):
    (finding,) = faulty(RULE, aside=-12)
    assert finding.remedy == "bring it 12 mm right"


def test_pipe_on_the_bare_end_of_pipe_is_held_by_nothing(check):
    runs = """
one: {PIPE, start: hole.inside, route: [{front: 100}, open]}
two: {PIPE, start: one.end, route: [{front: 100}, open]}
"""
    (finding,) = check(RULE, runs, holes=HOLE)
    assert finding.parts == ("two", "one.end")


def test_an_end_straight_into_its_port_on_a_slant_leans_by_nothing():
    """Three thirds of one, each the square of its root, sum to a hair over 1: no angle has such a cosine."""
    way = (1.0 / math.sqrt(3.0),) * 3
    assert float(np.dot(way, way)) > 1.0
    port = SimpleNamespace(name="pump.outlet", at=(0.1, 0.2, 0.3), depth=0.01, direction=way)
    run = SimpleNamespace(end_at=(0.1, 0.2, 0.3), end_direction=tuple(-x for x in way))
    model = made_model(port_gap=0.001, port_angle=0.0175)
    assert list(_judge(model, "run", run, port)) == []
    (turned,) = _judge(model, "run", SimpleNamespace(end_at=run.end_at, end_direction=way), port)
    assert turned.measured == pytest.approx(3.14159265)  # the wrong way round


def test_an_end_that_misses_and_leans_is_told_as_missing():
    port = SimpleNamespace(name="pump.outlet", at=(0.0, 0.0, 0.0), depth=0.01, direction=(0.0, 0.0, 1.0))
    run = SimpleNamespace(end_at=(0.03, -0.04, 0.0), end_direction=(1.0, 0.0, 0.0))
    (one,) = _judge(made_model(port_gap=0.001, port_angle=0.0175), "run", run, port)
    assert (one.measured, one.limit, one.unit) == (pytest.approx(0.05), 0.001, "m")
    assert one.remedy == "bring it 30 mm left and 40 mm to the back"


def test_steps_finer_than_a_saw_s_are_not_told():
    assert _way((0.0, 0.0, 0.0), (-0.0002, -0.00021, 0.00021)) == "0.21 mm to the front and 0.21 mm up"
    assert _way((0.0, 0.0, 0.01), (0.0, 0.0, 0.0)) == "10 mm down"
    assert _way((0.0, 0.0, 0.0), (0.0002, 0.0, 0.0)) == "there"


@pytest.mark.parametrize(
    ("offset", "more", "count"),
    [
        ("[0, 0, 12]", "", 1),
        ("[0, 0, 50]", "", 1),
        ("[0, 0, 51]", "", 0),
        ("[0, 0, 12]", "other: {TUBE, start: pump.outlet, route: [{up: 40}, open]}", 0),
    ],
)
def test_an_open_end_a_little_before_a_port_that_nothing_joins(check, offset, more, count):
    """As where the pump was moved and the hose stands by figures."""
    hose = f"hose: {{TUBE, start: {{from: pump.outlet, offset: {offset}}}, route: [{{up: 200}}, open]}}\n"
    found = check(RULE, PUMP + hose + more)
    assert [(one.severity, one.parts) for one in found] == [("warning", ("hose", "pump"))] * count
    for one in found:
        assert "the outlet of pump, and nothing joins that" in one.message


def test_an_end_beside_a_port_or_that_looks_another_way_is_none_that_misses_it(check):
    turned = "hose: {TUBE, start: {from: pump.outlet, offset: [0, 0, 12]}, route: [{right: 200}, open]}"
    assert check(RULE, PUMP + turned) == ()
