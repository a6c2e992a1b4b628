"""Drip holes in a channel that no slit opens; figures by hand.

The pipe's middle lies 25 mm off the glass and 300 mm up, its channel 15 mm around it; the holes lie at
300 - 10 cos 20° = 290.6 mm, the first at 200 + 57 mm along. The slit is 10 mm high.
"""

import pytest

RULE = "drip-shut-in"


@pytest.mark.parametrize(
    ("values", "told"),
    [
        # at the holes' height the channel reaches 25 + (15² - 9.4²)^½ = 36.7 mm off the glass
        ({"stop": 36.5}, 0),
        ({"stop": 37.0}, 1),
        # the slit's lower edge at the holes' height
        ({"stop": 20, "up": 295.5}, 0),
        ({"stop": 20, "up": 295.7}, 1),
        # its upper edge at the foot of the channel, 285 mm
        ({"stop": 20, "up": 280.2}, 0),
        ({"stop": 20, "up": 279.8}, 1),
        # limit drip_hole_to_slit: 75 mm from the first hole's x
        ({"stop": 20, "width": 20, "along": 257 + 74 + 10}, 0),
        ({"stop": 20, "width": 20, "along": 257 + 77 + 10}, 1),
    ],
)
def test_either_side_of_where_the_slit_meets_the_channel(faulty, values, told):
    found = faulty(RULE, **values)
    assert [(one.severity, one.parts) for one in found] == [("fault", ("bar.pipe_2", "wall"))] * told
    if told and "along" in values:
        assert found[0].measured == pytest.approx(0.077, abs=1e-3)
        assert "1 of 3 drip holes" in found[0].message


def test_a_channel_that_comes_out_of_the_face_needs_no_slit(faulty_text):
    assert faulty_text(RULE, ("thickness: 80", "thickness: 30")) == ()


@pytest.mark.parametrize(
    ("foot", "told"), [("", 0), ("{kind: background, panels: [back], thickness: 80, top: 200}", 1)]
)
def test_a_channel_that_goes_on_into_the_next_slab_is_no_way_out(faulty_text, foot, told):
    """An upright bar comes out of the wall's lower edge, 200 mm up: into the open, or into a slab below."""
    below = f"  foot: {foot[:-1]}, channels: [{{follow: bar, gap: 5}}]}}\n" if foot else ""
    upright = ("right: 200", "down: 150"), ("thickness: 80", "thickness: 80\n    bottom: 200")
    found = faulty_text(RULE, *upright, ("  bar:\n", below + "  bar:\n"))
    assert ["wall" in one.parts for one in found] == [True] * told
