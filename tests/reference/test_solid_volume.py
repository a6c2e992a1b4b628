"""Volumes of the geometry kernel against closed forms, each to 0.1 % or better.

The closed form stands beside each case. Round solids are polygons with the true circle's area, so that many
agree to rounding; where two round solids cut each other the corners matter, and 0.1 % is what is promised.
"""

import math

import numpy as np
import pytest
from closed_solids import ball, cone, ellipsoid, revolve, torus_sector

from layout3d.solid.boolean import difference, intersection, section, trim, union
from layout3d.solid.level import area_at, volume_below
from layout3d.solid.primitives import box, cylinder, heightfield, prism, sweep, tube
from layout3d.solid.shape import Placement, Shape

approx = pytest.approx
EXACT = 1e-9
PROMISED = 1e-3


def bar(radius, length, axis, about=(0.0, 0.0, 0.0)):
    """A round bar of a length along an axis, its middle at ``about``."""
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    placement = Placement.from_frame(about, helper, axis) @ Placement.at((0, 0, -length / 2))
    return cylinder(radius, length).solid(placement)


@pytest.mark.parametrize("radius", [0.002, 0.025, 0.3])
def test_ball(radius):
    """4/3 pi R³; area 4 pi R²."""
    assert ball(radius).volume == approx(4 / 3 * math.pi * radius**3, rel=EXACT)
    assert ball(radius).area == approx(4 * math.pi * radius**2, rel=PROMISED * 3)


def test_ellipsoid():
    """4/3 pi a b c."""
    assert ellipsoid((0.1, 0.2, 0.05)).volume == approx(4 / 3 * math.pi * 0.001, rel=EXACT)


def test_cylinder_tube_cone_frustum_capsule():
    """pi r² h; pi (R² - r²) h; pi r² h / 3; pi h (R² + R r + r²) / 3; pi r² l + 4/3 pi r³."""
    assert cylinder(0.0133, 1.2).volume == approx(math.pi * 0.0133**2 * 1.2, rel=EXACT)
    assert tube(0.01333, 0.01046, 2.0).volume == approx(math.pi * (0.01333**2 - 0.01046**2) * 2, rel=EXACT)
    assert cone(0.1, 0.0, 0.3).volume == approx(math.pi * 0.01 * 0.3 / 3, rel=EXACT)
    assert cone(0.1, 0.06, 0.3).volume == approx(math.pi * 0.3 * (0.01 + 0.006 + 0.0036) / 3, rel=EXACT)
    ends = [ball(0.05).solid(), ball(0.05).solid(Placement.at((0, 0, 0.2)))]
    capsule = union([cylinder(0.05, 0.2).solid(), *ends])
    assert capsule.volume == approx(math.pi * 0.0025 * 0.2 + 4 / 3 * math.pi * 0.05**3, rel=PROMISED)


@pytest.mark.parametrize("height", [0.001, 0.02, 0.05, 0.07, 0.0999])
def test_cap_of_a_ball(height):
    """pi h² (3 R - h) / 3; its free surface pi h (2 R - h)."""
    radius = 0.05
    solid = ball(radius).solid()
    expected = math.pi * height**2 * (3 * radius - height) / 3
    # a cap 1 mm high stands on a few rings of faces, and its rim is off by up to 0.01 mm of that
    slack = PROMISED + 1.5e-5 / height
    assert volume_below(solid, height - radius)[0] == approx(expected, rel=slack)
    assert trim(solid, normal=(0, 0, 1), offset=height - radius).volume == approx(expected, rel=slack)
    # a rim 0.01 mm off all round
    surface = math.pi * height * (2 * radius - height)
    assert area_at(solid, height - radius)[0] == approx(surface, abs=2 * math.pi * radius * 1e-5)


