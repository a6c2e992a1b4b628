"""Backgrounds: slabs and corners, saw cuts and openings, pictures and meshes, channels and foamed-in pipe."""

import itertools

import numpy as np
import pytest
from embedded import misread
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from layout3d.checks.measure import Joins
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.boolean import components, difference, intersection
from layout3d.solid.distance import gap, inside, overlap
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.primitives import box, heightfield
from layout3d.solid.shape import Placement

SCENE = """
format: 1
units: mm
waterline: 100
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 10, silicone: 0}
  wall: {kind: background, panels: [back], thickness: 50, mesh: wall.stl, longest: 500}
"""


def test_the_front_of_a_coarse_mesh_is_its_surface_not_its_corners(tmp_path):
    """A wedge, 20 mm thick at its foot and 60 at its head; its few corners lie far from most of it."""
    wedge = heightfield([0.0, 0.5], [0.0, 0.3], np.array([[0.02, 0.06], [0.02, 0.06]]), 0.0)
    # the mesh's z is up the panel and its y runs from the front to the glass
    turned = wedge.solid(Placement.turned((1, 0, 0), np.pi / 2))
    save_mesh(turned, tmp_path / "wall.stl", 1.0)
    slab = build_model(read_scene(tmp_path / "scene.yaml", text=SCENE)).built["wall"].data.slabs[0]
    up = np.linspace(0.01, 0.29, 9)
    front = slab.front_at(np.full(9, 0.3), up)
    assert front == pytest.approx(0.02 + 0.04 * up / 0.3, abs=1e-6)


# -- slabs, bedding and corners --------------------------------------------------------------------


BARE = {"silicone": 0}
WALL = {"kind": "background", "panels": ["back"], "thickness": 60}
FLAT = {"form": "flat"}


def slabs(model, kind="slab"):
    return [body for body in model.bodies if body.kind == kind]


def apart(model):
    """No two bodies of the model share space, joined or not, but a tube on its barb."""
    bodies = list(model.bodies)
    for i, one in enumerate(bodies):
        for other in bodies[i + 1 :]:
            shared = overlap(one.solid, other.solid)
            assert shared is None or shared.volume < 1e-9, (one.name, other.name, shared)


def test_a_flat_slab_on_its_bedding_has_their_volume(built, sound):
    wall = {
        **WALL,
        "relief": FLAT,
        "gap": 8,
        "bedding": "expanding polyurethane foam",
        "bottom": 50,
        "top": 450,
    }
    model = built({"wall": wall}, BARE)
    sound(model)
    slab, bedding = model.body("wall.back").solid, model.body("wall.bedding_back").solid
    assert slab.volume == pytest.approx(1.2 * 0.4 * 0.06)
    assert bedding.volume == pytest.approx(1.2 * 0.4 * 0.008)
    assert slab.bounds == pytest.approx(np.array([[0, 0.532, 0.05], [1.2, 0.592, 0.45]]))
    assert bedding.bounds == pytest.approx(np.array([[0, 0.592, 0.05], [1.2, 0.6, 0.45]]))
    assert Joins(model).how(model.body("wall.back"), model.body("tank.back"))


@pytest.mark.parametrize(  # each form and each panel twice
    ("form", "panel"),
    [
        *zip(["strata", "crevices", "boulders", "roots"], ["back", "left", "right", "front"], strict=True),
        *zip(["strata", "crevices", "boulders", "roots"], ["right", "front", "back", "left"], strict=True),
    ],
)
def test_a_relief_stands_out_of_its_panel(built, sound, form, panel):
    relief = {"form": form, "depth": 70, "seed": 5, "pitch": 20}
    model = built({"wall": {**WALL, "panels": [panel], "relief": relief, "gap": 10}}, BARE)
    sound(model)
    (slab,) = model.built["wall"].data.slabs
    (body,) = slabs(model)
    out = slab.panel.local(body.solid.vertices)[:, 2]
    assert out.min() == pytest.approx(0.010)
    assert 0.07 < out.max() <= 0.01 + 0.06 + 0.07 + 1e-9
    # the slab's own figures are its surface: what lies just behind it is foam, just before it is none
    u, v = (m.ravel() for m in np.meshgrid(slab.u[1:-1:4], slab.v[1:-1:4], indexing="ij"))
    front = slab.front_at(u, v)
    assert front == pytest.approx(slab.front[1:-1:4, 1:-1:4].ravel())
    for step, expected in ((-0.001, True), (0.001, False)):
        points = np.array([slab.panel.at(*where) for where in zip(u, v, front + step, strict=True)])
        assert (inside(body.solid, points) == expected).all()


