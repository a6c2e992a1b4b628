"""Rocks, wood and plants as parts: sizes, places, scanned meshes, and odd figures."""

import math
import os

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import default
from layout3d.solid.boolean import components
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.primitives import box

AT = {"left": 500, "front": 300, "bottom": 50}
CATALOG = default()


@pytest.mark.parametrize("form", ["boulder", "slab", "crag", "lava"])
def test_a_rock_has_its_size_and_stands_on_its_base(built, sound, form):
    model = built({"rock_1": {"kind": "rock", "form": form, "size": [300, 200, 150], "at": AT, "seed": 2}})
    sound(model)
    body = model.body("rock_1")
    assert body.solid.bounds == pytest.approx(np.array([[0.35, 0.2, 0.05], [0.65, 0.4, 0.2]]))
    assert len(components(body.solid)) == 1
    granite = CATALOG.material("granite")
    assert body.mass == pytest.approx(body.solid.volume * (1 - granite.porosity) * granite.density)


@pytest.mark.parametrize("form", ["log", "root", "branch"])
def test_wood_is_as_long_as_asked(built, sound, form):
    model = built({"wood_1": {"kind": "wood", "form": form, "length": 400, "at": AT, "detail": 2000}})
    sound(model)
    low, high = model.body("wood_1").solid.bounds
    assert (high - low).max() == pytest.approx(0.4)
    assert low[2] == pytest.approx(0.05)
    assert ((low + high) / 2)[:2] == pytest.approx([0.5, 0.3])


def test_another_seed_another_piece_the_same_seed_the_same(built):
    def keys(seed):
        parts = {
            "a": {"kind": "rock", "size": [90, 80, 70], "at": AT, "seed": seed, "detail": 200},
            "b": {"kind": "wood", "length": 200, "at": AT, "seed": seed, "detail": 2000},
            "c": {"kind": "plant", "height": 90, "spread": 120, "at": AT, "seed": seed, "detail": 0.5},
        }
        return [body.solid.shape.key for body in built(parts).bodies if body.part != "tank"]

    assert keys(1) == keys(1)
    assert not set(keys(1)) & set(keys(2))


@pytest.mark.parametrize("root", [True, False])
def test_a_plant_is_foliage_over_its_ground_line_and_a_root_below(built, sound, root):
    plant = {"kind": "plant", "form": "fern", "height": 150, "spread": 200, "at": AT, "root": root}
    model = built({"fern": plant})
    sound(model)
    foliage = model.body("fern.foliage").solid.bounds
    assert foliage[:, 2] == pytest.approx([0.05, 0.2])
    assert {body.name for body in model.bodies_of("fern")} == (
        {"fern.foliage", "fern.root"} if root else {"fern.foliage"}
    )
    if root:
        assert model.body("fern.root").solid.bounds[1, 2] <= 0.05 + 1e-9


def test_a_turned_rock_turns_about_the_middle_of_its_base(built):
    rock = {"kind": "rock", "size": [300, 200, 150], "at": AT}
    plain = built({"r": rock}).body("r").solid
    turned = built({"r": {**rock, "turn": 90}}).body("r").solid
    assert turned.volume == pytest.approx(plain.volume)
    # a quarter turn about z through (0.5, 0.3): x - 0.5 -> y - 0.3, y - 0.3 -> 0.5 - x
    x, y, z = (plain.vertices - [0.5, 0.3, 0]).T
    assert np.allclose(turned.vertices, np.column_stack([0.5 - y, 0.3 + x, z]))


# -- scanned meshes ----------------------------------------------------------------------------------


def test_a_scanned_rock_is_scaled_by_its_longest_side_or_its_mass(built, sound, tmp_path):
    save_mesh(box((2.0, 1.0, 0.5)), tmp_path / "scan.stl", 1.0)
    rock = {"kind": "rock", "mesh": "scan.stl", "at": AT}
    by_side = built({"r": {**rock, "longest": 400}}, None, tmp_path)
    sound(by_side)
    assert by_side.body("r").solid.bounds == pytest.approx(np.array([[0.3, 0.2, 0.05], [0.7, 0.4, 0.15]]))
    by_mass = built({"r": {**rock, "mass": "12 kg"}}, None, tmp_path)
    assert by_mass.body("r").mass == pytest.approx(12.0)
    side = by_mass.body("r").solid.bounds
    assert (side[1] - side[0]) / (side[1] - side[0])[2] == pytest.approx([4, 2, 1])
    assert by_mass.built["r"].notes[0].startswith("r: ")


