"""A video from pictures: H.264 in MP4, by the encoder that the library `imageio-ffmpeg` brings along."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, Place

__all__ = ["video"]

QUALITY = "18"  # constant rate factor: of 0 … 51, where 18 is taken for visually lossless
_OPTIONS = (
    # players take HD video for BT.709
    *("-vf", "scale=out_range=tv:out_color_matrix=bt709", "-colorspace", "bt709"),
    *("-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"),
    *("-crf", QUALITY, "-preset", "veryfast", "-movflags", "+faststart"),
    # the same bytes for the same pictures: no dates, no versions
    *("-fflags", "+bitexact", "-flags:v", "+bitexact", "-map_metadata", "-1", "-f", "mp4"),
)


@contextlib.contextmanager
def video(to: Path, size: tuple[int, int], *, rate: int) -> Iterator[Callable[[NDArray[np.uint8]], None]]:
    """Give what adds a picture, (height, width, 3); at the end the file is whole.

    Parameters
    ----------
    size : of the pictures, even both ways

    Raises
    ------
    LayoutError : the encoder can't be run, ended before its time, or left pictures out.
    """
    import imageio_ffmpeg

    try:
        writer = imageio_ffmpeg.write_frames(
            str(to),
            size,
            fps=rate,
            codec="libx264",
            pix_fmt_out="yuv420p",
            macro_block_size=2,
            quality=None,
            output_params=list(_OPTIONS),
            ffmpeg_log_level="error",
        )
        writer.send(None)
    except (OSError, RuntimeError) as fault:
        raise LayoutError(f"the video's encoder can't be run: {fault}", place=Place(str(to))) from fault

    added = 0

    def add(image: NDArray[np.uint8]) -> None:
        nonlocal added
        try:
            writer.send(np.ascontiguousarray(image).data)
        except OSError as fault:
            raise LayoutError(f"the video's encoder ended early: {fault}", place=Place(str(to))) from fault
        added += 1

    try:
        yield add
    finally:
        writer.close()
    try:
        there, _ = imageio_ffmpeg.count_frames_and_secs(str(to))
    except RuntimeError as fault:
        raise LayoutError("the video that was encoded can't be read", place=Place(str(to))) from fault
    if there != added:
        raise LayoutError(f"the video has {there} pictures of {added}", place=Place(str(to)))
