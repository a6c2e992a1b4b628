"""The starter scene that ships with the package, and how it is written under a name of one's own."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from layout3d.errors import LayoutError, Place
from layout3d.files import written

__all__ = ["starter_text", "write_starter"]


def starter_text() -> str:
    """Return the starter scene's text."""
    return resources.files("layout3d.scene").joinpath("starter.yaml").read_text(encoding="utf-8")


def write_starter(name: Path) -> Path:
    """Write the starter scene to ``name``, with .yaml behind it where it has no suffix; return the file.

    Raises
    ------
    LayoutError : the file is there already, or can't be written.
    """
    place = Place(str(name))
    if not name.name or name.name == "..":
        raise LayoutError(
            f"{str(name)!r} names no file", expected="a name for the scene, such as mine", place=place
        )
    file = name if name.suffix in (".yaml", ".yml") else name.with_name(f"{name.name}.yaml")
    with written(file, replace=False) as partial:
        partial.write_text(starter_text(), encoding="utf-8", newline="\n")
    return file
