"""Captions: when each is shown, as text and as SubRip."""

from layout3d.draw.camera import Camera
from layout3d.film.captions import captions_of, captions_srt, captions_text, lines_of
from layout3d.film.frame import Frame

CAMERA = Camera(position=(0, -1, 0), focal=(0, 0, 0), up=(0, 0, 1), parallel=False, size=(4, 4))


def frame(caption: str, seconds: float = 0.0) -> Frame:
    return Frame(camera=CAMERA, caption=caption, seconds=seconds)


FRAMES = (frame("one", 2.5), frame("two"), frame("two"), frame("two", 1.0), frame(""), frame("two", 3600.0))


def test_a_caption_is_shown_as_long_as_its_frames():
    """At 24 pictures a second: 60 pictures, then 1 + 1 + 24, one without, and an hour."""
    found = captions_of(FRAMES, rate=24)
    assert [(one.text, one.begin, one.end) for one in found] == [
        ("one", 0, 60),
        ("two", 60, 86),
        ("two", 87, 87 + 86_400),
    ]


def test_subrip_has_numbers_times_and_lines():
    """SubRip: counter, hours:minutes:seconds,thousandths --> the same, text, an empty line."""
    assert captions_srt(captions_of(FRAMES, rate=24), rate=24) == (
        "1\n00:00:00,000 --> 00:00:02,500\none\n\n"
        "2\n00:00:02,500 --> 00:00:03,583\ntwo\n\n"
        "3\n00:00:03,625 --> 01:00:03,625\ntwo\n"
    )


def test_text_has_each_caption_behind_its_time():
    assert captions_text(captions_of(FRAMES, rate=24), rate=24) == "0:00  one\n0:02  two\n0:03  two\n"


def test_long_lists_are_told_by_families_and_count_in_lines_of_42_letters():
    names = ", ".join([*(f"fern_{n}" for n in range(3)), "a", "b", "c", "d", "e", "f", "g"])
    lines = lines_of(f"21. Plant: {names}")
    assert " ".join(lines) == "21. Plant: fern × 3, a, b, c, d, e, and 2 more"
    assert max(map(len, lines)) <= 42


def test_a_list_is_never_cut_short_by_a_single_name_nor_a_line_between_a_name_and_its_count():
    assert lines_of("Set: a, b, c, d, e, f, g") == ["Set: a, b, c, d, e, f, g"]
    lines = lines_of("21. Plant all of these at once: grass_1, grass_2, grass_3, bed")
    assert lines == ["21. Plant all of these at once: grass × 3,", "bed"]


def test_what_a_caption_tells_beside_begins_a_line_of_its_own():
    told = (frame("7. Put in the wall: wall\nhidden from now on: bar_1, bar_2", 1.0),)
    assert lines_of(told[0].caption) == ["7. Put in the wall: wall", "hidden from now on: bar × 2"]
    text = captions_text(captions_of(told, rate=24), rate=24)
    assert text == "0:00  7. Put in the wall: wall; hidden from now on: bar_1, bar_2\n"
