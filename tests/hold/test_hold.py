"""Pieces of a scene: what they rest on, and when they tip, slide or come up; closed forms beside each."""

import math
from pathlib import Path

import manifold3d
import numpy as np
import pytest

from layout3d.catalog import water_density
from layout3d.hold.balance import FIXED, Contact, Pile
from layout3d.hold.hold import holds
from layout3d.hold.lift import buoyancy, lift, tied
from layout3d.model.build import build_model
from layout3d.parts.base import Body
from layout3d.scene.reader import read_scene
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement, Shape

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
GRAVITY = 9.80665
WATER = water_density(24.0)  # the scene's default
BLOCK = "kind: rock, mesh: block.obj, longest: 240"  # 240 x 160 x 80 mm of granite
MASS = 0.24 * 0.16 * 0.08 * 2700


def ball(radius, n=40):
    return Shape.from_manifold(manifold3d.Manifold.sphere(radius, 128))


def model(parts, *, waterline=300, more=""):
    lines = "".join(f"  {line}\n" for line in parts.strip().splitlines()).replace("BLOCK", BLOCK)
    tank = "  tank: {kind: tank, inside: [1200, 500, 500], glass: 10}\n"
    text = f"format: 1\nunits: mm\nwaterline: {waterline}\n{more}parts:\n{tank}{lines}"
    return build_model(read_scene(FAULTY / "made.yaml", text=text))


def hold_of(name, *args, **given):
    return {hold.part: hold for hold in holds(model(*args, **given))}[name]


STONE = "stone: {BLOCK, at: {left: 600, front: 250, bottom: 0}}"
SANDED = (
    "sand: {kind: substrate, depth: 40, pitch: 50}\nstone: {BLOCK, at: {left: 600, front: 250, ground: %s}}"
)


def test_a_block_on_the_glass():
    """Tips over its long side at atan(80 / 40); slides on glass at 0.2 of its weight, dry or wet."""
    hold = hold_of("stone", STONE)
    assert hold.rests_on == ("tank.bottom",)
    assert hold.mass == pytest.approx(MASS)
    assert hold.tip_angle == pytest.approx(math.atan2(80, 40), abs=1e-4)
    assert hold.push_dry == pytest.approx(0.2 * MASS * GRAVITY, rel=1e-6)
    assert hold.push_flooded == pytest.approx(0.2 * (MASS - WATER * MASS / 2700) * GRAVITY, rel=1e-6)
    assert hold.lift == pytest.approx(-(MASS - WATER * MASS / 2700) * GRAVITY, rel=1e-6)
    assert hold.on_glass == pytest.approx(MASS * GRAVITY)
    assert hold.glass_area == pytest.approx(0.24 * 0.16, rel=1e-6)
    assert (hold.stands, hold.falls_at) == (True, None)


def test_pumice_comes_up_until_its_pores_are_full():
    """650 kg/m³ dry as it lies; soaked only 1083 kg/m³ of stuff pushes water aside, 0.6 of the block."""
    volume = 0.24 * 0.16 * 0.08
    pumice, lava = (
        hold_of("stone", STONE.replace("BLOCK", f"BLOCK, material: {of}")) for of in ("pumice", "lava rock")
    )
    assert pumice.mass == pytest.approx(volume * 650, rel=1e-3)
    assert pumice.lift == pytest.approx(0.6 * volume * (WATER - 1083.3) * GRAVITY, rel=1e-2)
    assert pumice.lift_dried == pytest.approx(volume * (WATER - 650) * GRAVITY, rel=1e-3)
    assert lava.lift_dried is None  # 1300 kg/m³ dry: it sinks as it is


