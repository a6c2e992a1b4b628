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

__all__ = ["panel_files", "template_files", "templates_of"]


def templates_of(model: Model) -> tuple[Template, ...]:
    """Return every template of a scene."""
    return (
        *panel_templates(model),
        *strip_templates(model),
        *slab_templates(model),
        *baffle_strips(model),
        *plate_templates(model),
    )


def template_files(model: Model, *, paper: str = "") -> dict[str, bytes]:
    """Return the templates as ``templates/NAME.pdf``, at 1:1 on sheets of this paper.

    By default A4, and in scenes in inches letter.

    Raises
    ------
    UnknownName : no such paper.
    """
    inch = model.scene.style == "inch"
    paper = paper or ("letter" if inch else "A4")
    return {
        f"templates/{template.name}.pdf": pdf(
            tiled(template, paper=paper, heading=model.scene.title, inch=inch), template.title
        )
        for template in templates_of(model)
    }


def panel_files(model: Model) -> dict[str, bytes]:
    """Return what a shop cuts, each drilled panel and loose plate, as ``panels/NAME.dxf`` in millimetres."""
    return {
        f"panels/{template.name}.dxf": dxf(
            Page(name=template.title, width=0.0, height=0.0, elements=template.cut)
        )
        for template in templates_of(model)
        if template.cut
    }
