"""Shapes of natural parts as the scene asks for them: generated from a seed, or read from a mesh file."""

from __future__ import annotations

import dataclasses
import os
import re
import stat
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

from layout3d.errors import LayoutError
from layout3d.parts.base import Part, Site
from layout3d.parts.forms.leaf import plant
from layout3d.parts.forms.rock import rock
from layout3d.parts.forms.wood import driftwood
from layout3d.solid.primitives import heightfield
from layout3d.solid.shape import Placement, Shape
from layout3d.solid.store import stored

__all__ = ["asked", "driftwood_shape", "imported_shape", "plant_shape", "rock_shape", "scene_file"]

Made = TypeVar("Made")


_FIGURE = r"-?[0-9][0-9.]*(?:e-?[0-9]+)?"
_METRES = re.compile(rf"({_FIGURE})(?: to ({_FIGURE}))? m\b")


def asked(part: Part, field: str, make: Callable[[], Made], site: Site) -> Made:
    """Make something of the scene's figures; a figure outside the maker's limits is the scene's mistake.

    The metres of the maker's message are told in the scene's units.
    """
    try:
        return make()
    except ValueError as error:
        if hasattr(error, "found"):
            raise
        told = _METRES.sub(lambda found: _lengths(site, found), str(error))
        raise part.mistake(field, told, expected="figures within these limits") from error


def _lengths(site: Site, found: re.Match[str]) -> str:
    return " to ".join(site.length(float(figure)) for figure in found.groups() if figure)


@stored
def rock_shape(
    seed: int, form: str, size: tuple[float, float, float], roughness: float, detail: int | None
) -> Shape:
    """Return a generated rock."""
    return Shape.of(*rock(seed, form=form, size=size, roughness=roughness, detail=detail))


@stored
def driftwood_shape(
    seed: int,
    form: str,
    length: float,
    thickness: float,
    branches: int,
    twist: float,
    taper: float,
    detail: int,
) -> Shape:
    """Return a generated piece of driftwood."""
    mesh = driftwood(
        seed,
        form=form,
        length=length,
        thickness=thickness,
        branches=branches,
        twist=twist,
        taper=taper,
        detail=detail,
    )
    return Shape.of(*mesh)


@stored
def plant_shape(seed: int, form: str, height: float, spread: float, detail: float, piece: str) -> Shape:
    """Return the foliage or the root ball of a generated plant."""
    return Shape.of(*plant(seed, form=form, height=height, spread=spread, detail=detail)[piece])


@stored
def height_shape(x: bytes, y: bytes, z: bytes, base: float) -> Shape:
    """Return the shape under a grid of heights, given as the bytes of float64 arrays."""
    across, along = np.frombuffer(x), np.frombuffer(y)
    return heightfield(across, along, np.frombuffer(z).reshape(len(across), len(along)), base)


def scene_file(part: Part, site: Site, field: str, name: str) -> Path:
    """Return a file named by the scene; it has to lie in the scene's own folder or below it."""
    folder = Path(os.path.realpath(site.folder))
    path = Path(os.path.realpath(folder / name))
    if not path.is_relative_to(folder):
        raise part.mistake(
            field,
            f"{name!r} lies outside the scene's folder",
            expected="a file in the scene's folder or below it",
            remedy="copy the file next to the scene",
        )
    try:
        found = stat.S_ISREG(path.stat().st_mode)
    except (OSError, ValueError) as fault:  # ValueError: a null character
        found = False
        if not isinstance(fault, FileNotFoundError):
            reason = getattr(fault, "strerror", None) or str(fault)
            raise part.mistake(
                field, f"{name[:80]!r} can't be read: {reason}", expected="a file in the scene's folder"
            ) from None
    if not found:
        raise part.mistake(field, f"there is no file {name!r}", expected="a file in the scene's folder")
    return path


def imported_shape(
    part: Part,
    site: Site,
    name: str,
    *,
    longest: float | None,
    mass: float | None,
    density: float,
    hull: bool,
) -> tuple[Shape, tuple[str, ...]]:
    """Return a mesh of the scene's folder, scaled and stood on its lowest point, and what was mended in it.

    Raises
    ------
    SceneMistake : neither or both of ``longest`` and ``mass``, a file outside the folder, no such file.
    MeshRefused : a mesh that can't be closed.
    """
    from layout3d.solid.mesh_file import load_mesh

    if (longest is None) == (mass is None):
        raise part.mistake(
            "mesh",
            f"a mesh with {'both' if longest else 'neither'} `longest:` and `mass:`",
            expected="one of the two, to scale the mesh by",
        )
    path = scene_file(part, site, "mesh", name)
    volume = None if mass is None else mass / density
    try:
        shape, repair = load_mesh(path, longest=longest, volume=volume, hull=hull)
    except LayoutError as error:
        error.path, error.place = f"parts.{part.name}.mesh", part.places.get("mesh", part.place)
        error.found = error.found.replace(str(path), name)  # as the scene calls it
        raise
    low, high = shape.bounds
    base = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    stood = Shape.of(Placement.at(-base).apply(shape.vertices), shape.faces)
    return stood, (f"{part.name}: {dataclasses.replace(repair, file=name)}",)
