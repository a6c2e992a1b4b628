"""Ends of pipework over tank, sump and floor."""

import pytest

RULE = "open-end"


HOSE = "hose: {TUBE, start: [300, 100, 50], route: [{up: 600}, {back: BACK}, {down: 300}, open]}"


@pytest.mark.parametrize(("back", "count"), [(300, 0), (300.1, 1)])
def test_an_end_over_the_inside_runs_into_the_tank(check, back, count):
    found = check(RULE, HOSE.replace("BACK", str(back)))
    assert [f.severity for f in found] == ["fault"] * count


@pytest.mark.parametrize(("up", "count"), [(1350, 0), (1351, 1)])
def test_an_end_a_metre_over_the_rim_is_no_longer_over_the_tank(check, up, count):
    hose = f"hose: {{TUBE, start: [300, 200, 50], route: [{{up: {up}}}, open]}}"
    assert len(check(RULE, hose)) == count


def test_the_corner_of_the_box_round_a_polygon_is_not_over_the_tank(check):
    tank = "DIAMOND"
    hose = "hose: {TUBE, start: [300, 300, 50], route: [{up: 600}, {by: [0, 260, 0]}, \
{by: [260, 0, 0]}, {down: 500}, open]}"
    (finding,) = check(RULE, hose, tank=tank)
    assert finding.at == pytest.approx((0.56, 0.56, 0.15))


@pytest.mark.parametrize(("spin", "count"), [("0 deg", 1), ("90 deg", 0)])
def test_a_turned_sump_is_looked_at_in_its_own_axes(check, spin, count):
    """The sump reaches 600 mm along x, or, turned, 600 mm along y to the back of its corner."""
    sump = f"sump: {{SUMP, at: [0, 500, -500], turn: {{about_up: {spin}}}, inside: [600, 200, 300], \
compartments: [{{name: only, level: 100}}]}}\n"
    hose = "hose: {TUBE, start: [-100, 1000, -100], route: [{down: 200}, open]}"
    found = check(RULE, sump + hose)
    assert [f.severity for f in found].count("fault") == 2 * count  # its start and its end


@pytest.mark.parametrize(("down", "high"), [(91, 0.001), (93, None)])
def test_an_end_above_the_sumps_rim_splashes(check, down, high):
    """The sump's rim is at -500 + 8 + 300 = -192 mm; a pipe comes down from -100 mm."""
    sump = "sump: {SUMP, at: [0, 500, -500], inside: [600, 200, 300], compartments: [{name: a, level: 99}]}\n"
    hose = f"hose: {{PIPE, start: [300, 600, -100], route: [{{down: {down}}}, open]}}"
    found = check(RULE, sump + hose)
    assert {(f.severity, f.limit, f.parts) for f in found} == {("warning", 0.0, ("hose", "hose.pipe_1"))}
    measured = {f.message.split(" is open")[0]: f.measured for f in found}
    assert measured.pop("the start of hose") == pytest.approx(0.092)
    assert measured == ({} if high is None else {"the end of hose": pytest.approx(high)})


def test_a_strainer_outside_is_open_and_a_cap_is_not(check):
    run = "run: {PIPE, start: hole.outside, route: [{back: 200}, END]}"
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    for end, count in (("strainer", 1), ("nozzle", 1), ("open", 1), ("cap", 0)):
        assert len(check(RULE, run.replace("END", end), holes=holes)) == count


@pytest.mark.parametrize(("opening", "severity"), [("0 %", "note"), ("30 %", "fault")])
def test_behind_a_closed_valve_an_open_end_is_a_note(check, opening, severity):
    run = f"run: {{PIPE, start: hole.outside, route: [{{back: 100}}, {{ball_valve: {opening}}}, \
{{back: 100}}, open]}}"
    (finding,) = check(RULE, run, holes="hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}")
    assert finding.severity == severity


@pytest.mark.parametrize(
    ("side", "way", "severity"), [("inside", "front", "warning"), ("outside", "back", "fault")]
)
def test_a_branch_that_nothing_joins(check, side, way, severity):
    run = f"run: {{PIPE, start: hole.{side}, route: [{{{way}: 100}}, {{tee: up}}, {{{way}: 80}}, cap]}}"
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    (finding,) = check(RULE, run, holes=holes)
    assert finding.severity == severity
    assert "run.tee_1" in finding.message
    more = "more: {PIPE, start: run.tee_1, route: [{up: 80}, cap]}"
    assert check(RULE, f"{run}\n{more}", holes=holes) == ()


def test_drip_holes_over_the_floor_are_told_once(check):
    run = "run: {PIPE, start: hole.outside, route: [{back: 200, drip: {diameter: 3, pitch: 20}}, cap]}"
    (finding,) = check(RULE, run, holes="hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}")
    assert "a drip hole of run.pipe_1 is open outside" in finding.message


def test_a_start_in_the_room_is_an_end_too(check):
    hose = "hose: {TUBE, start: [300, 600, 500], route: [{front: 300}, open]}"
    (finding,) = check(RULE, hose)
    assert "the start of hose is open outside" in finding.message