def test_slabs_on_two_panels_look_unlike(built):
    wall = {**WALL, "panels": ["left", "right"], "relief": {"depth": 50, "pitch": 30}}
    one, other = built({"wall": wall}, BARE).built["wall"].data.slabs
    assert not np.allclose(one.front, other.front)


HALF = 150 * 3**0.5
HEXAGON = [[150, 0], [450, 0], [600, HALF], [450, 2 * HALF], [150, 2 * HALF], [0, HALF]]


@pytest.mark.parametrize(
    ("tank", "panels", "bedding"),
    [
        ({}, ["back", "left", "right", "front"], "expanding polyurethane foam"),
        ({}, ["left", "back"], ""),
        ({"footprint": HEXAGON, "height": 500, "inside": None}, ["side_2", "side_3", "side_4", "side_5"], ""),
        (
            {"footprint": [[0, 0], [900, 0], [300, 600]], "height": 500, "inside": None},
            ["side_2", "side_3"],
            "expanding polyurethane foam",
        ),
    ],
)
def test_corners_are_fitted_to_each_other(built, sound, tank, panels, bedding):
    wall = {**WALL, "panels": panels, "gap": 10, "relief": {"depth": 40, "pitch": 25}}
    wall |= {"bedding": bedding} if bedding else {}
    whole = {"kind": "tank", "inside": [1200, 600, 600], "glass": 12, **tank}
    tank = {key: value for key, value in whole.items() if value}
    model = built({"tank": tank, "wall": wall})
    sound(model)
    assert len(slabs(model)) == len(panels)
    assert len(slabs(model, "bedding")) == (len(panels) if bedding else 0)
    apart(model)
    for one, other in itertools.pairwise(slabs(model)):
        assert gap(one.solid, other.solid).distance < 1e-6 or {one.name, other.name} == {
            "wall.right",
            "wall.left",
        }
    interior = model.tank.interior
    for body in model.bodies_of("wall"):
        assert difference(body.solid, [interior]) is None or difference(body.solid, [interior]).volume < 1e-12


def test_a_slab_ends_at_the_brace_and_goes_round_silicone_and_braces(built, sound):
    tank = {"perimeter_brace": {"width": 50, "thickness": 10}, "silicone": 10}
    model = built({"wall": {**WALL, "relief": {"depth": 30, "pitch": 20}}}, tank)
    sound(model)
    apart(model)
    assert model.body("wall.back").solid.bounds[1, 2] == pytest.approx(0.59)
    assert gap(model.body("wall.back").solid, model.body("tank.silicone").solid).distance < 1e-9


# -- saw cuts and openings -------------------------------------------------------------------------


@pytest.mark.parametrize("panel", ["back", "left"])
def test_saw_cuts_divide_the_first_slab_from_left_to_right(built, sound, panel):
    wall = {**WALL, "panels": [panel], "relief": FLAT, "splits": [200, 450], "joint": 3}
    model = built({"wall": wall}, BARE)
    sound(model)
    pieces = slabs(model)
    assert [piece.name for piece in pieces] == [f"wall.{panel}_{n}" for n in (1, 2, 3)]
    (slab,) = model.built["wall"].data.slabs
    assert slab.bodies == tuple(piece.name for piece in pieces)
    spans = [slab.panel.local(piece.solid.vertices)[:, 0] for piece in pieces]
    length = slab.panel.length
    assert [(s.min(), s.max()) for s in spans] == [
        pytest.approx((0, 0.1985)),
        pytest.approx((0.2015, 0.4485)),
        pytest.approx((0.4515, length)),
    ]
    for one, other in itertools.pairwise(pieces):
        assert gap(one.solid, other.solid).distance == pytest.approx(0.003)
    assert sum(piece.solid.volume for piece in pieces) == pytest.approx((length - 0.006) * 0.6 * 0.06)


