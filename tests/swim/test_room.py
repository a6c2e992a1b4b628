"""Room for fish in a scene: closed forms of plain boxes, and caves with mouths of known width."""

import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.swim.room import room


def roomy(parts="", *, sizes="[30, 60]", waterline=200):
    text = (
        f"format: 1\nunits: mm\nwaterline: {waterline}\nswim: {{sizes: {sizes}}}\nparts:\n"
        f"  tank: {{kind: tank, inside: [500, 250, 300], glass: 8}}\n{parts}"
    )
    return room(build_model(read_scene("made.yaml", text=text)))


def test_an_empty_tank_holds_a_ball_as_wide_as_its_least_side():
    found = roomy()
    assert found.widest <= 0.2 <= found.widest + found.give
    assert [size.depth for size in found.sizes] == [0.03, 0.06]
    assert found.sizes[0].volume >= found.sizes[1].volume
    assert 0.025 - 0.55 * found.give / 2 < found.sizes[1].volume <= 0.025  # of a surface of 0.55 m²
    assert all(not size.pockets for size in found.sizes)
    assert (found.front, found.behind) == (None, None)


def cave(folder, gap):
    """Return room in a tank that a wall 40 mm thick parts in two but for a slot ``gap`` wide, [mm]."""
    wide = (250 - gap) / 2
    faces = "1 3 4|1 4 2|5 6 8|5 8 7|1 2 6|1 6 5|3 7 8|3 8 4|1 5 7|1 7 3|2 4 8|2 8 6"
    corners = [(x, y, z) for z in (0, 280) for y in (0, wide) for x in (0, 40)]
    lines = [f"v {x} {y} {z}" for x, y, z in corners] + [f"f {face}" for face in faces.split("|")]
    (folder / "leaf.obj").write_text("\n".join(lines))
    parts = "".join(
        f"  leaf_{n}: {{kind: rock, mesh: leaf.obj, file_unit: mm, up: z, at: [200, {y}, 0]}}\n"
        for n, y in enumerate((wide / 2, 250 - wide / 2))
    )
    text = (
        "format: 1\nunits: mm\nwaterline: 200\nswim: {sizes: [60]}\nparts:\n"
        f"  tank: {{kind: tank, inside: [500, 250, 300], glass: 8}}\n{parts}"
    )
    (size,) = room(build_model(read_scene(folder / "made.yaml", text=text))).sizes
    return size


@pytest.mark.parametrize(("gap", "pockets", "trap"), [(90, 0, None), (52, 1, True), (12, 1, False)])
def test_water_behind_a_gap_is_a_pocket_and_a_trap_where_the_fish_squeezes_through(
    tmp_path, gap, pockets, trap
):
    """A fish 60 mm deep passes 90 mm, is stuck behind 52 mm, and doesn't get through 12 mm."""
    size = cave(tmp_path, gap)
    assert [pocket.trap for pocket in size.pockets] == [trap] * pockets
    for pocket in size.pockets:
        assert pocket.gap <= gap / 1000 <= pocket.gap_most + 1e-9 or gap > 60
        assert pocket.at[0] < 0.2  # the smaller side
        assert pocket.volume == pytest.approx(0.18 * 0.25 * 0.2, rel=0.2)


def test_stones_leave_ways_before_and_behind_them():
    """A stone some 100 mm deep, nearer to the front glass of a tank 250 mm deep."""
    block = "  stone: {kind: rock, form: slab, size: [60, 100, 280], seed: 1, at: [250, 110, 0]}\n"
    found = roomy(block)
    assert 0.03 < found.front < 0.12
    assert found.front < found.behind


def test_no_water_is_no_room():
    found = roomy(waterline=2)
    assert found.sizes[0].volume == 0.0


def test_sizes_are_said_or_assumed():
    text = "format: 1\nunits: mm\nwaterline: 200\nparts:\n  tank: {kind: tank, inside: [500, 250, 300], "
    text += "glass: 8}\n"
    assert [s.depth for s in room(build_model(read_scene("made.yaml", text=text))).sizes] == [0.03, 0.06]