def test_a_block_on_end_leans_on_a_pane_like_a_ladder():
    """On end, its top 35 degrees over to the right. By moments about its foot, with no rubbing on the pane:

    force x 240 cos a = weight x (120 sin a - 40 cos a); a mat's friction of 0.3 holds the foot.
    """
    sine, cosine = math.sin(math.radians(35)), math.cos(math.radians(35))
    left = 1200 - 120 * sine - 80 * cosine
    stone = f"stone: {{BLOCK, at: {{left: {left}, front: 250, ground: 0}}, turn: {{tip_right: 125 deg}}}}"
    hold = hold_of("stone", f"mat: {{kind: mat, thickness: 6}}\n{stone}")
    force = MASS * GRAVITY * (120 * sine - 40 * cosine) / (240 * cosine)
    assert hold.stands
    assert hold.leans == {"tank.right": pytest.approx(force, rel=1e-4)}
    assert hold_of("stone", STONE).leans == {}


def test_a_block_on_end_is_pushed_over_before_it_slides():
    """80 mm deep, 240 mm high: on a mat it slides first (0.3), on sand (0.5) it tips at tan a = 40 / 120."""
    on_end = "turn: {tip_right: 90 deg}"
    mat = "mat: {kind: mat, thickness: 6}\n"
    mat += f"stone: {{BLOCK, {on_end}, at: {{left: 600, front: 250, ground: 0}}}}"
    sand = SANDED.replace("BLOCK,", f"BLOCK, {on_end},") % -10
    on_mat, on_sand = hold_of("stone", mat), hold_of("stone", sand)
    assert on_mat.tip_angle == on_sand.tip_angle == pytest.approx(math.atan2(40, 120), abs=1e-4)
    assert on_mat.push_dry == pytest.approx(0.3 * MASS * GRAVITY, rel=1e-4)
    assert on_sand.push_dry == pytest.approx(MASS * GRAVITY / 3, rel=1e-4)
    assert on_mat.on_glass == 0.0


def test_what_lies_on_a_bed_is_pressed_into_it_a_little(tmp_path):
    """Of a ball laid on sand the 5 mm that it is pressed in bear: half a chord is sqrt(2 r h - h²)."""
    mesh = ball(0.06, n=40)
    lines = [f"v {x} {y} {z}" for x, y, z in mesh.vertices] + [f"f {a} {b} {c}" for a, b, c in mesh.faces + 1]
    (tmp_path / "ball.obj").write_text("\n".join(lines))
    text = (
        "format: 1\nunits: mm\nwaterline: 300\nparts:\n"
        "  tank: {kind: tank, inside: [600, 400, 400], glass: 10}\n"
        "  sand: {kind: substrate, depth: 60, pitch: 50}\n"
        "  stone: {kind: rock, mesh: ball.obj, file_unit: m, up: z, at: {left: 300, front: 200, ground: 0}}\n"
    )
    (hold,) = holds(build_model(read_scene(tmp_path / "made.yaml", text=text)))
    chord = math.sqrt(2 * 0.06 * 0.005 - 0.005**2)
    assert hold.tip_angle == pytest.approx(math.atan2(chord, 0.055), rel=0.1)  # of a mesh some 5 mm fine
    assert hold.tip_angle < math.atan2(chord, 0.055)


def test_a_sloping_bed_takes_of_the_grip():
    """On sand that slopes by b a block slides at W tan(phi - b), phi = atan 0.5: the inclined plane."""
    slope = math.atan2(150, 500)
    hold = hold_of(
        "stone",
        "sand: {kind: substrate, front: 20, back: 170, pitch: 50}\n"
        f"stone: {{BLOCK, turn: {{tip_front: {math.degrees(slope)} deg}}, "
        "at: {left: 600, front: 250, ground: -40}}",
    )
    assert hold.push_dry == pytest.approx(MASS * GRAVITY * math.tan(math.atan(0.5) - slope), rel=0.02)