def test_a_piece_stays_as_it_is_where_a_pipe_in_it_ends_farther_off_in_another(built):
    wall = {**WALL, "thickness": 90, "splits": [200], "relief": {"form": "strata", "depth": 30, "pitch": 30}}
    wall["channels"] = [{"follow": "bar", "gap": 3}]
    bar = {"kind": "run", "pipe": "d20 pn 16", "start": [60, 550, 250]}

    def pieces(length):
        slit = {"panel": "back", "along": 60 + length / 2, "up": 228, "width": length - 80, "height": 8}
        route = [{"right": length}, "cap"]
        return slabs(built({"wall": {**wall, "cut_outs": [slit]}, "bar": {**bar, "route": route}}, BARE))

    first, second = pieces(300)
    for length in (304, 312, 316, 321.3):
        same, other = pieces(length)
        assert same.solid == first.solid
        assert other.solid != second.solid


def test_a_slab_stays_as_it_is_where_a_pipe_through_it_ends_farther_off_before_it(built):
    """Its relief stands out here and there: the elbow reaches into the room of all of it, and not to it."""
    holes = {"out": {"panel": "back", "left": 300, "bottom": 250, "bulkhead": "1 in thin"}}
    wall = {**WALL, "relief": {"form": "strata", "depth": 80, "pitch": 30}, "embeds": ["out", "drain"]}
    run = {"kind": "run", "pipe": "1 in sch 40", "start": "out.inside"}

    def slab(front):
        drain = {**run, "route": [{"front": front}, {"up": 150}, "open"]}
        return slabs(built({"wall": wall, "drain": drain}, {"holes": holes}))[0].solid

    first, room = slab(150), slab(150).bounds[0, 1]
    for front in (152, 171.3):
        assert slab(front) == first
    assert room < 0.6 - 0.15 + 0.03  # the elbow's socket is 30 mm deep and more
    assert slab(90) != first


def test_names_of_pieces_keep_clear_of_the_panels_names(built, sound):
    tank = {"kind": "tank", "footprint": HEXAGON, "height": 500, "glass": 10}
    tank["panels"] = ["a", "a_1", "bedding_a", "d", "e", "f"]
    wall = {**WALL, "panels": ["a", "a_1", "bedding_a"], "relief": FLAT, "splits": [150]}
    model = built({"tank": tank, "wall": {**wall, "gap": 5, "bedding": "expanding polyurethane foam"}})
    sound(model)
    names = {"wall.a_2", "wall.a_3", "wall.a_1", "wall.bedding_a", "wall.bedding_a_1"}
    assert names <= {body.name for body in model.bodies}


def test_openings_go_right_through_or_stop(built, sound):
    cuts = [
        {"panel": "back", "along": 300, "up": 200, "width": 80},
        {"panel": "back", "along": 700, "up": 300, "width": 100, "height": 20},
        {"panel": "back", "along": 1000, "up": 300, "width": 40, "height": 20, "stop": 25},
    ]
    bare = built({"wall": {**WALL, "relief": FLAT, "gap": 10}}, BARE).body("wall.back").solid
    model = built({"wall": {**WALL, "relief": FLAT, "gap": 10, "cut_outs": cuts}}, BARE)
    sound(model)
    slab = model.body("wall.back").solid
    taken = np.pi / 4 * 0.08**2 * 0.06 + 0.1 * 0.02 * 0.06 + 0.04 * 0.02 * (0.07 - 0.025)
    assert bare.volume - slab.volume == pytest.approx(taken, rel=1e-6)
    # seen from inside the back's left is the tank's left
    assert inside(bare, [[0.3, 0.56, 0.2]])[0]
    assert not inside(slab, [[0.3, 0.56, 0.2]])[0]


# -- reliefs from pictures and meshes --------------------------------------------------------------


