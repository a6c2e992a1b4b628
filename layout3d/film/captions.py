"""Captions of a sequence: as lines, as plain text with times, and as SubRip (.srt) for a video."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from layout3d.draw.seen import stem_of
from layout3d.film.frame import Frame

__all__ = ["FOOT", "WIDEST", "Caption", "captions_of", "captions_srt", "captions_text", "lines_of", "repeats"]

FOOT = 0.15  # of the picture's height, kept free where captions are written into it
WIDEST = 42  # characters of a line: common practice for subtitles, no source
_BREAK = "\n"  # between what a caption tells, which begins a line of its own
MOST_NAMES = 6  # of a list in a caption


@dataclass(frozen=True, slots=True)
class Caption:
    """A caption and when it is shown, in pictures of the video: from ``begin`` on, before ``end``."""

    text: str
    begin: int
    end: int


def captions_of(frames: Sequence[Frame], *, rate: int) -> tuple[Caption, ...]:
    """Return the captions in order; frames that follow each other with one caption share it.

    Parameters
    ----------
    rate : pictures of the video in a second
    """
    found: list[Caption] = []
    at = 0
    for frame in frames:
        shown = at + repeats(frame, rate=rate)
        if found and found[-1].text == frame.caption and found[-1].end == at:
            found[-1] = Caption(frame.caption, found[-1].begin, shown)
        elif frame.caption:
            found.append(Caption(frame.caption, at, shown))
        at = shown
    return tuple(found)


def repeats(frame: Frame, *, rate: int) -> int:
    """Return how many pictures of the video a frame is."""
    return max(round(frame.seconds * rate), 1)


def lines_of(caption: str, *, widest: int = WIDEST) -> list[str]:
    r"""Return a caption as lines; of a long list of parts families are told by count, and the rest as more.

    >>> lines_of("Plant: fern_1, fern_2, moss\nhidden: pump")
    ['Plant: fern × 2, moss', 'hidden: pump']
    """
    return [line for told in caption.split(_BREAK) for line in _lines_of(told, widest)]


def _lines_of(caption: str, widest: int) -> list[str]:
    head, colon, names = caption.rpartition(": ")
    if colon and "," in names:
        told = _families([name.strip() for name in names.split(",")])
        more = len(told) - MOST_NAMES
        if more > 1:
            told = [*told[:MOST_NAMES], f"and {more} more"]
        caption = f"{head}: {', '.join(told)}"
    bound = caption.replace("_", " ").replace(" × ", "\u00a0×\u00a0")  # no line ends at a count
    return [line.replace("\u00a0", " ") for line in textwrap.wrap(bound, widest)]


def captions_srt(captions: Sequence[Caption], *, rate: int) -> str:
    """Return the captions as SubRip text: number, times, lines, and an empty line behind each."""
    blocks = [
        f"{number}\n{_time(caption.begin, rate)} --> {_time(caption.end, rate)}\n"
        + "\n".join(lines_of(caption.text))
        + "\n"
        for number, caption in enumerate(captions, start=1)
    ]
    return "\n".join(blocks)


def captions_text(captions: Sequence[Caption], *, rate: int) -> str:
    """Return the captions as text, one a line behind its time in minutes and seconds."""
    lines = []
    for caption in captions:
        minutes, seconds = divmod(caption.begin // rate, 60)
        lines.append(f"{minutes}:{seconds:02}  {caption.text.replace(_BREAK, '; ')}\n")
    return "".join(lines)


def _time(picture: int, rate: int) -> str:
    """Return when a picture of the video is shown, to the nearest thousandth."""
    thousandths = round(1000 * picture / rate)
    seconds, rest = divmod(thousandths, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02},{rest:03}"


def _families(names: Sequence[str]) -> list[str]:
    """Put names together that differ in a number at their end only."""
    found: dict[str, list[str]] = {}
    for name in names:
        found.setdefault(stem_of(name) or name, []).append(name)
    return [own[0] if len(own) == 1 else f"{stem} × {len(own)}" for stem, own in found.items()]
