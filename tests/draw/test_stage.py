from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from layout3d.draw import pieces, stage
from layout3d.draw.camera import camera_for
from layout3d.draw.cut import cut_stage
from layout3d.draw.pieces import DRAWN, STAGE
from layout3d.draw.scenery import SCENERY, chosen, scenery_of, seen_whole
from layout3d.draw.screen import opened, quiet
from layout3d.draw.skin import LONGEST_ROUND_EDGE, SPARED
from layout3d.draw.stage import set_stage, stage_of
from layout3d.draw.style import FINDING_MARKS, finish_of
from layout3d.draw.surface import colours
from layout3d.errors import UnknownName
from layout3d.keep import forget
from layout3d.model.spot import CameraSpot
from layout3d.parts.base import GROUPS
from layout3d.solid.boolean import difference
from layout3d.solid.carved import carved
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box


def test_hide_and_show_take_bodies_parts_groups_and_water(model):
    everything = {body.name for body in model.bodies}
    assert chosen(model) == (model.bodies, True)
    hidden, water = chosen(model, hide=("glass", "stone_1", "riser.pipe", "water"))
    assert {body.name for body in hidden} == {"bed", "stone_2", "log", "pump"}
    assert not water
    shown, water = chosen(model, show=("rock", "tank.front"), hide=("stone_2",))
    assert {body.name for body in shown} == {"stone_1", "tank.front"}
    assert not water
    assert everything > {body.name for body in shown}


def same(one, two):
    """Tell whether two stages have the same pieces and lines, to the last bit."""
    alike = [(one.bodies, one.parts) == (two.bodies, two.parts)]
    for a, b in ((one.pieces, two.pieces), (one.lines, two.lines)):
        alike.append(len(a) == len(b))
        for left, right in zip(a, b, strict=False):
            for item in fields(left):
                x, y = getattr(left, item.name), getattr(right, item.name)
                alike.append(np.array_equal(x, y) and np.asarray(x).dtype == np.asarray(y).dtype)
    return all(alike)


def test_a_stage_that_was_kept_is_the_same_as_one_made_anew(model, monkeypatch, tmp_path):
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    forget()
    anew = set_stage(model)
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    forget()
    set_stage(model)
    forget()
    monkeypatch.setattr(stage, "_drawn", None)  # not made again
    assert same(set_stage(model), anew)
    monkeypatch.undo()
    forget()


def test_a_stage_is_kept_with_all_that_its_page_tells_and_without_its_bodies(model):
    spots = {"low": CameraSpot(at=(0.5, -0.35, 0.25), target=(0.5, 0.3, 0.15), angle=0.9)}
    whole = set_stage(replace(model, cameras=spots))
    again = STAGE.unpack(STAGE.pack(whole))
    assert again.pieces is whole.pieces
    names = ("extents", "title", "style", "waterline", "cameras", "made_of", "parts")
    assert [getattr(again, name) for name in names] == [getattr(whole, name) for name in names]
    assert np.array_equal(again.bounds, whole.bounds)
    for one, other in zip(again.waters, whole.waters, strict=True):
        assert (one.floor, one.level) == (other.floor, other.level)
        assert np.array_equal(one.plan, other.plan)
    with pytest.raises(ValueError, match="without its bodies"):
        cut_stage(again, ("x", 0.4), "left")


def test_a_stage_whose_surfaces_are_gone_is_none(model, monkeypatch):
    content = STAGE.pack(set_stage(model))
    monkeypatch.setattr(pieces, "recalled", lambda key, form: None)
    with pytest.raises(ValueError, match="without its surfaces"):
        STAGE.unpack(content)


def test_scenery_that_was_kept_is_drawn_alike_and_is_none_without_its_shapes(model, monkeypatch, tmp_path):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    forget()
    stone, bed = model.body("stone_1"), model.body("bed")
    bed = replace(
        bed, solid=carved(bed.solid, [model.body("pump").solid], loose=[stone.solid]), uncut=bed.solid
    )
    bodies = tuple(bed if body.name == "bed" else body for body in model.bodies)
    whole = replace(model, bodies=bodies)
    seen = seen_whole(scenery_of(whole))
    content = SCENERY.pack(seen)
    forget()
    again = SCENERY.unpack(content)
    one, other = stage_of(again), stage_of(seen)
    assert one.made_of == other.made_of
    assert same(replace(one, bodies=other.bodies), other)
    assert (again.extents, again.title, again.cameras) == (other.extents, other.title, other.cameras)
    forget()
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "another"))
    with pytest.raises(ValueError, match="without its shapes"):
        SCENERY.unpack(content)
    forget()