@pytest.mark.parametrize(("kind", "white"), [("uint8", 255), ("uint16", 65535)])
def test_a_grey_picture_is_a_relief(built, sound, tmp_path, kind, white):
    """Black lies on the slab, white stands out to the full depth; a ramp to the right, its foot black."""
    columns = np.linspace(0, white, 61)
    grey = np.tile(np.round(columns), (40, 1)).astype(kind)
    grey[30:] = 0  # rows count from the top
    Image.fromarray(grey).save(tmp_path / "ramp.png")
    relief = {"image": "ramp.png", "depth": 80, "pitch": 10}
    model = built({"wall": {**WALL, "relief": relief}}, BARE, tmp_path)
    sound(model)
    (slab,) = model.built["wall"].data.slabs
    u = np.array([0.1, 0.3, 0.6, 0.9, 1.1])
    # pixel middles: column k of 61 stands at (k + 1/2) / 61 of the width
    share = np.clip((u / 1.2 * 61 - 0.5) / 60, 0, 1)
    assert slab.front_at(u, np.full(5, 0.4)) == pytest.approx(0.06 + 0.08 * share, abs=1e-3)
    assert slab.front_at(u, np.full(5, 0.1)) == pytest.approx(np.full(5, 0.06))


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("colour.png", "is of mode 'RGB'"),
        ("none.png", "there is no file 'none.png'"),
        ("../ramp.png", "lies outside the scene's folder"),
        ("text.png", "can't be read as a picture"),
    ],
)
def test_a_picture_that_can_t_be_used_is_told_at_its_name(refused, tmp_path, name, told):
    folder = tmp_path / "scene"
    folder.mkdir()
    Image.fromarray(np.zeros((9, 9, 3), "uint8")).save(folder / "colour.png")
    (folder / "text.png").write_text("hello", encoding="utf-8")
    (only,) = refused({"wall": {**WALL, "relief": {"image": name}}}, BARE, folder)
    assert told in only.found
    assert only.path == "parts.wall.relief.image"
    assert str(tmp_path) not in only.found


def test_a_mesh_is_a_slab_in_the_middle_of_its_panel(built, sound, tmp_path):
    """A block of 500 x 80 x 300, its back to the glass; the mesh's y runs from the front to the glass."""
    save_mesh(box((0.5, 0.08, 0.3)), tmp_path / "block.ply", 1.0)
    wall = {**WALL, "panels": ["left"], "mesh": "block.ply", "longest": 400, "gap": 15, "bottom": 40}
    model = built({"wall": wall}, BARE, tmp_path)
    sound(model)
    body = model.body("wall.left")
    assert body.solid.volume == pytest.approx(0.4 * 0.064 * 0.24)
    assert body.solid.bounds == pytest.approx(np.array([[0.015, 0.1, 0.04], [0.079, 0.5, 0.28]]))
    assert model.built["wall"].notes[0].startswith("wall: ")


# -- channels and what is foamed in ----------------------------------------------------------------


PIPEWORK = [
    {"up": 150},
    {"ball_valve": 1},
    {"up": 130},
    {"right": 250, "drip": {"diameter": 3, "pitch": 40, "margin": 20}},
    {"tee": "up"},
    {"right": 120},
    {"by": [90, 0, 90]},
    {"right": 100},
    "cap",
]
TUBE = [{"up": 250}, {"right": 300}, {"ball_valve": 1}, {"right": 200}, {"by": [100, 0, -100]}]


