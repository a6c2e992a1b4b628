"""Mouths, equipment and leaves that lie in foam, sand or rock."""

from types import SimpleNamespace

import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import buried as module

RULE = "buried"
PUMP = "pump: {PUMP, clear: 0, at: {left: 300, front: 200, bottom: BOTTOM}, fixed_to: tank.bottom}"


@pytest.mark.parametrize(("sand", "severity"), [(20, []), (45, ["warning"]), (62, ["fault"])])
def test_a_pump_in_the_sand_is_told_by_how_much_of_it_is(faulty, sand, severity):
    """It is 70 x 50 x 65 mm and stands 20 mm over the floor: 25 mm deep are 42 % of it, its inlet is free."""
    found = faulty(RULE, sand=sand)
    assert [f.severity for f in found if f.parts[0] == "pump"] == severity


def test_a_pump_that_stands_on_the_sand_is_not_in_it(check):
    sand = "sand: {SAND, depth: 40, pitch: 50}"
    assert check(RULE, f"{sand}\n{PUMP.replace('BOTTOM', '40')}", waterline=300) == ()


@pytest.mark.parametrize(
    "holder",
    [
        "sand: {SAND, depth: 350, pitch: 50}",
        "wall: {kind: background, panels: [back], thickness: 200, relief: {form: flat}, embeds: [rod]}",
    ],
)
def test_a_heater_in_sand_or_foam_is_a_fault(check, holder):
    rod = "rod: {kind: heater, length: 150, at: [300, 300, 100], fixed_to: tank.back}"
    (finding,) = check(RULE, f"{rod}\n{holder}", waterline=300)
    assert (finding.severity, finding.parts[0]) == ("fault", "rod")
    assert "fire" in finding.message
    assert ("cut_outs" in finding.remedy) == ("background" in holder)
    assert check(RULE, rod, waterline=300) == ()


@pytest.mark.parametrize(("sunk", "severity"), [(0, None), (5, None), (20, "warning"), (140, "fault")])
def test_a_heater_that_stands_in_sand_by_more_than_its_end_is_told(check, sunk, severity):
    """A rod 150 mm long and 30 thick: 20 mm and its end are some 13 % of its surface."""
    rod = f"rod: {{kind: heater, length: 150, at: [300, 300, {200 - sunk}], fixed_to: tank.back}}"
    found = check(RULE, f"sand: {{kind: substrate, depth: 200}}\n{rod}", waterline=380)
    assert [finding.severity for finding in found] == [severity] * bool(severity)


HOLES = "drain: {panel: back, left: 300, bottom: 250, bulkhead: 1 in thin}"
WALL = "wall: {kind: background, panels: [back], thickness: 150, relief: {form: flat}, embeds: [EMBEDS]}"


@pytest.mark.parametrize("end", ["strainer", "open"])
@pytest.mark.parametrize(("front", "closed"), [(60, True), (250, False)])
def test_foam_around_an_overflow_s_mouth_is_a_fault(check, end, front, closed):
    """The slab is 150 mm thick: an inlet that ends in it gets no water, one in front of it does."""
    run = f"run: {{kind: run, pipe: 1 in sch 40, start: drain.inside, route: [{{front: {front}}}, {end}]}}"
    found = check(RULE, f"{run}\n{WALL.replace('EMBEDS', 'run')}", holes=HOLES)
    assert [f.severity for f in found] == ["fault"] * closed
    for finding in found:
        assert finding.parts[-1] == "wall"
        assert "nothing gets through" in finding.message


def test_foam_over_a_bulkhead_with_nothing_in_it_is_a_fault(check):
    (finding,) = check(RULE, WALL.replace("EMBEDS", "drain"), holes=HOLES)
    assert finding.parts == ("tank.drain", "wall")


@pytest.mark.parametrize(("gap", "severity"), [(1.5, "fault"), (2.6, "fault"), (4.4, "warning"), (6, None)])
def test_a_mouth_close_over_the_glass_is_told_by_the_gap_that_is_left(check, gap, severity):
    """26.2 mm of bore: the gap all around is as large at a quarter of it, 6.5 mm, half of it at 3.3 mm."""
    down = f"[{{down: {200 - gap}}}, open]"
    drop = f"drop: {{kind: run, pipe: 1 in sch 40, start: [300, 200, 200], route: {down}}}"
    found = check(RULE, drop)
    told = [(severity, ("drop.pipe_1", "tank"))] if severity else []
    assert [(one.severity, one.parts) for one in found] == told
    for one in found:
        assert one.measured == pytest.approx(1 - 4 * gap / 26.2, abs=1 / 16)
        assert ("nothing gets through" in one.message) == (severity == "fault")


@pytest.mark.parametrize(("depth", "severity"), [(315, None), (325, "warning"), (335, "fault")])
def test_a_bed_higher_than_the_crest_of_a_box_is_told_by_how_much_of_the_slots_it_stops(
    check, depth, severity
):
    """Slots from 310 to 350 mm."""
    box = (
        "box: {kind: overflow_box, panel: back, left: 200, width: 200, depth: 100, top: 350, level: 250, "
        "weir: {depth: 40, slot: 6}}"
    )
    found = check(RULE, f"{box}\nsand: {{SAND, depth: {depth}, pitch: 50}}")
    assert [(one.severity, one.parts) for one in found] == (
        [(severity, ("box.front", "sand"))] if severity else []
    )


def test_an_air_line_that_ends_under_the_sand_is_a_fault(check):
    line = "line: {kind: run, tube: 4/6 mm, start: [300, 200, 200], route: [{down: 180}, open]}"
    assert check(RULE, line) == ()
    (finding,) = check(RULE, f"{line}\nsand: {{SAND, depth: 60, pitch: 50}}")
    assert (finding.severity, finding.parts) == ("fault", ("line.tube_1", "sand"))


