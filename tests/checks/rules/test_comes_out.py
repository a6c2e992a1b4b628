"""Equipment out of the finished tank."""

import pytest

RULE = "comes-out"


@pytest.mark.parametrize(("opening", "severity"), [(99.9, "fault"), (100.1, None)])
def test_a_basket_100_mm_wide_passes_no_opening_that_is_narrower(faulty, opening, severity):
    """The basket is a cube but for its hollow: a ball of its width lies in it."""
    found = faulty(RULE, brace=(300 - opening) / 2)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.measured == pytest.approx(0.100, abs=2e-5)
        assert finding.limit == pytest.approx(opening / 1000, abs=1e-5)


PUMPED = """\
pump: {PUMP, at: {left: 300, front: 200, bottom: 0}}
return: {PIPE, start: pump.outlet, route: [{up: 60}, JOINT, {up: 100}, open]}
"""


def test_a_pump_comes_off_at_a_union(check):
    assert check(RULE, PUMPED.replace("JOINT", "union")) == ()


def test_a_pump_that_is_cemented_in_is_told(check):
    (finding,) = check(RULE, PUMPED.replace("JOINT, ", ""))
    assert finding.severity == "note"
    assert finding.parts == ("pump", "return")
    assert "only by the saw" in finding.message


def test_a_basket_around_a_pipe_that_reaches_to_its_bottom_has_no_way(check):
    parts = """\
basket: {kind: filter_basket, size: [120, 120, 120], clear: 0, at: {left: 300, front: 200, bottom: 0}}
bar: {PIPE, start: [300, 200, 350], route: [{down: DEEP}, open]}
"""
    (finding,) = check(RULE, parts.replace("DEEP", "345"))
    assert finding.severity == "warning"
    assert "no way was found for basket" in finding.message
    assert check(RULE, parts.replace("DEEP", "200")) == ()
