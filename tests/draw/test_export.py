"""What is exported lets anyone recompute the figures: closed meshes in place, in millimetres."""

import hashlib
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import trimesh
from schemas import fits

from layout3d.draw.export import export
from layout3d.errors import LayoutError
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.water.figures import figures

SCENE = """\
format: 1
units: mm
title: A bed and a stone
waterline: 200
parts:
  tank: {kind: tank, inside: [600, 300, 400], glass: 8}
  bed: {kind: substrate, depth: 60, material: sand}
  stone: {kind: rock, seed: 2, size: [180, 140, 120], at: {left: 300, front: 150, bottom: 70}}
"""
LITRE = 1e6  # mm³


@pytest.fixture(scope="module")
def model():
    return build_model(read_scene("bed.yaml", text=SCENE))


@pytest.fixture(scope="module")
def written(model, tmp_path_factory) -> tuple[Path, dict]:
    folder = tmp_path_factory.mktemp("export") / "out"
    export(model, folder)
    return folder, json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def read(folder: Path, name: str) -> trimesh.Trimesh:
    mesh = trimesh.load_mesh(folder / name)
    mesh.merge_vertices()
    return mesh


def test_the_manifest_fits_its_schema_and_names_every_file(written, model):
    folder, manifest = written
    fits(manifest, "manifest")
    named = {manifest[key] for key in ("tank_interior", "water", "whole")} | {"manifest.json"}
    named |= {entry[key] for entry in manifest["solids"] for key in ("file", "stl")}
    assert named == {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert [entry["body"] for entry in manifest["solids"]] == [body.name for body in model.bodies]
    assert manifest["waterline"] == 200.0


def test_meshes_are_closed_in_place_and_in_millimetres(written, model):
    folder, manifest = written
    for entry, body in zip(manifest["solids"], model.bodies, strict=True):
        for name in (entry["file"], entry["stl"]):
            mesh = read(folder, name)
            assert mesh.is_watertight, name
            assert mesh.volume == pytest.approx(body.solid.volume * 1e9, rel=1e-5)
            np.testing.assert_allclose(mesh.bounds, body.solid.bounds * 1000.0, atol=1e-3)
            assert entry["volume"] == pytest.approx(mesh.volume * 1e-9, rel=1e-5)
        grains = entry["volume"] * (1 - entry["porosity"])
        assert entry["mass"] == pytest.approx(grains * entry["density"])


def test_the_pane_weighs_what_its_sides_and_the_density_of_glass_give(written):
    """EN 572-1: soda-lime glass, 2500 kg/m³."""
    _, manifest = written
    (pane,) = [entry for entry in manifest["solids"] if entry["body"] == "tank.front"]
    mesh = read(written[0], pane["file"])
    assert pane["mass"] == pytest.approx(np.prod(mesh.extents) * 1e-9 * 2500.0, rel=1e-6)


def test_net_water_can_be_recomputed_from_the_files_alone(written, model):
    """A second way to the net water, by another library's booleans: inside, less solids, plus pores."""
    folder, manifest = written
    inside = read(folder, manifest["tank_interior"]).slice_plane(
        [0, 0, manifest["waterline"]], [0, 0, -1], cap=True
    )
    taken = pores = 0.0
    for entry in manifest["solids"]:
        part = trimesh.boolean.intersection([read(folder, entry["file"]), inside], engine="manifold")
        if entry["part"] == "bed":
            assert not entry["solid"]
            pores = entry["porosity"] * part.volume
            taken += (1.0 - entry["porosity"]) * part.volume
        else:
            assert entry["solid"]
            taken += part.volume if len(part.faces) else 0.0
    net = figures(model)["water_volume_net"] * 1000.0
    assert (inside.volume - taken) / LITRE == pytest.approx(net, rel=1e-6)
    water = read(folder, manifest["water"])
    assert (water.volume + pores) / LITRE == pytest.approx(net, rel=1e-6)


def test_the_whole_scene_is_one_file_in_metres_with_a_node_for_each_body(written, model):
    folder, manifest = written
    whole = trimesh.load_scene(folder / manifest["whole"])
    assert {body.name for body in model.bodies} | {"water"} <= set(whole.graph.nodes_geometry)
    assert whole.extents[1] == pytest.approx(0.408, abs=1e-5)  # y is up: 400 mm of inside on 8 mm of glass


def test_a_folder_with_other_files_is_left_alone(model, tmp_path):
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    for replace in (False, True):
        with pytest.raises(LayoutError, match=r"holds other files, .* \('mine.txt'\)"):
            export(model, tmp_path, replace=replace)
    assert list(tmp_path.iterdir()) == [mine]


def test_an_earlier_export_is_replaced_only_when_asked_and_only_if_nothing_was_added(model, tmp_path):
    folder = tmp_path / "out"
    export(model, folder)
    with pytest.raises(LayoutError, match="an earlier export"):
        export(model, folder)
    export(model, folder, replace=True)
    (folder / "solids" / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(LayoutError, match=r"notes\.txt"):
        export(model, folder, replace=True)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def forged(folder: Path, *names: str) -> None:
    """Give a folder a manifest that says, with true digests, that an export wrote these files."""
    digests = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in names}
    manifest = {"format": 1, "solids": [{"file": name, "stl": name} for name in names], "written": digests}
    manifest |= {"tank_interior": names[0], "water": names[0], "whole": names[0]}
    text = json.dumps(manifest, sort_keys=True)
    manifest["digest"] = hashlib.sha256(text.encode()).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")


def test_a_forged_manifest_makes_no_file_ours(model, tmp_path):
    """Files of other names than an export gives, links, and paths that lead out: all stay."""
    (tmp_path / "thesis.txt").write_text("mine", encoding="utf-8")
    folder = tmp_path / "out"
    for name in ("letter.txt", "solids/photo.png", "../thesis.txt"):
        (folder / "solids").mkdir(parents=True)
        (folder / name).write_text("mine", encoding="utf-8")
        forged(folder, name)
        with pytest.raises(LayoutError, match="other files"):
            export(model, folder, replace=True)
        assert (folder / name).read_text(encoding="utf-8") == "mine"
        shutil.rmtree(folder)
    (folder / "solids").mkdir(parents=True)
    (folder / "solids" / "1-a.ply").symlink_to(tmp_path / "thesis.txt")
    forged(folder, "solids/1-a.ply")
    with pytest.raises(LayoutError, match="other files"):
        export(model, folder, replace=True)
    assert (tmp_path / "thesis.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("change", ["file", "manifest", "link", "folder"])
def test_what_was_changed_since_it_was_exported_is_not_replaced(model, tmp_path, change):
    folder = tmp_path / "out"
    export(model, folder)
    if change == "file":
        (folder / "scene.glb").write_bytes(b"edited by hand")
    elif change == "manifest":
        text = (folder / "manifest.json").read_text(encoding="utf-8")
        (folder / "manifest.json").write_text(text.replace("A bed", "My bed"), encoding="utf-8")
    elif change == "link":
        (folder / "solids").rename(tmp_path / "elsewhere")
        (folder / "solids").symlink_to(tmp_path / "elsewhere")
    else:
        (folder / "mine").mkdir()
    before = {path: path.lstat().st_mtime_ns for path in tmp_path.rglob("*")}
    with pytest.raises(LayoutError, match="other files"):
        export(model, folder, replace=True)
    assert {path: path.lstat().st_mtime_ns for path in tmp_path.rglob("*")} == before


def test_a_link_to_a_folder_is_written_through(model, tmp_path):
    (tmp_path / "real").mkdir()
    link = tmp_path / "link"
    link.symlink_to("real")
    export(model, link)
    export(model, link, replace=True)
    assert link.is_symlink()
    assert (tmp_path / "real" / "manifest.json").is_file()


def test_an_export_that_fails_leaves_nothing(model, tmp_path, monkeypatch):
    def broken(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("layout3d.draw.export._scene_glb", broken)
    with pytest.raises(LayoutError, match="No space left"):
        export(model, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_none_of_ours_is_refused_without_looking_through_it(model, tmp_path, monkeypatch):
    """The root of a disk would take minutes."""
    (tmp_path / "deep").mkdir()
    monkeypatch.setattr("layout3d.folders.files_in", None)
    with pytest.raises(LayoutError, match=r"other files, .* \('deep'\)"):
        export(model, tmp_path, replace=True)


def test_a_file_that_can_not_be_written_is_told_by_its_place_to_be(model, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(LayoutError, match="No space left") as caught:
        export(model, tmp_path / "out")
    assert caught.value.place.file.startswith(str(tmp_path / "out" / "solids"))
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_a_file_is_refused(model, tmp_path):
    file = tmp_path / "out"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(LayoutError, match="not a folder"):
        export(model, file)
    with pytest.raises(LayoutError, match="can't be made a folder"):
        export(model, file / "below")
