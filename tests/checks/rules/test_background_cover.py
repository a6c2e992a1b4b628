"""Cover over what a background hides, at its thinnest."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from layout3d.errors import SceneRefused

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
