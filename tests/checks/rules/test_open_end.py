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


@pytest.mark.parametrize(
    ("up", "pump", "severity"),
    [(250, True, "warning"), (450, True, "fault"), (450, False, "warning"), (250, False, "warning")],
)
def test_a_forgotten_branch_sprays_over_the_rim_where_a_pump_drives_it(check, up, pump, severity):
    """The rim is 400 mm over the floor; the tee lies below it or above, over the tank either way."""
    start = "pump.outlet" if pump else "[300, 200, 60]"
    parts = "pump: {PUMP, outlet: d20 pn 16, at: {left: 300, front: 200, bottom: 0}}\n" if pump else ""
    run = f"run: {{PIPE, start: {start}, route: [{{up: {up}}}, {{tee: right}}, {{up: 60}}, cap]}}"
    (finding,) = [f for f in check(RULE, parts + run) if "tee" in f.message]
    assert finding.severity == severity
    assert ("above the rim" in finding.message) == (severity == "fault")
    assert finding.parts == ("run", "run.tee_1")
    assert finding.remedy == "start a run at run.tee_1, or take the tee out"


@pytest.mark.parametrize(("up", "severity"), [(200, "warning"), (420, "fault")])
def test_a_forgotten_branch_over_a_sump_sprays_over_the_sumps_own_rim(check, up, severity):
    """The sump's rim is at -192 mm, 300 mm over its floor; the pump's outlet some 80 mm over that."""
    parts = """
sump: {SUMP, at: [0, 500, -500], inside: [600, 200, 300], compartments: [{name: a, level: 150}]}
pump: {PUMP, outlet: d20 pn 16, at: {in: sump.a, left: 100, front: 100, bottom: 0}}
run: {PIPE, start: pump.outlet, route: [{up: UP}, {tee: right}, {up: 60}, cap]}
"""
    (finding,) = check(RULE, parts.replace("UP", str(up)))
    assert finding.severity == severity


def test_what_is_open_says_what_to_do_with_it(check):
    outside = "route: [{back: 100}, open]"
    (end,) = check(
        RULE,
        f"run: {{PIPE, start: hole.outside, {outside}}}",
        holes="hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}",
    )
    assert end.remedy == "end it in a port (`join:`), in a cap, or over the tank or sump"
    assert end.parts == ("run", "run.pipe_1")
    assert end.message == "the end of run is open outside the tank and the sump"
    bar = "bar: {PIPE, start: [300, 300, 450], route: [{back: 300, drip: {diameter: 3, pitch: 40}}, cap]}"
    holes = next(one for one in check(RULE, bar) if "drip hole" in one.message)
    assert holes.severity == "fault"
    assert holes.remedy == "lead the drip holes over the tank, or take them out"
    assert holes.at[1] > 0.4  # at the first that lies over the floor, not at the first


def test_what_lies_over_no_sump_is_no_height_over_one(check):
    """A hose in the tank, its ends over and under its water, is open nowhere that counts."""
    assert check(RULE, "hose: {TUBE, start: [300, 200, 50], route: [{up: 200}, open]}") == ()
    (closed,) = check(
        RULE,
        "run: {PIPE, start: hole.outside, "
        "route: [{back: 100}, {ball_valve: 0 %, name: tap}, {back: 100}, open]}",
        holes="hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}",
    )
    assert closed.message.endswith("; run.tap holds it closed")


@pytest.mark.parametrize(("angle", "count"), [(150, 1), (60, 0)])
def test_drip_holes_that_throw_over_the_rim(check, angle, count):
    """Up to 8 m of head, 50 mm below the rim and 60 mm before the front glass: upwards it clears the rim."""
    bar = f"""
pump: {{kind: pump, model: high head 3000, outlet: d20 pn 16, at: {{left: 120, front: 300, bottom: 0}}}}
bar: {{PIPE, start: pump.outlet, route: [
  {{until: up, reach: [0, 0, 350]}}, {{until: front, reach: [0, 60, 0]}},
  {{right: 400, drip: {{diameter: 2.5, pitch: 100, angles: [{angle}]}}}}, cap]}}
"""
    found = check(RULE, bar)
    assert [(one.severity, one.parts) for one in found] == [("fault", ("bar", "bar.pipe_3"))] * count
    assert all(one.message.startswith("3 of 3 drip holes of bar.pipe_3 throw water over") for one in found)


@pytest.mark.parametrize(
    ("height", "back", "count"), [(400, 60, 1), (391, 60, 1), (389, 60, 0), (400, 101, 0)]
)
def test_water_that_drips_on_a_slab_as_high_as_the_rim_runs_over_it(check, height, back, count):
    """The rim is at 400 mm, the slab 150 mm thick; the bar drips straight down before the back glass."""
    bar = f"""
pump: {{kind: pump, model: small 1000, outlet: d20 pn 16, at: {{left: 60, front: 60, bottom: 0}}}}
wall: {{kind: background, panels: [back], thickness: 150, top: {height}, relief: {{form: flat, depth: 0}}}}
bar: {{PIPE, start: pump.outlet, route: [
  {{until: up, reach: [0, 0, 440]}}, {{until: back, reach: [0, {400 - back}, 0]}},
  {{right: 300, drip: {{diameter: 2, pitch: 100, angles: [0]}}}}, cap]}}
"""
    found = [one for one in check(RULE, bar) if one.limit == 0.01]
    assert [(one.severity, one.parts) for one in found] == [("fault", ("bar", "wall.back"))] * count
    assert all(one.measured == pytest.approx((400 - height) / 1000.0, abs=1e-6) for one in found)


@pytest.mark.parametrize(("up", "severity"), [(170, "fault"), (176, "note")])
def test_a_vent_of_a_drain_ends_over_the_rim(check, up, severity):
    """From a tee at 200 mm whose branch ends 27 mm higher: water stands up to the rim there, 400 mm."""
    vent = f"""
pipe: {{PIPE, start: hole.outside, route: [{{back: 60}}, {{tee: up, name: air}}, {{back: 60}}, cap]}}
vent: {{PIPE, start: pipe.air, route: [{{up: {up}}}, open]}}
"""
    (finding,) = check(RULE, vent, holes="hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}")
    assert (finding.severity, finding.parts) == (severity, ("vent", "vent.pipe_1"))
