"""Sand in a channel that should be open."""

import pytest

RULE = "sand-in-channel"


@pytest.mark.parametrize(("bed", "told"), [(52, 0), (55, 1)])
def test_either_side_of_the_channel_s_foot(faulty, bed, told):
    """By hand: the pipe's middle lies at 130 - 60 = 70 mm; its elbow and the gap reach 16.5 mm below that."""
    found = faulty(RULE, bed=bed)
    assert [(one.severity, one.parts) for one in found] == [("fault", ("sand", "wall", "riser"))] * told
    for one in found:
        assert one.at[2] < 0.055


def test_a_bore_foamed_around_or_a_bed_that_stops_before_it_is_no_fault(faulty_text):
    embedded = ("channels: [{follow: riser}]", ""), ("embeds: [supply]", "embeds: [supply, riser]")
    away = (("depth: bed", "depth: bed, region: [400, 0, 600, 400]"),)
    for pieces in (embedded, away):
        assert faulty_text(RULE, *pieces) == ()
