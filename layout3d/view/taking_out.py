"""A part taken out of a scene's text, together with what can't stay without it. Nothing is drawn."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.entries import Step, removed
from layout3d.scene.reader import read_scene

__all__ = ["Left", "Without", "left_without"]

_ENTRY = re.compile(r"(?P<section>\w+)(\.(?P<name>\w+))?(\.(?P<field>\w+))?(\[(?P<number>[0-9]+)\])?")
WHOLE = ("route",)  # lists of which no entry can go by itself


@dataclass(frozen=True, slots=True)
class Without:
    """Question: the last text, without a part."""

    version: int
    text: str
    part: str


@dataclass(frozen=True, slots=True)
class Left:
    """Answer: the text without a part alone, and without all that needs it, which ``needs`` names."""

    version: int
    part: str
    alone: str
    needs: tuple[str, ...]
    together: str


def left_without(path: Path, asked: Without, model: Model) -> Left:
    """Return what is left of a scene's text without a part: what can't be built then goes with it.

    Parameters
    ----------
    model : the scene as it is, built

    Raises
    ------
    LayoutError : what needs the part can't go with it.
    """
    alone = text = removed(asked.text, ("parts", asked.part))
    needs: list[str] = []
    while True:
        try:
            build_model(read_scene(path, text=text, last=model.scene), last=model)
        except SceneRefused as error:
            ways = {_way(mistake) for mistake in error.mistakes}
            if () in ways:
                told = next(mistake.found for mistake in error.mistakes if not _way(mistake))
                raise LayoutError(f"{asked.part} can't be taken out: {told}") from error
        else:
            return Left(asked.version, asked.part, alone, tuple(needs), text)
        needs += sorted(map(_told, ways))
        for way in sorted(ways, key=str, reverse=True):
            try:
                text = removed(text, way)
            except LayoutError:  # it is the only one there
                text = removed(text, way[:-1])


def _way(mistake: LayoutError) -> tuple[Step, ...]:
    """Return the entry of the file that a mistake is one of, and that may go for it; () for none."""
    found = _ENTRY.match(mistake.path)
    section, name, field, number = found.group("section", "name", "field", "number") if found else [""] * 4
    if section == "parts" and name:
        own = (field, int(number) - 1) if field and number and field not in WHOLE else ()
        return (section, name, *own)
    if section in ("clearances", "accept") and number:
        return (section, int(number) - 1)
    return (section, name) if section == "cameras" and name else ()


def _told(way: tuple[Step, ...]) -> str:
    """Return an entry as it is told: moss, wall.channels[1], clearances[2]."""
    words = [f"[{one + 1}]" if isinstance(one, int) else f".{one}" for one in way]
    return "".join(words[1:] if way[0] == "parts" else words).lstrip(".")
