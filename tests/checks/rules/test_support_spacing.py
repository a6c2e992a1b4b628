"""How far pipe runs without a support."""

import pytest

RULE = "support-spacing"


@pytest.mark.parametrize(
    ("free", "severity", "measured"),
    [
        (850, None, None),
        (850.1, "warning", 0.8501),
        (1275, "warning", 1.275),
        (1275.1, "fault", 1.2751),
        (1400, "fault", 1.4),
    ],
)
def test_either_side_of_each_limit(faulty, free, severity, measured):
    """0.85 m for pipe of 20 mm (table support_spacing), half as much again for a fault."""
    found = faulty(RULE, free=free)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


HOLE = "hole: {panel: bottom, left: 300, front: 200, bulkhead: d20}"


@pytest.mark.parametrize(
    ("over", "severity"), [(420, []), (430, ["warning"]), (630, ["warning"]), (645, ["fault"])]
)
def test_a_level_end_may_hang_over_by_half_the_spacing(check, over, severity):
    """A free end's moment w L² / 2 is that of a span twice as long, w L² / 8: half of 0.85 m."""
    bar = f"bar: {{PIPE, start: [100, 370, 300], route: [{{right: {50 + 500 + over}}}, cap], \
supports: [{{at: [50, 550], against: back}}]}}"
    found = check(RULE, bar, tank="kind: tank, inside: [1800, 400, 400], glass: 12")
    assert [f.severity for f in found] == severity
    for finding in found:
        assert "past its last support" in finding.message
        assert finding.measured == pytest.approx(2 * over / 1000, abs=0.005)


def test_long_ends_on_both_sides_of_one_clip_are_not_held(check):
    """800 mm free on both sides of it were held, for no stretch was over 850 mm."""
    bar = "bar: {PIPE, start: [100, 370, 300], route: [{right: 1600}, cap], \
supports: [{at: [800], against: back}]}"
    (finding,) = check(RULE, bar, tank="kind: tank, inside: [1800, 400, 400], glass: 12")
    assert finding.severity == "fault"
    assert "support (counted as 1,600 mm, limit support_overhang)" in finding.message


@pytest.mark.parametrize(("up", "count"), [(1690, 0), (1710, 1)])
def test_upright_pipe_counts_half(check, up, count):
    """The table's note: upright pipe up to twice the spacing of a level one. The pipe starts at its port."""
    run = f"run: {{PIPE, start: hole.inside, route: [{{up: {up}}}, open]}}"
    found = check(RULE, run, holes=HOLE, tank="kind: tank, inside: [600, 400, 1900], glass: 10")
    assert [f.severity for f in found] == ["warning"] * count
    assert [f.measured for f in found] == pytest.approx([up / 2000] * count, abs=0.005)


def test_an_upright_and_a_level_part_add_up(check):
    """500 mm up count 250, 700 mm across in full: 0.95 m, less what the elbow takes off its corner."""
    run = "run: {PIPE, start: hole.inside, route: [{up: 500}, {right: 705}, open], \
supports: [{at: [1200], against: back}]}"
    tank = "kind: tank, inside: [1500, 400, 900], glass: 10"
    (finding,) = check(RULE, run, holes=HOLE, tank=tank)
    assert finding.measured == pytest.approx(0.95, abs=0.02)
    assert "of it upright" in finding.message


def test_a_pipe_that_nothing_holds_is_a_fault_however_short(check):
    run = "run: {PIPE, start: [200, 200, Z], route: [{right: 100}, open]}"
    (finding,) = check(RULE, run.replace("Z", "100"))
    assert finding.severity == "fault"
    assert "nothing holds run" in finding.message
    for z, count in ((10, 0), (11.4, 0), (11.6, 1)):  # its middle, on the floor or 1.5 mm over it at most
        assert len(check(RULE, run.replace("Z", str(z)))) == count


def test_the_bed_and_the_slab_around_it_hold_a_pipe(check):
    tank = "kind: tank, inside: [1800, 400, 400], glass: 12"
    run = "run: {PIPE, start: [100, 370, 40], route: [{right: 1500}, cap]}"
    sand = "sand: {SAND, depth: 50, pitch: 100}"
    wall = "wall: {kind: background, panels: [back], thickness: 80, relief: {form: flat}, embeds: [run]}"
    assert len(check(RULE, run, tank=tank)) == 1
    assert check(RULE, f"{run}\n{sand}", tank=tank) == ()
    assert check(RULE, f"{run}\n{wall}", tank=tank) == ()


def test_the_place_is_the_middle_of_the_longest_stretch(faulty):
    (finding,) = faulty(RULE, free=1400)
    assert finding.at == pytest.approx((0.9, 0.36, 0.3))
    assert finding.remedy == "hold it about 800 mm along the run"


def test_each_run_is_judged_by_itself(check):
    """One that nothing holds stands before one that runs too far between its clips."""
    tank = "kind: tank, inside: [1800, 400, 400], glass: 12"
    runs = """
loose: {PIPE, start: [100, 200, 200], route: [{right: 100}, open]}
bar: {PIPE, start: [100, 370, 300], route: [{right: 1100}, cap],
  supports: [{at: [50, 1050], against: back}]}
"""
    loose, bar = check(RULE, runs, tank=tank)
    assert (loose.parts, bar.parts[0]) == (("loose",), "bar.pipe_1")
    assert bar.measured == pytest.approx(1.0, abs=1e-6)
    assert bar.severity == "warning"