@pytest.mark.parametrize("height", [0.005, 0.03, 0.05, 0.08, 0.0999])
def test_lying_cylinder_filled_to_a_height(height):
    """l (r² acos((r - h)/r) - (r - h) sqrt(2 r h - h²)); free surface 2 l sqrt(2 r h - h²)."""
    radius, length = 0.05, 0.8
    solid = bar(radius, length, (1, 0, 0))
    chord = math.sqrt(2 * radius * height - height**2)
    expected = length * (radius**2 * math.acos((radius - height) / radius) - (radius - height) * chord)
    assert volume_below(solid, height - radius)[0] == approx(expected, rel=PROMISED)
    assert area_at(solid, height - radius)[0] == approx(
        2 * length * chord, rel=0.02 if height > 0.099 else 5e-3
    )


def test_half_full_lying_cylinder():
    """Half of pi r² l, to rounding: the polygon is its own mirror image."""
    solid = bar(0.05, 0.8, (0, 1, 0))
    assert volume_below(solid, 0.0)[0] == approx(math.pi * 0.0025 * 0.8 / 2, rel=EXACT)


@pytest.mark.parametrize("share", [0.4, 0.5, 0.6, 0.75, 0.9])
def test_how_deep_a_log_and_a_ball_float(share):
    """A log: (p - sin p) / (2 pi) = s, draft r (1 - cos(p/2)). A ball: k² (3 - k) / 4 = s, k = draft / r."""
    from scipy.optimize import brentq

    angle = brentq(lambda p: (p - math.sin(p)) / (2 * math.pi) - share, 0, 2 * math.pi)
    log, stone = bar(0.04, 0.5, (1, 0, 0)), ball(0.04).solid()
    draft = 0.04 * (1 - math.cos(angle / 2))
    assert volume_below(log, draft - 0.04)[0] == approx(share * log.volume, rel=PROMISED)
    k = brentq(lambda k: k**2 * (3 - k) / 4 - share, 0, 2)
    assert volume_below(stone, (k - 1) * 0.04)[0] == approx(share * stone.volume, rel=PROMISED)


def test_hoof_of_a_cylinder():
    """A plane through a diameter of the foot, reaching height h at the rim, leaves 2 r² h / 3."""
    radius, height = 0.04, 0.1
    half = trim(cylinder(radius, 1.0).solid(), normal=(-1, 0, 0), offset=0.0)
    hoof = trim(half, normal=(-height, 0, radius), offset=0.0)
    assert hoof.volume == approx(2 * radius**2 * height / 3, rel=PROMISED)


def test_cylinder_cut_aslant():
    """pi r² (h1 + h2) / 2."""
    cut = trim(cylinder(0.04, 1.0).solid(), normal=(-0.3, 0, 0.08), offset=0.08 * 0.25)
    assert cut.volume == approx(math.pi * 0.0016 * 0.25, rel=EXACT)


@pytest.mark.parametrize("angle", [90, 60, 45, 30])
def test_two_equal_cylinders_that_cross(angle):
    """Common part 16 r³ / (3 sin a); union pi r² (l1 + l2) less that."""
    radius, length, a = 0.02, 0.4, math.radians(angle)
    one, other = bar(radius, length, (0, 0, 1)), bar(radius, length, (math.sin(a), 0, math.cos(a)))
    common = 16 * radius**3 / (3 * math.sin(a))
    assert intersection(one, other).volume == approx(common, rel=PROMISED)
    joined = math.pi * radius**2 * 2 * length - common
    assert union([one, other]).volume == approx(joined, rel=PROMISED)


def test_three_cylinders_that_cross_at_right_angles():
    """Common part 8 (2 - sqrt 2) r³; union, by inclusion and exclusion, 3 pi r² l - 16 r³ + that."""
    radius, length = 0.03, 0.3
    bars = [bar(radius, length, axis) for axis in np.eye(3)]
    common = 8 * (2 - math.sqrt(2)) * radius**3
    assert intersection(intersection(*bars[:2]), bars[2]).volume == approx(common, rel=PROMISED)
    joined = 3 * math.pi * radius**2 * length - 16 * radius**3 + common
    assert union(bars).volume == approx(joined, rel=PROMISED)


