"""Rock and wood on what is not made to bear it: mass times g, on each of what lies in one plane under it."""

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
