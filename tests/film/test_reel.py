"""A sequence's folder: what is whole and true is kept, the rest is drawn anew, and nobody's file is lost."""

import json
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from PIL import Image

from layout3d.draw.camera import Camera
from layout3d.errors import LayoutError
from layout3d.files import written
from layout3d.film.frame import Frame
from layout3d.film.reel import write_reel

SIZE = (48, 32)
CAMERA = Camera(position=(0, -1, 0), focal=(0, 0, 0), up=(0, 0, 1), parallel=False, size=SIZE)
FRAMES = tuple(Frame(camera=CAMERA, caption=f"frame {n}", seconds=0.25 if n == 2 else 0.0) for n in range(5))


class Painter:
    """Draws a plain colour for each caption, and counts what it draws."""

    def __init__(self, shade: int = 0, *, breaks_at: str = "", channels: int = 3) -> None:
        self.size, self.shade, self.breaks_at, self.channels = SIZE, shade, breaks_at, channels
        self.drawn: list[str] = []

    def key(self, frame: Frame) -> str:
        return f"{frame.caption} {self.shade}"

    def picture(self, frame: Frame):
        if frame.caption == self.breaks_at:
            raise KeyboardInterrupt
        self.drawn.append(frame.caption)
        return np.full((SIZE[1], SIZE[0], self.channels), 40 * int(frame.caption[-1]) + self.shade, np.uint8)


def run(to: Path, painter=None, frames=FRAMES, **more):
    painter = painter or Painter()
    asked = {"name": "tank-turn", "rate": 12, "facts": {"format": 1}} | more
    return write_reel(to, frames, painter, **asked), painter


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


NUMBERED = [f"000{n}.png" for n in range(1, 6)]
ALL = [*NUMBERED, "sequence.json", "tank-turn.mp4", "tank-turn.srt", "tank-turn.txt"]


@pytest.mark.filterwarnings("ignore:unclosed file:ResourceWarning")  # of the library's reader
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_video_has_each_picture_as_often_as_it_is_shown(tmp_path):
    """Read back by the encoder's library: 4 single ones, and a quarter of a second at 12 a second."""
    run(tmp_path / "film")
    assert names(tmp_path / "film") == ALL
    reader = imageio_ffmpeg.read_frames(str(tmp_path / "film" / "tank-turn.mp4"))
    facts = next(reader)
    pictures = [np.frombuffer(one, np.uint8).reshape(SIZE[1], SIZE[0], 3) for one in reader]
    assert (facts["codec"], facts["size"], facts["fps"]) == ("h264", SIZE, 12)
    assert facts["pix_fmt"].startswith("yuv420p")
    assert [round(float(one.mean()) / 40) for one in pictures] == [0, 1, 2, 2, 2, 3, 4]


def test_a_second_run_keeps_all_and_writes_the_same(tmp_path):
    run(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    reel, painter = run(tmp_path)
    assert (reel.kept, reel.drawn, painter.drawn) == (5, 0, [])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_what_was_drawn_before_a_break_is_kept_and_nothing_half_is_left(tmp_path):
    to = tmp_path / "film"
    with pytest.raises(KeyboardInterrupt):
        run(to, Painter(breaks_at="frame 3"))
    assert names(to) == NUMBERED[:3]
    reel, painter = run(to)
    assert painter.drawn == ["frame 3", "frame 4"]
    assert reel.kept == 3
    run(tmp_path / "whole")
    assert {p.name: p.read_bytes() for p in to.iterdir()} == {
        p.name: p.read_bytes() for p in (tmp_path / "whole").iterdir()
    }


def test_what_a_killed_run_left_unfinished_goes_and_nobody_else_s(tmp_path):
    """Its name tells of which file it was to be one; hidden files of the same build are left."""
    left = {}
    for name in ("tank-turn.mp4", "0002.png", "other-turn.mp4", "0006.png"):
        with written(tmp_path / name) as partial:
            left[name] = partial
        (tmp_path / name).unlink()
        partial.write_bytes(b"half of it")
    foreign = tmp_path / f".{'0' * 32}.mp4"
    foreign.write_bytes(b"of somebody")
    run(tmp_path)
    there = {path for path in tmp_path.iterdir() if path.name.startswith(".")}
    assert there == {foreign, left["other-turn.mp4"], left["0006.png"]}


def test_a_picture_of_another_scene_is_drawn_anew(tmp_path):
    run(tmp_path)
    reel, painter = run(tmp_path, Painter(shade=7))
    assert (reel.kept, len(painter.drawn)) == (0, 5)
    with Image.open(tmp_path / "0002.png") as image:
        assert np.asarray(image).max() == 47


def test_pictures_of_a_longer_run_are_taken_away(tmp_path):
    run(tmp_path)
    run(tmp_path, frames=FRAMES[:2])
    assert names(tmp_path) == [*NUMBERED[:2], *ALL[5:]]
    facts = json.loads((tmp_path / "sequence.json").read_text(encoding="utf-8"))
    assert [frame["file"] for frame in facts["frames"]] == NUMBERED[:2]


@pytest.mark.parametrize("name", ["0002.png", "0009.png", "tank-turn.mp4", "tank-turn.srt"])
def test_a_file_that_is_not_ours_stops_everything(tmp_path, name):
    (tmp_path / name).write_bytes(b"precious")
    painter = Painter()
    with pytest.raises(LayoutError, match="stands in the way"):
        run(tmp_path, painter)
    assert names(tmp_path) == [name]
    assert painter.drawn == []
    assert (tmp_path / name).read_bytes() == b"precious"


def test_a_picture_that_somebody_painted_over_is_not_ours_any_more(tmp_path):
    """Its key still stands in it, as many programs keep such text; its seal tells."""
    run(tmp_path)
    with Image.open(tmp_path / "0003.png") as image:
        said = dict(image.text)
        other = image.copy()
    other.putpixel((0, 0), (255, 0, 0))
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    for key, text in said.items():
        info.add_text(key, text)
    other.save(tmp_path / "0003.png", pnginfo=info)
    with pytest.raises(LayoutError, match="stands in the way"):
        run(tmp_path)


def test_a_picture_of_ours_of_which_a_part_is_missing_is_drawn_anew(tmp_path):
    run(tmp_path)
    whole = (tmp_path / "0003.png").read_bytes()
    (tmp_path / "0003.png").write_bytes(whole[: whole.index(b"IDAT") + 12])
    reel, painter = run(tmp_path)
    assert (reel.kept, painter.drawn) == (4, ["frame 2"])
    assert (tmp_path / "0003.png").read_bytes() == whole


def test_a_video_that_somebody_changed_is_left_alone(tmp_path):
    run(tmp_path)
    (tmp_path / "tank-turn.mp4").write_bytes(b"recut")
    with pytest.raises(LayoutError, match="stands in the way"):
        run(tmp_path)
    assert (tmp_path / "tank-turn.mp4").read_bytes() == b"recut"


def test_transparent_pictures_have_no_video(tmp_path):
    run(tmp_path, Painter(channels=4), with_video=False)
    assert "tank-turn.mp4" not in names(tmp_path)
    with Image.open(tmp_path / "0001.png") as image:
        assert image.mode == "RGBA"
