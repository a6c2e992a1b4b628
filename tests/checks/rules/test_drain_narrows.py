"""Drains in narrower pipe further down: IPC 704.2 (from memory) has none reduced in the way of the water."""

import pytest

RULE = "drain-narrows"


def test_pipe_that_is_narrower_than_that_before_it_is_told(faulty):
    (finding,) = faulty(RULE)
    assert finding.severity == "fault"
    assert finding.parts == ("second_down.pipe_2", "second_down.pipe_3")
    assert (finding.measured, finding.limit) == pytest.approx((0.0284, 0.0362), abs=1e-4)


@pytest.mark.parametrize(
    "pieces",
    [
        (("{reduce: d32 pn 10}", "coupling"),),  # as wide to the end
        (("{reduce: d32 pn 10}", "{reduce: d50 pn 10}"),),  # wider from there on
    ],
)
def test_a_drain_as_wide_or_wider_to_its_end_is_fine(faulty_text, pieces):
    assert faulty_text(RULE, *pieces) == ()


def test_behind_a_strainer_it_is_a_warning(faulty_text):
    (finding,) = faulty_text(RULE, ("{up: 75}, open]", "{up: 75}, strainer]"))
    assert finding.severity == "warning"


def test_a_return_is_none_of_its_business(faulty_text):
    """Seen from the tank it narrows, but its water comes the other way."""
    wider = ("route: [{front: 60}, nozzle]", "route: [{front: 60}, {reduce: d25 pn 10}, {front: 60}, nozzle]")
    assert faulty_text(RULE, ("{reduce: d32 pn 10}", "coupling"), wider) == ()


@pytest.mark.parametrize("end", ["nozzle", "strainer"])
def test_an_end_that_holds_back_what_comes_down_is_told(faulty_text, end):
    narrows = "{reduce: d32 pn 10}, {down: 210}, {front: 350}, {down: 250}, open]"
    (finding,) = faulty_text(RULE, (narrows, f"{{down: 210}}, {{front: 350}}, {{down: 250}}, {end}]"))
    assert (finding.severity, finding.parts[0].partition(".")[0]) == ("fault", "second_down")
    assert f"ends in a {end}" in finding.message