def test_scanned_wood_is_scaled_by_its_mass_as_it_is(built, tmp_path):
    save_mesh(ball(0.5, n=40), tmp_path / "scan.ply", 1.0)
    wood = {"kind": "wood", "mesh": "scan.ply", "mass": "3 kg", "at": AT, "material": "bog wood"}
    body = built({"w": wood}, None, tmp_path).body("w")
    assert body.mass == pytest.approx(3.0, rel=1e-9)
    radius = (3.0 / CATALOG.material("bog wood").density * 3 / (4 * math.pi)) ** (1 / 3)
    assert body.solid.bounds[1, 0] - 0.5 == pytest.approx(radius, rel=0.01)


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        (
            {"mesh": "scan.stl"},
            "mesh",
            "a mesh with none of `longest:`, `mass:`, `file_unit:` and `measured:`",
        ),
        ({"mesh": "scan.stl", "longest": 300, "mass": "3 kg"}, "mesh", "with more than one of"),
        ({"mesh": "gone.stl", "longest": 300}, "mesh", "there is no file 'gone.stl'"),
        ({"mesh": "../scan.stl", "longest": 300}, "mesh", "lies outside the scene's folder"),
        (
            {"mesh": "text.stl", "longest": 300},
            "mesh",
            "text.stl: damaged, or not a mesh: it ends before its first face",
        ),
        ({"mesh": "open.obj", "longest": 300}, "mesh", "open.obj: the mesh encloses no volume"),
        ({"mesh": "scan.stl", "size": [90, 80, 70]}, "mesh", "both size and mesh"),
        ({}, "", "neither size nor mesh"),
    ],
)
def test_a_mesh_that_can_t_be_used_is_told_at_its_name(refused, tmp_path, more, path, told):
    folder = tmp_path / "scene"
    folder.mkdir()
    save_mesh(box((2.0, 1.0, 0.5)), folder / "scan.stl", 1.0)
    (folder / "text.stl").write_text("hello", encoding="utf-8")
    (folder / "open.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", encoding="utf-8")
    (only,) = refused({"r": {"kind": "rock", "at": AT, **more}}, None, folder)
    assert told in str(only)
    assert only.path == f"parts.r.{path}".rstrip(".")
    assert str(tmp_path) not in only.found


@pytest.mark.parametrize(
    ("part", "path", "told"),
    [
        ({"kind": "rock", "size": [900, 20, 20]}, "size", "at most 40 times its shortest"),
        ({"kind": "rock", "size": [1, 20, 20]}, "size.length", "5 mm or more"),
        ({"kind": "wood", "length": 300, "thickness": 290}, "thickness", "thickness must be"),
        ({"kind": "wood"}, "", "neither length nor mesh"),
        ({"kind": "plant", "height": 20, "spread": 1900}, "spread", "spread must be"),
        ({"kind": "rock", "size": [90, 80, 70], "seed": -1}, "seed", "a whole number from 0"),
        ({"kind": "rock", "size": [90, 80, 70], "material": "granit"}, "material", "nearest: 'granite'"),
    ],
)
def test_a_natural_part_that_can_t_be_is_refused_where_it_says_so(refused, part, path, told):
    (only,) = refused({"r": {"at": AT, **part}})
    assert told in str(only)
    assert only.path == f"parts.r.{path}".rstrip(".")


SIDES = st.sampled_from([20, 35, 50, 90, 150, 300, 700, 5, 4, 5000])
NATURAL = st.one_of(
    st.fixed_dictionaries(
        {
            "kind": st.just("rock"),
            "form": st.sampled_from(["boulder", "slab", "crag", "lava"]),
            "size": st.lists(SIDES, min_size=3, max_size=3),
            "detail": st.sampled_from([200, 700]),
        },
        optional={"roughness": st.floats(0, 1), "seed": st.integers(0, 10**9)},
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("wood"),
            "form": st.sampled_from(["log", "root", "branch"]),
            "length": st.sampled_from([300, 200, 500, 50, 40, 4000]),
            "detail": st.just(2000),
        },
        optional={
            "thickness": st.sampled_from([20, 30, 50, 2, 140, 1000]),
            "branches": st.integers(0, 16),
            "twist": st.floats(0, 1),
            "taper": st.floats(0, 1),
            "seed": st.integers(0, 10**9),
        },
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("plant"),
            "form": st.sampled_from(["fern", "broadleaf", "grass", "moss", "creeper", "bromeliad"]),
            "height": st.sampled_from([100, 200, 60, 10, 5, 2000]),
            "spread": st.sampled_from([100, 200, 60, 20, 700, 2000]),
            "detail": st.just(0.5),
        },
        optional={"seed": st.integers(0, 10**9), "root": st.booleans()},
    ),
)


