"""The return chamber's level against the band that every failure leaves."""

import pytest

RULE = "fill-line"


@pytest.mark.parametrize(("level", "edge"), [(100, 0.1019), (102, None), (199, None), (205, 0.200)])
def test_either_side_of_the_band(faulty, level, edge):
    """Two days of evaporation below, the baffle of 200 mm above."""
    found = faulty(RULE, level=level)
    if edge is None:
        assert [f for f in found if f.rule == RULE] == []
    else:
        (finding,) = found
        assert finding.measured == pytest.approx(level / 1000)
        assert finding.limit == pytest.approx(edge, abs=5e-5)
        assert finding.severity == "fault"


def test_both_kinds_of_marks_are_in_the_remedy(faulty):
    (finding,) = faulty(RULE)
    assert "with the pumps running, which is" in finding.remedy
    assert "with all pumps stopped and drained back" in finding.remedy
    assert finding.parts == ("sump.return",)


def test_no_band_is_told_with_what_would_open_it(faulty_text):
    """A chamber half as long has not two days of evaporation below its baffle."""
    found = faulty_text(
        RULE, ("level: 90", "level: 120"), ("length: 250", "length: 460"), ("height: 200", "height: 130")
    )
    (finding,) = [f for f in found if f.rule == RULE]
    told = "no fill line holds in sump.return: evaporation until pump draws air asks for"
    assert finding.message.startswith(told)
    assert "evaporation until pump draws air: top up" in finding.remedy
    assert finding.measured < 0.0


def test_it_says_nothing_where_another_rule_tells_the_spill(faulty_text):
    for name in ("sump-drain-back", "drain-blocked"):
        assert [f for f in faulty_text(name) if f.rule == RULE] == []
