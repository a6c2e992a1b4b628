"""``layout3d export``: every solid as a mesh, with a manifest that lets anyone recompute the figures."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layout3d.commands.scene import SceneFile, Settings, model_of, option, refusals_told, refuse_file


def export(
    scene: SceneFile,
    to: Annotated[Path, option("--to DIR", "A new or empty folder.")],
    settings: Settings = None,
    replace: Annotated[bool, option("--replace", "Replace an earlier export.")] = False,
) -> None:
    """Write every solid as a mesh file.

    STL and PLY in mm, one GLB of the whole scene, and manifest.json that tells what each file is. The folder
    is written whole or not at all.
    """
    with refusals_told():
        refuse_file(to, "--to", expected="a folder without a suffix: an export is many files")
        from layout3d.draw.export import MANIFEST
        from layout3d.draw.export import export as write

        manifest = write(model_of(scene, settings), to, replace=replace)
    typer.echo(f"wrote {len(manifest['solids'])} solids to {to}; {MANIFEST} tells what each file is")
