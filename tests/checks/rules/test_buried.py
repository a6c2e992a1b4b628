"""Mouths, equipment and leaves that lie in foam, sand or rock."""

import pytest

RULE = "buried"
PUMP = "pump: {PUMP, clear: 0, at: {left: 300, front: 200, bottom: BOTTOM}, fixed_to: tank.bottom}"


@pytest.mark.parametrize(("sand", "severity"), [(20, []), (45, ["warning"]), (62, ["fault"])])
def test_a_pump_in_the_sand_is_told_by_how_much_of_it_is(faulty, sand, severity):
    """It is 70 x 50 x 65 mm and stands 20 mm over the floor: 25 mm deep are 42 % of it, its inlet is free."""
    found = faulty(RULE, sand=sand)
    assert [f.severity for f in found if f.parts[0] == "pump"] == severity


def test_a_pump_that_stands_on_the_sand_is_not_in_it(check):
    sand = "sand: {SAND, depth: 40, pitch: 50}"
    assert check(RULE, f"{sand}\n{PUMP.replace('BOTTOM', '40')}", waterline=300) == ()


@pytest.mark.parametrize(
    "holder",
    [
        "sand: {SAND, depth: 350, pitch: 50}",
        "wall: {kind: background, panels: [back], thickness: 200, relief: {form: flat}, embeds: [rod]}",
    ],
)
def test_a_heater_in_sand_or_foam_is_a_fault(check, holder):
    rod = "rod: {kind: heater, length: 150, at: [300, 300, 100], fixed_to: tank.back}"
    (finding,) = check(RULE, f"{rod}\n{holder}", waterline=300)
    assert (finding.severity, finding.parts[0]) == ("fault", "rod")
    assert "fire" in finding.message
    assert ("cut_outs" in finding.remedy) == ("background" in holder)
    assert check(RULE, rod, waterline=300) == ()


HOLES = "drain: {panel: back, left: 300, bottom: 250, bulkhead: 1 in thin}"
WALL = "wall: {kind: background, panels: [back], thickness: 150, relief: {form: flat}, embeds: [EMBEDS]}"


@pytest.mark.parametrize("end", ["strainer", "open"])
@pytest.mark.parametrize(("front", "closed"), [(60, True), (250, False)])
def test_foam_around_an_overflow_s_mouth_is_a_fault(check, end, front, closed):
    """The slab is 150 mm thick: an inlet that ends in it gets no water, one in front of it does."""
    run = f"run: {{kind: run, pipe: 1 in sch 40, start: drain.inside, route: [{{front: {front}}}, {end}]}}"
    found = check(RULE, f"{run}\n{WALL.replace('EMBEDS', 'run')}", holes=HOLES)
    assert [f.severity for f in found] == ["fault"] * closed
    for finding in found:
        assert finding.parts[-1] == "wall"
        assert "nothing gets through" in finding.message


def test_foam_over_a_bulkhead_with_nothing_in_it_is_a_fault(check):
    (finding,) = check(RULE, WALL.replace("EMBEDS", "drain"), holes=HOLES)
    assert finding.parts == ("tank.drain", "wall")


def test_an_air_line_that_ends_under_the_sand_is_a_fault(check):
    line = "line: {kind: run, tube: 4/6 mm, start: [300, 200, 200], route: [{down: 180}, open]}"
    assert check(RULE, line) == ()
    (finding,) = check(RULE, f"{line}\nsand: {{SAND, depth: 60, pitch: 50}}")
    assert (finding.severity, finding.parts) == ("fault", ("line.tube_1", "sand"))


def test_a_plant_foamed_in_is_a_fault_and_one_that_hangs_before_the_wall_is_not(check):
    fern = "fern: {FERN, at: [300, Y, 100], fixed_to: wall}"
    thick = WALL.replace("150", "300").replace("EMBEDS", "fern")
    (finding,) = check(RULE, f"{fern.replace('Y', '250')}\n{thick}")
    assert finding.parts == ("fern.foliage", "wall")
    assert check(RULE, f"{fern.replace('Y', '80')}\n{thick.replace('300', '150').replace('fern', '')}") == ()
