"""A model as mesh files with a manifest, so that anyone can recompute what is said of it.

Every solid as PLY and STL in millimetres and in place, the whole scene as one coloured GLB. Meshes are those
that the figures were computed from; nothing is simplified.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import json
import os
import re
import stat
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.style import WATER, Colour, finish_of
from layout3d.errors import LayoutError, Place
from layout3d.files import folder_written
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.boolean import trim
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.shape import Solid
from layout3d.water.cavity import tank_cavity

__all__ = ["FORMAT", "MANIFEST", "export"]

FORMAT = 1
MANIFEST = "manifest.json"
_MM = 0.001
_WRITTEN = re.compile(r"solids/[0-9]+-[^/\x00]+\.(ply|stl)|tank_interior\.ply|water\.ply|scene\.glb")
_WATER_OPACITY = 0.35


def export(model: Model, to: Path, *, replace: bool = False) -> dict[str, Any]:
    """Write every solid of a model, the tank's inside, its water and a manifest to a folder.

    Parameters
    ----------
    to : the folder; it is made, and must be empty if it is there
    replace : replace a folder that an earlier export wrote

    Returns
    -------
    The manifest.

    Raises
    ------
    LayoutError : the folder holds something else, or can't be written. Then it is left as it was.
    """
    _refuse_full(to, replace=replace)
    with folder_written(to, clear=_clear) as folder:
        manifest = _write(model, folder)
        manifest["written"] = {name: _digest(folder / name) for name in sorted(_files_in(folder))}
        manifest["digest"] = _digest_of(manifest)
        text = json.dumps(manifest, indent=2, allow_nan=False) + "\n"
        (folder / MANIFEST).write_text(text, encoding="utf-8")
    return manifest


def _write(model: Model, folder: Path) -> dict[str, Any]:
    (folder / "solids").mkdir()
    solids = []
    width = len(str(len(model.bodies)))
    for number, body in enumerate(model.bodies, start=1):
        # the number keeps names apart where a file system takes a and A for one
        name = f"solids/{number:0{width}}-{body.name}"
        solids.append(_entry(body, name))
        for suffix in (".ply", ".stl"):
            save_mesh(body.solid, folder / f"{name}{suffix}", _MM)
    save_mesh(model.tank.interior, folder / "tank_interior.ply", _MM)
    opened = tank_cavity(model).open
    water = None
    if opened is not None:
        water = trim(opened, normal=(0.0, 0.0, 1.0), offset=model.waterline)
    if water is not None:
        save_mesh(water, folder / "water.ply", _MM)
    (folder / "scene.glb").write_bytes(_scene_glb(model, water))
    return {
        "format": FORMAT,
        "unit": "mm",
        "scene": model.scene.file,
        "title": model.scene.title,
        "solids": solids,
        "tank_interior": "tank_interior.ply",
        "water": None if water is None else "water.ply",
        "waterline": model.waterline / _MM,
        "whole": "scene.glb",
    }


def _entry(body: Body, name: str) -> dict[str, Any]:
    return {
        "part": body.part,
        "body": body.name,
        "kind": body.kind,
        "group": body.group,
        "file": f"{name}.ply",
        "stl": f"{name}.stl",
        "solid": body.porosity == 0.0,
        "porosity": body.porosity,
        "material": body.material,
        "density": body.density,
        "volume": body.solid.volume,
        "mass": body.solid.volume * (1.0 - body.porosity) * body.density,
        "where": body.where,
    }


def _scene_glb(model: Model, water: Solid | None) -> bytes:
    """Return the scene as GLB, one node a body: metres and y up by its standard (glTF 2.0, section 3.4)."""
    import trimesh
    from trimesh.exchange import gltf

    scene: Any = trimesh.Scene()
    for body in model.bodies:
        finish = finish_of(body)
        _add(scene, body.name, body.solid, finish.colour, finish.opacity)
    if water is not None:
        _add(scene, "water", water, WATER.side, _WATER_OPACITY)
    made: Any = gltf.export_glb
    return bytes(made(scene))


def _add(scene: Any, name: str, solid: Solid, colour: Colour, opacity: float) -> None:
    import trimesh
    from trimesh import visual

    upright = np.column_stack([solid.vertices[:, 0], solid.vertices[:, 2], -solid.vertices[:, 1]])
    make: Any = visual.material.PBRMaterial
    material = make(
        name=name,
        baseColorFactor=[round(255 * value) for value in (*colour, opacity)],
        metallicFactor=0.0,
        roughnessFactor=0.85,
        alphaMode="BLEND" if opacity < 1.0 else "OPAQUE",
    )
    skin: Any = visual.TextureVisuals
    mesh: Any = trimesh.Trimesh(upright, solid.faces, process=False, visual=skin(material=material))
    scene.add_geometry(mesh, node_name=name, geom_name=name)


def _refuse_full(to: Path, *, replace: bool) -> None:
    place = Place(str(to))
    try:
        if not os.path.lexists(to) or (to.is_symlink() and not to.exists()):
            return
        if not to.is_dir():
            raise LayoutError("is not a folder", expected="a new or empty folder", place=place)
        if not os.path.lexists(to / MANIFEST):
            # not ours: one entry is enough, and there may be a whole disk below
            found, ours = {path.name for path in itertools.islice(to.iterdir(), 1)}, set[str]()
        else:
            found, ours = _files_in(to), _ours(to)
        others = sorted(found - ours)
    except OSError as fault:
        raise LayoutError(f"can't be read: {fault.strerror or fault}", place=place) from fault
    if others:
        raise LayoutError(
            f"the folder holds other files, or files that were changed since ({others[0]!r})",
            expected="a new or empty folder",
            place=place,
        )
    if found and not replace:
        raise LayoutError(
            "the folder holds an earlier export",
            expected="a new or empty folder",
            remedy="name another one, or give --replace",
            place=place,
        )


def _files_in(folder: Path) -> set[str]:
    """Return everything below a folder but folders that hold something; no link is followed."""
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_symlink() or not path.is_dir() or not any(path.iterdir())
    }


def _ours(folder: Path) -> set[str]:
    """Return the files that an export wrote and nobody changed since; empty where it can't be proven.

    The manifest proves itself by its own digest, and each file that it says was written by that file's. What
    has another name than an export gives is none of its files, whatever a manifest says.
    """
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if (folder / MANIFEST).is_symlink() or manifest.pop("digest") != _digest_of(manifest):
            return set()
        told = {str(name): str(digest) for name, digest in manifest["written"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return set()
    return {MANIFEST} | {
        name
        for name, digest in told.items()
        if _WRITTEN.fullmatch(name) and not (folder / name).is_symlink() and _digest(folder / name) == digest
    }


def _clear(folder: Path) -> None:
    """Delete what an export wrote into a folder, and nothing else."""
    for name in sorted(_ours(folder)):
        (folder / name).unlink()
    with contextlib.suppress(OSError):
        (folder / "solids").rmdir()


def _digest(file: Path) -> str:
    """Return the SHA-256 of an ordinary file; '' where there is none."""
    try:
        if not stat.S_ISREG(file.lstat().st_mode):
            return ""
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except FileNotFoundError:
        return ""


def _digest_of(manifest: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(manifest, sort_keys=True).encode()).hexdigest()