@pytest.mark.parametrize(  # each pair of values once
    ("pipe", "scale", "opened", "width"),
    [
        ("3/4 in sch 40", 1, "back", 0),
        ("d50 pn 10", 1.7, "none", 0),
        ("3/4 in sch 40", 1, "none", 3),
        ("d50 pn 10", 1.7, "back", 3),
        ("3/4 in sch 40", 1, "back", 12),
        ("d50 pn 10", 1.7, "none", 12),
    ],
)
def test_a_channel_keeps_its_gap_around_pipe_and_fittings(built, sound, pipe, scale, opened, width):
    route = [
        {key: value * scale if key in ("up", "right") else value for key, value in step.items()}
        if isinstance(step, dict)
        else step
        for step in PIPEWORK
    ]
    run = {"kind": "run", "pipe": pipe, "start": [150, 530, 60], "route": route}
    run["supports"] = [{"at": [60], "against": "back"}]
    channel = {"follow": "feed", "gap": width, "open": opened}
    wall = {**WALL, "thickness": 130, "relief": {"depth": 40, "pitch": 40}, "channels": [channel]}
    tank = {**BARE, "inside": [1600, 600, 900]}
    model = built({"wall": wall, "feed": run}, tank)
    sound(model)
    (slab,) = slabs(model)
    for body in model.bodies_of("feed"):
        away = gap(slab.solid, body.solid).distance
        assert away >= width / 1000 - 2e-5, body.name
        shared = overlap(slab.solid, body.solid)
        # without a gap faces lie on faces, and rounding may leave a cubic millimetre
        assert shared is None or (width == 0 and shared.volume < 1e-9), body.name
    for element in model.built["feed"].data.elements:
        if element.kind != "pipe" or element.cut_length < 0.18:
            continue
        middle = (np.array(element.path[0]) + element.path[1]) / 2
        # it is no wider than it has to be: a little further off there is foam, before the pipe and ...
        reach = element.outside / 2 + width / 1000 + 0.002
        assert inside(slab.solid, [middle - (0, reach, 0)])[0]
        # ... behind it only where it is not open towards the glass
        behind = np.add(middle, (0, reach, 0))
        assert inside(slab.solid, [behind])[0] == (opened == "none")


def test_a_channel_follows_a_tube_round_its_bends(built, sound):
    run = {"kind": "run", "tube": "12/16 mm", "start": [150, 560, 100], "route": TUBE}
    wall = {**WALL, "thickness": 90, "relief": FLAT, "channels": [{"follow": "hose", "gap": 4}]}
    model = built({"wall": wall, "hose": run}, BARE)
    sound(model)
    for body in model.bodies_of("hose"):
        assert gap(slabs(model)[0].solid, body.solid).distance >= 0.004 - 2e-5, body.name


def test_foam_goes_around_pipes_and_not_into_them(built, sound):
    """A drain through slab and bedding, foamed in: it touches all round, and its bore stays open."""
    holes = {"out": {"panel": "back", "left": 300, "bottom": 250, "bulkhead": "1 in thin"}}
    run = {"kind": "run", "pipe": "1 in sch 40", "start": "out.inside"}
    run["route"] = [{"front": 120}, {"up": 150}, {"front": 200}, "open"]
    wall = {**WALL, "thickness": 110, "gap": 30, "bedding": "expanding polyurethane foam"}
    wall |= {"relief": {"depth": 40, "pitch": 20}, "embeds": ["out", "drain"]}
    model = built({"wall": wall, "drain": run}, {"holes": holes})
    sound(model)
    foam = model.bodies_of("wall")
    for body in (*model.bodies_of("drain"), model.body("tank.out")):
        for piece in foam:
            assert overlap(piece.solid, body.solid) is None, (piece.name, body.name)
    assert gap(model.body("wall.back").solid, model.body("drain.pipe_1").solid).distance < 1e-5
    assert gap(model.body("wall.bedding_back").solid, model.body("tank.out").solid).distance < 1e-5
    assert Joins(model).how(model.body("wall.back"), model.body("drain.pipe_1"))
    pipes = [element for element in model.built["drain"].data.elements if element.kind == "pipe"]
    path = np.concatenate([np.linspace(*element.path, 9) for element in pipes])
    bore = np.linspace(model.ports["tank.out.inside"].at, model.ports["tank.out.outside"].at, 20)
    for piece in foam:
        assert not inside(piece.solid, path).any()
        assert not inside(piece.solid, bore).any()
        # nor is there a skin of foam along the wall of the bore
        for element in pipes:
            a, b = (np.array(point) for point in element.path)
            side = np.cross((b - a) / np.linalg.norm(b - a), [1.0, 0.0, 0.0])
            points = (a + b) / 2 + np.outer(np.linspace(-0.999, 0.999, 21) * element.bore / 2, side)
            assert not inside(piece.solid, points).any()
    assert components(model.body("wall.back").solid) == (model.body("wall.back").solid,)


