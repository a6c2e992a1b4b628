"""Weight on the bare glass is m g of all that lies there; a mat or deep sand takes it."""

import pytest

RULE = "glass-point-load"
WEIGHT = 0.24 * 0.16 * 0.08 * 2700 * 9.80665  # of a stone 240 mm long, [N]


def long_of(newtons):
    return 240 * (newtons / WEIGHT) ** (1 / 3)


@pytest.mark.parametrize(
    ("newtons", "severity"), [(9.9, None), (10.1, "warning"), (99.0, "warning"), (101.0, "fault")]
)
def test_either_side_of_both_limits(faulty, newtons, severity):
    found = faulty(RULE, long=long_of(newtons))
    assert [(f.severity, pytest.approx(newtons, rel=1e-4)) for f in found] == [
        (f.severity, f.measured) for f in found
    ]
    assert [f.severity for f in found] == ([severity] if severity else [])


STONE = "stone: {kind: rock, mesh: block.obj, longest: 240, at: {left: 300, front: 200, ground: 0}}"


@pytest.mark.parametrize(
    ("under", "count"), [("", 1), ("mat: {kind: mat, thickness: 6}\n", 0), ("bed: {SAND, depth: 30}\n", 0)]
)
def test_a_mat_or_sand_takes_it(check, under, count):
    assert len(check(RULE, under + STONE)) == count


def test_all_that_lies_on_it_counts(check):
    """Two stones of 81 N each on one: more than the hundred that is a fault."""
    above = "above: {kind: rock, mesh: block.obj, longest: 240, at: {left: 300, front: 200, bottom: 80}}"
    (finding,) = check(RULE, f"{STONE}\n{above}")
    assert finding.measured == pytest.approx(2 * WEIGHT, rel=1e-4)
    assert finding.severity == "fault"