@pytest.mark.parametrize(
    ("big", "small", "apart"), [(0.05, 0.05, 0.06), (0.05, 0.03, 0.04), (0.04, 0.02, 0.055)]
)
def test_lens_of_two_balls(big, small, apart):
    """pi (R + r - d)² (d² + 2 d (R + r) - 3 (R - r)²) / (12 d)."""
    expected = (
        math.pi
        * (big + small - apart) ** 2
        * (apart**2 + 2 * apart * (big + small) - 3 * (big - small) ** 2)
        / (12 * apart)
    )
    common = intersection(ball(big).solid(), ball(small).solid(Placement.at((apart, 0, 0))))
    # the lens's thickness, R + r - d, is off by up to 0.01 mm for each ball
    slack = PROMISED + 2 * 1e-5 / (big + small - apart)
    assert common.volume == approx(expected, rel=slack)


def test_torus_and_bends():
    """2 pi² R r²; a bend of angle a is a / (2 pi) of it; area 4 pi² R r."""
    whole = torus_sector(0.1, 0.03, 2 * math.pi)
    assert whole.volume == approx(2 * math.pi**2 * 0.1 * 0.03**2, rel=EXACT)
    assert whole.area == approx(4 * math.pi**2 * 0.1 * 0.03, rel=PROMISED)
    elbow = torus_sector(0.04, 0.0167, math.pi / 2, inside_radius=0.0133)
    assert elbow.volume == approx(math.pi / 2 * 0.04 * math.pi * (0.0167**2 - 0.0133**2), rel=EXACT)


def test_turned_profile_by_pappus():
    """A square of side s turned at R from its middle: 2 pi R s²."""
    ring = revolve([(0.09, 0), (0.11, 0), (0.11, 0.02), (0.09, 0.02)])
    assert ring.volume == approx(2 * math.pi * 0.1 * 0.0004, rel=EXACT)


def test_hose_along_a_helix():
    """Pappus: pi r² s with s = turns sqrt((2 pi R)² + p²), clear of itself and bent wider than its radius."""
    turns, radius, pitch, hose = 3, 0.1, 0.05, 0.008
    t = np.linspace(0, 2 * math.pi * turns, 600)
    path = np.column_stack([radius * np.cos(t), radius * np.sin(t), pitch * t / (2 * math.pi)])
    expected = math.pi * hose**2 * turns * math.hypot(2 * math.pi * radius, pitch)
    assert sweep(path, hose).volume == approx(expected, rel=PROMISED)
    bore = sweep(path, hose, inside_radius=0.006)
    assert bore.volume == approx(expected * (1 - (0.006 / hose) ** 2), rel=PROMISED)


@pytest.mark.parametrize("height", [0.02, 0.05, 0.08])
def test_napkin_ring(height):
    """pi h³ / 6, whatever the ball: what is left of height h after drilling through it."""
    radius = 0.05
    drill = bar(math.sqrt(radius**2 - (height / 2) ** 2), 0.2, (0, 0, 1))
    ring = difference(ball(radius).solid(), [drill])
    # what is left is thin where h is small: 0.02 mm on R - sqrt(R² - h²/4)
    wall = radius - math.sqrt(radius**2 - (height / 2) ** 2)
    assert ring.volume == approx(math.pi * height**3 / 6, rel=PROMISED + 2e-5 / wall)


def test_sloped_sand_bed():
    """A bed on a rectangle, ruled between four corner heights: Lx Ly (z1 + z2 + z3 + z4) / 4 exactly."""
    bed = heightfield([0, 1.2], [0, 0.5], [[0.05, 0.12], [0.03, 0.2]], 0.0)
    assert bed.volume == approx(1.2 * 0.5 * (0.05 + 0.12 + 0.03 + 0.2) / 4, rel=EXACT)


