"""``layout3d picture``: views and cuts of a scene as PNG, with its findings marked."""

from __future__ import annotations

import re
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from layout3d.commands.answer import Known
from layout3d.commands.scene import (
    NoFaults,
    SceneFile,
    Settings,
    option,
    quantity_of,
    refusals_told,
    refuse_file,
)

if TYPE_CHECKING:
    from layout3d.draw.cut import Cut
    from layout3d.draw.flow_colours import ColourKey
    from layout3d.draw.pieces import Stage
    from layout3d.model.model import Model
    from layout3d.scene.scene import Scene

__all__ = ["picture", "pixels_of_option", "plane_of_option"]

View = Annotated[
    str | None, option("--view", "three_quarter, front, back, left, right, plan, or all of them.")
]
SpotName = Annotated[str, option("--camera NAME", "From a spot under `cameras:` in the scene.")]
To = Annotated[Path | None, option("--to FILE|DIR", "A .png file, or a folder; by default beside you.")]
CutAt = Annotated[str, option("--cut x=500mm", "Cut the scene open square to x, y or z.")]
Size = Annotated[str, option("--size WxH", "Pixels.")]
Hide = Annotated[
    list[str] | None, option("--hide NAME", "Leave out a part, a group or water; may be repeated.")
]
NoLabels = Annotated[bool, option("--no-labels", "Don't name the parts.")]
Colour = Annotated[str, option("--colour velocity|head", "Colour pipework by what runs in it, and bare it.")]


def picture(
    scene: SceneFile,
    view: View = None,
    camera: SpotName = "",
    to: To = None,
    cut: CutAt = "",
    size: Size = "1600x1200",
    hide: Hide = None,
    no_labels: NoLabels = False,
    no_faults: NoFaults = False,
    colour: Colour = "",
    settings: Settings = None,
) -> None:
    """Draw a scene as PNG.

    Parts are named, and findings marked with the numbers that `layout3d check` gives them.
    """
    with refusals_told():
        from layout3d.draw.camera import VIEWS, direction_of
        from layout3d.errors import LayoutError, UnknownName, nearest
        from layout3d.files import folder_made

        if to is not None and to.suffix.lower() != ".png":
            refuse_file(to, "--to", expected="a .png file, or a folder without a suffix")
        if view and camera:
            raise LayoutError("--view beside --camera", expected="one of the two")
        view = view or "three_quarter"
        if view not in (*VIEWS, "all"):
            raise UnknownName(f"{view!r} is not a view", expected=nearest(view, [*VIEWS, "all"]))
        pixels = pixels_of_option(size)
        known, hidden, key = Known(scene, settings), tuple(hide or ()), None
        findings = () if no_faults else known.findings()
        if cut or colour:  # what is cut needs the solids, what is coloured the flow
            stage, plane, key = _of_the_model(known.model(), cut, colour, hidden)
        else:
            stage, plane = known.stage(hidden), None
        from layout3d.draw.picture import picture as draw
        from layout3d.draw.screen import opened

        views = [camera or view]
        if view == "all":  # but those that see a cut's edge, not its face
            views = [
                name for name in VIEWS if not plane or abs(direction_of(name)["xyz".index(plane[0])]) > 1e-6
            ]
        files = _files(scene, views, to, many=view == "all")
        net = known.net_volume()
        folder = nullcontext() if to in files.values() else folder_made(to or Path())
        with folder, opened(pixels) as page:
            for name, file in files.items():
                draw(
                    stage,
                    view=view if camera else name,
                    spot=camera,
                    to=file,
                    findings=findings,
                    size=pixels,
                    labels=not no_labels,
                    cut=plane,
                    net_volume=net,
                    key=key,
                    on=page,
                )
                typer.echo(f"wrote {file}")


def _of_the_model(
    model: Model, cut: str, colour: str, hidden: tuple[str, ...]
) -> tuple[Stage, Cut | None, ColourKey | None]:
    """Return a stage with its solids, the plane that it is cut at, and what its colours mean."""
    from layout3d.draw.stage import set_stage

    plane, paint, key = plane_of_option(cut, model.scene) if cut else None, None, None
    if colour:
        from layout3d.draw.flow_colours import covers_of, flow_colours
        from layout3d.flow.running import running

        paint, key = flow_colours(model, running(model), colour)
        hidden += covers_of(model)
    return set_stage(model, hide=hidden, colour_by=paint), plane, key


def _files(scene: Path, views: list[str], to: Path | None, *, many: bool) -> dict[str, Path]:
    """Return the file of each view; the folder of many is still to be made."""
    from layout3d.errors import LayoutError, Place
    from layout3d.files import is_folder

    if to is not None and to.suffix.lower() == ".png" and not is_folder(to):
        if many:
            raise LayoutError("one file for all views", expected="a folder behind --to", place=Place(str(to)))
        return {views[0]: to}
    return {view: (to or Path()) / f"{scene.stem}-{view}.png" for view in views}


def pixels_of_option(text: str) -> tuple[int, int]:
    """Read a size in pixels, such as 1600x1200; raises LayoutError where it is none."""
    from layout3d.errors import LayoutError

    match = re.fullmatch(r"([0-9]{1,5})[x×]([0-9]{1,5})", text.strip())
    if match is None:
        raise LayoutError(f"--size {text}", expected="width x height in pixels, such as 1600x1200")
    return int(match[1]), int(match[2])


def plane_of_option(text: str, scene: Scene) -> Any:
    """Read an axis and a place, such as x=500mm, SI; raises LayoutError where it is none."""
    from layout3d.errors import LayoutError

    axis, sign, place = text.partition("=")
    if axis.strip() not in ("x", "y", "z") or not sign or not place.strip():
        raise LayoutError(f"--cut {text}", expected="an axis and a place, such as x=500mm")
    return axis.strip(), quantity_of(place, scene, "length", f"--cut {axis}=")
