import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.outage.failures import Body, Path, blocked_drain, drain_back
from layout3d.outage.fill_line import (
    Bound,
    blocked_drain_bound,
    fill_line_band,
    outage_bound,
    run_down_bound,
    suction_bound,
)
from layout3d.water.level_table import LevelTable

DAY = 86400.0


def table(area, bottom, top, name="water"):
    return LevelTable(levels=(bottom, top), volumes=(0.0, area * (top - bottom)), name=name)


DISPLAY = Body(name="display", table=table(0.5, 0.8, 1.4), level=1.2, rim=1.23)
CHAMBER = table(
    0.08, 0.0, 0.3, "return"
)  # a third of a sump of 0.24 m²; the other two thirds stand at 0.25 m
ELSEWHERE = 0.16 * 0.25
LOSS = 4.0 / DAY


def sump(mark, rim=0.4):
    whole = table(0.24, 0.0, 0.5)
    return Body(name="sump", table=whole, level=whole.level(ELSEWHERE + CHAMBER.volume(mark)), rim=rim)


def bounds(*, drained=0.0121, suction=0.05, days=3.0, rim=0.4):
    return (
        outage_bound(sump(0.2, rim), drained=drained, elsewhere=ELSEWHERE, display=DISPLAY),
        blocked_drain_bound(DISPLAY, CHAMBER, suction=suction),
        run_down_bound(CHAMBER, first="pump draws air", level=suction, loss=LOSS, interval=days * DAY),
        suction_bound(CHAMBER, intake=0.03, cover=0.03),
    )


def test_the_band_and_what_sets_it():
    line = fill_line_band(CHAMBER, bounds())
    assert None not in (line.lowest, line.highest)
    assert (line.lowest_event, line.highest_event) == (
        "evaporation until pump draws air",
        "blocked drain",
    )
    # 4 kg a day for 3 days over 0.08 m², above the suction level
    assert line.lowest == pytest.approx(0.05 + 0.012 / 0.997 / 0.08)
    # the display has 15 L of room
    assert line.highest == pytest.approx(0.05 + 0.015 / 0.08)
    assert line.room == pytest.approx(0.015 - 0.012 / 0.997)


def test_at_the_marks_each_event_just_holds():
    """The bounds are inversions: run each event forward from the mark and it meets its own limit."""
    line = fill_line_band(CHAMBER, bounds())
    top = Body(name="return", table=CHAMBER, level=line.highest, rim=0.3)
    assert blocked_drain(DISPLAY, top, suction=0.05).level == pytest.approx(DISPLAY.rim, abs=1e-9)
    low = Body(name="return", table=CHAMBER, level=line.lowest, rim=0.3)
    assert (low.volume - CHAMBER.volume(0.05)) * 997.0 / LOSS == pytest.approx(3.0 * DAY)
    tight = fill_line_band(CHAMBER, [bounds(rim=0.30)[0]])
    display = Body(name="display", table=DISPLAY.table, level=1.2242, rim=1.4)
    rest = drain_back(
        (display,), (Path(name="p", body="display", break_level=1.2),), sump(tight.highest, rim=0.30)
    )
    assert tight.highest_event == "power cut"
    assert rest.volume == pytest.approx(0.0121)
    assert rest.sump_level == pytest.approx(0.30, abs=1e-9)


def test_a_chamber_of_any_shape_is_bounded_by_its_top():
    """Narrow up to 0.2 m and wide over that: 10 L, then 30 L more."""
    chamber = LevelTable(levels=(0.0, 0.2, 0.4), volumes=(0.0, 0.010, 0.040), name="chamber")
    line = fill_line_band(chamber, ())
    assert (line.lowest, line.highest) == (pytest.approx(0.0), pytest.approx(0.4))
    assert (line.lowest_event, line.highest_event) == ("bottom of the chamber", "top of the chamber")


def test_a_larger_sump_is_told_by_its_height():
    """By hand: a litre more on 0.24 m² is 1/0.24 mm; where a drain rules, that needs less head."""
    cut = {"drained": 0.01, "elsewhere": ELSEWHERE}
    raised, less, _, higher = outage_bound(sump(0.2), display=DISPLAY, **cut).mends
    assert (higher.text, higher.kind) == ("make the sump {} higher", "length")
    assert higher.per_volume == pytest.approx(1.0 / 0.24)
    assert raised.text.startswith("raise the lowest siphon break")
    assert less.text.endswith("raise the siphon break or the return's mouth")
    first, _, last = outage_bound(sump(0.2), **cut).mends
    assert (first.text, last.text) == (
        "let {} less drain back: a wider overflow needs less head",
        higher.text,
    )


def test_without_bounds_it_is_the_chamber():
    line = fill_line_band(CHAMBER, [])
    assert (line.lowest, line.highest) == (0.0, pytest.approx(0.3))
    assert (line.lowest_event, line.highest_event) == ("bottom of the chamber", "top of the chamber")


