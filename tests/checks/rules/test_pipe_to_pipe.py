"""Two tubes side by side."""

import pytest

RULE = "pipe-to-pipe"


@pytest.mark.parametrize(
    ("apart", "severity", "measured"),
    [
        (3, None, None),
        (2.9, "warning", 0.0029),
        (0.51, "warning", 0.00051),
        (0.4, "fault", 0.0004),
    ],
)
def test_either_side_of_each_limit(faulty, apart, severity, measured):
    """3 mm are wanted, under half a millimetre it rubs (limits pipe_to_pipe). Round within 0.01 mm."""
    found = faulty(RULE, apart=apart)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


def test_pieces_that_follow_each_other_are_let_off(check):
    """A pipe with a coupling, an elbow, a tee and a run on the tee: all near each other on purpose."""
    runs = """
run: {PIPE, start: [100, 200, 100], route: [ROUTE]}
side: {PIPE, start: run.tee_1, route: [{up: 60}, {right: 60}, cap]}
"""
    route = "{up: 80}, coupling, {up: 80}, {right: 80}, {tee: up}, {right: 80}, cap"
    assert check(RULE, runs.replace("ROUTE", route)) == ()


@pytest.mark.parametrize(("apart", "count"), [(40, 0), (15, 1)])
def test_a_run_that_comes_back_to_itself_is_not(check, apart, count):
    """Up, over and down again, with hubs of 27 mm at the elbows."""
    run = f"run: {{PIPE, start: [100, 200, 100], route: [{{up: 200}}, {{right: 150}}, {{down: 100}}, \
{{left: {150 - apart}}}, cap]}}"
    found = check(RULE, run)
    assert len(found) == count


def test_a_pipe_past_a_strange_bulkhead_counts(check):
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    hose = "hose: {TUBE, start: [200, 400 - 17.5, 200], route: [{right: 200}, open]}"
    (finding,) = check(RULE, hose, holes=holes)
    assert set(finding.parts) == {"hose.tube_1", "tank.hole"}
