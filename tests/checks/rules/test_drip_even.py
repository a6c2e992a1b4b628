"""Drip bars that give unevenly."""

import re

import pytest
from made_bars import bar, bars_judged, hole

from layout3d.checks.rules import drip_even as module

RULE = "drip-even"


@pytest.mark.parametrize(("diameter", "severity"), [(1.9, None), (3.0, "warning"), (4.6, "fault")])
def test_wider_holes_are_less_even(faulty, diameter, severity):
    found = faulty(RULE, diameter=diameter)
    assert [one.severity for one in found] == ([severity] if severity else [])


def test_either_side_of_half_the_bores_area(faulty):
    """25 holes, a bore of 13.6 mm (d16 PN 16, wall 1.2 mm): half its area at 13.6 sqrt(0.5/25) = 1.923 mm."""
    assert faulty(RULE, diameter=1.923) == ()
    (found,) = faulty(RULE, diameter=1.924)
    assert found.measured == pytest.approx(25 * 1.924**2 / 13.6**2, rel=1e-6)
    assert (found.severity, found.limit) == ("warning", 0.5)


def test_either_side_of_a_quarter_in_variation(faulty):
    (found,) = faulty(RULE)
    assert found.severity == "fault"
    assert found.measured > found.limit == 0.25
    assert "hole 25 gives" in found.message  # recovery: the far hole gives most
    low, high = (int(share) for share in re.search(r"\((\d+)% to (\d+)%\), over 25%", found.message).groups())
    assert low < round(100 * found.measured) < high
    # (most - least) / most is what they vary by
    times = float(re.search(r"gives ([\d.]+) times hole 1", found.message)[1])
    assert times > 1.0
    # 25 holes of 4.6 mm in a bore of 13.6
    assert f"their area is {25 * 4.6**2 / 13.6**2:.2f} of the bore's" in found.message


def test_variation_is_judged_by_the_scenes_own_limit(check):
    parts = """
pump: {kind: pump, model: small 1000, speed: 60 %, outlet: d16 pn 16, at: {left: 100, back: 120, bottom: 0}}
bar:
  kind: run
  pipe: d16 pn 16
  start: pump.outlet
  route: [{up: 100}, {right: 420, drip: {diameter: 4.2, pitch: 14, margin: 20}}, cap]
"""
    (found,) = check(RULE, parts, waterline=150)
    for share, severity in ((1.001, "warning"), (0.999, "fault")):
        limits = f"limits: {{drip_variation: 0.1, drip_variation_most: {share * found.measured!r}}}\n"
        (judged,) = check(RULE, parts, waterline=150, more=limits)
        assert judged.severity == severity


def judged(monkeypatch, *bars, **limits):
    return bars_judged(monkeypatch, module, module.uneven_bars, *bars, **limits)


LIMITS = {"drip_variation": 0.1, "drip_variation_most": 0.25, "drip_hole_area_ratio": 0.5}
HOLES = (
    hole(1, flow=(3e-6, 3e-6, 3e-6)),
    hole(2, flow=(1e-6, 2e-6, 9e-6)),
    hole(3, flow=(1e-6, 5e-6, 5e-6)),
)


@pytest.mark.parametrize(
    ("likely", "severity", "limit"),
    [(0.1, None, None), (0.1001, "warning", 0.1), (0.25, "warning", 0.1), (0.2501, "fault", 0.25)],
)
def test_either_side_of_both_variations(monkeypatch, likely, severity, limit):
    found = judged(monkeypatch, bar(*HOLES, variation=(0.05, likely, 0.3)), **LIMITS)
    assert [(one.severity, one.measured, one.limit) for one in found] == (
        [(severity, likely, limit)] if severity else []
    )


def test_strongest_and_weakest_hole_are_told(monkeypatch):
    """The weakest gives 2 and the strongest 5 mm³/s: 2.5 times as much."""
    (one,) = judged(monkeypatch, bar(*HOLES, variation=(0.18, 0.2, 0.22)), **LIMITS)
    assert (one.parts, one.unit, one.at) == (("bar", "bar.pipe_1"), "", (2, 0.0, 0.0))
    assert one.message == (
        "the holes of bar.pipe_1 vary by 20% (18% to 22%), over 10% (limit drip_variation, common practice): "
        "hole 3 gives 2.5 times hole 2; their area is 0.40 of the bore's"
    )


@pytest.mark.parametrize(("ratio", "count"), [(0.5, 0), (0.501, 1)])
def test_of_an_even_bar_the_area_is_judged(monkeypatch, ratio, count):
    found = judged(monkeypatch, bar(*HOLES, variation=(0.0, 0.1, 0.1), ratio=ratio), **LIMITS)
    assert [one.severity for one in found] == ["warning"] * count


def test_what_mends_a_wide_area_is_told(monkeypatch):
    """0.5 of 0.72 is 69 % of their count, and its root, 83 %, of their diameter."""
    (one,) = judged(monkeypatch, bar(*HOLES, variation=(0.01, 0.05, 0.1), ratio=0.72), **LIMITS)
    assert (one.measured, one.limit, one.unit, one.at) == (0.72, 0.5, "", (1, 0.0, 0.0))
    assert "have 0.72 of the bore's area, over 0.50 (limit" in one.message
    assert "they vary by 5% as drawn" in one.message
    assert one.remedy.startswith("drill holes of 83% of their diameter or 69% of their count, ")


def test_a_bar_with_dry_holes_is_told_by_another_rule_and_those_after_it_are_judged(monkeypatch):
    dry = bar(hole(1, state="dry"), *HOLES, variation=(0.5, 0.5, 0.5))
    holds = bar(hole(1, state="holds"), *HOLES, variation=(0.5, 0.5, 0.5))
    assert len(judged(monkeypatch, dry, holds, bar(*HOLES), **LIMITS)) == 1
