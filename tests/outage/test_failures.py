import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.outage.failures import Body, blocked_drain, lets_go
from layout3d.water.level_table import LevelTable

DAY = 86400.0


def box(name, area, bottom, top, level):
    table = LevelTable(levels=(bottom, top), volumes=(0.0, area * (top - bottom)), name=name)
    return Body(name=name, table=table, level=level, rim=top)


DISPLAY, CHAMBER = box("display", 0.5, 0.8, 1.4, 1.2), box("return", 0.08, 0.0, 0.3, 0.2)


def test_a_blocked_drain_lifts_the_chamber_into_the_display():
    """By hand: (0.20 - 0.05) x 0.08 m² = 12 L over 0.5 m² is 24 mm."""
    end = blocked_drain(DISPLAY, CHAMBER, suction=0.05)
    assert end.moved == pytest.approx(0.012)
    assert end.level == pytest.approx(1.224)
    assert end.chamber_level == pytest.approx(0.05)
    assert end.spilled == 0.0


def test_what_has_no_room_is_spilled():
    """5 mm of 0.5 m² hold 2.5 L of the 12 L and the 20 L of the top-up."""
    end = blocked_drain(box("display", 0.5, 0.8, 1.205, 1.2), CHAMBER, suction=0.05, top_up=0.020)
    assert end.spilled == pytest.approx(0.032 - 0.0025)
    assert end.level == pytest.approx(1.205)


def test_an_emergency_drain_holds_the_level():
    end = blocked_drain(DISPLAY, CHAMBER, suction=0.05, emergency=1.21)
    assert end.level == pytest.approx(1.21)
    assert end.chamber_level == pytest.approx(0.2 - 0.005 / 0.08)
    # one that stands too high is never reached: the pump draws air
    assert blocked_drain(DISPLAY, CHAMBER, suction=0.05, emergency=1.3).chamber_level == 0.05


def test_a_chamber_that_just_fills_the_display_to_the_emergency_drain_runs_dry():
    """Exactly: what the display holds up to the drain is all that the chamber has, and nothing is spilled."""
    held = DISPLAY.table.volume(1.21) - DISPLAY.volume
    chamber = Body(name="chamber", table=CHAMBER.table, level=CHAMBER.level, rim=CHAMBER.rim)
    suction = chamber.table.level(chamber.volume - held)
    end = blocked_drain(DISPLAY, chamber, suction=suction, emergency=1.21)
    assert (end.level, end.spilled) == (pytest.approx(1.21), 0.0)
    # a hair more in the chamber and the drain runs on; a hair less and the display never gets there
    lower = suction - 1e-5
    assert blocked_drain(DISPLAY, chamber, suction=lower, emergency=1.21).chamber_level > lower + 1e-6
    assert blocked_drain(DISPLAY, chamber, suction=suction + 1e-5, emergency=1.21).level < 1.21


def test_an_emergency_drain_takes_its_own_water_from_the_chamber():
    """12 L less 5 in the display: its pipe takes 2, or all of the 7 that are left, and the pump draws air."""
    some, all_of_it = (
        blocked_drain(DISPLAY, CHAMBER, suction=0.05, emergency=1.21, takes=takes) for takes in (0.002, 0.009)
    )
    assert (some.moved, some.took) == (pytest.approx(0.005), 0.002)
    assert some.chamber_level == pytest.approx(0.2 - 0.007 / 0.08)
    assert all_of_it.took == pytest.approx(0.007)
    assert all_of_it.chamber_level == pytest.approx(0.05)


def test_an_overflow_box_is_filled_before_the_display_rises():
    """4 L of the 12 L fill the box; the 8 L left over 0.5 m² are 16 mm. The chamber has no 13 L."""
    end = blocked_drain(DISPLAY, CHAMBER, suction=0.05, fills=0.004)
    assert (end.moved, end.level) == (pytest.approx(0.012), pytest.approx(1.216))
    held = blocked_drain(DISPLAY, CHAMBER, suction=0.05, emergency=1.21, fills=0.004)
    assert held.moved == pytest.approx(0.009)
    assert held.chamber_level == pytest.approx(0.2 - 0.009 / 0.08)
    dry = blocked_drain(DISPLAY, CHAMBER, suction=0.05, emergency=1.2, fills=0.013)
    assert (dry.level, dry.moved, dry.chamber_level) == (pytest.approx(1.2), pytest.approx(0.012), 0.05)


@given(level=st.floats(0.05, 0.3), more=st.floats(0.0, 0.1), suction=st.floats(0.0, 0.3))
def test_more_water_in_the_chamber_never_floods_less(level, more, suction):
    ends = [
        blocked_drain(DISPLAY, box("return", 0.08, 0.0, 0.5, height), suction=suction)
        for height in (level, level + more)
    ]
    assert ends[1].level >= ends[0].level - 1e-12
    rise = 0.5 * (ends[0].level - 1.2)
    assert rise + ends[0].spilled == pytest.approx(ends[0].moved, abs=1e-12)


@pytest.mark.parametrize(
    ("drains_to", "pumped", "contents", "level", "floor"),
    [
        (0.9, False, 0.0, 0.9, 0.162),  # 300 mm of 0.5 m², and the chamber's 12 L
        (1.19, True, 0.0005, 1.19, 0.0175),  # 10 mm of it, the chamber and the hose
        (1.5, False, 0.0, 1.2, 0.0),  # above the water: nothing
        (1.5, True, 0.0, 1.2, 0.012),  # but a pumped one throws out the chamber
        (0.1, False, 0.0, 0.8, 0.212),  # below the floor: all of it
    ],
)
def test_what_lets_go_empties_the_display_to_it_and_the_chamber(drains_to, pumped, contents, level, floor):
    figures = {"drains_to": drains_to, "pumped": pumped, "contents": contents}
    assert lets_go(DISPLAY, CHAMBER, suction=0.05, **figures) == pytest.approx((level, floor))


@pytest.mark.parametrize("suction", [-0.1, 0.9])
def test_a_suction_level_beside_the_chamber_is_refused(suction):
    with pytest.raises(OutOfRange, match="a level in return"):
        blocked_drain(DISPLAY, CHAMBER, suction=suction)
    with pytest.raises(OutOfRange, match="a level in return"):
        lets_go(DISPLAY, CHAMBER, drains_to=1.0, pumped=True, contents=0.0, suction=suction)
