"""Drip bars that give unevenly."""

import re

import pytest

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
