"""What carries each part."""

import pytest
from made_bodies import made_body, made_join, with_bodies
from made_outages import made_model

from layout3d.checks.rules import held_up as module
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


@pytest.mark.parametrize(
    ("part", "holder", "count"),
    [
        (f"{BASKET}, at: [200, 200, 60]", "sand", 1),
        ("kind: rock, size: [90, 80, 60], at: [200, 200, 60]", "sand", 1),
        (f"{BASKET}, at: [200, 200, 120]", "grass", 1),
        ("FERN, at: [200, 200, 60]", "sand", 0),
        ("FERN, at: [200, 200, 120]", "grass", 0),
    ],
)
def test_sand_holds_nothing_but_plants_and_these_no_equipment(check, part, holder, count):
    """Each is fixed in reach, and nothing was told of it, nor of how it stands."""
    bed = "sand: {SAND, depth: 50, pitch: 50}"
    grass = (
        "grass: {kind: plant, form: grass, height: 100, spread: 120, at: {left: 200, front: 200, ground: 0}}"
    )
    found = check(RULE, f"{bed}\n{grass}\none: {{{part}, fixed_to: {holder}}}", waterline=300)
    assert [finding.parts for finding in found] == [("one", holder)] * count
    for finding in found:
        assert f"fixed to {holder}, which gives way" in finding.message


@pytest.mark.parametrize(
    ("at", "fixed", "told"),
    [
        ("[612, 0, 100]", "tank.right", "res hangs on tank.right alone"),
        ("[612, 0, 100]", "room", None),
        ("[92, 42, 400]", "", "res stands on tank.cross_brace_1 alone"),
    ],
)
def test_a_sump_that_glass_bears_alone_is_told(check, at, fixed, told):
    """A reservoir of 36 L hung on a pane, or set on a brace, weighs as much as half of the tank."""
    fixing = f", fixed_to: {fixed}" if fixed else ""
    rows = "inside: [300, 300, 400], compartments: [{name: only, level: 350}]"
    tank = "BOX, cross_braces: [{at: 250, width: 380, thickness: 10}]"
    found = check(RULE, f"res: {{SUMP, at: {at}, {rows}{fixing}}}", tank=tank)
    assert [finding.message.split(":")[0] for finding in found] == ([told] if told else [])


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


LIMITS = {"rest_gap": 0.0015, "fixing_reach": 0.05, "sump_overhang": 0.01}
FLOOR = made_body("tank.bottom", (0, 0, -10), (600, 400, 0), group="glass", kind="panel")


def judged(*bodies, joins=(), **parts):
    """Run the rule over boxes on a pane of glass."""
    model = with_bodies(made_model(**LIMITS), FLOOR, *bodies, joins=joins, **parts)
    model.sumps = ()
    return list(module.held_up.find(model))


def stone(name, bottom, *, left=100, **more):
    return made_body(name, (left, 100, bottom), (left + 100, 200, bottom + 100), **more)


@pytest.mark.parametrize(("bottom", "measured"), [(1.5, None), (1.6, 0.0016), (30, 0.030)])
def test_what_stands_off_the_glass_is_held_by_nothing(bottom, measured):
    found = judged(stone("stone", bottom))
    assert [(one.severity, one.measured) for one in found] == (
        [("fault", pytest.approx(measured))] if measured else []
    )
    for one in found:
        assert (one.parts, one.limit) == (("stone",), 0.0015)
        assert one.at == pytest.approx((0.15, 0.15, bottom / 1000 + 0.05))
        assert one.message == (f"nothing holds stone up: tank.bottom is nearest, {bottom:g} mm away")


def test_a_tower_stands_by_what_stands_and_falls_with_what_hangs():
    low, high, top = stone("low", 0), stone("high", 100), stone("top", 200)
    assert judged(low, high, top) == []
    low, high, top = stone("low", 5), stone("high", 105), stone("top", 205)
    told = {one.parts[0]: one.message for one in judged(low, high, top)}
    assert told["low"].endswith(": tank.bottom is nearest, 5 mm away")
    assert told["high"].endswith(": it stands on low, which nothing holds up")
    assert told["top"].endswith(": it stands on high, which nothing holds up")


@pytest.mark.parametrize(
    ("group", "kind", "count"),
    [
        ("rock", "rock", 1),
        ("wood", "wood", 1),
        ("equipment", "pump", 1),
        ("plant", "root", 1),
        ("sump", "panel", 1),
        ("background", "slab", 1),
        ("plumbing", "pipe", 0),
        ("glass", "brace", 0),
    ],
)
def test_pipe_and_glass_are_held_otherwise(group, kind, count):
    assert len(judged(stone("one", 50, group=group, kind=kind))) == count


def test_a_join_carries_either_way_and_to_the_room_and_on():
    """Held by the room, then from one to the next; a join to a part counts for all its bodies."""
    a, b, c = stone("a.one", 50), stone("b", 50, left=220), stone("c", 50, left=340)
    assert [one.parts for one in judged(a, b, c)] == [("a",), ("b",), ("c",)]
    room = made_join("a", "room", "held")
    assert [one.parts for one in judged(a, b, c, joins=(room,))] == [("b",), ("c",)]
    chain = room, made_join("b", "a.one", "glued"), made_join("b", "c", "glued")
    assert judged(a, b, c, joins=chain) == []


