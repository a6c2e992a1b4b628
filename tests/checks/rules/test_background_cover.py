"""Cover over what a background hides, at its thinnest."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_bodies import made_body
from made_outages import made_model
from scipy.spatial import cKDTree

from layout3d.checks.rules import background_cover as module
from layout3d.errors import SceneRefused
from layout3d.parts.run_data import Element, RunData
from layout3d.solid.boolean import difference

RULE = "background-cover"

WALL = (
    "wall: {kind: background, panels: [PANELS], thickness: 80, relief: {RELIEF}, embeds: [bar], gap: GAP}\n"
)
BAR = "bar: {PIPE, start: START, route: [ROUTE], supports: [{at: [20], against: left}]}\n"


def scene(route, *, start="[100, 350, 200]", panels="back", relief="form: flat", gap=0, bar=BAR):
    wall = WALL.replace("PANELS", panels).replace("RELIEF", relief).replace("GAP", str(gap))
    return wall + bar.replace("START", start).replace("ROUTE", route).replace(
        ", supports: [{at: [20], against: left}]", ""
    )


@pytest.mark.parametrize(
    ("cover", "severity"),
    [(15.0, None), (14.9, "warning"), (0.1, "warning"), (0.0, "warning"), (-0.1, "fault")],
)
def test_either_side_of_each_limit(faulty, cover, severity):
    """15 mm of foam (limit background_cover); the widest piece is the cap, whose place is measured first."""
    (finding,) = faulty(RULE, depth_of_pipe=55)
    found = faulty(RULE, depth_of_pipe=repr(55 + finding.measured * 1000 - cover))
    assert [f.severity for f in found] == ([severity] if severity else [])
    assert [f.measured for f in found] == pytest.approx([cover / 1000] * len(found), abs=1e-8)


def test_cover_is_the_shortest_way_in_the_middle_of_a_pipe_too(check, model_of):
    """Against points strewn over the pipe and the front of a rough slab: never more, and hardly less."""
    text = scene(
        "{right: 400}, cap", start="[100, 345, 200]", relief="form: strata, depth: 60, seed: 4, pitch: 20"
    )
    (finding,) = check(RULE, text, more="limits: {background_cover: 80}\n")
    model = model_of(text)
    (slab,) = model.built["wall"].data.slabs
    pipe = model.body(finding.parts[0])
    u, v = (np.linspace(low, high, 250) for low, high in ((0.08, 0.52), (0.1, 0.3)))
    wide, high = (grid.ravel() for grid in np.meshgrid(u, v))
    front = np.column_stack([wide, high, slab.front_at(wide, high)])
    shell = pipe.solid.vertices
    ends = shell[:, 0].min(), shell[:, 0].max()
    rings = [shell + np.array([x - shell[:, 0].min(), 0, 0]) for x in np.linspace(*ends, 100)]
    points = np.vstack([ring[np.abs(ring[:, 0] - ring[:, 0].min()) < 1e-9] for ring in rings])
    sampled = cKDTree(front).query(slab.panel.local(points))[0].min()
    assert finding.measured <= sampled + 1e-9
    assert finding.measured == pytest.approx(sampled, abs=1e-3)


def test_a_pipe_that_goes_out_through_the_front_ends_its_cover(check):
    """From the wall straight to the front, open or into an elbow; but not where it ends in a cap."""
    assert check(RULE, scene("{front: 100}, open")) == ()
    assert check(RULE, scene("{front: 100}, {up: 80}, open")) == ()
    (finding,) = check(RULE, scene("{front: 100}, cap"))
    assert finding.severity == "fault"


def test_a_pipe_that_comes_in_through_the_front_begins_its_cover(check):
    """It starts in front of the wall, as on a pump, and stays in it to its cap."""
    text = scene("{back: 140}, {right: 200}, cap", start="[100, 230, 200]")
    assert check(RULE, text) == ()


def test_a_pipe_that_comes_out_in_its_middle_and_goes_back_is_found(check):
    route = "{right: 100}, {front: 100}, {right: 100}, {back: 100}, {right: 100}, cap"
    (finding,) = check(RULE, scene(route))
    assert finding.severity == "fault"
    assert finding.measured < -0.05


def test_a_run_in_front_of_the_wall_is_not_behind_it(check):
    (finding,) = check(RULE, scene("{right: 200}, open", start="[100, 200, 200]"))
    assert "none of bar is behind the front" in finding.message
    (finding,) = check(RULE, scene("{right: 200}, open", start="[100, 350, 200]", panels="left"))
    assert finding.severity == "fault"


def test_in_a_corner_the_slab_on_the_other_wall_covers_too(check):
    """The pipe stands 70 mm from the back, 10 mm under that slab's front, but deep in the left one."""
    upright = scene("{up: 100}, cap", start="[40, 330, 100]", panels="back, left")
    assert check(RULE, upright) == ()
    (finding,) = check(RULE, upright.replace("back, left", "back"))
    assert finding.measured < 0.010