def test_an_empty_band_says_what_would_mend_it():
    line = fill_line_band(CHAMBER, bounds(days=6.0))
    assert None in (line.lowest, line.highest)
    assert line.lowest is None
    short = 0.024 / 0.997 - 0.015
    assert line.room == pytest.approx(-short)
    text = "; ".join(line.remedies)
    assert f"{short * 1000:.2f} L" in text
    sooner = float(re.search(r"top up ([0-9.]+) d sooner", text)[1])
    assert sooner == pytest.approx(short * 997 / 4.0, abs=0.06)
    lower = float(re.search(r"overflow by ([0-9.]+) mm", text)[1])
    assert lower == pytest.approx(short / 0.5 * 1000, abs=0.6)


def test_the_remedies_of_one_side_mend_it():
    """Do what it says, to the figure, and the band is open again."""
    line = fill_line_band(CHAMBER, bounds(days=6.0))
    short = -line.room
    # the side that asks for more water: evaporation alone
    sooner = fill_line_band(CHAMBER, bounds(days=6.0 - short * 997 / 4.0 - 1e-6))
    assert None not in (sooner.lowest, sooner.highest)
    # the side that asks for less: the display's overflow, and a chamber larger by what is told
    larger = float(
        re.search(
            r"top of the chamber: make the return chamber larger by ([0-9.]+) L", "; ".join(line.remedies)
        )[1]
    )
    lowered = Body(name="display", table=DISPLAY.table, level=1.2 - short / 0.5 - 1e-9, rim=1.23)
    again = [bounds(days=6.0)[2], blocked_drain_bound(lowered, CHAMBER, suction=0.05)]
    assert None in (fill_line_band(CHAMBER, again).lowest, fill_line_band(CHAMBER, again).highest)
    taller = table(0.08, 0.0, 0.3 + (larger + 0.05) / 1000 / 0.08)
    assert None not in (fill_line_band(taller, again).lowest, fill_line_band(taller, again).highest)


def test_a_power_cut_that_never_fits_is_an_empty_band():
    line = fill_line_band(CHAMBER, bounds(drained=0.2))
    assert None in (line.lowest, line.highest)
    assert line.highest_event == "power cut"
    assert any("raise the lowest siphon break by" in remedy for remedy in line.remedies)


def test_the_order_of_bounds_does_not_matter():
    assert fill_line_band(CHAMBER, bounds()) == fill_line_band(CHAMBER, bounds()[::-1])


@given(drained=st.floats(0.0, 0.05), more=st.floats(0.0, 0.05))
def test_more_drain_back_never_raises_the_mark(drained, more):
    lines = [fill_line_band(CHAMBER, [bounds(drained=water)[0]]) for water in (drained, drained + more)]
    assert lines[1].room <= lines[0].room + 1e-12


def test_a_level_beside_the_chamber_is_refused():
    with pytest.raises(OutOfRange):
        run_down_bound(CHAMBER, first="pump draws air", level=0.9, loss=LOSS, interval=DAY)


def test_a_cover_too_deep_says_how_much_lower_the_intake_has_to_be():
    """60 mm of cover over 60 are asked for; an event leaves 70 mm in the chamber: the intake goes 50 down."""
    most = Bound(event="power cut", side="highest", volume=0.08 * 0.070)
    line = fill_line_band(CHAMBER, (suction_bound(CHAMBER, intake=0.06, cover=0.06), most))
    assert line.lowest is None
    assert line.room == pytest.approx(-0.08 * 0.050)
    assert "pump draws air: set the pump's intake lower by 50 mm" in line.remedies


def test_no_remedy_asks_for_more_than_it_can_give():
    """No intake goes below the floor, no top-up comes sooner than at once, no less than nothing runs back."""
    most = Bound(event="power cut", side="highest", volume=0.08 * 0.040)
    low = fill_line_band(CHAMBER, (suction_bound(CHAMBER, intake=0.03, cover=0.06), most))
    assert low.room == pytest.approx(-0.08 * 0.050)  # 50 mm lower, from 30 mm
    assert not any("intake" in remedy for remedy in low.remedies)
    long = fill_line_band(CHAMBER, (bounds(days=1.0)[2], replace(most, volume=-0.01)))
    assert not any("top up" in remedy or "open water" in remedy for remedy in long.remedies)
    full = outage_bound(sump(0.2), drained=0.001, elsewhere=ELSEWHERE, display=DISPLAY)
    least = Bound(event="evaporation", side="lowest", volume=full.volume + 0.002)
    told = "; ".join(fill_line_band(CHAMBER, (full, least)).remedies)
    assert "make the sump larger by 2 L" in told
    assert "drain back" not in told
    assert "siphon break" not in told
