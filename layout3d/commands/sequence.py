"""``layout3d sequence``: numbered pictures, a video and captions of a scene."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layout3d.commands.picture import pixels_of_option
from layout3d.commands.scene import (
    SceneFile,
    Settings,
    model_of,
    option,
    progress,
    refusals_told,
    refuse_file,
)

Show = Annotated[str, option("--show KIND", "steps, exploded, turntable, cut, fly-in or water.")]
To = Annotated[Path, option("--to DIR", "A new or empty folder, or that of a run to go on with.")]
Cameras = Annotated[
    list[str] | None, option("--camera NAME", "A spot under `cameras:` in the scene; a flight takes several.")
]
Count = Annotated[int | None, option("--frames N", "How many pictures, 1 to 5000.")]
Size = Annotated[str, option("--size WxH", "Pixels; by default 1920x1080.")]
Upright = Annotated[bool, option("--vertical", "1080x1920, for a telephone held upright.")]
Rate = Annotated[int, option("--rate N", "Pictures of the video in a second, 1 to 120.")]
Clear = Annotated[
    bool, option("--transparent", "No page behind; pictures only, for H.264 knows no transparency.")
]
Told = Annotated[bool, option("--burn-in", "Write captions, and names of parts, into the pictures as well.")]

MOST_FRAMES, MOST_RATE = 5000, 120


def sequence(
    scene: SceneFile,
    show: Show,
    to: To,
    camera: Cameras = None,
    frames: Count = None,
    size: Size = "",
    vertical: Upright = False,
    rate: Rate = 24,
    transparent: Clear = False,
    burn_in: Told = False,
    settings: Settings = None,
) -> None:
    """Draw a sequence: numbered PNG, an MP4, and captions as text and SRT.

    Broken off (Ctrl-C), it goes on with the same command: pictures that are whole and still true are kept.
    """
    with refusals_told():
        from layout3d.draw.picture import check_size
        from layout3d.errors import LayoutError, OutOfRange, UnknownName, nearest
        from layout3d.film.captions import FOOT
        from layout3d.film.frame import Setting, sequence_kinds
        from layout3d.film.reel import write_reel
        from layout3d.film.shooting import shooting

        refuse_file(to, "--to", expected="a folder without a suffix: what is drawn is many files")
        kinds = sequence_kinds()
        if show not in kinds:
            raise UnknownName(f"{show!r} is not a sequence", expected=nearest(show, kinds))
        if size and vertical:
            raise LayoutError("--size beside --vertical", expected="one of the two")
        pixels = pixels_of_option(size or ("1080x1920" if vertical else "1920x1080"))
        check_size(pixels)
        if not transparent and any(side % 2 for side in pixels):
            raise OutOfRange(
                f"a video can't be {pixels[0]}x{pixels[1]}",
                expected="even sides, or --transparent for pictures only",
            )
        kind = kinds[show]
        if frames is not None and not kind.count:
            raise LayoutError(f"--frames with {show}", expected="nothing: the scene says how many there are")
        for option, value, most in (("--frames", frames, MOST_FRAMES), ("--rate", rate, MOST_RATE)):
            if value is not None and not 1 <= value <= most:
                raise OutOfRange(f"{option} {value}", expected=f"1 to {most}")
        model = model_of(scene, settings)
        setting = Setting(
            model=model,
            size=pixels,
            count=frames or kind.count or 1,
            cameras=tuple(camera or ()),
            foot=FOOT if burn_in else 0.0,
        )
        if setting.cameras:
            setting.spots()
        reel = kind.frames(setting)
        facts = {
            "format": 1,
            "scene": model.scene.file,
            "title": model.scene.title,
            "show": show,
            "size": list(pixels),
            "rate": rate,
        }
        with (
            shooting(model, size=pixels, clear=transparent, told=burn_in) as shoot,
            progress("pictures") as done,
        ):
            made = write_reel(
                to,
                reel,
                shoot,
                name=f"{scene.stem}-{show}",
                rate=rate,
                facts=facts,
                with_video=not transparent,
                done=done,
            )
    kept = f", {made.kept} of them as they were," if made.kept else ""
    typer.echo(f"wrote {len(reel)} pictures{kept} to {to}")
    for file in made.files[len(reel) :]:
        typer.echo(f"wrote {file}")