def test_what_is_foamed_in_to_show_needs_no_cover(check):
    wall = (
        WALL.replace("PANELS", "back")
        .replace("RELIEF", "form: flat")
        .replace("GAP", "0")
        .replace("bar", "stone")
    )
    stone = "stone: {kind: rock, detail: 400, size: [100, 100, 100], at: [300, 310, 100]}"
    assert check(RULE, wall + stone) == ()


@pytest.mark.parametrize("way", ["right", "left"])
def test_a_slanted_wall_measures_the_same(check, way):
    """A square tank on its corner, with the pipe upright in each of its two back walls."""
    tank = "DIAMOND"
    name, x = {"right": ("side_2", 450), "left": ("side_3", 150)}[way]
    inward = 60 / 2**0.5
    start = f"[{x + (-inward if way == 'right' else inward)!r}, {450 - inward!r}, 100]"
    (finding,) = check(RULE, scene("{up: 100}, cap", start=start, panels=name), tank=tank)
    (straight,) = check(RULE, scene("{up: 100}, cap", start="[300, 340, 100]"))
    assert finding.measured == pytest.approx(straight.measured, abs=1e-4)


def test_a_piece_that_leaves_the_slab_on_purpose_is_let_off_where_the_scene_says_so(check, model_of):
    route = "{right: 100}, {front: 100}, {right: 100}, {back: 100}, {right: 100}, cap"
    text = scene(route)
    out = [b.name for b in model_of(text).bodies if b.part == "bar" and b.solid.bounds[0, 1] < 0.3351]
    told = text.replace("gap: 0}", f"gap: 0, comes_out: [{', '.join(out)}]}}")
    assert check(RULE, told) == ()
    with pytest.raises(SceneRefused, match="is no piece of what this background hides"):
        check(RULE, text.replace("gap: 0}", "gap: 0, comes_out: [bar.pipe_99]}"))


@pytest.mark.parametrize(
    ("up", "stop", "severity"),
    [(200, "", "fault"), (200, ", stop: 66", "warning"), (200, ", stop: 76", None), (240, "", None)],
)
def test_a_cut_out_that_bares_a_hidden_pipe_is_found(check, up, stop, severity):
    """A pipe of 20 mm in the middle of 80 mm of foam, 50 mm behind the glass: its front is at 60 mm."""
    cut = f"{{panel: back, along: 300, up: {up}, width: 60, height: 30{stop}}}"
    text = scene("{right: 400}, cap").replace("gap: 0}", f"gap: 0, cut_outs: [{cut}]}}")
    found = check(RULE, text, more="limits: {background_cover: 8}\n")
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert "cut-out of wall" in finding.message


def test_a_slit_over_drip_holes_is_meant_to_bare_them(check):
    cut = "{panel: back, along: 300, up: 200, width: 250, height: 6}"
    drips = scene("{right: 300, drip: {diameter: 2, pitch: 30, angles: [90 deg]}}, cap")
    text = drips.replace("gap: 0}", f"gap: 0, cut_outs: [{cut}]}}")
    assert check(RULE, text, more="limits: {background_cover: 8}\n") == ()


def test_an_opening_for_a_hand_over_a_valve_is_meant(check):
    cut = "{panel: back, along: 220, up: 200, width: 90, height: 90}"
    text = scene("{right: 100}, ball_valve, {right: 100}, cap").replace(
        "gap: 0}", f"gap: 0, cut_outs: [{cut}]}}"
    )
    assert check(RULE, text, more="limits: {background_cover: 1}\n") == ()
    assert len(check(RULE, text.replace("ball_valve, ", ""), more="limits: {background_cover: 1}\n")) == 1