@settings(max_examples=15, derandomize=True)
@given(NATURAL)
def test_a_natural_part_of_any_make_is_sound_or_refused(any_make, part):
    any_make({"thing": {**part, "at": AT}})


def test_limits_of_a_form_are_told_in_the_units_of_the_file(refused):
    parts = {"crag": {"kind": "rock", "size": ["1/2 in", "5 in", "30 in"], "at": [20, 10, 0]}}
    (only,) = refused(parts, {"inside": [48, 24, 24], "glass": 0.5}, units="in")
    assert only.found.endswith("at most 40 times its shortest, got 0.5 in, 5 in, 30 in")
    (only,) = refused({"bed": {"kind": "substrate", "depths": [[0, 0, 30], [0, 0, 40]]}})
    assert "must be at least 0.1 mm apart in plan, got 0 mm" in only.found


def test_a_scan_in_true_units_keeps_its_size(built, refused, tmp_path):
    save_mesh(box((8.0, 4.0, 2.0)), tmp_path / "scan.stl", 1.0)
    rock = {"kind": "rock", "mesh": "scan.stl", "at": AT}
    model = built({"r": {**rock, "file_unit": "in", "up": "z"}}, None, tmp_path)
    low, high = model.body("r").solid.bounds
    assert high - low == pytest.approx(np.array([8.0, 4.0, 2.0]) * 0.0254)
    assert "up" not in model.built["r"].notes[0]
    (note,) = built({"r": {**rock, "file_unit": "cm"}}, None, tmp_path).built["r"].notes
    assert "z up assumed" in note
    (only,) = refused({"r": {**rock, "file_unit": "ft", "up": "y", "longest": 90}}, None, tmp_path)
    assert "more than one of" in str(only)
    save_mesh(box((20.0, 4.0, 2.0)), tmp_path / "scan.stl", 1.0)
    (only,) = refused({"r": {**rock, "file_unit": "m"}}, None, tmp_path)
    assert "scan.stl in m is 20" in str(only)
    assert "file_unit" in only.path


@pytest.mark.parametrize(
    "name", ["loop.stl", "fifo.stl", "folder.stl", "x" * 190 + "/" + "y.stl", "a/" * 90 + "b.stl"]
)
def test_a_file_of_an_odd_kind_is_one_mistake(refused, tmp_path, name):
    (tmp_path / "loop.stl").symlink_to("loop.stl")
    os.mkfifo(tmp_path / "fifo.stl")
    (tmp_path / "folder.stl").mkdir()
    for part in (
        {"kind": "rock", "mesh": name, "longest": 90, "at": AT},
        {
            "kind": "background",
            "panels": ["back"],
            "thickness": 20,
            "relief": {"image": name},
        },
    ):
        (only,) = refused({"r": part}, None, tmp_path)
        assert "r." in only.path
        assert name[:20] in only.found


# -- outlines ----------------------------------------------------------------------------------------


def outlined(tmp_path, **more):
    from PIL import Image, ImageDraw

    for view in ("front", "side"):
        picture = Image.new("L", (200, 200), 255)
        ImageDraw.Draw(picture).ellipse((20, 20, 180, 180), fill=0)
        picture.save(tmp_path / f"{view}.png")
    files = {"front": "front.png", "side": "side.png"}
    return {"kind": "rock", "outlines": files, "longest": 100, "at": AT, **more}


def test_a_rock_from_two_outlines_is_told_as_the_most_it_can_be(built, sound, tmp_path):
    model = built({"r": outlined(tmp_path)}, folder=tmp_path)
    sound(model)
    assert model.body("r").solid.volume == pytest.approx(16 / 3 * 0.05**3, rel=0.01)
    (note,) = model.built["r"].notes
    assert "the real one has at most its volume" in note


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"longest": None}, "outlines without `longest:`"),
        ({"mass": "2 kg"}, "or with what only a mesh has"),
        ({"size": [90, 80, 70]}, "both size and outlines"),
        ({"outlines": {"front": "front.png", "side": "none.png"}}, "there is no file 'none.png'"),
        ({"outlines": {"front": "front.png", "side": "empty.png"}}, "empty.png shows nothing"),
    ],
)
def test_outlines_that_give_no_piece_are_refused_where_they_stand(refused, tmp_path, more, told):
    from PIL import Image

    Image.new("L", (50, 50), 255).save(tmp_path / "empty.png")
    rock = {key: value for key, value in outlined(tmp_path, **more).items() if value is not None}
    (only,) = refused({"r": rock}, None, tmp_path)
    assert told in only.found


