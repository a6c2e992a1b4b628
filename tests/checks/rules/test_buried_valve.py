"""Valves and unions within reach."""

import pytest

RULE = "buried-valve"


RUN = "run: {PIPE, start: [150, Y, 200], route: [{right: 100}, FITTING, {right: 100}, cap]}\n"
WALL = "wall: {kind: background, panels: [back], thickness: 150, relief: {form: flat}, HOW: [run]}"


@pytest.mark.parametrize(
    ("fitting", "count"),
    [("union", 1), ("ball_valve", 1), ("check_valve", 1), ("coupling", 0), ("{tee: up}", 0)],
)
def test_what_is_opened_or_turned_counts(check, fitting, count):
    run = RUN.replace("FITTING", fitting).replace("Y", "330")
    found = check(RULE, run + WALL.replace("HOW", "embeds"))
    assert [f.severity for f in found] == ["fault"] * count


def test_in_a_channel_it_is_a_warning(check):
    wall = WALL.replace("HOW: [run]", "channels: [{follow: run, gap: 5}]")
    (finding,) = check(RULE, RUN.replace("FITTING", "union").replace("Y", "330") + wall)
    assert finding.severity == "warning"
    assert "hidden behind wall" in finding.message


def test_in_the_sand_it_is_a_fault(check):
    run = RUN.replace("FITTING", "union").replace("Y, 200", "200, 30")
    (finding,) = check(RULE, run + "sand: {SAND, depth: 60, pitch: 100}")
    assert finding.parts == ("run.union_1", "sand")


def test_in_the_open_it_is_none(check):
    assert check(RULE, RUN.replace("FITTING", "union").replace("Y", "200")) == ()


@pytest.mark.parametrize(("bottom", "count"), [(80, 1), (250, 0)])
def test_a_valve_is_judged_by_its_own_place_and_not_by_its_run_s(check, bottom, count):
    """The slab is foamed around the run up to 200 mm over the floor; the valve stands in it or over it."""
    run = f"run: {{PIPE, start: [300, 360, 20], route: [{{up: {bottom}}}, ball_valve, {{up: 100}}, cap]}}"
    wall = "wall: {kind: background, panels: [back], thickness: 100, top: 200, relief: {form: flat}, \
embeds: [run]}"
    found = check("buried-valve", f"{run}\n{wall}")
    assert [f.severity for f in found] == ["fault"] * count
