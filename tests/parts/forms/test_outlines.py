"""Pieces from two outlines, against solids whose largest like is known in closed form."""

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw

from layout3d.parts.forms.outlines import from_outlines, outline_in, read_outline
from layout3d.parts.forms.picture_file import PictureRefused

SIDE = 400


def drawn(draw, size=SIDE):
    """Return a picture of 0 to 1 with dark shapes on light ground."""
    picture = Image.new("L", (size, size), 255)
    draw(ImageDraw.Draw(picture))
    return np.array(picture) / 255.0


def disc(pen):
    pen.ellipse((50, 50, 350, 350), fill=0)


def test_two_discs_leave_what_two_round_bars_share():
    """Closed form (Archimedes, the Method): two bars of radius r that cross squarely share 16/3 r³."""
    outline = outline_in(drawn(disc))
    shape, apart = from_outlines(outline, outline, longest=0.2)
    assert shape.solid().volume == pytest.approx(
        16.0 / 3.0 * 0.1**3, rel=0.003
    )  # a pixel is 1/300 of the disc
    assert apart == 0.0
    assert shape.bounds[0] == pytest.approx([-0.1, -0.1, 0.0], abs=1e-9)


def test_two_rectangles_leave_a_box_and_the_side_is_scaled_to_the_front():
    front = outline_in(drawn(lambda pen: pen.rectangle((50, 100, 349, 299), fill=0)))  # 300 by 200
    side = outline_in(drawn(lambda pen: pen.rectangle((150, 150, 199, 249), fill=0)))  # 50 by 100: 100 by 200
    shape, _ = from_outlines(front, side, longest=0.6)
    low, high = shape.bounds
    assert high - low == pytest.approx([0.6, 0.2, 0.4], rel=0.012)  # the side's pixel is 1/50 of it
    assert shape.solid().volume == pytest.approx(float(np.prod(high - low)), rel=1e-3)  # corner pixels


def test_left_and_right_and_front_and_back_are_where_the_pictures_show_them():
    """Steps: high at the left of the front view, high at the right of the side view, which is the back."""
    steps = [(50, 300), (50, 100), (150, 100), (150, 200), (350, 200), (350, 300)]
    front = outline_in(drawn(lambda pen: pen.polygon(steps, fill=0)))
    side = outline_in(drawn(lambda pen: pen.polygon([(400 - x, y) for x, y in steps], fill=0)))
    solid = from_outlines(front, side, longest=0.3)[0].solid()
    top = solid.vertices[solid.vertices[:, 2] > 0.15]
    assert top[:, 0].max() < -0.04
    assert top[:, 1].min() > 0.04


def test_a_gap_in_an_outline_stays_open_and_dirt_is_left_out():
    def frame(pen):
        pen.rectangle((50, 50, 349, 349), fill=0)
        pen.rectangle((150, 150, 249, 249), fill=255)
        pen.rectangle((100, 100, 104, 104), fill=255)
        pen.rectangle((10, 10, 14, 14), fill=0)

    outline = outline_in(drawn(frame))
    assert len(outline.interiors) == 1
    assert outline.area == pytest.approx(300**2 - 100**2, rel=0.015)


def test_an_outline_is_read_on_light_on_dark_and_on_transparent_ground(tmp_path):
    dark = drawn(disc)
    light = Image.fromarray((255 - 255 * dark).astype(np.uint8))
    clear = Image.merge("RGBA", [Image.new("L", (SIDE, SIDE), 120)] * 3 + [light])
    areas = []
    for name, picture in (("light.png", light), ("clear.png", clear), ("two.png", light.convert("1"))):
        picture.save(tmp_path / name)
        areas.append(read_outline(tmp_path / name).area)
    assert areas == pytest.approx([np.pi * 150**2] * 3, rel=0.02)


def test_a_large_picture_is_averaged_down(tmp_path):
    large = Image.new("L", (3000, 3000), 255)
    ImageDraw.Draw(large).rectangle((600, 600, 2399, 2399), fill=0)
    large.save(tmp_path / "large.png")
    assert read_outline(tmp_path / "large.png").area == pytest.approx(600**2, rel=0.005)


@pytest.mark.parametrize(
    ("draw", "told"),
    [
        (lambda pen: None, "shows nothing"),
        (lambda pen: pen.rectangle((0, 50, 200, 200), fill=0), "cut off at the picture's edge"),
        (lambda pen: pen.rectangle((50, 50, 200, 200), fill=128), "neither dark nor light"),
        (
            lambda pen: [
                pen.rectangle((50, 50, 200, 200), fill=0),
                pen.rectangle((250, 50, 300, 99), fill=0),
            ],
            "more than one piece",
        ),
    ],
)
def test_what_is_no_outline_of_one_piece_is_refused(draw, told):
    with pytest.raises(ValueError, match=told):
        outline_in(drawn(draw))


def test_a_picture_of_other_pixels_is_refused(tmp_path):
    Image.fromarray(np.full((40, 40), 40000, dtype=np.uint16)).save(tmp_path / "deep.png")
    with pytest.raises(PictureRefused, match="is of mode"):
        read_outline(tmp_path / "deep.png")


@pytest.mark.parametrize(("half", "share"), [(5, 2_000 / 122_000), (30, 72_000 / 272_000)])
def test_what_hangs_in_one_outline_and_stands_in_the_other_lies_apart(half, share):
    """From the front a gate in which something hangs, from the side a trough in which something stands.

    Where both overlap in height, the outlines allow a block that nothing holds. Volumes by hand, in layers.
    """
    gate = shapely.box(0, 0, 100, 100).difference(shapely.box(10, -1, 90, 80))
    gate = gate.union(shapely.box(50 - half, 40, 50 + half, 80))
    trough = shapely.box(0, 0, 100, 100).difference(shapely.box(10, 20, 90, 101))
    trough = trough.union(shapely.box(50 - half, 20, 50 + half, 60))
    if share > 0.05:
        with pytest.raises(ValueError, match="26 % of what both outlines allow lies apart"):
            from_outlines(gate, trough, longest=0.1)
        return
    shape, apart = from_outlines(gate, trough, longest=0.1)
    assert apart == pytest.approx(share)
    assert shape.solid().volume == pytest.approx(120e-6)