@pytest.mark.parametrize(("how", "count"), [("barb", 1), ("socket", 0)])
def test_what_pushes_a_tube_on_does_not_hang_on_it(how, count):
    """The tube is held by the room; the pump's barb in it carries no pump, a socket would."""
    tube = stone("hose.tube_1", 200, group="plumbing", kind="tube")
    pump = stone("pump", 50, left=220, group="equipment")
    joins = made_join("hose.tube_1", "room", "held"), made_join("hose.tube_1", "pump", how)
    assert [one.parts for one in judged(tube, pump, joins=joins)] == [("pump",)] * count


def test_a_tube_hangs_on_the_pump_that_it_is_pushed_on():
    """And what is glued to the tube hangs there as well."""
    pump = stone("pump", 0, group="equipment")
    tube = stone("hose.tube_1", 150, group="plumbing", kind="tube")
    leaf = stone("tag", 150, left=220)
    joins = made_join("pump", "hose.tube_1", "barb"), made_join("tag", "hose.tube_1", "glued")
    assert judged(pump, tube, leaf, joins=joins) == []


def test_leaves_carry_nothing_and_a_rooted_plant_stands_on_its_root():
    leaves = stone("fern.foliage", 0, group="plant", kind="foliage")
    assert [one.parts for one in judged(leaves, stone("stone", 100))] == [("stone",)]
    assert judged(leaves) == []
    root = made_body("fern.root", (140, 140, 50), (160, 160, 60), group="plant", kind="root")
    assert [one.parts for one in judged(leaves, root)] == [("fern",)]


def test_of_a_part_in_pieces_the_loose_ones_are_named_by_the_lowest():
    held, low, high = (
        stone(f"wood.{name}", bottom, left=left, group="wood")
        for name, bottom, left in (("a", 0, 100), ("b", 20, 220), ("c", 30, 340))
    )
    (one,) = judged(held, low, high)
    assert (one.parts, one.measured) == (("wood.b",), pytest.approx(0.020))
    assert one.remedy.startswith("stand wood on something")
    (one,) = judged(low, high)
    assert one.parts == ("wood",)


def test_what_only_stands_beside_or_lies_above_does_not_hold():
    pillar = stone("pillar", 0, left=200)
    (one,) = judged(pillar, stone("stone", 50))
    assert (one.measured, one.message) == (None, "nothing holds stone up: pillar only stands beside it")
    alone = with_bodies(made_model(**LIMITS), stone("stone", 50))
    alone.sumps = ()
    (one,) = module.held_up.find(alone)
    assert one.message == "nothing holds stone up"


def test_the_nearest_of_what_is_lower_is_named_but_no_leaf():
    """What lies above a stone, and leaves under it, are no nearer thing that it could stand on."""
    leaf = made_body("fern.foliage", (100, 100, 10), (200, 200, 45), group="plant", kind="foliage")
    above = made_body("above", (100, 100, 160), (200, 200, 170), group="glass")
    (one, _) = judged(stone("stone", 50), leaf, above)
    assert one.message.endswith(": tank.bottom is nearest, 50 mm away")
    ledge = made_body("ledge", (230, 100, 0), (330, 200, 30), group="glass")  # 30 mm aside, 20 lower
    (one,) = judged(stone("stone", 50), ledge)
    assert one.message.endswith(f": ledge is nearest, {(30**2 + 20**2) ** 0.5:.1f} mm away")


@pytest.mark.parametrize(("away", "count"), [(50, 0), (50.1, 1), (0, 0), (-10, 0)])
def test_what_a_part_is_fixed_to_is_in_reach_by_hand(away, count):
    """The nearest of the bodies of what it is fixed to counts, and the room is always there."""
    far = made_body("wall.far", (500, 100, 0), (600, 200, 100), group="glass")
    near = made_body("wall.near", (200 + away, 100, 0), (400, 200, 100), group="glass")
    found = judged(stone("stone", 0), far, near, stone={"fixed_to": ("room", "wall")})
    assert [one.measured for one in found] == [pytest.approx(0.0501)] * count
    for one in found:
        assert (one.severity, one.parts, one.limit) == ("fault", ("stone", "wall"), 0.05)
        assert one.at == pytest.approx((0.2, one.at[1], one.at[2]))
        assert one.message.startswith("stone is to be fixed to wall, 50.1 mm away: 0.1 mm over 50 mm")


def test_what_is_not_there_holds_nothing():
    (one,) = judged(stone("stone", 0), stone={"fixed_to": ("nothing",)})
    assert (one.measured, one.limit, one.at) == (None, 0.05, pytest.approx((0.15, 0.15, 0.05)))
    assert one.message == "stone is to be fixed to nothing, but nothing is called so"
