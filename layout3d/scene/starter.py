"""The starter scene that ships with the package, and how it is written under a name of one's own."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from layout3d.errors import LayoutError, Place

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
    file = name if name.suffix in (".yaml", ".yml") else name.with_name(f"{name.name}.yaml")
    text = starter_text()
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise LayoutError(
            "there is such a file already", remedy="choose another name; it is left alone", place=_at(file)
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise LayoutError(
            f"can't be written: {reason}", expected="a name in a folder that is there", place=_at(file)
        ) from None
    return file


def _at(file: Path) -> Place:
    return Place(str(file))
