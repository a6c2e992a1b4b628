"""A scene changed in one process tells what a fresh check of the changed scene tells, to the last digit."""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_scenes import with_sump

from layout3d.checks.examine import examine
from layout3d.checks.measure import Joins
from layout3d.errors import LayoutError, SceneRefused
from layout3d.keep import forget
from layout3d.live import Live, Mover
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.report.json import check_json
from layout3d.scene.reader import read_scene
from layout3d.shop.hardscape_in import ways_in
from layout3d.shop.service import ways_out
from layout3d.solid.boolean import difference, intersection, trim
from layout3d.solid.distance import gap, overlap
from layout3d.solid.placement import Placement
from layout3d.water.cavity import tank_cavity
from layout3d.water.figures import figures
from layout3d.water.last_model import MODEL
from layout3d.water.remembered import kept

TEXT = """
format: 1
units: mm
waterline: water
values: {water: 250, deep: 40, riser: 180}
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 8, perimeter_brace: {width: 20, thickness: 6}}
  bed: {kind: substrate, depth: deep, pitch: 40}
  stone: {kind: rock, seed: 1, size: [120, 100, 80], detail: 300, at: {left: 150, front: 150, ground: 0}}
  block: {kind: rock, seed: 2, size: [100, 100, 90], detail: 300, at: {left: 400, front: 200, ground: -5}}
  upper: {kind: rock, seed: 3, size: [60, 60, 40], detail: 300,
    at: {left: 500, front: 100, waterline: -60}}
  fern: {kind: plant, seed: 1, height: 80, spread: 80, at: {left: 300, front: 300, ground: 0}}
  log: {kind: wood, form: log, seed: 2, length: 150, thickness: 40, branches: 0, detail: 2000, turn: 30,
    at: {left: 330, front: 120, ground: 5}}
  wall: {kind: background, panels: [back], thickness: 40, relief: {form: strata, depth: 15, pitch: 30}}
  pump: {kind: pump, model: small 1000, speed: 70 %, outlet: 1/2 in sch 40,
    at: {left: 80, back: 120, ground: 0}}
  bar:
    {kind: run, pipe: 1/2 in sch 40, start: pump.outlet,
     route: [{up: riser}, {right: 300, drip: {diameter: 2, pitch: 40, margin: 40, angles: [20 deg]}}, cap]}
clearances:
  - {between: [stone, block], at_least: 50, why: room for a hand}
"""

SLOPE = """
format: 1
units: mm
waterline: 160
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 8}
  bed: {kind: substrate, front: 20, back: 120, roughness: 0.2, seed: 3}
  stone: {kind: rock, seed: 1, size: [120, 100, 80], detail: 2000, at: {left: 250, front: 200, bottom: 90}}
"""

BURIED = """
format: 1
units: mm
waterline: 320
values: {buried: 200, out: 40}
parts:
  tank:
    {kind: tank, inside: [400, 300, 400], glass: 8,
     holes: {drip: {panel: back, left: 100, bottom: 300, bulkhead: d20},
             jet: {panel: back, left: 320, bottom: 150, bulkhead: d20}}}
  stone: {kind: rock, seed: 1, size: [80, 60, 50], detail: 300, rest: true,
    at: {left: 330, back: 110, bottom: 130}}
  wall:
    {kind: background, panels: [back], thickness: 60, relief: {form: strata, depth: 15, pitch: 30},
     embeds: [drip, jet, nozzle], channels: [{follow: bar, gap: 3}], splits: [210],
     cut_outs: [{panel: back, along: 100 + buried / 2, up: 285, width: buried - 40, height: 6, stop: 20}]}
  bar:
    {kind: run, pipe: d20 pn 16, start: drip.inside,
     route: [{front: 30}, {right: buried, drip: {diameter: 2, pitch: 60, margin: 40, angles: [20 deg]}}, cap]}
  nozzle: {kind: run, pipe: d20 pn 16, start: jet.inside, route: [{front: 60 + out}, nozzle]}
  bed: {kind: substrate, depth: 30, pitch: 40}
"""

CHANGES = {
    "water": ["250", "230 mm", "300"],
    "deep": ["40", "25", "60"],
    "parts.stone.at.left": ["150", "180", "320"],
    "parts.stone.at.ground": ["0", "-20"],
    "parts.stone.seed": ["1", "5"],
    "parts.block.at.ground": ["-5", "20"],
    "parts.fern.height": ["80", "110"],
    "parts.bed.material": ["sand", "gravel"],
    "parts.block.at.left": ["400", "5000"],
    "parts.log.at.front": ["120", "170", "300"],
    "parts.wall.thickness": ["40", "45"],
    "parts.pump.speed": ["70 %", "100 %"],
    "riser": ["180", "260"],
    "parts.tank.perimeter_brace.width": ["20", "150"],
}


