"""What a bed lies around, and where it stops."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import default
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.boolean import intersection
from layout3d.solid.distance import inside, overlap

SCENE = """
format: 1
units: mm
waterline: 200
parts:
  tank: {{kind: tank, {tank}, glass: 10, silicone: 0}}
  bed: {{kind: substrate, pitch: 50, {bed}}}
  block: {{kind: heater, length: 100, at: {{left: 150, front: 200, bottom: {height}}}}}
"""
BOX = "inside: [600, 400, 400]"


def model(*, tank=BOX, bed="depth: 50", height=0):
    return build_model(read_scene("bed.yaml", text=SCENE.format(tank=tank, bed=bed, height=height)))


def buried(built):
    return {join.b for join in built.built["bed"].joins if join.how == "embedded"}


def test_only_what_meets_the_bed_is_buried_in_it():
    """The bed rises to 120 mm at the right; what hangs over its low left end is within its box, not in it."""
    slope = "depths: [[0, 0, 20], [0, 400, 20], [600, 0, 120], [600, 400, 120]]"
    assert buried(model(bed=slope, height=80)) == set()
    assert buried(model(bed=slope, height=30)) == {"block"}


def test_a_bed_in_a_trapezium_stays_in_the_glass():
    """Area of the floor by the shoelace formula: (600 + 300) / 2 x 400 mm, times 50 mm of depth."""
    tank = "footprint: [[0, 0], [600, 0], [450, 400], [150, 400]], height: 400"
    built = model(tank=tank, height=100)
    assert built.body("bed").solid.volume == pytest.approx(0.45 * 0.4 * 0.05, rel=1e-9)


def test_the_surface_is_told_for_arrays_and_stops_at_the_region():
    built = model(bed="front: 20, back: 100, region: [100, 0, 300, 400]", height=200)
    part = built.built["bed"].part

    class Site:
        def tank(self):
            return built.built["tank"]

    surface = part.surface(Site())
    heights = surface(np.array([0.05, 0.2, 0.2]), np.array([0.2, 0.2, 0.4]))
    assert np.isnan(heights[0])
    assert heights[1:] == pytest.approx([0.060, 0.100])
    assert part.height_at(Site(), 0.2, 0.2) == pytest.approx(0.060)


# -- volumes, and what the bed lies around ---------------------------------------------------------


BARE = {"silicone": 0}


def bed(**more):
    return {"bed": {"kind": "substrate", "pitch": 40, **more}}


def test_a_level_bed_and_a_slope_have_their_volume(built, sound):
    level = built(bed(depth=50), BARE)
    sound(level)
    assert level.body("bed").solid.volume == pytest.approx(1.2 * 0.6 * 0.05)
    slope = built(bed(front=30, back=110), BARE)
    assert slope.body("bed").solid.volume == pytest.approx(1.2 * 0.6 * 0.07)
    part = built(bed(front=30, back=110, region=[100, 150, 500, 450]), BARE)
    sound(part)
    # the slope goes on from glass to glass: 50 and 90 mm at the region's edges
    assert part.body("bed").solid.volume == pytest.approx(0.4 * 0.3 * 0.07)
    assert part.body("bed").solid.bounds[:, :2] == pytest.approx(np.array([[0.1, 0.15], [0.5, 0.45]]))


def test_mass_counts_the_grains_alone(built):
    sand = default().material("sand")
    body = built(bed(depth=50), BARE).body("bed")
    assert body.porosity == sand.porosity > 0
    assert body.mass == pytest.approx(1.2 * 0.6 * 0.05 * (1 - sand.porosity) * sand.density)


def test_a_sculpted_bed_goes_through_its_points(built, sound):
    points = [[0, 0, 40], [1200, 0, 30], [600, 600, 120], [300, 300, 60]]
    model = built(bed(depths=points, pitch=20), BARE)
    sound(model)
    solid = model.body("bed").solid
    for x, y, depth in points:
        at = np.clip([x / 1000, y / 1000], [0.002, 0.002], [1.198, 0.598])
        assert inside(solid, [[*at, depth / 1000 - 0.002]])[0]
        assert not inside(solid, [[*at, depth / 1000 + 0.002]])[0]


def test_things_on_the_ground_stand_on_the_bed(built):
    parts = bed(front=30, back=110) | {
        "rod": {"kind": "heater", "at": {"left": 300, "front": 300, "ground": 0}},
        "beside": {"kind": "heater", "at": {"left": 300, "front": 300, "bottom": 0}},
    }
    model = built(parts, BARE)
    assert model.body("rod").solid.bounds[0, 2] == pytest.approx(0.07)
    assert model.body("beside").solid.bounds[0, 2] == 0.0


def test_a_bed_lies_around_rock_wood_roots_and_pipework(built, sound):
    """Nothing shares space with it; what little rounding leaves of a touch is below 2 mm³."""
    holes = {"up": {"panel": "bottom", "left": 900, "front": 300, "bulkhead": "3/4 in thin"}}
    parts = {
        "bed": {"kind": "substrate", "pitch": 25, "front": 60, "back": 120, "roughness": 0.2},
        "crag": {"kind": "rock", "form": "crag", "seed": 3, "size": [220, 180, 150]},
        "slab": {"kind": "rock", "form": "slab", "seed": 4, "size": [300, 180, 100]},
        "log": {
            "kind": "wood",
            "form": "log",
            "seed": 4,
            "length": 400,
            "turn": {"about_up": 20, "tip_right": 20},
        },
        "fern": {"kind": "plant", "form": "fern", "height": 120, "spread": 150},
        "riser": {"kind": "run", "pipe": "3/4 in sch 40", "start": "up.inside", "route": [{"up": 250}]},
        "hose": {"kind": "run", "tube": "12/16 mm", "start": [100, 500, 60], "route": [{"right": 300}]},
    }
    places = {"crag": (250, 200, -30), "slab": (600, 250, -40), "log": (450, 420, -30), "fern": (750, 450, 0)}
    for name, (x, y, ground) in places.items():
        parts[name]["at"] = {"left": x, "front": y, "ground": ground}
    model = built(parts, {"holes": holes})
    sound(model)
    whole = built({"bed": parts["bed"]}, BARE).body("bed").solid
    lies = model.body("bed").solid
    missing = whole.volume - lies.volume
    buried = {join.b for join in model.built["bed"].joins if join.how == "embedded"}
    assert {"crag", "slab", "log", "fern.root", "riser.pipe_1", "hose.tube_1", "tank.up"} <= buried
    assert "fern.foliage" not in buried
    taken = 0.0
    for body in model.bodies:
        if body.name in buried:
            shared = overlap(lies, body.solid)
            assert shared is None or shared.volume < 2e-9, body.name
            common = intersection(whole, body.solid)
            taken += common.volume if common else 0.0
    assert 0 < missing - taken < 1e-4  # beside the solids only the bores of pipe, tube and bulkhead
    # sand stands around the pipe and the hose, and in neither
    for ends in (((0.9, 0.3, 0.001), (0.9, 0.3, 0.2)), ((0.101, 0.5, 0.06), (0.399, 0.5, 0.06))):
        assert not inside(lies, np.linspace(*ends, 30)).any()
    assert inside(lies, [[0.9, 0.33, 0.05], [0.25, 0.5, 0.045]]).all()


def test_beds_are_laid_in_the_order_of_the_file(built, sound):
    """Gravel below, sand over it: each is told with its own surface over the floor."""
    parts = {
        "gravel": {"kind": "substrate", "pitch": 40, "depth": 30, "material": "gravel"},
        "a_sand": {"kind": "substrate", "pitch": 40, "depth": 80},
    }
    model = built(parts, BARE)
    sound(model)
    assert model.body("gravel").solid.volume == pytest.approx(1.2 * 0.6 * 0.03)
    assert model.body("a_sand").solid.volume == pytest.approx(1.2 * 0.6 * 0.05)
    assert overlap(model.body("gravel").solid, model.body("a_sand").solid) is None


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        ({}, "", "its depth is not given"),
        ({"depth": 30, "front": 20, "back": 40}, "", "its depth is given twice"),
        ({"front": 30}, "front", "a slope lacks one end"),
        ({"depth": 700}, "depth", "700 mm deep in a tank 600 mm high"),
        ({"depths": [[0, 0, 30], [0, 0, 40]]}, "depths", "must be at least"),
        ({"depths": [[0, 0, -30]]}, "depths", "must be 0"),
        ({"depth": 30, "region": [500, 0, 100, 100]}, "region", "an empty region"),
        ({"depth": 30, "region": [1300, 0, 1400, 100]}, "region", "the region lies outside the tank"),
    ],
)
def test_a_bed_that_can_t_be_is_refused_where_it_says_so(refused, more, path, told):
    parts = {"bed": {"kind": "substrate", **more}}
    (only,) = refused(parts, {**BARE, "inside": [1200, 600, 600]})
    assert told in str(only)
    assert only.path == f"parts.bed.{path}".rstrip(".")


def test_a_grid_too_fine_is_told_with_the_pitch_that_goes(built, refused, monkeypatch):
    tank = {**BARE, "inside": [3000, 1000, 600]}
    (only,) = refused({"bed": {"kind": "substrate", "depth": 30, "pitch": 2}}, tank)
    assert only.path == "parts.bed.pitch"
    assert "a grid of 752,001 points" in only.found
    assert only.expected.startswith("a pitch of 3.9 mm or more")
    monkeypatch.setattr("layout3d.parts.substrate.MOST_POINTS", 2_000)  # so that what goes is soon made
    (only,) = refused({"bed": {"kind": "substrate", "depth": 30, "pitch": 4}}, tank)
    pitch = only.expected.removeprefix("a pitch of ").split(" mm or more")[0]
    assert 35 < float(pitch) < 45
    assert built({"bed": {"kind": "substrate", "depth": 30, "pitch": float(pitch)}}, tank)


def test_a_bed_outside_a_footprint_is_told(refused):
    tank = {"kind": "tank", "footprint": [[0, 0], [800, 0], [0, 500]], "height": 400, "glass": 10}
    (only,) = refused(
        {"tank": tank, "bed": {"kind": "substrate", "depth": 30, "region": [700, 400, 800, 500]}}
    )
    assert "the bed lies outside the tank" in only.found
    assert only.path == "parts.bed.region"


DEPTHS = st.one_of(st.integers(0, 500), st.sampled_from([-10, 0.1, 2999]))
BEDS = st.fixed_dictionaries(
    {"kind": st.just("substrate"), "pitch": st.sampled_from([30, 60, 100])},
    optional={
        "depth": DEPTHS,
        "front": DEPTHS,
        "back": DEPTHS,
        "depths": st.lists(
            st.tuples(st.integers(-100, 1300), st.integers(-100, 700), DEPTHS).map(list), max_size=5
        ),
        "roughness": st.floats(0, 1),
        "region": st.lists(st.integers(-200, 1400), min_size=4, max_size=4),
    },
)


@settings(max_examples=32, derandomize=True)
@given(BEDS, st.booleans())
def test_a_bed_of_any_make_is_sound_or_refused(any_make, spec, six_sided):
    """Told one way most of the time, for two ways at once are always refused."""
    ways = [way for way in ("depths", "depth", "front") if way in spec]
    for way in ways[1:]:
        spec = {key: value for key, value in spec.items() if key not in (way, "back")}
    half = 150 * 3**0.5
    hexagon = [[150, 0], [450, 0], [600, half], [450, 2 * half], [150, 2 * half], [0, half]]
    tank = {"tank": {"kind": "tank", "footprint": hexagon, "height": 400, "glass": 10}} if six_sided else {}
    rod = {"rod": {"kind": "heater", "at": {"left": 300, "front": 250, "ground": -20}, "length": 150}}
    any_make({**tank, "bed": spec, **rod})
