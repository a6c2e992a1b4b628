"""Rock and wood on what is not made to bear it: mass times g, on each of what lies in one plane under it."""

import math

import pytest

RULE = "breaks-under"
G = 9.80665


@pytest.mark.parametrize(
    ("mass", "severity"), [(1.01, None), (1.03, "warning"), (5.09, "warning"), (5.11, "fault")]
)
def test_either_side_of_the_limits(faulty, mass, severity):
    """10 N and 50 N."""
    found = faulty(RULE, mass=f"{mass} kg")
    if severity is None:
        assert found == ()
        return
    (finding,) = found
    assert (finding.severity, finding.parts) == (severity, ("stone", "one.pipe_1", "two.pipe_1"))
    assert finding.measured == pytest.approx(mass * G, rel=1e-6)


@pytest.mark.parametrize(
    ("under", "height"),
    [
        ("mist_maker", 30),
        ("filter_basket, size: [150, 100, 60]", 60),
        ("light, size: [200, 100, 20]", 20),
    ],
)
def test_equipment_is_not_made_to_bear(check, under, height):
    stone = f"stone: {{kind: rock, mesh: block.obj, mass: 8 kg, at: [300, 200, {height}]}}"
    device = f"it: {{kind: {under}, at: [300, 200, 0]}}"
    found = check(RULE, f"{device}\n{stone}", waterline=300)
    assert [finding.parts for finding in found] == [("stone", "it")]


@pytest.mark.parametrize(
    ("long", "over", "severity"),
    [(240, 29, None), (240, 33, "warning"), (340, 33, "warning"), (440, 33, "fault")],
)
def test_a_stone_that_leans_on_a_pipe_presses_on_it(check, long, over, severity):
    """On end on a mat, its top over to the right: weight x (tan a / 2 - 1 / 6), a ladder without rubbing."""
    lean, weight = math.radians(over), 0.24 * 0.16 * 0.08 * 2700 * G * (long / 240) ** 3
    left = 490 - long * (math.sin(lean) / 2 + math.cos(lean) / 3)
    at = f"at: {{left: {left}, front: 200, ground: 0}}, turn: {{tip_right: {90 + over} deg}}"
    stone = f"stone: {{kind: rock, mesh: block.obj, longest: {long}, {at}}}"
    pipe = "pipe: {PIPE, start: [500, 200, 10], route: [{up: 385}, open]}"
    found = check(RULE, f"mat: {{kind: mat, thickness: 6}}\n{pipe}\n{stone}", waterline=300)
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert finding.parts == ("stone", "pipe.pipe_1")
        assert finding.measured == pytest.approx(weight * (math.tan(lean) / 2 - 1 / 6), rel=0.02)
        assert "leans on pipe.pipe_1" in finding.message


def test_a_stone_on_the_floor_or_on_another_stone_is_borne(check):
    stones = "\n".join(
        f"{name}: {{kind: rock, mesh: block.obj, file_unit: mm, at: [300, 200, {height}]}}"
        for name, height in (("low", 0), ("high", 80))
    )
    assert check(RULE, stones, waterline=300) == ()


@pytest.mark.parametrize(
    "it",
    ["kind: run, pipe: d25 pn 10, start: [100, 200, 150], route: [right: 400]", "FERN, at: [300, 200, 0]"],
)
def test_a_stone_that_only_a_pipe_or_a_plant_holds_hangs_on_it(check, it):
    """1.9 kg that nothing else bears; the same one on the floor may be tied to what it likes."""
    stone = "stone: {kind: rock, mesh: block.obj, mass: 1.9 kg, at: [300, 200, HIGH], fixed_to: it}"
    found = check(RULE, f"it: {{{it}}}\n{stone.replace('HIGH', '163')}", waterline=300)
    assert [(finding.parts, finding.measured) for finding in found] == [
        (("stone", "it"), pytest.approx(1.9 * G))
    ]
    assert check(RULE, f"it: {{{it}}}\n{stone.replace('HIGH', '0')}", waterline=300) == ()