def report(model):
    told = check_json(model, examine(model), figures(model))
    return json.dumps(told), ways_in(model), ways_out(model)


@settings(max_examples=3, suppress_health_check=[HealthCheck.too_slow])
@given(
    steps=st.lists(
        st.sampled_from(sorted(CHANGES)).flatmap(
            lambda k: st.tuples(st.just(k), st.sampled_from(CHANGES[k]), st.booleans())
        ),
        min_size=1,
        max_size=4,
    )
)
def test_random_changes_tell_what_a_fresh_check_tells(steps):
    """By way of a file as well, as one check after another goes."""
    model = build_model(read_scene("live.yaml", text=TEXT))
    report(model)
    changes = {}
    for name, value, filed in steps:
        changes[name] = value
        last = MODEL.unpack(MODEL.pack(model)) if filed else model
        model = build_model(read_scene("live.yaml", text=TEXT, overrides=changes), last=last)
    told = report(model)
    forget()
    fresh = build_model(read_scene("live.yaml", text=TEXT, overrides=changes))
    assert told == report(fresh)


def test_no_rule_and_no_figure_cuts_a_bed_around_its_stones():
    """It takes longer than all else that a moved stone asks for; its volumes are told without."""
    model = build_model(read_scene("slope.yaml", text=SLOPE, overrides={"parts.stone.at.bottom": "40 mm"}))
    examine(model)
    figures(model)
    bed = model.body("bed").solid
    assert bed.carving is not None
    assert "_cut" not in vars(bed.shape)


def test_pipe_lengths_in_a_wall_tell_what_a_fresh_check_tells():
    """By a thousandth of a millimetre as well, and of two pipes one after another."""
    live = Live("live.yaml", text=BURIED)
    report(live.model)
    live.change({"buried": "250"})
    report(live.model)
    changes = {"buried": "200.001", "out": "60"}
    live.change(changes)
    told = report(live.model)
    forget()
    assert told == report(build_model(read_scene("live.yaml", text=BURIED, overrides=changes)))


STONE = "stone: {kind: rock, seed: 1, size: [120 mm, 100 mm, 80 mm], detail: 300, at: {%s}}"
PLACES = {
    "in the water": "left: 200 mm, front: 150 mm, bottom: 0 mm",
    "over the overflow's mouth": "left: 800 mm, front: 390 mm, bottom: 215 mm",
    "half out of the water": "left: 200 mm, front: 150 mm, bottom: 220 mm",
    "into the pipe that feeds": "left: 400 mm, front: 440 mm, bottom: 270 mm",
    "out of the tank": "left: 980 mm, front: 150 mm, bottom: 450 mm",
}


def test_a_stone_moved_about_a_circuit_tells_what_a_fresh_check_tells():
    """What is kept of each place is asked at the next one: pipes, drains, levels, what an outage does."""
    last, told = None, set()
    for place in PLACES.values():
        fresh = with_sump(more=STONE % place)
        last = build_model(fresh.scene, last=last)
        found = examine(fresh), figures(fresh)
        assert (examine(last), figures(last)) == found, place
        told.add(repr(found))
    assert len(told) == len(PLACES)


SPARE = "spare: {kind: pump, model: small 1000, at: {left: 200 mm, front: 150 mm, bottom: 0 mm}}"


def test_what_runs_out_of_a_return_is_that_of_a_fresh_outage_once_another_pump_came():
    """The way back is kept, the graph of all pipes is another one then."""
    before, fresh = with_sump(), with_sump(more=SPARE)
    outages(before)
    after = build_model(fresh.scene, last=before)
    assert repr(outages(after)) == repr(outages(fresh))


def test_what_was_found_is_asked_again_only_where_what_was_read_differs():
    """By part and by body, by what a predicate lets through, and by what another kept result came out as."""
    asked = []

    def noted(find):
        @kept
        def found(model):
            asked.append(find.__name__)
            return find(model)

        return found

    @noted
    def pumps(model):
        return len(model.pumps)

    @noted
    def stones(model):
        return tuple(body.solid.volume for body in model.such(lambda body: body.group == "rock"))

    @noted
    def corner(model):
        return tuple(body.name for body in model.near((0.5, 0.3, 0.1), (0.6, 0.4, 0.4)))

    @noted
    def whole(model):
        return sum(stones(model)), "fern" in model.built, model.scene.clearances

    @noted
    def caught(model):
        try:
            model.body("none")
        except KeyError:
            return

    finds = {find.__wrapped__: find for find in (pumps, stones, corner, whole, caught)}
    live = Live("live.yaml", text=TEXT)

    def again(changes):
        asked.clear()
        model = live.change(changes)
        for find in finds.values():
            find(model), find(model)
        return set(asked)

    assert again({}) == {"pumps", "stones", "corner", "whole", "caught"}
    assert again({}) == {"caught"}  # whoever went on without an answer is asked anew
    assert again({"parts.stone.at.left": "180 mm"}) == {"stones", "caught"}  # as large as before
    assert again({"parts.stone.seed": "5"}) == {"stones", "whole", "caught"}
    assert again({"parts.block.at.left": "540 mm", "parts.block.at.front": "340 mm"}) >= {"stones", "corner"}