@pytest.mark.parametrize("view", ["three_quarter", "plan"])
def test_a_bed_seen_whole_looks_as_one_that_is_cut_by_all_that_stands_in_it(model, view):
    stone, pump, bed = (model.body(name) for name in ("stone_1", "pump", "bed"))
    pump = replace(pump, solid=pump.solid.moved(Placement.at((-0.1, -0.1, -0.03))))
    cut = replace(bed, solid=carved(bed.solid, [], loose=[stone.solid, pump.solid]), uncut=bed.solid)
    told = {bed.name: cut, pump.name: pump}
    whole = replace(model, bodies=tuple(told.get(body.name, body) for body in model.bodies))
    seen = seen_whole(scenery_of(whole))
    (filled,) = (body for body in seen.bodies if body.name == "bed")
    assert filled.solid.carving is None
    # what is made, and may be hollow, is cut out; what grew or lay about is not
    assert filled.solid.volume == pytest.approx(difference(bed.solid, [pump.solid]).volume)
    assert cut.solid.volume < filled.solid.volume - 1e-5
    shown = []
    for one in (set_stage(whole), stage_of(seen)):
        corners = one.bounds[[[0, 0, 0], [1, 1, 1], [0, 1, 0], [1, 0, 1]], [0, 1, 2]]
        camera = camera_for(view, corners, size=(320, 240), frame=(0, 0, 320, 240))
        with opened((320, 240)) as page, quiet():
            page.show(one, scale=0.2)
            shown.append(page.pixels(camera).astype(int))
    differs = np.abs(shown[0] - shown[1]).max(axis=2)
    assert np.count_nonzero(differs > 8) <= 0.001 * differs.size  # along the rim of the stone alone
    assert differs.max() < 60


def test_other_content_paint_or_water_is_another_stage(model):
    first = set_stage(model)
    stone = model.body("stone_1")
    moved = replace(stone, solid=stone.solid.moved(Placement.at((0.01, 0.0, 0.0))))
    bodies = tuple(moved if body is stone else body for body in model.bodies)
    assert same(set_stage(model), first)
    for other in (
        set_stage(replace(model, bodies=bodies)),
        set_stage(replace(model, scene=replace(model.scene, waterline=model.waterline - 0.01))),
        set_stage(model, hide=("water",)),
        set_stage(model, colour_by={"riser.pipe": (1.0, 0.0, 0.0)}),
    ):
        assert not same(other, first)


@pytest.mark.parametrize("damage", [lambda c: c[:-1], lambda c: c + b"0", lambda c: c[:8], lambda c: b""])
def test_bytes_that_are_no_stage_are_refused(model, damage):
    whole = set_stage(model)
    content = DRAWN.pack((whole.pieces, whole.lines))
    with pytest.raises((ValueError, KeyError, TypeError)):
        DRAWN.unpack(damage(content))


def test_an_unknown_name_is_told_with_the_nearest_known(model):
    with pytest.raises(UnknownName, match="'stone_3'") as caught:
        set_stage(model, hide=("stone_3",))
    assert "stone_" in caught.value.expected
    with pytest.raises(UnknownName, match="nothing is left"):
        set_stage(model, show=("log",), hide=("wood",))


def test_every_body_shown_is_drawn_and_no_other(model):
    stage = set_stage(model, hide=("log",))
    drawn = {piece.body for piece in stage.pieces} - {""}
    assert drawn == {body.name for body in model.bodies} - {"log"} | {"water"}
    assert stage.parts[-1] == "water"


def test_surfaces_stand_where_their_solids_do(model):
    for piece in set_stage(model).pieces:
        if piece.body and piece.body != "water":
            bounds, within = (
                model.body(piece.body).solid.bounds,
                SPARED if piece.group == "plumbing" else 1e-6,
            )
            assert piece.points.min(axis=0) == pytest.approx(bounds[0], abs=within)
            assert piece.points.max(axis=0) == pytest.approx(bounds[1], abs=within)


def test_glass_and_water_are_clear_and_the_rest_is_not(model):
    for piece in set_stage(model).pieces:
        clear = piece.group in ("glass", "water", "")
        assert piece.clear == clear
        assert (piece.colours[:, 3] == 255).all() != clear


