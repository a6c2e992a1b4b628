import numpy as np
import pytest
from PIL import Image

from layout3d.errors import LayoutError
from layout3d.parts.forms.height_image import from_image, read_height_image
from layout3d.parts.forms.picture_file import PictureRefused

PANEL = {"width": 0.8, "height": 0.4, "depth": 0.1, "pitch": 0.01}


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_an_even_grey_gives_an_even_height(kind):
    most = np.iinfo(kind).max
    for grey, height in ((0, 0.0), (most, 0.1), (most // 5, 0.1 * (most // 5) / most)):
        _, _, y = from_image(np.full((5, 9), grey, dtype=kind), **PANEL)
        assert np.allclose(y, height, atol=1e-12)


def test_a_grey_wedge_is_linear_between_the_middles_of_the_outer_pixels():
    """Closed form: a linear picture stays linear under bilinear sampling."""
    image = np.tile(np.arange(0, 250, 10, dtype=np.uint8), (4, 1))
    x, _, y = from_image(image, **PANEL)
    inside = (x > 0.8 * 0.5 / 25) & (x < 0.8 * 24.5 / 25)
    expected = (x / 0.8 * 25 - 0.5) * 10 / 255 * 0.1
    assert np.allclose(y[inside], expected[inside, None], atol=1e-12)


def test_the_first_row_of_the_image_is_the_top_of_the_panel():
    image = np.zeros((8, 8), dtype=np.uint8)
    image[0] = 255
    _, z, y = from_image(image, **PANEL)
    assert y[:, z > 0.39].min() == pytest.approx(0.1)
    assert y[:, z < 0.3].max() == 0.0


@pytest.mark.parametrize(
    "image", [np.zeros((4, 4)), np.zeros((4, 4, 3), np.uint8), np.zeros((1, 4), np.uint8)]
)
def test_another_kind_of_array_is_refused(image):
    with pytest.raises(ValueError, match="image must be"):
        from_image(image, **PANEL)


@pytest.mark.parametrize(("kind", "name"), [(np.uint8, "a.png"), (np.uint16, "a.png"), (np.uint16, "a.tif")])
def test_grey_files_are_read_back_exactly(tmp_path, kind, name):
    image = (np.arange(600).reshape(20, 30) * (100 if kind == np.uint16 else 1)).astype(kind)
    Image.fromarray(image).save(tmp_path / name)
    read = read_height_image(tmp_path / name)
    assert read.dtype == kind
    assert np.array_equal(read, image)


def test_files_that_cannot_be_used_say_why(tmp_path):
    Image.new("RGB", (8, 8)).save(tmp_path / "colour.png")
    Image.new("L", (1, 8)).save(tmp_path / "thin.png")
    Image.fromarray(np.full((4, 4), 70_000, dtype=np.int32)).save(tmp_path / "deep.tif")
    (tmp_path / "text.png").write_text("not a picture")
    (tmp_path / "cut.png").write_bytes(_cut_short(tmp_path))
    for name, told in {
        "missing.png": "there is no such file",
        "colour.png": "of mode 'RGB'",
        "deep.tif": "values from 70000 to 70000",
        "thin.png": "1 x 8 pixels",
        "text.png": "can't be read as a picture: it is neither PNG nor TIFF",
        "cut.png": "can't be read as a picture: it is damaged or cut short",
    }.items():
        with pytest.raises(PictureRefused, match=told) as caught:
            read_height_image(tmp_path / name)
        assert isinstance(caught.value, LayoutError)
        assert caught.value.expected


@pytest.mark.parametrize("kind", ["GIF", "BMP", "JPEG", "WEBP", "PPM"])
def test_a_format_that_the_docs_do_not_name_is_refused_whatever_its_name_says(kind, tmp_path):
    """PNG and TIFF only: other readers are many, and each is a way in for a forged file."""
    Image.new("L", (8, 8)).save(tmp_path / "relief.png", format=kind)
    with pytest.raises(PictureRefused, match=r"can't be read as a picture: it is neither") as caught:
        read_height_image(tmp_path / "relief.png")
    assert "PNG or TIFF" in caught.value.expected


def test_too_many_pixels_are_refused_before_they_are_read(tmp_path):
    Image.new("1", (9000, 8000)).save(tmp_path / "huge.png")
    with pytest.raises(PictureRefused, match="9000 x 8000 = 72000000 pixels"):
        read_height_image(tmp_path / "huge.png")


def _cut_short(folder):
    rng = np.random.default_rng(0)
    Image.fromarray(rng.integers(0, 255, (64, 64), dtype=np.uint8)).save(folder / "whole.png")
    return (folder / "whole.png").read_bytes()[:1500]
