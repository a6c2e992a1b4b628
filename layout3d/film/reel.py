"""A sequence written to a folder: numbered pictures, a video, captions; picked up again after a break.

Each picture carries a seal over what it was made from and over its own pixels. A picture whose seal fits is
kept when the sequence is written again; one that is stale, or half of it, is drawn anew. A file that bears no
seal of ours is nobody's to replace: then nothing is begun.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, PngImagePlugin

from layout3d.errors import LayoutError, Place
from layout3d.files import clear_unfinished, digest_of, folder_made, is_folder, ordinary_content, written
from layout3d.film.captions import captions_of, captions_srt, captions_text, repeats
from layout3d.film.frame import Frame
from layout3d.film.shooting import Shooting
from layout3d.film.video import video

__all__ = ["Reel", "write_reel"]

Pixels = NDArray[np.uint8]

LIST = "sequence.json"
_NUMBERED = re.compile(r"[0-9]{4}\.png")
_SEAL, _KEY = "seal", "made of"
COMPRESSED = 1  # of 9: a fifth larger than usual, written in half the time
WAITING = 4  # pictures that wait to be written, at most
LARGEST = 2**31  # of a video that is looked at, [bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reel:
    """What was written: the files, and how many pictures were there already."""

    files: tuple[Path, ...]
    drawn: int
    kept: int


def write_reel(
    to: Path,
    frames: Sequence[Frame],
    shoot: Shooting,
    *,
    name: str,
    rate: int,
    facts: dict[str, Any],
    with_video: bool = True,
    done: Callable[[int, int], None] = lambda _count, _of: None,
) -> Reel:
    """Write a sequence to a folder; it may be broken off, and goes on where it was when called again.

    Parameters
    ----------
    to : the folder; it is made, or holds an earlier run of ours
    name : of the video and the captions
    rate : pictures of the video in a second
    facts : what the list of the folder says beside its files
    with_video : whether one is made; H.264 knows no transparency
    done : told after each picture how many there are, and of how many

    Raises
    ------
    LayoutError : the folder holds something else in their place, or can't be written.
    """
    own = {"video": to / f"{name}.mp4", "srt": to / f"{name}.srt", "text": to / f"{name}.txt"}
    keys = [shoot.key(frame) for frame in frames]
    with folder_made(to):
        known = _own_files(to, own.values())
        pictures = [to / f"{number:04}.png" for number in range(1, len(frames) + 1)]
        clear_unfinished((*pictures, *own.values(), to / LIST))
        kept = 0
        captions = captions_of(frames, rate=rate)
        with contextlib.ExitStack() as stack:
            partial = stack.enter_context(written(own["video"])) if with_video else None
            feed = stack.enter_context(video(partial, shoot.size, rate=rate)) if partial else None
            writer = stack.enter_context(_writing())
            for number, (file, frame, key) in enumerate(zip(pictures, frames, keys, strict=True), start=1):
                image = _sealed(file, key) if file in known else None
                if image is None:
                    image = shoot.picture(frame)
                    writer(file, image, key)
                else:
                    kept += 1
                if feed is not None:
                    for _ in range(repeats(frame, rate=rate)):
                        feed(image)
                done(number, len(frames))
        for file in known:  # of an earlier, longer one
            if _NUMBERED.fullmatch(file.name) and file not in pictures:
                file.unlink(missing_ok=True)
        made = [*pictures, *([own["video"]] if with_video else [])]
        for kind, text in (
            ("srt", captions_srt(captions, rate=rate)),
            ("text", captions_text(captions, rate=rate)),
        ):
            if captions:
                with written(own[kind]) as partial_text:
                    partial_text.write_text(text, encoding="utf-8")
                made.append(own[kind])
        others = [file for file in made if file not in pictures]
        told = facts | {
            "frames": [
                {"file": file.name, "caption": frame.caption, "seconds": repeats(frame, rate=rate) / rate}
                for file, frame in zip(pictures, frames, strict=True)
            ],
            "written": {file.name: digest_of(file.read_bytes()) for file in others},
        }
        listed = to / LIST
        with written(listed) as partial_list:
            partial_list.write_text(json.dumps(told, indent=2) + "\n", encoding="utf-8")
    return Reel(files=(*made, listed), drawn=len(frames) - kept, kept=kept)


def _own_files(to: Path, others: Any) -> set[Path]:
    """Return the files in a folder that an earlier run wrote and nobody changed since.

    Raises
    ------
    LayoutError : something else stands where a file is to go, or has a picture's name.
    """
    if not is_folder(to):
        return set()
    found = {path for path in to.iterdir() if _NUMBERED.fullmatch(path.name) or path in set(others)}
    told: dict[str, str] = {}
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        told = dict(json.loads((to / LIST).read_text(encoding="utf-8"))["written"])
    for path in sorted(found):
        if _NUMBERED.fullmatch(path.name):
            ours = _sealed(path, None) is not None or _torn(path)
        else:
            content = ordinary_content(path, LARGEST)
            ours = content is not None and told.get(path.name) == digest_of(content)
        if path.is_symlink() or not ours:
            raise LayoutError(
                "stands in the way, and no earlier run wrote it as it is",
                expected="a new or empty folder, or one that this command wrote",
                place=Place(str(path)),
            )
    return found


def _sealed(file: Path, key: str | None) -> Pixels | None:
    """Return a picture whose seal fits, made from ``key`` where that is given; None for any other file."""
    try:
        with Image.open(file) as image:
            told = dict(image.text) if isinstance(image, PngImagePlugin.PngImageFile) else {}
            if _SEAL not in told or (key is not None and told.get(_KEY) != key):
                return None
            pixels = np.asarray(image)
        return pixels if told[_SEAL] == _seal(told.get(_KEY, ""), pixels) else None
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):  # SyntaxError: a broken PNG
        return None


def _torn(file: Path) -> bool:
    """Tell whether a file is a picture of ours of which a part is missing, as after a fault of the disk."""
    try:
        with Image.open(file) as image:
            ours = image.format == "PNG" and _SEAL in image.info  # what stands before the pixels
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return False
    try:
        with Image.open(file) as image:
            image.load()
    except (OSError, SyntaxError, ValueError):
        return ours
    return False


def _seal(key: str, pixels: Pixels) -> str:
    return hashlib.sha256(f"{key} {pixels.shape}".encode() + np.ascontiguousarray(pixels).data).hexdigest()


@contextlib.contextmanager
def _writing() -> Iterator[Callable[[Path, Pixels, str], None]]:
    """Give what writes pictures in a thread beside the drawing; at the end all are whole."""
    waiting: deque[Future[None]] = deque()
    with ThreadPoolExecutor(max_workers=1) as pool:

        def write(file: Path, image: Pixels, key: str) -> None:
            waiting.append(pool.submit(_write, file, image, key))
            while len(waiting) > WAITING:
                waiting.popleft().result()

        yield write
        while waiting:
            waiting.popleft().result()


def _write(file: Path, image: Pixels, key: str) -> None:
    said = PngImagePlugin.PngInfo()
    said.add_text(_KEY, key)
    said.add_text(_SEAL, _seal(key, image))
    with written(file) as partial:
        Image.fromarray(image).save(partial, format="PNG", compress_level=COMPRESSED, pnginfo=said)
