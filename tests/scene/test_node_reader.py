"""Names, places within expressions, and names that mean something else already."""

import pytest

from layout3d.catalog import default
from layout3d.errors import LayoutError, SceneRefused
from layout3d.scene.own import limit_kind
from layout3d.scene.reader import read_scene

HEAD = "format: 1\nunits: mm\nwaterline: 180\n"
TANK = "  tank: {kind: tank, inside: [900, 450, 500], glass: 10}\n"


def mistakes_of(text: str) -> tuple[LayoutError, ...]:
    with pytest.raises(SceneRefused) as refused:
        read_scene("bad.yaml", text=text)
    return refused.value.mistakes


def chain(count: int, *, backward: bool) -> str:
    """Values that each need the next one (forward) or the one before (backward)."""
    first, step = (count - 1, 1) if not backward else (0, -1)
    lines = [f"  v{i}: {'5 mm' if i == first else f'v{i + step} + 1 mm'}" for i in range(count)]
    return "values:\n" + "\n".join(lines) + "\n"


def test_a_long_chain_of_values_that_need_those_above_is_read():
    scene = read_scene("chain.yaml", text=HEAD + chain(1000, backward=True) + "parts:\n" + TANK)
    assert scene.values["v999"] == pytest.approx(1.004)


def test_a_long_chain_of_values_that_need_those_below_is_refused_once():
    (only,) = mistakes_of(HEAD + chain(1000, backward=False) + "parts:\n" + TANK)
    assert only.found.startswith("50 names that each need the next one, down to values.v50")
    assert only.remedy == "write what others need above them"
    assert (only.place.line, only.place.column) == (54, 8)


def test_a_short_chain_of_values_that_need_those_below_is_read():
    scene = read_scene("chain.yaml", text=HEAD + chain(50, backward=False) + "parts:\n" + TANK)
    assert scene.values["v0"] == pytest.approx(0.054)


def test_a_chain_of_parts_is_bounded_as_well():
    """Each log needs the whole next log, for its longest side is computed from all its fields."""

    def logs(count: int) -> str:
        lines = [
            f"  w{i}: {{kind: wood, at: [0, 0, 0], length: w{i + 1}.longest_side}}\n" for i in range(count)
        ]
        return HEAD + "parts:\n" + TANK + "".join(lines)

    last = "  w{0}: {{kind: wood, at: [0, 0, 0], length: 300}}\n"
    scene = read_scene("logs.yaml", text=logs(14) + last.format(14))
    assert [part.name for part in scene.parts] == ["tank", *(f"w{i}" for i in range(15))]
    (only,) = mistakes_of(logs(300) + last.format(300))
    assert "names that each need the next one" in only.found


def test_values_and_parts_in_turn_stay_within_python_s_own_stack():
    values = "".join(f"  v{i}: w{i}.longest_side\n" for i in range(300))
    logs = "".join(f"  w{i}: {{kind: wood, at: [0, 0, v{i + 1}], length: v{i + 1}}}\n" for i in range(299))
    mistakes = mistakes_of(HEAD + "values:\n" + values + "parts:\n" + TANK + logs)
    assert any("names that each need the next one" in mistake.found for mistake in mistakes)


@pytest.mark.parametrize(
    ("written", "offset", "told"),
    [
        ("depth + 3 + thick", 12, "no value is called 'thick', in 'depth + 3 + thick'"),
        ('"depth + 3 + thick"', 13, "no value is called 'thick', in 'depth + 3 + thick'"),
        ("depth * tnak.glass", 8, "no part is called 'tnak', in 'depth * tnak.glass'"),
        ("12 mm + 3 kg", 6, "a length and a mass added, in '12 mm + 3 kg'"),
        ("depth / (2 - 2)", 6, "a division by zero, in 'depth / (2 - 2)'"),
        ("3 kg", 0, "a mass where a length is wanted, in '3 kg'"),
        ("thick", 0, "no value is called 'thick'"),
        ("depth + deep", 8, "no value is called 'deep', in 'depth + deep'"),
        # an escape stands in fewer columns than it is read as: told where the text begins
        (r'"\x31 mm + thick"', 0, "no value is called 'thick', in '1 mm + thick'"),
    ],
)
def test_a_mistake_in_an_expression_is_told_at_its_own_column(written, offset, told):
    text = HEAD.replace("180", written) + "values: {depth: 400 mm}\nparts:\n" + TANK
    (only,) = mistakes_of(text)
    assert (only.place.line, only.place.column, only.found) == (3, 12 + offset, told)


