"""Rock and wood through the tank's opening."""

import pytest

RULE = "way-in"


@pytest.mark.parametrize(("opening", "severity"), [(99.9, "fault"), (100.1, None), (60, "fault")])
def test_a_stone_100_mm_thick_passes_no_opening_that_is_narrower(faulty, opening, severity):
    """In it lies a ball of 100 mm, to 0.01 mm: it fills a disc of the opening as its middle goes through."""
    found = faulty(RULE, brace=(300 - opening) / 2)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.measured == pytest.approx(0.100, abs=2e-5)
        assert finding.limit == pytest.approx(opening / 1000, abs=1e-5)
        assert "stone can't get into tank in any position" in finding.message


def test_a_flat_stone_that_no_way_was_found_for_is_a_warning_that_says_how_many_were_tried(check):
    """A block of 290 x 193 x 97 mm can't pass 180 x 140 mm, but no ball in it proves that."""
    tank = "kind: tank, inside: [380, 280, 300], glass: 10, perimeter_brace: {width: 50, thickness: 10}, "
    tank += "cross_braces: [{at: 240, width: 100, thickness: 10}]"
    slate = "slate: {kind: rock, mesh: block.obj, longest: 290, at: {left: 190, front: 140, bottom: 0}}"
    (finding,) = check(RULE, slate, tank=tank)
    assert finding.severity == "warning"
    assert finding.parts == ("slate", "tank")
    assert "no way was found for slate through the opening" in finding.message
    assert "tried by straight legs and turns" in finding.message


def test_nothing_to_set_is_nothing_to_find(check):
    assert check(RULE) == ()