# -- by hand ------------------------------------------------------------------------------------------------

MARKS = np.array([0.0, 0.1, 0.2, 0.3, 0.4])


@pytest.mark.parametrize(
    ("low", "high", "first", "last"),
    [
        (0.12, 0.28, 0.1, 0.3),
        (0.1, 0.3, 0.1, 0.3),
        (0.12, 0.15, 0.1, 0.2),  # a step at the least
        (-1.0, 9.0, 0.0, 0.4),
        (-1.0, 0.0, 0.0, 0.1),
        (0.4, 9.0, 0.3, 0.4),
        (0.39, 0.4, 0.3, 0.4),
    ],
)
def test_the_part_of_a_grid_over_a_stretch(low, high, first, last):
    part = MARKS[module._part(MARKS, low, high)]
    assert (part[0], part[-1]) == (first, last)


def slab(front=0.08, *, name="back", openings=()):
    """A slab over x from 0 to 1 m and z from 0 to 0.5, so deep from the glass at y 0 on."""
    return SimpleNamespace(
        panel=SimpleNamespace(name=name, local=lambda points: np.asarray(points)[:, [0, 2, 1]]),
        u=np.array([0.0, 0.5, 1.0]),
        v=np.array([0.0, 0.5]),
        front=np.full((3, 2), front),
        front_at=lambda u, v: np.full(len(u), front),
        openings=openings,
    )


@pytest.mark.parametrize(
    ("low", "reaches"),
    [
        ((100, 0, 100), True),
        ((1040, 0, 100), True),
        ((1060, 0, 100), False),
        ((-260, 0, 100), False),
        ((100, 0, 560), False),
        ((100, 0, -260), False),
        ((-240, 0, -240), True),
    ],
)
def test_what_of_a_slab_lies_over_a_body_and_its_margin(low, reaches):
    """A body of 200 mm, 50 mm round it."""
    body = made_body("pipe", low, tuple(a + 200 for a in low))
    window = module._window(slab(), body.solid, 0.05)
    assert (window is not None) == reaches
    if reaches:
        u, v, front = window
        assert front.shape == (len(u), len(v))


def element(body, *path, kind="pipe", holes=()):
    return Element(kind=kind, body=body, size="d20", outside=0.02, bore=0.017, path=path, holes=holes)


def built_run(elements, *, end="open"):
    data = RunData.__new__(RunData)
    object.__setattr__(data, "elements", tuple(elements))
    object.__setattr__(data, "end", end)
    model = made_model()
    model.built = {"bar": SimpleNamespace(data=data), "stone": SimpleNamespace(data=None)}
    return model


COVERS = {}
"""How thin the cover over a body is, and where, by its name."""


def cover(name, value=0.02, *, behind=True, group="plumbing", kind="pipe", at=(0.1, 0.05, 0.1), over=None):
    low = tuple(round(1000 * x) - 10 for x in at)
    body = made_body(name, low, tuple(x + 20 for x in low), group=group, kind=kind)
    COVERS[name] = (value, at)
    return module._Hidden(body=body, slab=over or slab(), behind=behind)


def test_near_holes_and_valves_are_the_pieces_up_to_two_on_either_side():
    names = [f"bar.{number}" for number in range(9)]
    elements = [element(name, (0, 0, 0), (1, 0, 0)) for name in names]
    elements[4] = element(names[4], (0, 0, 0), (1, 0, 0), holes=(object(),))
    assert module._near_holes(built_run(elements), "bar") == set(names[2:7])
    elements[4] = element(names[4], (0, 0, 0), (1, 0, 0), kind="ball_valve")
    assert module._near_holes(built_run(elements), "bar") == set(names[2:7])
    elements[4] = element(names[4], (0, 0, 0), (1, 0, 0), kind="elbow_90")
    assert module._near_holes(built_run(elements), "bar") == set()
    elements[0] = element(names[0], (0, 0, 0), (1, 0, 0), holes=(object(),))
    assert module._near_holes(built_run(elements), "bar") == set(names[:3])
    assert module._near_holes(built_run(elements), "stone") == set()