def test_what_a_change_does_not_touch_is_not_built_again():
    live = Live("live.yaml", text=TEXT)
    before = live.model.built
    after = live.change({"parts.stone.at.left": "180 mm"}).built
    same = {name for name in before if after[name] is before[name]}
    assert same == set(before) - {"stone"}  # it stands on the bed, which comes out as it was
    sunk = live.change({"parts.stone.at.ground": "-20 mm"}).built
    assert {name for name in before if sunk[name] is not after[name]} == {"stone", "bed"}
    lower = live.change({"water": "230"}).built
    assert {name for name in before if lower[name] is not sunk[name]} == {"upper"}
    deeper = live.change({"deep": "60"}).built
    assert {name for name in before if deeper[name] is lower[name]} == {"tank", "upper", "wall"}


def test_a_line_more_in_the_file_makes_nothing_anew_and_is_counted_in_what_is_told():
    before = build_model(read_scene("live.yaml", text=TEXT))
    report(before)
    longer = "# noted" + TEXT.replace("  fern:", "  # a fern\n\n  fern:")
    after = build_model(read_scene("live.yaml", text=longer, last=before.scene), last=before)
    report(after)
    assert all(after.built[name] is before.built[name] for name in before.built)
    assert all(after.known[question] is found for question, found in before.known.items())
    wrong, told = longer.replace("pump: {", "pumps: {").replace("water: 250", "water: 390"), []
    for last in (None, after):
        with pytest.raises(SceneRefused) as refused:
            build_model(read_scene("live.yaml", text=wrong, last=last and last.scene), last=last)
        told.append([str(mistake) for mistake in refused.value.mistakes])
    lines = [
        number for number, line in enumerate(wrong.splitlines(), start=1) if "start: pump.outlet" in line
    ]
    assert told[0] == told[1]
    assert [int(one.split(":")[1]) for one in told[1]] == lines


def test_names_in_another_order_are_built_in_that_order():
    before = build_model(read_scene("live.yaml", text=BURIED))
    drip, jet = (BURIED[BURIED.index(f"{name}: {{panel") :].partition("}")[0] for name in ("drip", "jet"))
    swapped = BURIED.replace(jet, "*").replace(drip, jet).replace("*", drip)
    fresh = build_model(read_scene("live.yaml", text=swapped))
    after = build_model(read_scene("live.yaml", text=swapped, last=before.scene), last=before)
    assert list(after.ports) == list(fresh.ports) != list(before.ports)


def test_a_stone_that_is_moved_has_no_bed_cut_anew():
    """Its surface is cut for whoever looks at it: a picture, say. What is told of it are sums."""
    live = Live("live.yaml", text=SLOPE)
    live.change({"parts.stone.at.bottom": "60 mm"})
    live.findings(), live.figures()
    bed = live.model.body("bed").solid
    assert "_cut" not in vars(bed.shape)
    assert bed.shape.area < live.model.body("bed").uncut.area + sum(
        cutter.area for cutter in bed.carving.cutters
    )
    assert "_cut" in vars(bed.shape)


def test_a_pipe_that_is_led_otherwise_through_a_bed_costs_its_own_share_of_it():
    """Fittings too; the bed stays what it was before any of them, less what each takes of it."""
    pipe = "{kind: run, pipe: d20 pn 16, start: [300, 300, 110], route: [{down: drop}, {right: 80}, cap]}"
    text = SLOPE.replace("160\nparts:", "160\nvalues: {drop: 60}\nparts:").replace("bottom: 90", "bottom: 50")
    text += f"  pipe: {pipe}\n"
    live = Live("live.yaml", text=text)
    live.findings()
    before = live.model.body("bed").solid.carving
    fixed = tank_cavity(live.model)._parted.fixed
    live.change({"drop": "64 mm"})
    told = report(live.model)
    after = live.model.body("bed").solid.carving
    assert after.base == before.base
    assert sum(part in before.taken for part in after.taken) == 1  # the stone's
    assert tank_cavity(live.model)._parted.fixed == fixed  # what all else in the water is looked at with
    bed = live.model.body("bed").solid
    assert bed.volume == pytest.approx(difference(after.base, after.cutters).volume, rel=1e-12)
    forget()
    assert told == report(build_model(read_scene("live.yaml", text=text, overrides={"drop": "64 mm"})))


