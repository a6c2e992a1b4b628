"""Rock and wood through the tank's opening."""

import pytest

RULE = "way-in"
BRACE = ", perimeter_brace: {width: 60, thickness: 10}"


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


@pytest.mark.parametrize(
    ("brace", "more", "count"),
    [("", "", 0), (BRACE, "", 1), (BRACE, ", splits: [300]", 0)],
)
def test_a_slab_as_wide_as_its_tank_gets_past_a_brace_only_in_pieces(check, brace, more, count):
    """It comes down at a slant, and there is no room to lay it level: it reaches both panes."""
    wall = f"wall: {{kind: background, panels: [back], thickness: 50, relief: {{form: flat}}{more}}}"
    found = check(RULE, wall, tank=f"BOX{brace}")
    assert [(one.severity, one.parts) for one in found] == [("warning", ("wall", "tank"))] * count
    assert all("`splits:`" in one.remedy for one in found)


def test_nothing_to_set_is_nothing_to_find(check):
    assert check(RULE) == ()