def test_an_expression_over_two_lines_is_told_where_it_begins():
    (only,) = mistakes_of(HEAD.replace("180", "100 +\n  thick") + "parts:\n" + TANK)
    assert (only.place.line, only.place.column) == (3, 12)


def test_parts_stand_in_the_file_s_order_whichever_is_asked_for_first():
    text = HEAD.replace("180", "log.longest_side / 5") + "parts:\n" + TANK
    text += "  log: {kind: wood, at: [0, 0, 0], length: 300}\n"
    assert [part.name for part in read_scene("order.yaml", text=text).parts] == ["tank", "log"]


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("mm", "'mm' is the name of a unit"),
        ("h", "'h' is the name of a unit"),
        ("pi", "'pi' is known to arithmetic already"),
        ("max", "'max' is known to arithmetic already"),
    ],
)
def test_a_value_can_t_bear_the_name_of_a_unit_or_function(name, told):
    """``2 h`` is two hours, whatever a value named h stands for."""
    (only,) = mistakes_of(HEAD + f"values:\n  {name}: 3 mm\nparts:\n" + TANK)
    assert only.found == told
    assert (only.place.line, only.place.column, only.path) == (5, 3, f"values.{name}")


HOLES = TANK.replace("glass: 10", "glass: 10, holes: {drain: {panel: back, left: 90, top: 90, diameter: 30}}")
LOG = "{kind: wood, at: [0, 0, 0], length: 300}"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("drain", "'drain' is a hole of the tank as well"),
        ("back", "'back' is a panel of the tank"),
        ("room", "'room' is what things are fixed to"),
        ("glass", "'glass' means all parts of that group"),
        ("rock", "'rock' means all parts of that group"),
    ],
)
def test_a_part_can_t_bear_a_name_that_means_something_else(name, told):
    """Elsewhere in the file a name stands for a part, a body, a hole or a group."""
    (only,) = mistakes_of(HEAD + "parts:\n" + HOLES + f"  {name}: {LOG}\n")
    assert only.found.startswith(told)
    assert (only.place.line, only.place.column, only.path) == (6, 3, f"parts.{name}")


def test_a_part_may_bear_its_group_s_name_while_it_is_the_whole_group():
    text = HEAD + "parts:\n" + HOLES + f"  wood: {LOG}\n"
    assert read_scene("alone.yaml", text=text).part("wood")
    (only,) = mistakes_of(text + f"  other: {LOG}\n")
    assert only.path == "parts.wood"
    assert only.remedy == "give it another name, such as wood_1"


@pytest.mark.parametrize("name", ["back", "room", "rock", "silicone", "cross_brace_1"])
def test_a_hole_can_t_bear_the_name_of_a_panel_or_piece(name):
    (only,) = mistakes_of(HEAD + "parts:\n" + HOLES.replace("drain", name))
    assert only.found.startswith(f"{name!r}")
    assert only.path == f"parts.tank.holes.{name}"


def test_limits_are_given_in_the_kind_of_quantity_they_count():
    """Every limit of the catalogue has one, and what is no unit and no ratio is a fault of the table."""
    catalog = default()
    kinds = {limit_kind(catalog.limit(name).unit) for name in catalog.names("limits")}
    assert {"length", "pressure", "speed", "angle", "mass", "number"} <= kinds
    with pytest.raises(RuntimeError, match="furlongs"):
        limit_kind("furlongs")


def test_mistakes_below_one_another_are_all_told():
    text = (
        HEAD
        + "catalog:\n  pips: {}\n  materials: {x: {density: 3}, y: {densit: 3}}\n  tubes: 3\nparts:\n"
        + TANK.replace("glass: 10", "glass: {fr ont: 10, ba ck: 12}")
        + "  log: {kind: wood, at: {lefft: 1, rear: 3, ground: x}, length: 300}\n"
    )
    assert [mistake.place.line for mistake in mistakes_of(text)] == [5, 6, 6, 7, 9, 9, 10, 10, 10]


def test_own_catalogue_mistakes_are_told_where_they_stand():
    text = (
        HEAD
        + "catalog:\n  pipes:\n    mine: {like: 1 in sch 44}\n    yours: {like: 1 in sch 45}\nparts:\n"
        + TANK
    )
    assert [mistake.place.line for mistake in mistakes_of(text)] == [6, 7]


def test_a_missing_units_is_told_alone():
    (only,) = mistakes_of(
        "format: 1\nwaterline: 18\nparts: {tank: {kind: tank, inside: [36, 18, 20], glass: 1}}\n"
    )
    assert only.found == "a scene lacks 'units'"
    assert only.expected == "units: one of: mm, in"