@settings(max_examples=2)
@given(
    st.integers(0, 9999),
    st.sampled_from(["strata", "crevices", "boulders", "roots"]),
    st.randoms(use_true_random=False),
)
def test_what_is_cut_for_pipe_in_its_sockets_is_the_same_in_any_order(built, seed, form, order):
    """Pipe lies face to face in socket and clip: a skin of foam left there made booleans wrong.

    Three ways: the bodies are cut out of the tank's inside one by one, all at once, and each by itself.
    """
    hole = {"panel": "back", "left": 150, "bottom": 171, "bulkhead": "d25"}
    tank = {"inside": [400, 300, 400], "glass": 8, "silicone": 0, "holes": {"out": hole}}
    run = {"kind": "run", "pipe": "d25 pn 10", "start": "out.inside"}
    run |= {"route": [{"front": 70}, {"right": 120}, "open"]}
    run |= {"supports": [{"at": [150], "against": "back", "kind": "clip"}]}
    relief = {"form": form, "seed": seed, "depth": 20, "pitch": 60}
    wall = {**WALL, "thickness": 90, "gap": 10, "bedding": "expanding polyurethane foam", "relief": relief}
    model = built({"wall": {**wall, "embeds": ["out", "drain"]}, "drain": run}, tank)
    for piece in model.bodies_of("wall"):
        assert misread(piece.solid.shape) < 1e-12, piece.name
    inside_tank = model.tank.interior
    shares = [intersection(inside_tank, body.solid) for body in model.bodies]
    taken = sum(share.volume for share in shares if share is not None)
    left = inside_tank.manifold
    for body in order.sample(model.bodies, len(model.bodies)):
        left -= body.solid.manifold
    assert left.volume() + taken == pytest.approx(inside_tank.volume, abs=1e-10)
    at_once = difference(inside_tank, [body.solid for body in model.bodies])
    assert at_once.volume == pytest.approx(left.volume(), abs=1e-10)


@pytest.mark.parametrize("left", [None, 95, 500])
def test_one_background_may_be_fitted_around_another(built, sound, left):
    """Its foam, too; and where that is hollowed for a pipe, in the corner or farther off."""
    wall = {**WALL, "relief": {"depth": 40, "pitch": 25}}
    wall |= {"gap": 10, "bedding": "expanding polyurethane foam"}
    back, side = dict(wall), {**wall, "panels": ["left"], "embeds": ["back_wall"]}
    parts, holes = {"side_wall": side, "back_wall": back}, {}
    if left is not None:
        holes = {"out": {"panel": "back", "left": left, "bottom": 250, "bulkhead": "1 in thin"}}
        route = [{"front": 150}, {"up": 120}, "open"]
        parts["drain"] = {"kind": "run", "pipe": "1 in sch 40", "start": "out.inside", "route": route}
        back["embeds"] = ["out", "drain"]
        side["embeds"] = ["back_wall", "out", "drain"]
    model = built(parts, {"holes": holes})
    sound(model)
    apart(model)
    assert Joins(model).how(model.body("side_wall.left"), model.body("back_wall.back"))
    assert model.built["side_wall"].data.hides == (() if left is None else ("out", "drain"))


# -- what is refused -------------------------------------------------------------------------------