# -- on a face ---------------------------------------------------------------------------------------

STONE = {
    "kind": "rock",
    "form": "slab",
    "size": [400, 300, 200],
    "at": {"left": 500, "front": 300, "bottom": 0},
}


def test_a_part_on_a_stone_stands_where_a_line_down_meets_it(built, sound):
    moss = {"kind": "plant", "form": "moss", "height": 30, "spread": 120, "root": False, "fixed_to": ["s"]}
    model = built({"s": STONE, "m": {**moss, "at": {"left": 500, "front": 300, "face_of": "s"}}})
    sound(model)
    stone, moss_body = model.body("s").solid, model.body("m.foliage").solid
    top = stone.vertices[np.hypot(*(stone.vertices[:, :2] - [0.5, 0.3]).T) < 0.02][:, 2].max()
    assert abs(moss_body.bounds[:, 2].mean() - top) < 0.03


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ({"left": 500, "face_of": "s"}, "1 distance beside `face_of:`"),
        ({"left": 500, "front": 300, "bottom": 0, "face_of": "s"}, "3 distances beside `face_of:`"),
        ({"left": 50, "front": 50, "face_of": "s"}, "nothing of s lies below the top there"),
        ({"front": 300, "bottom": 100, "face_of": "s"}, "s reaches over both sides of the tank"),
        ({"left": 500, "front": 300, "face_of": "nobody"}, "no part is called 'nobody'"),
        ({"left": 500, "front": 300, "face_of": "s.top"}, "'s.top' is no body"),
        ({"left": 500, "front": 300, "bottom": 0, "off": 5}, "'off' is not known in a position"),
    ],
)
def test_a_place_on_a_face_that_can_t_be_is_told(refused, at, told):
    stone = {**STONE, "at": {"left": 600, "front": 300, "bottom": 0}}
    fern = {"kind": "plant", "height": 90, "spread": 120, "at": at}
    found = " ".join(mistake.found for mistake in refused({"s": stone, "f": fern}))
    assert told in found


@pytest.mark.parametrize(("form", "turn"), [("creeper", 30), ("moss", {"tip_left": 10})])
def test_what_lies_along_a_face_takes_no_turn_of_its_own(refused, form, turn):
    plant = {"kind": "plant", "form": form, "height": 60, "spread": 120, "turn": turn}
    (only,) = refused({"s": STONE, "p": {**plant, "at": {"left": 500, "front": 300, "face_of": "s"}}})
    assert "it lies along s, which turns it" in only.found


def test_a_distance_off_the_face_is_kept(built):
    moss = {"kind": "plant", "form": "fern", "height": 90, "spread": 120, "root": False}
    on, off = (
        built({"s": STONE, "f": {**moss, "at": {"left": 500, "bottom": 80, "face_of": "s", "off": distance}}})
        .body("f.foliage")
        .solid.vertices
        for distance in (0, 25)
    )
    assert on - off == pytest.approx(np.tile([0.0, 0.025, 0.0], (len(on), 1)))


def test_a_scan_is_brought_to_size_by_two_points_of_it(built, refused, tmp_path):
    """A box of 2 by 1 by 0.5 of nobody knows what: two corners 1 apart are 150 mm on the piece."""
    save_mesh(box((2.0, 1.0, 0.5)), tmp_path / "scan.stl", 1.0)
    points = {"one": [0, 0, 0], "other": [0, 1, 0], "apart": 150}
    rock = {"kind": "rock", "mesh": "scan.stl", "at": AT}
    model = built({"r": {**rock, "measured": points}}, folder=tmp_path)
    low, high = model.body("r").solid.bounds
    assert high - low == pytest.approx([0.3, 0.15, 0.075])
    (only,) = refused({"r": {**rock, "measured": {**points, "other": [0, 0, 0]}}}, None, tmp_path)
    assert "the distance of the two points in the file must be above 0" in only.found
