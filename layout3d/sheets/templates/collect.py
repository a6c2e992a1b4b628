"""All templates of a scene as files: PDF on paper of a size, DXF for the shop."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.sheets.drawing import Page
from layout3d.sheets.dxf import dxf
from layout3d.sheets.pdf import pdf
from layout3d.sheets.templates.panels import panel_templates
from layout3d.sheets.templates.plates import baffle_strips, plate_templates
from layout3d.sheets.templates.slabs import slab_templates
from layout3d.sheets.templates.strips import strip_templates
from layout3d.sheets.templates.template import Template
from layout3d.sheets.templates.tiles import tiled
from layout3d.units import in_own_units

__all__ = ["bench_files", "templates_of"]


@in_own_units
def templates_of(model: Model) -> tuple[Template, ...]:
    """Return every template of a scene."""
    return (
        *panel_templates(model),
        *strip_templates(model),
        *slab_templates(model),
        *baffle_strips(model),
        *plate_templates(model),
    )


def bench_files(model: Model, *, paper: str = "") -> dict[str, bytes]:
    """Return the templates as ``templates/NAME.pdf``, at 1:1 on sheets of this paper, by default A4.

    In scenes in inches that is letter. With them what a shop cuts, each drilled panel and loose plate, as
    ``panels/NAME.dxf`` in millimetres.

    Raises
    ------
    UnknownName : no such paper.
    """
    inch = model.scene.style == "inch"
    paper = paper or ("letter" if inch else "A4")
    files: dict[str, bytes] = {}
    for template in templates_of(model):
        pages = tiled(template, paper=paper, heading=model.scene.title, inch=inch)
        files[f"templates/{template.name}.pdf"] = pdf(pages, template.title)
        if template.cut:
            page = Page(name=template.title, width=0.0, height=0.0, elements=template.cut)
            files[f"panels/{template.name}.dxf"] = dxf(page)
    return files