def test_units_called_inch_leave_the_numbers_inches():
    """All of them are below the least that a tank may have in millimetres."""
    (only,) = mistakes_of(
        "format: 1\nunits: inch\nwaterline: 7\n"
        "parts: {tank: {kind: tank, inside: [36, 18, 20], glass: 3/8}}\n"
    )
    assert only.found == "'inch' is not known here"
    assert only.expected == "one of: in, mm; nearest: 'in'"


def test_figures_out_of_range_are_told_in_the_units_of_the_file():
    inch = HEAD.replace("mm", "in").replace("180", "7")
    tank = "parts: {tank: {kind: tank, inside: [-20, 18, 20], glass: 0.4}}\n"
    (only,) = mistakes_of(inch + tank)
    assert only.found == "-20 is -20 in"
    assert only.expected.startswith("a length of 1.97 in or more")
    (only,) = mistakes_of(
        HEAD + tank.replace("-20", "1e300").replace("18, 20", "450, 500").replace("0.4", "10")
    )
    assert only.found == "1e300 is 1e+297 m"


USED = "values: {side: 300 mm}\nparts: {tank: {kind: tank, inside: [side, side, side + 100 mm], glass: 10}}\n"


def test_a_value_set_to_another_kind_is_told_once_at_the_setting():
    with pytest.raises(SceneRefused) as refused:
        read_scene("scene.yaml", text=HEAD + USED, overrides={"side": "12 kg"})
    (only,) = refused.value.mistakes
    assert (only.found, only.expected) == ("12 kg is a mass", "a length, as the file has it")
    assert only.place.file == "--set side"


def test_a_value_may_be_set_to_a_bare_number_or_one_with_a_unit():
    for text, value in (("350", 350), ("350 mm", 0.35), ("side_of_old + 1 in", None)):
        overrides = {"side": text}
        if value is None:
            with pytest.raises(SceneRefused, match="no value is called 'side_of_old'"):
                read_scene("scene.yaml", text=HEAD + USED, overrides=overrides)
        else:
            assert read_scene("scene.yaml", text=HEAD + USED, overrides=overrides).values["side"] == value


KEPT = """
format: 1
units: mm
waterline: 40
values: {wide: 150, deep: wide / 20}
parts:
  tank: {kind: tank, inside: [wide, 100, 80], glass: 3}
  bed: {kind: substrate, depth: deep}
  block: {kind: rock, size: [30, 30, 20], at: {left: tank.inside_length / 2, front: 40, bottom: bed.depth}}
  stone: {kind: rock, size: [20, 20, 15], at: {left: 40, front: 40, bottom: 0}}
"""


def test_parts_are_read_anew_where_their_words_or_what_these_stand_for_differ():
    first = read_scene("kept.yaml", text=KEPT)
    for changes, anew in (
        ({}, set()),
        ({"parts.stone.at.left": "45"}, {"stone"}),
        ({"deep": "8"}, {"bed", "block"}),
        ({"wide": "160"}, {"tank", "bed", "block"}),
        ({"parts.tank.inside": "[150, 100, 90]"}, {"tank"}),
    ):
        text = KEPT.replace("[wide, 100, 80]", changes.pop("parts.tank.inside", "[wide, 100, 80]"))
        fresh = read_scene("kept.yaml", text=text, overrides=changes)
        found = read_scene("kept.yaml", text=text, overrides=changes, last=first)
        assert found == fresh
        assert {a.name for a, b in zip(first.parts, found.parts, strict=True) if a is not b} == anew
        assert found == read_scene("kept.yaml", text=text, overrides=changes, last=found)
    inches = KEPT.replace("units: mm", "units: in")
    assert read_scene("kept.yaml", text=inches, last=first) == read_scene("kept.yaml", text=inches)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("wide: 150", "wide: deep"),
        ("wide: 150", "wide: tall"),
        ("bottom: 0", "bottom: block.depth"),
        ("deep: wide / 20", "deep: block.width"),
        ("depth: deep", "depth: deep kg"),
    ],
)
def test_mistakes_are_told_as_in_a_file_that_is_read_the_first_time(old, new):
    first, text = read_scene("kept.yaml", text=KEPT), KEPT.replace(old, new)
    told = []
    for last in (None, first):
        with pytest.raises(SceneRefused) as refused:
            read_scene("kept.yaml", text=text, last=last)
        told.append([str(mistake) for mistake in refused.value.mistakes])
    assert told[0] == told[1]
