"""A tube of 16 mm beside the back glass."""

import pytest

RULE = "pipe-to-glass"


@pytest.mark.parametrize(
    ("behind", "severity", "measured"),
    [
        (3, None, None),
        (2.9, "warning", 0.0029),
        (0.51, "warning", 0.00051),
        (0.4, "fault", 0.0004),
    ],
)
def test_either_side_of_each_limit(faulty, behind, severity, measured):
    """3 mm are wanted, under half a millimetre it rubs (limits pipe_to_glass). Round within 0.01 mm."""
    found = faulty(RULE, behind=behind)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


RUN = "run: {PIPE, start: hole.SIDE, route: [{WAY: 100}, {up: 80}, open]}"


@pytest.mark.parametrize(("side", "way"), [("inside", "front"), ("outside", "back")])
def test_the_pipe_in_a_bulkhead_is_let_off_at_its_own_pane(check, side, way):
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    assert check(RULE, RUN.replace("SIDE", side).replace("WAY", way), holes=holes) == ()


@pytest.mark.parametrize(("up", "count"), [(0, 0), (1, 1)])
def test_a_hose_in_a_bulkhead_that_bends_back_to_its_pane_is_not(check, up, count):
    """It leaves the bulkhead straight, turns up, and comes back to 1 mm from the glass."""
    route = (
        "[{front: 100}, {up: 150}, {back: 97}, {up: 150}, open]" if up else "[{front: 100}, {up: 150}, open]"
    )
    hose = f"hose: {{kind: run, tube: d20 flexible, bend_radius: 40, start: hole.inside, route: {route}}}"
    found = check(RULE, hose, holes="hole: {panel: back, left: 300, bottom: 100, bulkhead: d20}")
    assert len(found) == count


def test_a_tube_that_runs_into_glass_or_brace_is_told_as_such(check):
    tank = "BOX, perimeter_brace: {width: 60, thickness: 10, below_top: 40}"
    hose = "hose: {TUBE, start: [200, 200, 350], route: [{right: 200}, open]}"
    assert check(RULE, hose, tank=tank) == ()
    (finding,) = check(RULE, hose.replace("[200, 200", "[200, 345"), tank=tank)
    assert finding.parts == ("hose.tube_1", "tank.perimeter_brace")
    assert "runs" in finding.message
    assert finding.measured < 0
