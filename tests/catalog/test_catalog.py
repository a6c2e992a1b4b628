"""Looking names up, and a scene's own entries over the shipped ones."""

import pickle

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import OWN_FIELDS, Pipe, default
from layout3d.errors import OutOfRange, SceneRefused, UnknownName

CATALOG = default()


@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        ("3/4 in sch 40", "3/4 in sch 40"),
        ('3/4" sch40', "3/4 in sch 40"),
        ("3/4IN SCH 40", "3/4 in sch 40"),
        ("  3/4  inch   Schedule 40 ", "3/4 in sch 40"),
        ("¾ in sch 40", "3/4 in sch 40"),
        ("1 1/4 in sch 80", "1-1/4 in sch 80"),
        ("1½ in sch 40", "1-1/2 in sch 40"),
        ("d25 pn 10", "d25 pn 10"),
        ("D25 PN10", "d25 pn 10"),
        ("25 mm pn16", "d25 pn 16"),
        ("d 63 pn 16", "d63 pn 16"),
    ],
)
def test_pipes_are_found_in_any_spacing_and_case(written, canonical):
    assert CATALOG.pipe(written).name == canonical


@pytest.mark.parametrize("name", CATALOG.names("pipes"))
def test_every_name_finds_itself(name):
    assert CATALOG.pipe(name).name == name
    assert CATALOG.pipe(name.upper().replace(" ", "")).name == name


@pytest.mark.parametrize("section", ["tubes", "bulkheads", "materials", "pumps", "limits"])
def test_every_name_of_every_section_finds_itself(section):
    find = getattr(CATALOG, section[:-1])
    for name in CATALOG.names(section):
        assert find(name).name == name


def test_an_unknown_schedule_names_the_pipes_of_that_size():
    with pytest.raises(UnknownName) as caught:
        CATALOG.pipe("3/4in sch 41")
    assert str(caught.value).splitlines() == [
        "'3/4in sch 41' is not a pipe in the catalogue",
        "    expected one of: 3/4 in sch 40, 3/4 in sch 80; nearest: '3/4 in sch 40' (pipes of 3/4 in)",
        "    write a name of the list, or add your pipe under `catalog: pipes:` in the scene",
    ]


def test_a_pipe_that_is_not_made_names_the_one_that_is():
    with pytest.raises(UnknownName, match=r"one of: d20 pn 16"):
        CATALOG.pipe("d20 pn 10")


@pytest.mark.parametrize("name", ["", "3/4", "3/4 in", "0.75 in sch 40", "3/4 in sch 40 sch 40", "25"])
def test_anything_else_is_refused(name):
    with pytest.raises(UnknownName, match="is not a pipe"):
        CATALOG.pipe(name)


@settings(max_examples=4)  # each is asked of six tables, and near names sought among hundreds
@given(st.text(max_size=30))
def test_no_text_breaks_the_look_up(text):
    for find in (CATALOG.pipe, CATALOG.tube, CATALOG.bulkhead, CATALOG.material, CATALOG.pump, CATALOG.limit):
        try:
            entry = find(text)
        except UnknownName:
            continue
        assert entry.name


@pytest.mark.parametrize(
    ("find", "written", "canonical"),
    [
        ("tube", "1/2x5/8in", "1/2 x 5/8 in"),
        ("tube", '1/2" x 5/8"', "1/2 x 5/8 in"),
        ("tube", "12/16mm", "12/16 mm"),
        ("tube", '3/4" Flexible', "3/4 in flexible"),
        ("bulkhead", '1" THIN', "1 in thin"),
        ("bulkhead", "1in heavy", "1 in heavy"),
        ("bulkhead", "D32", "d32"),
        ("material", "PVC-U", "pvc"),
        ("material", "Aluminum", "aluminium"),
        ("pump", "Small  1000", "small 1000"),
    ],
)
def test_other_sections_take_spacing_and_case_too(find, written, canonical):
    assert getattr(CATALOG, find)(written).name == canonical


def test_entries_can_be_hashed_and_sent_to_another_process():
    mine = CATALOG.with_own({"pipes": {"measured": {"like": "3/4 in sch 40", "g_90": 0.0155}}})
    assert pickle.loads(pickle.dumps(mine)) == mine
    assert len({CATALOG.pipe("3/4 in sch 40"), CATALOG.pipe("3/4 in sch 40"), mine.pipe("measured")}) == 2


def test_a_bulkhead_takes_the_upper_end_of_its_hole_and_its_thread_goes_through_the_lower():
    for name in CATALOG.names("bulkheads"):
        entry = CATALOG.bulkhead(name)
        assert entry.hole_diameter == entry.hole_range[1]
        assert 0.001 <= entry.hole_range[0] - entry.thread_diameter <= 0.002
        assert entry.grip_range[0] < 0.012 <= entry.grip_range[1]
        assert entry.source_of("flange_diameter").startswith("common practice, no source")


def test_own_pipe_like_another_keeps_the_rest_and_says_what_was_given():
    mine = CATALOG.with_own({"pipes": {"My Pipe": {"like": "3/4 in sch 40", "socket_depth": 0.021}}})
    pipe, base = mine.pipe("my  pipe"), CATALOG.pipe("3/4 in sch 40")
    assert (pipe.socket_depth, pipe.g_90, pipe.outside_diameter) == (0.021, base.g_90, base.outside_diameter)
    assert pipe.source_of("socket_depth") == "given in the scene"
    assert pipe.source_of("g_90") == base.source_of("g_90")
    assert (pipe.family, pipe.size) == (base.family, base.size)


