"""``layout3d schema``, ``kinds`` and ``rules``: what may be written in a scene, and what is asked of it."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from layout3d.commands.scene import refusals_told

__all__ = ["kinds", "rules", "schema"]


def schema(
    what: Annotated[
        str,
        typer.Argument(
            help="One of: scene, check, volume, flow, outage, sheet, place, sweep, manifest, parts, order, "
            "cuts, errors."
        ),
    ] = "scene",
) -> None:
    """Print a JSON Schema.

    That of the scene file, of what a command prints with --json, or of what export writes.
    """
    with refusals_told():
        from layout3d.report.schemas import schema_text

        text = schema_text(what)
    sys.stdout.write(text)


def kinds(
    kind: Annotated[
        str,
        typer.Argument(help="A part kind, or pipes, tubes, bulkheads, pumps, materials.", show_default=False),
    ] = "",
) -> None:
    """List part kinds, the fields of one, or what the catalogue has of one section."""
    with refusals_told():
        from layout3d.report.catalogue_page import SECTIONS, catalogue_lines
        from layout3d.report.kinds import kind_lines, kinds_lines
        from layout3d.report.writing import write

        if not kind:
            lines = kinds_lines()
        elif kind in SECTIONS:
            lines = catalogue_lines(kind)
        else:
            lines = kind_lines(kind)
    write(lines, sys.stdout)


def rules() -> None:
    """List the rules and their limits."""
    with refusals_told():
        from layout3d.report.rules import rules_lines
        from layout3d.report.writing import write

        lines = rules_lines()
    write(lines, sys.stdout)
