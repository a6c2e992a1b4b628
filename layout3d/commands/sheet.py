"""``layout3d sheet``: dimensioned sheets of a scene as SVG, PDF and DXF."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from layout3d.commands.picture import plane_of_option
from layout3d.commands.scene import (
    AsJson,
    NoFaults,
    SceneFile,
    Settings,
    model_of,
    option,
    refusals_told,
    refuse_file,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout3d.sheets.sheet import Sheet

To = Annotated[
    Path, option("--to FILE|DIR", "A .pdf file, .svg or .dxf of one sheet, or a folder for all three.")
]
Names = Annotated[
    list[str] | None,
    option(
        "--sheet NAME",
        "plan, planting, front, back, left, right, cut or pipework, all by default; spot: what the "
        "scene's cameras see, in parallel lines. May be repeated.",
    ),
]
Paper = Annotated[str, option("--paper", "A4, A3, letter or tabloid.")]
Scale = Annotated[str, option("--scale 1:10", "By default the largest that fits.")]
CutAt = Annotated[str, option("--cut x=500mm", "Where the sheet cut is cut open.")]
Date = Annotated[str, option("--date", "For the title block; by default the scene's `date:`.")]

FORMATS = (".pdf", ".svg", ".dxf")


def sheet(
    scene: SceneFile,
    to: To,
    names: Names = None,
    paper: Paper = "",
    scale: Scale = "",
    cut: CutAt = "",
    date: Date = "",
    settings: Settings = None,
    no_faults: NoFaults = False,
    as_json: AsJson = False,
) -> None:
    """Draw dimensioned sheets.

    A folder gets each sheet as SVG and DXF, and the set as one PDF. Each tells how many faults `check` finds
    in the scene. With --json the printed dimensions are told.
    """
    with refusals_told(as_json=as_json):
        suffix = to.suffix.lower()
        if suffix not in FORMATS:
            refuse_file(to, "--to", expected="a .pdf, .svg or .dxf file, or a folder without a suffix")
        from layout3d.beside import made_beside
        from layout3d.files import folder_made, written
        from layout3d.sheets.drawing import check_paper
        from layout3d.sheets.projection import LINES
        from layout3d.sheets.sheets_of import dimension_facts, figures_of, sheets_of, style_of

        reduction = _scale(scale) if scale else None
        if paper:
            check_paper(paper)
        model = model_of(scene, settings)
        plane = plane_of_option(cut, model.scene) if cut else None
        views = functools.partial(figures_of, model, names=names or (), cut=plane)
        with made_beside((LINES,), views):
            findings = None
            if not no_faults:
                from layout3d.checks.examine import examine

                findings = examine(model)
            style = style_of(model, paper=paper, scale=reduction, date=date, findings=findings)
            sheets = sheets_of(model, style, names=names or (), cut=plane)
        contents = _contents(sheets, to, suffix, scene.stem, style.title)
        with folder_made(to if suffix not in FORMATS else to.parent):
            for file, content in contents.items():
                with written(file) as partial:
                    partial.write_bytes(content)
    if as_json:
        from layout3d.report.json import written as as_text

        typer.echo(as_text(dimension_facts(model, sheets)), nl=False)
    else:
        for file in contents:
            typer.echo(f"wrote {file}")
        if style.faults:
            typer.echo(f"{style.checked} in this scene, and every sheet says so: see layout3d check")


def _contents(sheets: Sequence[Sheet], to: Path, suffix: str, stem: str, title: str) -> dict[Path, bytes]:
    """Return the content of each file to write.

    Raises
    ------
    LayoutError : several sheets for a format that holds one.
    """
    from layout3d.errors import LayoutError, Place
    from layout3d.sheets.dxf import dxf
    from layout3d.sheets.pdf import pdf
    from layout3d.sheets.svg import svg

    pages = [sheet.page for sheet in sheets]
    if suffix == ".pdf":
        return {to: pdf(pages, title)}
    if suffix in FORMATS:
        if len(pages) > 1:
            raise LayoutError(
                f"{len(pages)} sheets for one {suffix} file",
                expected="one --sheet, a .pdf file, or a folder",
                place=Place(str(to)),
            )
        return {to: svg(pages[0]).encode() if suffix == ".svg" else dxf(pages[0])}
    files: dict[Path, bytes] = {to / f"{stem}.pdf": pdf(pages, title)}
    for sheet in sheets:
        files[to / f"{stem}-{sheet.name}.svg"] = svg(sheet.page).encode()
        files[to / f"{stem}-{sheet.name}.dxf"] = dxf(sheet.page)
    return files


def _scale(text: str) -> float:
    from layout3d.errors import LayoutError

    match = re.fullmatch(r"1\s*:\s*([0-9]{1,4}(?:\.[0-9]{1,3})?)", text.strip())
    if match is None or float(match[1]) <= 0.0:
        raise LayoutError(f"--scale {text}", expected="a reduction such as 1:10")
    return float(match[1])