IN, OUT, FRONT = (0.1, 0.05, 0.1), (0.1, 0.2, 0.1), (0.1, 0.08, 0.1)
"""Places behind the front of a slab of 80 mm, before it, and in it."""


@pytest.mark.parametrize(
    ("first", "last", "outer", "goes"),
    [
        (OUT, IN, 0, True),
        (OUT, IN, -1, False),
        (IN, OUT, -1, True),
        (IN, OUT, 0, False),
        (OUT, OUT, 0, False),
        (IN, IN, 0, False),
        (FRONT, IN, 0, True),
        (OUT, FRONT, 0, False),
    ],
)
def test_what_goes_in_through_the_front(first, last, outer, goes):
    assert module._goes_in(element("bar.1", first, (0.5, 0.9, 0.3), last), slab(), outer) == goes


def test_a_run_is_led_out_from_either_open_end_as_far_as_it_stands_before_the_slab():
    """Outside, in through the front, two in it, out through the front, outside."""
    elements = [
        element("0", OUT, OUT),
        element("1", OUT, IN),
        element("2", IN, IN),
        element("3", IN, IN),
        element("4", IN, OUT),
        element("5", OUT, OUT),
    ]
    covers = [cover(str(number), behind=number in (1, 2, 3, 4)) for number in range(5)]  # none over the last
    led = module._led_out
    assert led(built_run(elements), "bar", covers) == {"0", "1", "4", "5"}
    assert led(built_run(elements, end="cap"), "bar", covers) == {"0", "1"}
    assert led(built_run(elements), "stone", covers) == set()
    assert led(built_run(elements), "nothing", covers) == set()


@pytest.fixture
def judged(monkeypatch):
    """Run the rule over covers made by hand for what a background hides."""

    def run(*covers, model=None, comes_out=(), none_over=(), bared=()):
        model = model or built_run([])
        values = {"background_cover": 0.015, "background_cover_least": 0.0}
        model.scene.catalog.limit = lambda name: SimpleNamespace(value=values[name])
        of = {one.body.name: one for one in covers}
        bodies = [one.body for one in covers] + [made_body(name, (0, 0, 0), (1, 1, 1)) for name in none_over]
        model.bodies_of = lambda *names: bodies
        asked = []

        def hidden(body, slabs, margin):
            asked.append(margin)
            return of.get(body.name)

        def thinnest(one, slabs, margin):
            asked.append(margin)
            return COVERS[one.body.name]

        monkeypatch.setattr(module, "_hidden", hidden)
        monkeypatch.setattr(module, "_cover", thinnest)
        monkeypatch.setattr(module, "_bared", lambda model, wall, name, kept: bared)
        data = SimpleNamespace(hides=("bar", "bar"), slabs=(), comes_out=comes_out)
        model.backgrounds = (SimpleNamespace(part=SimpleNamespace(name="wall"), data=data),)
        found = list(module.background_cover.find(model))
        assert set(asked) <= {0.05}
        return found

    return run


def test_the_thinnest_of_what_is_hidden_is_told_in_full(judged):
    found = judged(cover("bar.a", 0.012), cover("bar.b", 0.010, at=(0.3, 0.05, 0.2)), cover("bar.c", 0.011))
    (one,) = found
    assert (one.severity, one.parts, one.limit) == ("warning", ("bar.b", "wall"), 0.015)
    assert (one.measured, one.at) == (0.010, (0.3, 0.05, 0.2))
    assert one.message == (
        "bar.b lies 10 mm under the front of wall on back at its thinnest: 5 mm short of 15 mm (limit "
        "background_cover)"
    )
    assert "move bar 5 mm towards the glass" in one.remedy
    (out,) = judged(cover("bar.a"), cover("bar.b", -0.003))
    assert out.severity == "fault"
    assert out.message.startswith("bar.b sticks 3 mm out of the front of wall on back")