RUN = {"kind": "run", "pipe": "3/4 in sch 40", "start": [150, 540, 60], "route": [{"up": 300}]}


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        ({"panels": ["bock"]}, "panels[1]", "nearest: 'back'"),
        ({"panels": ["back", "back"]}, "panels", "a panel stands twice"),
        ({"panels": ["bottom"]}, "panels", "a background on the bottom"),
        ({"panels": []}, "panels", "0 entries"),
        ({"bedding": "expanding polyurethane foam"}, "bedding", "bedding without a gap"),
        ({"top": 20, "bottom": 30}, "top", "not above its bottom"),
        ({"top": 700}, "top", "700 mm over the floor of a tank 600 mm high"),
        ({"bottom": 570}, "bottom", "a slab 30 mm high"),
        ({"splits": [300, 1300]}, "splits[2]", "a saw cut at 1,300 mm on a panel 1,200 mm long"),
        ({"embeds": ["feed", "fed"]}, "embeds[2]", "nearest: 'feed'"),
        ({"channels": [{"follow": "tank"}]}, "channels[1].follow", "tank is not a run"),
        ({"channels": [{"follow": "fed"}]}, "channels[1].follow", "nearest: 'feed'"),
        (
            {"cut_outs": [{"panel": "left", "along": 10, "up": 10, "width": 5}]},
            "cut_outs[1].panel",
            "no slab stands on panel 'left'",
        ),
        (
            {"cut_outs": [{"panel": "back", "along": 1300, "up": 10, "width": 5}]},
            "cut_outs[1]",
            "beside the slab",
        ),
        (
            {"cut_outs": [{"panel": "back", "along": 300, "up": 650, "width": 5}]},
            "cut_outs[1]",
            "beside the slab",
        ),
        ({"relief": {"pitch": 100}, "top": 100}, "relief", "pitch must be"),
        ({"relief": {"depth": 2}}, "relief", "depth must be 5 mm to 2,000 mm"),
        ({"mesh": "a.stl"}, "mesh", "a mesh with none of `longest:`, `mass:`, `file_unit:` and `measured:`"),
        ({"mesh": "a.stl", "longest": 300}, "mesh", "there is no file 'a.stl'"),
    ],
)
def test_a_background_that_can_t_be_is_refused_where_it_says_so(refused, more, path, told):
    (only,) = refused({"wall": {**WALL, "relief": FLAT, **more}, "feed": RUN}, BARE)
    assert told in str(only)
    assert only.path == f"parts.wall.{path}"


def test_a_run_held_by_the_background_that_it_lies_in_is_a_circle(refused):
    wall = {**WALL, "relief": FLAT, "channels": [{"follow": "feed"}]}
    run = {**RUN, "supports": [{"at": [50], "against": "wall"}]}
    (only,) = refused({"wall": wall, "feed": run}, BARE)
    assert "in a circle: wall -> feed -> wall" in only.found
    assert only.path == "parts.feed.supports[1].against"


WIDE = st.integers(0, 1300)
BACKGROUNDS = st.fixed_dictionaries(
    {
        "kind": st.just("background"),
        "panels": st.lists(st.sampled_from(["back", "left", "right"]), min_size=1, max_size=2, unique=True),
        "thickness": st.sampled_from([1, 3, 40, 150, 400]),
        "relief": st.fixed_dictionaries(
            {"pitch": st.sampled_from([30, 60, 100])},
            optional={
                "form": st.sampled_from(["flat", "strata", "crevices", "boulders", "roots"]),
                "depth": st.sampled_from([0, 2, 30, 200, 900]),
                "seed": st.integers(0, 99),
            },
        ),
    },
    optional={
        "gap": st.sampled_from([0, 8, 60]),
        "bedding": st.just("expanding polyurethane foam"),
        "bottom": st.integers(0, 560),
        "top": st.integers(0, 650),
        "splits": st.lists(WIDE, max_size=3),
        "joint": st.sampled_from([0, 2, 50]),
        "embeds": st.lists(st.sampled_from(["feed", "out", "wall"]), max_size=2, unique=True),
        "channels": st.lists(
            st.fixed_dictionaries(
                {"follow": st.sampled_from(["feed", "feed", "tank"]), "gap": st.sampled_from([0, 3, 50])},
                optional={"open": st.sampled_from(["back", "none"])},
            ),
            max_size=1,
        ),
        "cut_outs": st.lists(
            st.fixed_dictionaries(
                {
                    "panel": st.sampled_from(["back", "left"]),
                    "along": WIDE,
                    "up": WIDE,
                    "width": st.integers(1, 900),
                },
                optional={"height": st.integers(1, 900), "stop": st.integers(0, 300)},
            ),
            max_size=2,
        ),
    },
)


@settings(max_examples=24, derandomize=True)
@given(BACKGROUNDS, st.booleans())
def test_a_background_of_any_make_is_sound_or_refused(any_make, wall, braced):
    holes = {"out": {"panel": "back", "left": 300, "bottom": 250, "bulkhead": "1 in thin"}}
    tank = {"holes": holes, **({"perimeter_brace": {"width": 60, "thickness": 10}} if braced else {})}
    any_make({"wall": wall, "feed": RUN}, tank)
