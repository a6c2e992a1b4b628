"""``layout3d new``: write the starter scene under a name of one's own."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layout3d.commands.scene import refusals_told


def new(
    name: Annotated[Path, typer.Argument(help="The file to write; .yaml is added.")],
) -> None:
    """Write a starter scene that passes.

    An existing file is left alone.
    """
    with refusals_told():
        from layout3d.scene.starter import write_starter

        file = write_starter(name)
    typer.echo(f"wrote {file}; next: layout3d check {file}")