def test_alone_on_a_plane_the_closed_form_is_what_the_programme_finds():
    """Two ways to one number: the polygon and the cone, and the linear programme over the same points."""
    for on_end in ("", "turn: {tip_right: 90 deg}, "):
        built = model(SANDED.replace("BLOCK,", f"BLOCK, {on_end}") % -10)
        (hold,) = holds(built)
        solid = built.body("stone").solid
        low = solid.bounds[0, 2]
        feet = np.unique(solid.vertices[solid.vertices[:, 2] < low + 1e-6], axis=0)
        contact = Contact(
            upper=0, lower=FIXED, points=feet, normals=np.tile([0.0, 0.0, 1.0], (len(feet), 1)), friction=0.5
        )
        weight = np.array([[0.0, 0.0, -hold.mass * GRAVITY, 0.0, 0.0, 0.0]])
        (found,) = Pile(np.array([solid.centroid]), [contact]).pushes(0, [weight])
        least = math.cos(math.pi / 8) * math.cos(math.pi / 16)  # what two inscribed polygons may take off
        assert least * hold.push_dry - 1e-6 <= found <= hold.push_dry + 1e-6


PLANK = """mat: {kind: mat, thickness: 6}
plank: {kind: wood, mesh: plank.obj, longest: 1000, material: light, at: {left: 600, front: 250, ground: 0}}
stone: {kind: rock, mesh: cube.obj, longest: 100, at: {left: 100 + PLACE, front: 250, bottom: 46}}"""
LIGHT = "catalog: {materials: {light: {like: wood oak, density: 650 kg/m3}}}\n"


def cuboid(path, x, y, z):
    corners = [(a, b, c) for c in (0, z) for b in (0, y) for a in (0, x)]
    faces = "1 3 4|1 4 2|5 6 8|5 8 7|1 2 6|1 6 5|3 7 8|3 8 4|1 5 7|1 7 3|2 4 8|2 8 6"
    path.write_text(
        "".join(f"v {a} {b} {c}\n" for a, b, c in corners) + "".join(f"f {f}\n" for f in faces.split("|"))
    )


def weighted_plank(folder, place, waterline):
    cuboid(folder / "plank.obj", 1000, 100, 40)
    cuboid(folder / "cube.obj", 100, 100, 100)
    text = (
        f"format: 1\nunits: mm\nwaterline: {waterline}\n{LIGHT}parts:\n"
        "  tank: {kind: tank, inside: [1200, 500, 500], glass: 10}\n"
        + "".join(f"  {line}\n" for line in PLANK.replace("PLACE", str(place)).splitlines())
    )
    built = build_model(read_scene(folder / "made.yaml", text=text))
    return {hold.part: hold for hold in holds(built)}


@pytest.mark.parametrize(("place", "held"), [(300, False), (390, False), (500, True), (610, False)])
def test_a_stone_that_outweighs_the_lift_of_a_plank_holds_it_only_near_its_middle(tmp_path, place, held):
    """A plank is lifted by (997.3 - 650) x 0.004 m³ g = 13.6 N; a litre of stone weighs 16.7 N in water.
    About either end: 16.7 x has to be 13.6 x 0.5 at least, so it holds from 0.408 to 0.592 m."""
    found = weighted_plank(tmp_path, place, 300)
    assert found["plank"].stands
    assert found["plank"].lift == pytest.approx((WATER - 650) * 0.004 * GRAVITY, rel=1e-6)
    assert (found["plank"].falls_at is None) == held
    assert weighted_plank(tmp_path, place, 20)["plank"].falls_at is None


def test_wood_that_sinks_is_also_told_as_it_was_before_it_was_soaked():
    """Root wood, 1190 kg/m³ waterlogged, floats at 675 as it is bought: Archimedes on both."""
    log = "log: {kind: wood, mesh: block.obj, longest: 240, material: %s, at: [600, 250, 0]}"
    volume = 0.24 * 0.16 * 0.08
    soaked = hold_of("log", log % "root wood waterlogged")
    assert soaked.lift == pytest.approx((WATER - 1190) * volume * GRAVITY, rel=1e-6)
    assert soaked.lift_dried == pytest.approx((WATER - 675) * volume * GRAVITY, rel=1e-6)
    assert hold_of("log", log % "root wood").lift_dried is None