def test_obelisk():
    """Rectangles a x b below and c x d above, h apart: h (a b + c d + (a + c)(b + d)) / 6, the mean of
    prismoid's middle and ends (the prismoidal formula)."""
    a, b, c, d, h = 0.4, 0.3, 0.2, 0.25, 0.5
    foot = [(-a / 2, -b / 2, 0), (a / 2, -b / 2, 0), (a / 2, b / 2, 0), (-a / 2, b / 2, 0)]
    top = [(-c / 2, -d / 2, h), (c / 2, -d / 2, h), (c / 2, d / 2, h), (-c / 2, d / 2, h)]
    faces = [(0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7)]
    for i in range(4):
        j = (i + 1) % 4
        faces += [(i, j, j + 4), (i, j + 4, i + 4)]
    shape = Shape.of([*foot, *top], faces)
    # the sloping sides are flat, since opposite edges are parallel
    assert shape.volume == approx(h * (a * b + c * d + (a + c) * (b + d)) / 6, rel=EXACT)
    z = 0.2
    wide, deep = a + (c - a) * z / h, b + (d - b) * z / h
    assert area_at(shape.solid(), z)[0] == approx(wide * deep, rel=EXACT)
    assert volume_below(shape.solid(), z)[0] == approx(
        z * (a * b + wide * deep + (a + wide) * (b + deep)) / 6, rel=EXACT
    )


def test_tetrahedron():
    """|det| / 6, its centre the mean of its corners."""
    corners = np.array([(0, 0, 0), (0.3, 0.1, 0), (0, 0.2, 0.1), (0.1, 0, 0.4)])
    shape = Shape.of(corners, [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])
    assert shape.volume == approx(abs(np.linalg.det(corners[1:])) / 6, rel=EXACT)
    assert shape.centroid == approx(corners.mean(axis=0))


def test_box_with_rounded_edges():
    """abc + 2 r (ab + bc + ca) + pi r² (a + b + c) + 4/3 pi r³: a box rolled over by a ball."""
    a, b, c, r = 0.1, 0.06, 0.04, 0.01
    core = np.array([a, b, c])
    parts = [ball(r).solid(Placement.at(core * (x, y, z))) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    for axis in range(3):
        thick = core.copy()
        thick[axis] += 2 * r
        shift = np.zeros(3)
        shift[axis] = -r
        parts.append(box(thick).solid(Placement.at(shift)))
        for p in (0, 1):
            for q in (0, 1):
                middle = core * np.insert([p, q], axis, 0)
                middle[axis] = core[axis] / 2
                parts.append(bar(r, core[axis], np.eye(3)[axis], middle))
    expected = (
        a * b * c + 2 * r * (a * b + b * c + c * a) + math.pi * r**2 * (a + b + c) + 4 / 3 * math.pi * r**3
    )
    assert union(parts).volume == approx(expected, rel=PROMISED)


def test_drilled_pane():
    """l b t less pi r² t for each hole; the outline of a section has the same area."""
    pane = box((0.6, 0.01, 0.45)).solid()
    drills = [bar(0.022, 0.1, (0, 1, 0), (x, 0.0, 0.35)) for x in (0.1, 0.3, 0.5)]
    drilled = difference(pane, drills)
    plane_area = 0.6 * 0.45 - 3 * math.pi * 0.022**2
    assert drilled.volume == approx(plane_area * 0.01, rel=EXACT)
    outlines = section(drilled, origin=(0, 0.005, 0), normal=(0, -1, 0))
    assert len(outlines) == 4
    area = sum(float((p[:-1, 0] * p[1:, 2] - p[1:, 0] * p[:-1, 2]).sum()) / 2 for p in outlines)
    assert area == approx(plane_area, rel=EXACT)


def test_wedge_of_a_prism():
    """A right triangle b x h, l long: b h l / 2; filled to z it holds l b (h z - z²/2) / h."""
    b, h, length = 0.3, 0.2, 0.5
    wedge = prism([(0, 0), (b, 0), (0, h)], length).solid(Placement.turned((1, 0, 0), math.pi / 2))
    assert wedge.volume == approx(b * h * length / 2, rel=EXACT)
    assert volume_below(wedge, 0.05)[0] == approx(length * b * (h * 0.05 - 0.05**2 / 2) / h, rel=EXACT)