def test_a_plant_foamed_in_is_a_fault_and_one_that_hangs_before_the_wall_is_not(check):
    fern = "fern: {FERN, at: [300, Y, 100], fixed_to: wall}"
    thick = WALL.replace("150", "300").replace("EMBEDS", "fern")
    (finding,) = check(RULE, f"{fern.replace('Y', '250')}\n{thick}")
    assert finding.parts == ("fern.foliage", "wall")
    assert check(RULE, f"{fern.replace('Y', '80')}\n{thick.replace('300', '150').replace('fern', '')}") == ()


def test_a_plant_under_a_stone_is_a_fault_and_one_on_it_is_not(check):
    fern = "fern: {kind: plant, height: 60, spread: 80, root: false, at: [300, 200, 20]FIXED}\n"
    stone = "stone: {kind: rock, mesh: block.obj, longest: 280, at: {left: 300, front: 200, bottom: 0}}"
    (finding,) = check(RULE, fern.replace("FIXED", "") + stone)
    assert finding.parts == ("fern.foliage", "stone")
    assert "more than 90% (limit leaves_buried)" in finding.message
    assert check(RULE, fern.replace("FIXED", ", fixed_to: stone") + stone) == ()


LIMITS = {"buried_share_least": 0.2, "buried_share": 0.5, "leaves_buried": 0.8}
AT = (1.0, 2.0, 3.0)


def around(share, *bodies):
    return SimpleNamespace(share=share, bodies=bodies or ("sand.bed",), at=AT)


def judged(monkeypatch, *, shares=None, inlet=None, mouths=(), kind="pump", leaves=None):
    """Run the rule over a device of two bodies, a plant and mouths, each with so much lying against it."""
    device = made_body("one.a", (0, 0, 0), (100, 100, 100)), made_body("one.b", (0, 0, 200), (10, 10, 210))
    plant = (
        made_body("fern.foliage", (0, 0, 0), (10, 10, 10), kind="foliage"),
        made_body("fern.root", (0, 0, 0), (10, 10, 10), kind="root"),
    )
    beds = made_body("sand.bed", (0, 0, 0), (1, 1, 1)), made_body("wall.slab", (0, 0, 0), (1, 1, 1))
    model = with_bodies(made_model(**LIMITS), *device, *plant, *beds)
    model.built["one"].anchors = {} if inlet is None else {"inlet": (0.0, 0.0, 0.05)}
    model.backgrounds = model.overflow_boxes = ()
    of = {kind: [model.built["one"]] if shares else [], "plant": [model.built["fern"]]}
    model.of_kind = lambda *kinds: [built for one in kinds for built in of.get(one, ())]
    told = dict(zip(("one.a", "one.b"), shares or (), strict=False)) | {"fern.foliage": leaves or 0.0}

    def around_body(model, body, groups=None):
        assert (groups == ("background", "substrate", "rock")) == body.name.startswith("fern")
        return around(told.get(body.name, 1.0))

    monkeypatch.setattr(module, "around_body", around_body)
    monkeypatch.setattr(module, "around_mouth", lambda *given, part: around(inlet, "wall.slab", "sand.bed"))
    found = {SimpleMouth(name): around(share) for name, share in mouths}
    monkeypatch.setattr(module, "against", lambda model: found)
    return list(module.buried.find(model))


class SimpleMouth:
    def __init__(self, body):
        self.body, self.words = body, f"the end of {body}"


@pytest.mark.parametrize(
    ("share", "severity"), [(0.2, None), (0.21, "warning"), (0.49, "warning"), (0.5, "fault"), (0.9, "fault")]
)
def test_how_much_lies_against_a_device_or_a_mouth(monkeypatch, share, severity):
    for found in (judged(monkeypatch, shares=(share, 0.0)), judged(monkeypatch, mouths=[("run.end", share)])):
        assert [one.severity for one in found] == ([severity] if severity else [])
        for one in found:
            assert (one.measured, one.limit, one.unit, one.at) == (share, 0.2, "-", AT)
            assert one.parts[1:] == ("sand",)
            assert (
                f"lies close against sand to {share:.0%}, more than 20% (limit buried_share_least)"
                in one.message
            )


def test_a_device_is_told_once_and_its_mouths_are_all_told(monkeypatch):
    found = judged(monkeypatch, shares=(0.3, 0.6))
    assert [one.parts[0] for one in found] == ["one.a"]
    ends = judged(monkeypatch, mouths=[("run.a", 0.3), ("run.b", 0.6)])
    assert [one.parts[0] for one in ends] == ["run.a", "run.b"]
    # a mouth of the device itself is told with it
    both = judged(monkeypatch, shares=(0.3, 0.0), mouths=[("one.outlet", 0.9)])
    assert [one.parts[0] for one in both] == ["one.a"]


def test_an_inlet_that_is_closed_counts_where_it_is_worse_than_the_whole(monkeypatch):
    (one,) = judged(monkeypatch, shares=(0.1, 0.0), inlet=0.7)
    assert (one.severity, one.parts, one.measured) == ("fault", ("one.inlet", "wall", "sand"), 0.7)
    assert one.message.startswith("the inlet of one lies close against wall and sand to 70%")
    (whole,) = judged(monkeypatch, shares=(0.7, 0.0), inlet=0.7)
    assert whole.parts == ("one.a", "sand")


@pytest.mark.parametrize(("share", "count"), [(0.8, 0), (0.81, 1)])
def test_leaves_may_lie_in_more(monkeypatch, share, count):
    found = judged(monkeypatch, leaves=share)
    assert [one.parts for one in found] == [("fern.foliage", "sand")] * count