def test_what_is_foamed_in_or_fixed_is_held():
    held = hold_of("stone", STONE.replace("at:", "fixed_to: tank.bottom, at:"))
    assert (held.fixed_to, held.tip_angle, held.push) == (("tank.bottom",), None, None)
    foamed = (
        "wall: {kind: background, panels: [back], thickness: 150, embeds: [stone], relief: {form: flat}}\n"
        "stone: {BLOCK, at: {left: 600, back: 150, bottom: 200}}"
    )
    assert hold_of("stone", foamed).fixed_to == ("wall",)
    assert ("stone",) not in tied(model(foamed))


def test_heavy_pieces_take_two():
    assert hold_of("stone", STONE).people == 1
    big = STONE.replace("BLOCK", BLOCK.replace("240", "400"))
    assert hold_of("stone", big).mass == pytest.approx(MASS * (400 / 240) ** 3)
    assert hold_of("stone", big).people == 2


def test_a_stack_passes_its_load_down():
    pile = "\n".join(
        f"stone_{k}: {{BLOCK, at: {{left: 600, front: 250, bottom: {80 * k}}}}}" for k in range(3)
    )
    found = {hold.part: hold for hold in holds(model(pile))}
    assert found["stone_0"].loads == pytest.approx({"tank.bottom": 3 * MASS * GRAVITY}, rel=1e-6)
    assert found["stone_0"].on_glass == pytest.approx(3 * MASS * GRAVITY, rel=1e-6)
    assert found["stone_1"].loads == pytest.approx({"stone_0": 2 * MASS * GRAVITY}, rel=1e-6)
    assert found["stone_2"].rests_on == ("stone_1",)


def drawn(solid):
    return Body(
        name="piece",
        part="piece",
        kind="wood",
        group="wood",
        solid=solid,
        material="wood oak",
        density=700.0,
    )


def floats_at(body, density):
    """The depth to which a body is drawn down, lowest point at 0: where it pushes aside its own mass."""
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = (low + high) / 2
        mass, _ = buoyancy(body, middle, WATER)
        low, high = (middle, high) if mass < body.solid.volume * density else (low, middle)
    return high


def test_a_floating_ball_draws_what_archimedes_says():
    """Closed form: the cap h² (3 r - h) / 4 r³ is the ratio of densities; half of it at half the density."""
    round_one = drawn(ball(0.1, n=40).solid(Placement.at((0.0, 0.0, 0.1))))
    assert floats_at(round_one, WATER / 2) == pytest.approx(0.1, rel=1e-3)
    h = floats_at(round_one, 0.7 * WATER)
    assert h**2 * (0.3 - h) / (4 * 0.1**3) == pytest.approx(0.7, rel=2e-3)


def test_a_floating_log_draws_what_archimedes_says():
    """Closed form: the segment (theta - sin theta) / 2 pi of a round log is the ratio of densities."""
    log = drawn(
        cylinder(0.05, 0.6).solid(Placement.at((0.0, 0.0, 0.05)) @ Placement.turned((0, 1, 0), math.pi / 2))
    )
    h = floats_at(log, 0.6 * WATER)
    theta = 2 * math.acos(1 - h / 0.05)
    assert (theta - math.sin(theta)) / (2 * math.pi) == pytest.approx(0.6, rel=2e-3)


def test_the_middle_of_what_is_pushed_aside_lies_in_what_is_wet():
    block = drawn(box((0.2, 0.1, 0.4)).solid())
    mass, middle = buoyancy(block, 0.1, 1000.0)
    assert mass == pytest.approx(2.0)
    assert middle == pytest.approx((0.1, 0.05, 0.05))
    assert buoyancy(block, 0.0, 1000.0)[0] == 0.0


def test_lift_at_a_level_grows_as_the_tank_fills():
    built = model(STONE)
    lifts = [lift(built, [built.body("stone")], level=level) for level in (0.0, 0.04, 0.08, 0.3)]
    assert lifts[0] == pytest.approx(-MASS * GRAVITY)
    assert lifts[1] == pytest.approx(-(MASS - WATER * MASS / 2700 / 2) * GRAVITY)
    assert lifts[2] == pytest.approx(lifts[3])
