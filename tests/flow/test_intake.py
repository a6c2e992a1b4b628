"""Levels over rims, slots and holes: against the formulas they are made of, and numerical integration."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import LayoutError, NotPossible
from layout3d.flow.intake import Intake, Rim, Slit, Slits, hole_slits, intake_flow, intake_level, slits_flow
from layout3d.flow.weir import StandpipeRim, weir_head

DRY = -math.inf
C = 0.60 * math.sqrt(2 * 9.80665)  # coefficient 0.60 of narrow slots: common practice, no source


def slots(*, screens=True):
    return Slits(slits=(Slit(low=0.30, high=0.35, width=0.032),), screens=screens)


def test_slots_below_their_top_are_a_weir_of_their_width_give_or_take_a_fifth():
    """Closed form: 2/3 C b sqrt(2g) h^1.5; the least level is that of slots that pass most."""
    weir = 2 / 3 * C * 0.032 * 0.04**1.5
    for setting, share in (("low", 1.2), ("likely", 1.0), ("high", 0.8)):
        assert slits_flow(slots(), 0.34, DRY, setting=setting) == pytest.approx(share * weir)


def test_drowned_slots_pass_the_integral_of_torricelli():
    """Closed form: C b integral of sqrt(2 g (L - z)) over the slot, 2/3 C b sqrt(2g) (h1^1.5 - h2^1.5)."""
    level = 0.42
    strips = [0.30 + 0.05 * (k + 0.5) / 2000 for k in range(2000)]
    whole = sum(C * 0.032 * math.sqrt(level - z) * 0.05 / 2000 for z in strips)
    assert slits_flow(slots(), level, DRY, setting="likely") == pytest.approx(whole, rel=1e-6)


def test_a_drowned_weir_is_a_weir_over_an_orifice():
    """Dubuat, as in handbooks: 2/3 C b sqrt(2g) z^1.5 + C b d sqrt(2 g z), z the difference of levels."""
    level, behind = 0.34, 0.32
    z, d = level - behind, behind - 0.30
    wanted = 0.032 * (2 / 3 * C * z**1.5 + C * d * math.sqrt(z))
    assert slits_flow(slots(), level, behind, setting="likely") == pytest.approx(wanted)


def test_one_slot_in_three_stopped_takes_a_third_of_the_flow():
    whole = slits_flow(slots(), 0.34, DRY, setting="likely")
    assert slits_flow(slots(), 0.34, DRY, setting="likely", blocked=1 / 3) == pytest.approx(whole * 2 / 3)
    assert slits_flow(slots(screens=False), 0.34, DRY, setting="likely", blocked=1 / 3) == whole


def test_strips_keep_the_area_of_the_hole():
    stage = hole_slits(0.2, 0.05)
    assert sum(s.width * (s.high - s.low) for s in stage.slits) == pytest.approx(math.pi * 0.05**2 / 4)
    assert stage.crest == pytest.approx(0.175)


def test_a_hole_far_under_water_is_an_orifice():
    """Torricelli at the middle of the hole; 0.1 % at ten diameters of head."""
    flow = slits_flow(hole_slits(0.0, 0.04), 0.40, DRY, setting="likely")
    assert flow == pytest.approx(0.60 * math.pi * 0.02**2 * math.sqrt(2 * 9.80665 * 0.40), rel=1e-3)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_part_full_hole_by_integration(share):
    """C integral of chord times sqrt(2 g (L - z)), by the midpoint rule on 20,000 strips."""
    size = 0.04
    level = -size / 2 + share * size
    count = 20000
    total = 0.0
    for k in range(count):
        z = -size / 2 + (level + size / 2) * (k + 0.5) / count
        total += 2 * math.sqrt((size / 2) ** 2 - z * z) * math.sqrt(level - z)
    total *= C * (level + size / 2) / count
    assert slits_flow(hole_slits(0.0, size), level, DRY, setting="likely") == pytest.approx(total, rel=3e-3)


def test_a_rim_alone_is_the_rim_of_a_standpipe():
    intake = Intake(words="rim", stages=(Rim(diameter=0.0362, crest=0.25),))
    head = weir_head(StandpipeRim(diameter=0.0362), 1e-4)
    level = intake_level(intake, 1e-4)
    assert (level.low, level.likely, level.high) == pytest.approx(
        (0.25 + head.low, 0.25 + head.likely, 0.25 + head.high)
    )
    assert intake.formula == "rim of a pipe as a weir, 1.70 to 1.84 pi D h^1.5"


def test_water_behind_the_slots_raises_the_level_before_them():
    free = Intake(words="slots", stages=(slots(),))
    rim = Intake(words="strainer", stages=(slots(), Rim(diameter=0.0452, crest=0.31)))
    low = Intake(words="strainer", stages=(slots(), Rim(diameter=0.0452, crest=0.0)))
    flow = 4e-4
    assert intake_level(rim, flow).likely > intake_level(free, flow).likely
    assert intake_level(low, flow).likely == pytest.approx(intake_level(free, flow).likely)
    assert rim.crest == 0.31


def test_no_flow_stands_at_the_crest():
    intake = Intake(words="slots", stages=(slots(),))
    assert intake_level(intake, 0.0).likely == 0.30
    assert intake_flow(intake, 0.30, setting="likely") == 0.0


def test_too_much_for_the_slots_is_refused():
    intake = Intake(words="slots", stages=(slots(),))
    with pytest.raises(NotPossible, match=r"the intake passes .* L/h at 3 m of head"):
        intake_level(intake, 1.0)


@pytest.mark.parametrize(
    "wrong", [{"low": 0.2, "high": 0.2, "width": 0.1}, {"low": 0.0, "high": 1.0, "width": 0}]
)
def test_a_slit_without_size_is_refused(wrong):
    with pytest.raises(LayoutError):
        Slit(**wrong)


INTAKES = st.sampled_from(
    [
        Intake(words="rim", stages=(Rim(diameter=0.0362, crest=0.25),)),
        Intake(words="hole", stages=(hole_slits(0.27, 0.04),)),
        Intake(words="strainer", stages=(slots(), Rim(diameter=0.0452, crest=0.31))),
    ]
)


@given(intake=INTAKES, flow=st.floats(1e-7, 8e-4), setting=st.sampled_from(["low", "likely", "high"]))
def test_level_and_flow_are_each_others_inverse(intake, flow, setting):
    level = intake_level(intake, flow).at(setting)
    assert intake_flow(intake, level, setting=setting) == pytest.approx(flow, rel=1e-6)


@given(intake=INTAKES, flow=st.floats(1e-7, 7e-4), more=st.floats(1e-6, 1e-4))
def test_more_flow_stands_higher_and_blocked_slots_too(intake, flow, more):
    band = intake_level(intake, flow)
    assert band.low <= band.likely <= band.high
    assert intake_level(intake, flow + more).likely > band.likely
    assert intake_level(intake, flow, blocked=1 / 3).likely >= band.likely
