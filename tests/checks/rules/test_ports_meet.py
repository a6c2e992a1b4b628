"""Ends that are meant to meet."""

import pytest

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
