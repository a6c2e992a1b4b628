"""What carries each part."""

import pytest

from layout3d.errors import SceneRefused

RULE = "held-up"


@pytest.mark.parametrize(
    ("height", "severity", "measured"),
    [
        (0, None, None),
        (1.4, None, None),
        (1.6, "fault", 0.0016),
        (40, "fault", 0.04),
    ],
)
def test_either_side_of_each_limit(faulty, height, severity, measured):
    """A stone on its lowest point; a gap of 1.5 mm is still contact (limit rest_gap)."""
    found = faulty(RULE, height=height)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


BASKET = "kind: filter_basket, size: [100, 100, 100]"


def tower(low, high):
    return (
        f"low: {{{BASKET}, at: {{left: 200, front: 200, bottom: {low}}}}}\n"
        f"high: {{{BASKET}, at: {{left: {{left}}, front: 200, bottom: {high}}}}}"
    )


def test_a_part_stands_on_another_that_stands(check):
    assert check(RULE, tower(0, 100).replace("{left}", "200")) == ()
    assert [f.parts for f in check(RULE, tower(10, 110).replace("{left}", "200"))] == [("low",), ("high",)]


def test_what_only_stands_beside_a_part_does_not_hold_it(check):
    (finding,) = check(RULE, tower(0, 50).replace("{left}", "300"))
    assert finding.parts == ("high",)
    assert "low only stands beside it" in finding.message
    assert finding.measured is None


def test_an_overhang_of_a_few_millimetres_does_hold(check):
    assert check(RULE, tower(0, 100).replace("{left}", "297")) == ()


def test_the_glass_beside_a_part_does_not_hold_it_unless_it_is_fixed_there(check):
    basket = f"one: {{{BASKET}, at: {{left: 50, front: 200, bottom: 50}}}}"
    (finding,) = check(RULE, basket)
    assert "tank.left only stands beside it" in finding.message
    for name in ("tank.left", "room"):
        assert check(RULE, basket.replace("50}}", f"50}}, fixed_to: {name}}}")) == ()


def test_a_chain_of_fixings_ends_at_the_glass(check):
    chain = f"""
one: {{{BASKET}, at: {{left: 50, front: 200, bottom: 50}}, fixed_to: tank.left}}
two: {{{BASKET}, at: {{left: 150, front: 200, bottom: 80}}, fixed_to: one}}
three: {{{BASKET}, at: {{left: 250, front: 200, bottom: 60}}, fixed_to: four}}
four: {{{BASKET}, at: {{left: 350, front: 200, bottom: 60}}, fixed_to: three}}
"""
    assert [f.parts for f in check(RULE, chain)] == [("four",), ("three",)]


def test_a_pump_does_not_hang_on_its_tube(check):
    pump = """
pump: {PUMP, outlet: 12/16 mm, at: {left: 300, front: 200, bottom: 50}}
hose: {TUBE, start: pump.outlet, route: [{up: 200}, open], supports: [{at: 150}]}
"""
    (finding,) = check(RULE, pump)
    assert finding.parts == ("pump",)


def test_a_stone_over_a_slope_is_not_held_by_the_bed_beside_it(check):
    """The bed rises to the right, higher than the stone's foot, yet the stone hangs over its low end."""
    sand = "sand: {SAND, depths: [[0, 0, 20], [0, 400, 20], [600, 0, 200], [600, 400, 200]], pitch: 50}"
    (finding,) = check(RULE, f"{sand}\none: {{{BASKET}, at: {{left: 60, front: 200, bottom: 100}}}}")
    assert finding.parts == ("one",)


@pytest.mark.parametrize(("left", "count"), [(100, 0), (100.1, 1)])
def test_what_a_part_is_fixed_to_is_in_reach(check, left, count):
    """A basket 100 mm long, 50 mm off the glass at most (limit fixing_reach)."""
    found = check(
        RULE, f"one: {{{BASKET}, at: {{left: {left}, front: 200, bottom: 50}}, fixed_to: tank.left}}"
    )
    assert [f.measured for f in found] == pytest.approx([0.0501] * count)
    assert [f.parts for f in found] == [("one", "tank.left")] * count


def test_what_a_part_is_fixed_to_is_there(check):
    with pytest.raises(SceneRefused, match=r"one\.fixed_to: nothing in the scene is called 'tank\.lft'"):
        check(RULE, f"one: {{{BASKET}, at: {{left: 80, front: 200, bottom: 50}}, fixed_to: tank.lft}}")


def test_a_part_may_stand_on_a_pipe_that_lies_on_the_floor(check):
    pipe = "pipe: {PIPE, start: [100, 200, 10], route: [{right: 300}, cap]}"
    assert check(RULE, f"{pipe}\none: {{{BASKET}, at: [200, 200, 20]}}") == ()


def test_a_part_on_another_that_hangs_is_told_as_such(check):
    (low, high) = check(RULE, tower(10, 110).replace("{left}", "200"))
    assert "it stands on low, which nothing holds up" in high.message
    assert low.measured == pytest.approx(0.010)


def test_moss_that_lies_on_bare_glass_is_held_by_it(check):
    assert check("held-up", "moss: {FERN, form: moss, at: [300, 200, 0]}") == ()
    (finding,) = check("held-up", "moss: {FERN, form: moss, at: [300, 200, 50]}")
    assert "nothing holds moss up" in finding.message


STANDING = """
stand: {{kind: stand, height: 800, board: 20}}
sump: {{kind: sump, inside: [300, 200, 200], at: {{in: stand, left: 50, front: {}, bottom: 0}},
  compartments: [{{name: inlet, length: 120, baffle: {{height: 120}}}}, {{name: return, level: 80}}]}}
"""


@pytest.mark.parametrize(("past", "faults"), [(-5, 0), (9, 0), (11, 1), (150, 1)])
def test_a_sump_stands_on_its_board_all_over(check, past, faults):
    """The stand is 420 mm deep and the sump 216: it reaches past the board by what is more than 204."""
    found = check(RULE, STANDING.format(204 + past))
    assert [finding.severity for finding in found] == ["fault"] * faults
    if found:
        assert found[0].measured == pytest.approx(past / 1000, abs=1e-6)
        assert "to the back" in found[0].message


@pytest.mark.parametrize(
    ("left", "front", "way"),
    [
        (-50, 50, "to the left"),
        (314, 50, "to the right"),
        (50, -30, "to the front"),
        (50, 234, "to the back"),
    ],
)
def test_a_sump_says_which_way_it_reaches_past_its_board(check, left, front, way):
    """A stand as large as its tank, 620 by 420 mm, its sides 20 mm thick; the sump is 316 by 216 mm."""
    text = STANDING.format(front).replace("left: 50", f"left: {left}")
    (finding,) = check(RULE, text)
    assert finding.measured == pytest.approx(0.030, abs=1e-6)
    assert finding.message.split(": ")[0].endswith(way)