def test_what_may_come_out_needs_no_cover(judged):
    thin = {"value": 0.001}
    assert judged(cover("bar.a", 0.001, group="rock")) == []
    for kind in ("bulkhead", "strainer", "nozzle", "clip", "suction_cup"):
        assert judged(cover("bar.a", 0.001, kind=kind)) == []
    assert len(judged(cover("bar.a", **thin))) == 1
    assert judged(cover("bar.a", **thin), comes_out=("bar.a",)) == []
    elements = [element("bar.a", OUT, IN), element("bar.b", IN, IN)]
    assert judged(cover("bar.a", **thin), cover("bar.b"), model=built_run(elements)) == []


def test_what_has_no_piece_behind_the_front_is_hidden_by_nothing(judged):
    (one,) = judged(cover("bar.a", behind=False), none_over=("bar.b",))
    assert (one.severity, one.parts, one.measured) == ("fault", ("wall", "bar"), None)
    assert judged(cover("bar.a", behind=False), cover("bar.b"), none_over=("bar.c",)) == []


def bared(*covers, near=()):
    """Ask for what a cut-out bares, with 15 mm wanted."""
    model = made_model(background_cover=0.015)
    elements = [element(name, (0, 0, 0), (1, 0, 0), holes=(object(),)) for name in near]
    model.built = built_run(elements).built
    return list(module._bared(model, "wall", "bar", list(covers)))


def opening(left):
    """A cut-out that begins so far right of a pipe from 90 to 110 mm, [mm]."""
    return made_body("cut", (110 + left, 30, 80), (200 + left, 80, 120)).solid


@pytest.mark.parametrize(
    ("left", "severity"), [(15.1, None), (14.9, "warning"), (0.1, "warning"), (-5, "fault")]
)
def test_what_a_cut_out_leaves_over_a_pipe(left, severity):
    """The nearest of all cut-outs and pieces counts."""
    made = slab(openings=(opening(40), opening(left), opening(30)))
    found = bared(cover("bar.far", at=(0.05, 0.05, 0.3)), cover("bar.a", over=made))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("bar.a", "wall"), 0.015)
        assert one.measured == pytest.approx(left / 1000)
        how = f"leaves {left:g} mm over" if left > 0 else "bares"
        assert one.message.startswith(f"a cut-out of wall {how} bar.a: ")


def test_a_slit_near_what_leads_to_the_holes_is_let_be_and_one_that_bares_it_is_not():
    """One over the holes themselves is meant."""
    for left, count in ((5, 0), (-5, 1)):
        found = bared(cover("bar.a", over=slab(openings=(opening(left),))), near=("bar.holes",))
        assert len(found) == count
    assert bared(cover("bar.a", over=slab(openings=(opening(-5),))), near=("bar.a",)) == []


def test_of_two_slabs_the_one_on_the_nearer_panel_covers(check):
    """40 mm from the left glass and 70 from the back, in 80 mm of foam on both; and the other way about."""
    for start, name in (("[40, 330, 100]", "left"), ("[70, 360, 100]", "back")):
        upright = scene("{up: 100}, cap", start=start, panels="back, left")
        (finding,) = check(RULE, upright, more="limits: {background_cover: 200}\n")
        assert f"the front of wall on {name} at its thinnest" in finding.message


@pytest.mark.parametrize(("panels", "sure_of"), [("back", {0.0, 1.0}), ("back, left", {1.0})])
def test_what_is_told_of_a_body_without_a_cut_is_what_a_cut_tells(model_of, panels, sure_of):
    """Blocks strewn behind the front of a rough slab, in it and before it, and beside it."""
    text = scene("{right: 100}, cap", panels=panels, relief="form: strata, depth: 60, seed: 4, pitch: 20")
    slabs = model_of(text).built["wall"].data.slabs
    rng, told = np.random.default_rng(5), []
    for number in range(60):
        low = np.array([rng.uniform(-50, 600), rng.uniform(100, 420), rng.uniform(-50, 400)]).round()
        body = made_body(f"block_{number}", tuple(low), tuple(low + rng.uniform(5, 60, 3).round()))
        sure = module._surely(body.solid, slabs)
        told.append(sure)
        if sure is not None:
            over, stretch = module._over(body.solid, slabs)
            ahead = module._ahead(slabs, over, stretch, 0.05)
            assert sure == (over, difference(stretch, [ahead]) is not None)
    assert {one[1] for one in told if one} == sure_of
    assert None in told
