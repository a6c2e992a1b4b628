import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.outage.failures import Body, Path, drain_back
from layout3d.water.level_table import LevelTable


def box(name, area, bottom, top, level, rim=None):
    table = LevelTable(levels=(bottom, top), volumes=(0.0, area * (top - bottom)), name=name)
    return Body(name=name, table=table, level=level, rim=top if rim is None else rim)


# a display of 1.0 x 0.5 m over a sump of 0.6 x 0.4 m
DISPLAY = box("display", 0.5, 0.8, 1.4, 1.212)
SUMP = box("sump", 0.24, 0.0, 0.4, 0.22)
OVERFLOW = Path(name="overflow", body="display", break_level=1.200, contents=0.0006)
RETURN = Path(name="return", body="display", break_level=1.190, contents=0.0005)


def test_by_hand():
    """22 mm of 0.5 m² is 11 L, and 1.1 L from the pipes: 12.1 L over 0.24 m² is 50.4 mm."""
    rest = drain_back((DISPLAY,), (OVERFLOW, RETURN), SUMP)
    assert rest.levels["display"] == pytest.approx(1.190)
    assert rest.rules["display"] == "return"
    assert rest.volume == pytest.approx(0.0121)
    assert rest.sump_level == pytest.approx(0.22 + 0.0121 / 0.24)
    assert rest.spilled == 0.0


def test_a_submerged_return_without_a_break_empties_to_its_mouth():
    deep = Path(name="return", body="display", break_level=1.10)
    rest = drain_back((DISPLAY,), (OVERFLOW, deep), SUMP)
    # 56 L and 0.6 L come down, the sump has room for 43.2 L
    assert rest.drained["display"] == pytest.approx(0.056)
    assert rest.spilled == pytest.approx(0.0566 - 0.0432)
    assert rest.sump_level == pytest.approx(0.4)


def test_a_check_valve_keeps_its_path():
    deep = Path(name="return", body="display", break_level=1.10, contents=0.0005, check_valve=True)
    rest = drain_back((DISPLAY,), (OVERFLOW, deep), SUMP)
    assert rest.levels["display"] == pytest.approx(1.200)
    assert rest.contents == pytest.approx(0.0006)


def test_a_body_that_nothing_drains_stays():
    rest = drain_back((DISPLAY,), (), SUMP)
    assert rest.levels["display"] == DISPLAY.level
    assert rest.sump_level == pytest.approx(SUMP.level)
    high = Path(name="high", body="display", break_level=1.3, contents=0.001)
    assert drain_back((DISPLAY,), (high,), SUMP).rules["display"] == ""


def test_a_sump_beside_the_tank_stops_the_siphon_at_its_own_level():
    """Both 0.5 m², levels 1.2 and 1.0: they meet half way, over the mouth at 0.9."""
    beside = box("sump", 0.5, 0.8, 1.4, 1.0)
    rest = drain_back(
        (box("display", 0.5, 0.8, 1.4, 1.2),), (Path(name="u", body="display", break_level=0.9),), beside
    )
    assert rest.levels["display"] == pytest.approx(1.1)
    assert rest.sump_level == pytest.approx(1.1)


def test_several_bodies_drain_each_to_its_own_break():
    weir_box = box("overflow box", 0.02, 1.0, 1.3, 1.15)
    paths = (OVERFLOW, Path(name="standpipe", body="overflow box", break_level=1.05))
    rest = drain_back((DISPLAY, weir_box), paths, SUMP)
    assert rest.drained["overflow box"] == pytest.approx(0.002)
    assert rest.volume == pytest.approx(0.006 + 0.002 + 0.0006)


TABLES = st.lists(st.tuples(st.floats(0.02, 0.2), st.floats(0.0, 0.1)), min_size=2, max_size=6)


@given(
    above=TABLES,
    below=TABLES,
    shares=st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)),
    contents=st.floats(0.0, 0.02),
    base=st.floats(-0.3, 1.0),
)
def test_no_water_is_lost(above, below, shares, contents, base):
    def body(name, steps, bottom, share):
        levels, volumes = [bottom], [0.0]
        for rise, water in steps:
            levels.append(levels[-1] + rise)
            volumes.append(volumes[-1] + water)
        table = LevelTable(levels=tuple(levels), volumes=tuple(volumes), name=name)
        level = min(bottom + share * (levels[-1] - bottom), levels[-1])  # rounding may pass the rim
        return Body(name=name, table=table, level=level, rim=levels[-1])

    display, sump = body("display", above, base, shares[0]), body("sump", below, 0.0, shares[1])
    path = Path(
        name="p",
        body="display",
        break_level=base + shares[2] * (display.table.top - base),
        contents=contents,
    )
    rest = drain_back((display,), (path,), sump)
    before = display.volume + sump.volume + contents
    after = display.table.volume(rest.levels["display"]) + sump.table.volume(rest.sump_level) + rest.spilled
    assert after == pytest.approx(before, rel=1e-6, abs=1e-9)  # asked: 0.01 %
    assert rest.levels["display"] <= display.level + 1e-12
    assert rest.sump_level >= sump.level - 1e-9


@given(lower=st.floats(0.0, 0.3), more=st.floats(0.0, 0.1))
def test_a_lower_break_never_drains_less(lower, more):
    volumes = [
        drain_back((DISPLAY,), (Path(name="p", body="display", break_level=level),), SUMP).volume
        for level in (1.2 - lower, 1.2 - lower - more)
    ]
    assert volumes[1] >= volumes[0] - 1e-12


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: box("b", 1.0, 0.0, 1.0, 0.9, rim=0.8), "above its rim"),
        (lambda: box("b", 1.0, 0.0, 1.0, 1.5), "level of b"),
    ],
)
def test_a_level_out_of_its_vessel_is_refused(call, words):
    with pytest.raises(OutOfRange, match=words):
        call()


def test_water_may_stand_just_at_its_rim_and_a_path_just_at_it_drains_nothing():
    full = box("display", 0.5, 0.8, 1.4, 1.4)
    assert full.room == 0.0
    sump = box("sump", 0.2, 0.0, 0.4, 0.1)
    found = drain_back((full,), (Path(name="overflow", body="display", break_level=1.4),), sump)
    assert (found.levels["display"], found.rules["display"], found.volume) == (1.4, "", 0.0)