def test_own_pipe_with_another_outside_keeps_the_wall_that_is_left():
    mine = CATALOG.with_own({"pipes": {"odd": {"like": "3/4 in sch 40", "outside_diameter": 0.0272}}})
    assert mine.pipe("odd").wall_min == pytest.approx((0.0272 - 0.020574) / 2.0)


def test_own_pipe_from_two_diameters_follows_the_stated_rules():
    """ISO 727-1: socket depth 0.5 d + 6 mm."""
    mine = CATALOG.with_own({"pipes": {"d75": {"outside_diameter": 0.075, "inside_diameter": 0.0678}}})
    pipe = mine.pipe("d75")
    assert pipe.socket_depth == pytest.approx(0.0435)
    assert pipe.g_90 == pytest.approx(0.0385)
    assert "ISO 727-1" in pipe.source_of("socket_depth")
    assert pipe.source_of("outside_diameter") == "given in the scene"


def test_a_pump_with_a_curve_of_its_own_is_told_by_no_word_of_the_generic_one():
    points = [[0, 2.2], [0.0003, 1.5], [0.0006, 0.0]]
    pumps = {
        "curve": {"like": "medium 2000", "points": points},
        "power": {"like": "medium 2000", "power": 9.0},
    }
    mine = CATALOG.with_own({"pumps": pumps})
    own, other = mine.pump("curve"), mine.pump("power")
    assert own.source == "given in the scene; all but its curve as medium 2000"
    assert own.note == ""
    assert own.size == CATALOG.pump("medium 2000").size
    assert "generic" in other.source
    assert "generic" in other.note


def test_own_entry_shadows_the_shipped_one():
    mine = CATALOG.with_own({"materials": {"granite": {"density": 2650.0}}})
    assert mine.material("granite").density == 2650.0
    assert CATALOG.material("granite").density != 2650.0


def test_own_material_under_another_name_of_a_shipped_one_is_the_own_one():
    mine = CATALOG.with_own({"materials": {"pvc-u": {"density": 1390.0}}})
    assert (mine.material("PVC-U").density, mine.material("pvc").density) == (
        1390.0,
        CATALOG.material("PVC-U").density,
    )


def test_own_material_by_its_bulk_density():
    mine = CATALOG.with_own({"materials": {"pit sand": {"bulk_density": 1500.0, "porosity": 0.4}}})
    assert mine.material("pit sand").density == pytest.approx(2500.0)


def test_own_bulkhead_pump_tube_limit_and_fitting():
    mine = CATALOG.with_own(
        {
            "bulkheads": {"mine": {"like": "1 in thin", "hole_diameter": 0.0435}},
            "pumps": {"mine": {"points": [[0, 2.0], [0.0005, 0.0]], "power": 20.0}},
            "tubes": {"mine": {"inside": 0.010, "outside": 0.014}},
            "limits": {"pipe_to_glass": 0.006, "hand_access": 0.12},
            "fittings": {"3/4 in": {"valve_gap": 0.050}},
        }
    )
    assert mine.bulkhead("mine").hole_diameter == 0.0435
    assert mine.bulkhead("mine").thread_diameter == pytest.approx(0.042)
    assert mine.pump("mine").greatest_flow == 0.0005
    assert mine.tube("mine").min_bend_radius == pytest.approx(0.084)
    assert mine.limit("pipe_to_glass").value == 0.006
    assert mine.limit("hand_access").severity == CATALOG.limit("hand_access").severity
    lengths, shipped = (each.lengths(each.pipe("3/4 in sch 40")) for each in (mine, CATALOG))
    assert lengths == {**shipped, "valve_gap": 0.050}


def test_all_mistakes_of_own_entries_come_at_once_with_their_paths():
    with pytest.raises(SceneRefused) as caught:
        CATALOG.with_own(
            {
                "pipes": {
                    "a": {"outside": 0.02},
                    "b": {"like": "9 in sch 40"},
                    "c": {"like": "1 in sch 40", "g_90": -1},
                },
                "pumps": {"p": {"points": [[0, 1.0], [1e-4, 2.0]], "power": 5}},
                "materials": {"m": {"porosity": 0.2}, "n": 7},
                "limits": {"pipe_to_gloss": 0.1, "hand_access": -1},
                "fittings": {"7 in": {}},
                "glues": {"x": {}},
            }
        )
    paths = [mistake.path for mistake in caught.value.mistakes]
    assert paths == sorted(
        [
            "catalog.fittings.7 in",
            "catalog.glues",
            "catalog.limits.hand_access",
            "catalog.limits.pipe_to_gloss",
            "catalog.materials.m",
            "catalog.materials.n",
            "catalog.pipes.a.outside",
            "catalog.pipes.b",
            "catalog.pipes.c",
            "catalog.pumps.p",
        ]
    )
    text = str(caught.value)
    assert "nearest: 'outside_diameter'" in text
    assert "nearest: 'pipe_to_glass'" in text
    assert "g_90 must be above 0" in text
    assert "flow must rise and head must fall" in text


def test_own_fields_are_fields_of_the_entries():
    assert set(OWN_FIELDS["pipes"]) - {"like"} <= set(Pipe.__slots__)


def test_a_size_outside_the_table_has_no_spacing_of_supports():
    odd = CATALOG.with_own({"pipes": {"odd": {"outside_diameter": 0.030, "inside_diameter": 0.026}}})
    with pytest.raises(OutOfRange, match="no spacing of supports"):
        odd.support_spacing("odd")
