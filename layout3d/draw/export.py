"""A model as mesh files with a manifest, so that anyone can recompute what is said of it.

Every solid as PLY and STL in millimetres and in place, the whole scene as one coloured GLB. Meshes are those
that the figures were computed from; nothing is simplified.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.style import WATER, Colour, finish_of
from layout3d.folders import OwnFolder
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
_FOLDER = OwnFolder(
    what="export",
    listed=MANIFEST,
    names=re.compile(r"solids/[0-9]+-[^/\x00]+\.(ply|stl)|tank_interior\.ply|water\.ply|scene\.glb"),
)
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
    return _FOLDER.write(to, lambda folder: _write(model, folder), replace=replace)


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