def test_what_rests_on_a_piece_that_comes_out_the_same_is_not_built_again():
    """A piece at rest asks for all that it could lie on, and lies where it lay, whatever moved elsewhere."""
    rests = TEXT.replace("upper: {", "upper: {rest: true, ").replace("waterline: -60", "ground: 10")
    at = "{left: 500, front: 100, face_of: upper}"
    moss = f"  moss: {{kind: plant, form: moss, height: 15, spread: 40, at: {at}}}\n"
    live = Live("live.yaml", text=rests.replace("clearances:", moss + "clearances:"))
    before = live.model.built
    after = live.change({"parts.stone.at.left": "180 mm"}).built
    assert {name for name in before if after[name] is not before[name]} == {"stone"}


def test_a_change_that_is_refused_leaves_the_model_alone():
    live = Live("live.yaml", text=TEXT)
    before = live.model
    for wrong in (
        {"parts.stone.at.left": "wide"},
        {"parts.rock.seed": "1"},
        {"water": "900"},
        {"depth": "1"},
    ):
        with pytest.raises(LayoutError):
            live.change(wrong)
        assert live.model is before
    assert live.change({}).waterline == 0.25


def test_a_path_that_leads_nowhere_names_what_there_is():
    with pytest.raises(LayoutError, match=r"nothing is called 'parts\.ston'") as error:
        Live("live.yaml", text=TEXT, changes={"parts.ston.seed": "1"})
    assert "stone" in error.value.expected


@given(shift=st.tuples(*[st.floats(-0.3, 0.3)] * 3), turn=st.floats(-3.0, 3.0))
@settings(max_examples=10, deadline=None)
def test_the_quick_answer_agrees_with_the_exact_measures(shift, turn):
    model = build_model(read_scene("live.yaml", text=TEXT))
    own = model.body("stone")
    move = Placement.at(shift) @ Placement.turned((0, 0, 1), turn, about=own.solid.centroid)
    told = Mover(model, "stone").at(move)
    moved = own.solid.moved(move)
    for body in model.bodies:
        if body.part in ("stone", "bed") or body.kind == "foliage":
            continue
        apart = gap(moved, body.solid).distance
        joined = Joins(model).how(own, body)
        assert (("stone", body.name) in told.meets) == (apart == 0.0 and not joined)
        if overlap(moved, body.solid) is not None and not joined:
            assert ("stone", body.name) in told.meets
    distance = gap(moved, model.body("block").solid).distance
    assert [item.short for item in told.short] == pytest.approx([0.05 - distance] if distance < 0.05 else [])
    room = min(float(model.tank.room(moved.vertices).min()), *moved.bounds[0, 2:], 0.4 - moved.bounds[1, 2])
    assert told.inside == (room >= 0.0) or abs(room) < 1e-6
    assert np.isfinite(room)


@given(
    shift=st.tuples(st.floats(-0.02, 0.1), st.floats(-0.1, 0.1), st.floats(-0.06, 0.2)),
    turn=st.floats(-3.0, 3.0),
)
@settings(max_examples=8, deadline=None)
def test_the_water_displaced_is_what_is_missing_in_the_space(shift, turn):
    """Against the exact space: that of the tank with a bed, with and without the stone in it."""
    model = build_model(read_scene("slope.yaml", text=SLOPE))
    own = model.body("stone")
    move = Placement.at(shift) @ Placement.turned((0, 1, 0), turn, about=own.solid.centroid)
    bed = model.body("bed").uncut
    space = trim(difference(model.tank.interior, [bed]), normal=(0, 0, 1), offset=model.waterline)
    taken = intersection(space, own.solid.moved(move))
    told = Mover(model, "stone").displaced(move)
    # the bed counts as flat over each face of the stone
    assert told == pytest.approx(0.0 if taken is None else taken.volume, abs=0.004 * own.solid.volume)


@pytest.mark.parametrize(
    ("part", "move", "inside"),
    [
        ("pump", (0, 0, 0.35), True),
        ("pump", (0, 0, -0.05), False),
        ("pump", (-0.3, 0, 0), False),
        ("stone", (0, 0, 0.35), False),
        ("lamp", (-0.3, 0, 0), True),
    ],
)
def test_what_may_rise_over_the_rim_or_hangs_in_the_room_is_not_told_to_be_outside(part, move, inside):
    lamp = (
        "  lamp: {kind: light, size: [100, 80, 20], at: {left: 300, front: 150, top: -90}, fixed_to: room}\n"
    )
    model = build_model(read_scene("live.yaml", text=TEXT.replace("clearances:", lamp + "clearances:")))
    assert Mover(model, part).at(Placement.at(move)).inside == inside
