"""``layout3d report``: the whole scene as one page that opens offline."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from layout3d.commands.ending import FAULT
from layout3d.commands.scene import SceneFile, Settings, model_of, option, refusals_told

if TYPE_CHECKING:
    from layout3d.keep import Form
    from layout3d.model.model import Model

SUFFIXES = (".html", ".htm")


def report(
    scene: SceneFile,
    to: Annotated[Path, option("--to FILE.html", "The file; one that is there is replaced.")],
    settings: Settings = None,
) -> None:
    """Write one page that tells the whole scene.

    Findings, water, flow, outages, parts, cuts, build order, sheets, and a model that turns: a single file of
    HTML that opens in a browser without a network. Exit code 1 where the scene has a fault.
    """
    with refusals_told():
        from layout3d.beside import made_beside
        from layout3d.errors import LayoutError, Place
        from layout3d.files import folder_made, written
        from layout3d.page.library import webgl_library

        if to.suffix.lower() not in SUFFIXES:
            raise LayoutError("--to is no file of HTML", expected="a .html file", place=Place(str(to)))
        webgl_library()  # before anything is computed: without it there is no page
        model = model_of(scene, settings)
        with made_beside(*_drawn(model)):
            from layout3d.page.page import page_of, told_of

            told = told_of(model)
            content = page_of(told).encode()
        with folder_made(to.parent), written(to) as partial:
            partial.write_bytes(content)
    megabytes = len(content) / 1e6
    faults = [f"{told.ruled} fault{'' if told.ruled == 1 else 's'}"] if told.ruled else []
    typer.echo(", ".join([f"wrote {to}", f"{megabytes:.1f} MB", *faults, *told.other_faults]))
    if told.ruled or told.other_faults:
        raise typer.Exit(FAULT)


def _drawn(model: Model) -> tuple[tuple[Form[Any], ...], Callable[[], Iterator[object]]]:
    """Return what a page is drawn of that hangs on little of what is computed: views, curves, solids."""
    from layout3d.band import SETTINGS
    from layout3d.flow.running import running
    from layout3d.flow.system_curve import CURVE, system_curve
    from layout3d.page.solids import SOLIDS, solids_of
    from layout3d.sheets.projection import LINES
    from layout3d.sheets.sheets_of import figures_of

    def steps() -> Iterator[object]:
        yield from figures_of(model)
        yield [system_curve(model, one.pump, setting) for one in running(model).pumps for setting in SETTINGS]
        yield solids_of(model)

    return (LINES, CURVE, SOLIDS), steps