def test_the_water_reaches_from_glass_to_glass_up_to_the_waterline(model):
    water = next(piece for piece in set_stage(model).pieces if piece.body == "water")
    assert water.points.max(axis=0) == pytest.approx((0.8, 0.4, 0.18), abs=0.001)
    assert water.points.min(axis=0) == pytest.approx((0.0, 0.0, 0.0), abs=0.001)


def test_what_stands_under_water_is_tinted(model):
    dry = {p.body: p for p in set_stage(model, hide=("water",)).pieces}
    wet = {p.body: p for p in set_stage(model).pieces}
    below = wet["riser.pipe"].points[:, 2] < 0.17
    above = wet["riser.pipe"].points[:, 2] > 0.19
    change = wet["riser.pipe"].colours.astype(int) - dry["riser.pipe"].colours
    assert (change[above] == 0).all()
    assert change[below][:, 0].mean() < -3


def test_what_is_hidden_throws_no_shadow(model):
    roof = replace(model.bodies[-1], name="roof", part="roof", solid=box((0.8, 0.4, 0.01)).solid())
    roof = replace(roof, solid=roof.solid.moved(type(roof.solid.placement).at((0.0, 0.0, 0.40))))
    covered = replace(model, bodies=(*model.bodies, roof))
    lit = next(p for p in set_stage(covered, hide=("roof",)).pieces if p.body == "bed")
    dark = next(p for p in set_stage(covered).pieces if p.body == "bed")
    plain = next(p for p in set_stage(model).pieces if p.body == "bed")
    assert (lit.colours == plain.colours).all()
    assert dark.colours[:, :3].mean() < 0.9 * lit.colours[:, :3].mean()


def test_an_empty_tank_can_be_drawn(model):
    empty = replace(model, bodies=tuple(b for b in model.bodies if b.group == "glass"))
    assert {piece.group for piece in set_stage(empty).pieces} == {"glass", "water", ""}


def test_foam_behind_a_wall_has_corners_for_light_all_over():
    """Seen through the glass that it lies on: with corners at its rim alone, light ran in rays."""
    from plain_scenes import build_text

    wall = "background, panels: [back], thickness: 40, gap: 10, bedding: expanding polyurethane foam"
    text = f"format: 1\nunits: mm\nwaterline: 100\nparts:\n  tank: {{kind: tank, inside: [600, 300, 300], \
glass: 8}}\n  wall: {{kind: {wall}, relief: {{form: flat, depth: 0}}}}\n"
    drawn = set_stage(build_text(text, "wall.yaml"), hide=("tank",))
    corners = [piece.points[piece.faces] for piece in drawn.pieces if piece.body.startswith("wall.bedding")]
    assert corners
    sides = np.linalg.norm(corners[0] - np.roll(corners[0], 1, axis=1), axis=2)
    assert sides.max() <= LONGEST_ROUND_EDGE + 1e-9


def test_every_group_has_a_finish_and_colours_stay_in_range(model):
    points = np.random.default_rng(1).random((500, 3)) * 0.3
    up = np.tile([0.0, 0.0, 1.0], (500, 1))
    for group in GROUPS:
        for material in ("granite", "glass", "sand", "pvc", "unheard of"):
            body = replace(model.bodies[-1], group=group, kind="thing", material=material)
            look = colours(finish_of(body), "thing", points, up, np.zeros(500), up[:, 2])
            assert look.shape == (500, 3)
            assert 0.0 <= look.min() <= look.max() <= 1.0


def test_two_plants_of_one_kind_differ_and_one_is_always_the_same(model):
    finish = finish_of(replace(model.bodies[-1], group="plant", kind="foliage", material="plant"))
    points = np.random.default_rng(1).random((200, 3))
    args = (points, points, np.zeros(200), np.zeros(200))
    assert (colours(finish, "fern_1", *args) == colours(finish, "fern_1", *args)).all()
    assert np.abs(colours(finish, "fern_1", *args) - colours(finish, "fern_2", *args)).max() > 0.01


def luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("severity", FINDING_MARKS)
def test_numbers_on_badges_can_be_read(severity):
    """WCAG 2.2, 1.4.3: large bold text needs a contrast of 3 to 1."""
    mark = FINDING_MARKS[severity]
    light, dark = sorted((luminance(mark.colour), luminance(mark.ink)), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 3.0


def test_severities_differ_in_shape_too():
    assert len({mark.shape for mark in FINDING_MARKS.values()}) == 3
