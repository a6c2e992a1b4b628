"""Cut lengths of runs, worked by hand from tables: centre to centre, less take-offs, plus full sockets.

Sources of the figures (all in mm; 1 in = 25.4 mm):

- Socket depth, schedule 40: ASTM D2466, minimum depths, as reprinted in a maker's socket table: 3/4 in
  0.719 in = 18.2626 mm, 1/2 in 0.688 in = 17.4752 mm.
- Centre to socket bottom G of a 90 degree elbow and of a tee: ASTM D2467 take-out, as tabulated by a
  consultant: 3/4 in at least 9/16 in = 14.29 mm. Schedule 40 fittings as moulded: 14.5 mm (common practice,
  no source). Of a 45 degree elbow: 3/4 in 5/16 in = 7.9375 mm. Between the socket bottoms of a coupling:
  3/32 in = 2.38125 mm.
- Metric: socket depth 0.5 d + 6 (ISO 727-1 / EN ISO 1452-3), z = d/2 + 1 for elbow and tee (from memory,
  check before relying on it): d25 18.5 and 13.5 mm.

Cut length = centre to centre - G(a) - G(b); into a socket whose face is the start of the leg it is longer by
that socket's depth. A pipe that ends open or in a cap ends where its leg does: a cap's socket bottom.
"""

import math
from typing import Any

import pytest
from plain_scenes import build_plain

from layout3d.errors import SceneRefused

TANK = {
    "kind": "tank",
    "inside": [1500, 800, 700],
    "glass": 12,
    "holes": {
        "inch": {"panel": "back", "left": 150, "bottom": 150, "bulkhead": "3/4 in thin"},
        "metric": {"panel": "back", "left": 400, "bottom": 150, "bulkhead": "d25"},
    },
}


def built(parts: dict[str, Any]):
    scene = {"format": 1, "units": "mm", "waterline": 300, "parts": {"tank": TANK, **parts}}
    return build_plain(scene)


def cuts(parts: dict[str, Any], run: str = "run") -> list[float]:
    """Return the cut lengths of a run's pipes and tubes in order, [mm]."""
    elements = built(parts).built[run].data.elements
    return [1000 * element.cut_length for element in elements if element.kind in ("pipe", "tube")]


def run(start, route, pipe="3/4 in sch 40", **more):
    return {"kind": "run", "pipe": pipe, "start": start, "route": route, **more}


RISER_AND_BAR = [{"front": 100}, {"up": 400}, {"right": 900}, "cap"]


def test_riser_and_bar_in_schedule_40():
    """From a bulkhead: elbow, riser, elbow, bar, cap.

    Bulkhead to elbow: 100 - 14.5 + 18.2626 = 103.7626. Riser: 400 - 14.5 - 14.5 = 371.
    Bar: 900 - 14.5 = 885.5.
    """
    made = cuts({"run": run("inch.inside", RISER_AND_BAR)})
    assert made == pytest.approx([103.7626, 371.0, 885.5], abs=1e-6)


def test_riser_and_bar_in_d25():
    """Bulkhead to elbow: 100 - 13.5 + 18.5 = 105. Riser: 400 - 27 = 373. Bar: 900 - 13.5 = 886.5."""
    made = cuts({"run": run("metric.inside", RISER_AND_BAR, pipe="d25 pn 10")})
    assert made == pytest.approx([105.0, 373.0, 886.5], abs=1e-6)


def test_a_tee_and_the_run_from_its_branch():
    """Elbow to tee: 300 - 14.5 - 14.5 = 271; tee to cap: 200 - 14.5 = 185.5.

    The branch's leg counts from the tee's face: 250 + 18.2626 = 268.2626.
    """
    parts = {
        "main": run("inch.inside", [{"front": 100}, {"right": 300}, {"tee": "up"}, {"right": 200}, "cap"]),
        "branch": run("main.tee_1", [{"up": 250}, "cap"]),
    }
    assert cuts(parts, "main") == pytest.approx([103.7626, 271.0, 185.5], abs=1e-6)
    assert cuts(parts, "branch") == pytest.approx([268.2626], abs=1e-6)


def test_an_offset_with_two_45_degree_elbows():
    """An offset of 150: 150 sqrt(2) - 2 x 7.9375 = 212.1320 - 15.875 = 196.2570 between the sockets.

    Before it 300 - 7.9375 = 292.0625, behind it 300 - 7.9375 = 292.0625.
    """
    route = [{"right": 300}, {"by": [150, 0, 150]}, {"right": 300}, "cap"]
    made = cuts({"run": run([100, 300, 200], route)})
    assert made == pytest.approx([292.0625, 150 * math.sqrt(2) - 15.875, 292.0625], abs=1e-6)


def test_a_reduction_is_a_coupling_with_a_bush():
    """3/4 in to 1/2 in: the coupling's middle is the end of the first leg.

    First pipe: 200 - 2.38125 / 2 = 198.809375. The bush stands in the other socket, 1.190625 from the middle;
    it is the socket's depth and a rim of 4 long (common practice, no source), 18.2626 + 4 = 22.2626, less its
    own socket of 17.4752 = 4.7874. Second pipe: 200 - 1.190625 - 4.7874 = 194.021975.
    """
    made = cuts({"run": run([100, 300, 200], [{"right": 200}, {"reduce": "1/2 in sch 40"}, {"right": 200}])})
    assert made == pytest.approx([198.809375, 194.021975], abs=1e-6)


def test_going_up_in_size_is_the_same_two_fittings_the_other_way_round():
    route = [{"right": 200}, {"reduce": "3/4 in sch 40"}, {"right": 200}]
    made = cuts({"run": run([100, 300, 200], route, pipe="1/2 in sch 40")})
    assert made == pytest.approx([194.021975, 198.809375], abs=1e-6)


def test_straight_legs_are_one_pipe_and_a_coupling_makes_two():
    """Without a coupling 300 + 250 = 550; with one each is shorter by half of 2.38125."""
    assert cuts({"run": run([100, 300, 200], [{"right": 300}, {"right": 250}])}) == pytest.approx([550.0])
    made = cuts({"run": run([100, 300, 200], [{"right": 300}, "coupling", {"right": 250}])})
    assert made == pytest.approx([298.809375, 248.809375], abs=1e-6)


def test_from_a_pump_s_socket_into_a_bulkhead():
    """A pump's d25 outlet up into the outside of a bulkhead above it: both sockets are filled.

    Leg L from face to face: L + 18.5 + 18.5. The hole is in the bottom pane, so the bulkhead's thread ends
    56 - 8 = 48 mm below the inside floor; the pump's outlet is measured on the model.
    """
    tank = {**TANK, "holes": {"up": {"panel": "bottom", "left": 300, "front": 300, "bulkhead": "d25"}}}
    parts = {
        "tank": tank,
        "pump": {"kind": "pump", "model": "medium 2000", "outlet": "d25 pn 10", "at": [300, 300, -600]},
        "run": run("pump.outlet", [{"join": "up.outside"}], pipe="d25 pn 10"),
    }
    model = built(parts)
    outlet, bulkhead = model.ports["pump.outlet"], model.ports["tank.up.outside"]
    assert bulkhead.at == pytest.approx((0.3, 0.3, -0.048))
    leg = 1000 * (bulkhead.at[2] - outlet.at[2])
    assert cuts(parts) == pytest.approx([leg + 18.5 + 18.5], abs=1e-6)


def test_a_tube_is_as_long_as_its_legs_less_what_its_bends_cut_off():
    """A bend of radius r and turn t takes r tan(t/2) off both legs and puts r t in: r = 80 mm.

    Two right angles: 300 + 400 + 200 - 2 (2 x 80 - 80 pi / 2) = 900 - 2 x 34.3363 = 831.3274.
    One of 45 degrees: 300 + 100 sqrt(2) - (2 x 80 tan(22.5 deg) - 80 pi / 4) = 441.4214 - 3.4423 = 437.9791.
    """
    square = {"kind": "run", "tube": "12/16 mm", "bend_radius": 80, "start": [100, 300, 200]}
    made = cuts({"run": {**square, "route": [{"right": 300}, {"up": 400}, {"front": 200}]}})
    assert made == pytest.approx([831.3274], abs=1e-4)
    made = cuts({"run": {**square, "route": [{"right": 300}, {"by": [100, 0, 100]}]}})
    assert made == pytest.approx([437.9791], abs=1e-4)


def test_a_tube_is_pushed_over_the_whole_barb():
    """A leg counts from the barb's tip; the tube is longer by the barb's length, 1.4 x 12 = 16.8 mm.

    Barb length 1.4 times the tube's bore: common practice, no source.
    """
    parts = {
        "pump": {"kind": "pump", "model": "small 600", "outlet": "12/16 mm", "at": [300, 300, 0]},
        "run": {"kind": "run", "tube": "12/16 mm", "start": "pump.outlet", "route": [{"up": 250}]},
    }
    assert cuts(parts) == pytest.approx([250 + 16.8], abs=1e-6)


def too_short(parts: dict[str, Any]) -> SceneRefused:
    with pytest.raises(SceneRefused) as refused:
        built(parts)
    (only,) = refused.value.mistakes
    return only


@pytest.mark.parametrize(
    ("pipe", "needed"),
    [
        # two elbows whose faces touch: 2 (14.5 + 18.2626) = 65.5252, told as 65.6
        ("3/4 in sch 40", 65.5252),
        # 2 (13.5 + 18.5) = 64
        ("d25 pn 10", 64.0),
    ],
)
def test_a_leg_too_short_is_told_with_the_least_that_fits(pipe, needed):
    def parts(length):
        return {"run": run([100, 300, 200], [{"right": 200}, {"up": length}, {"right": 200}], pipe=pipe)}

    told = math.ceil(needed * 10 - 1e-6) / 10
    only = too_short(parts(needed - 0.002))  # twice what rounding is allowed
    assert f"expected {told:g} mm or more" in str(only)
    assert only.path == "parts.run.route[2]"
    # at the least, the pipe is two sockets long and the faces touch
    model = built(parts(needed))
    (middle,) = [e for e in model.built["run"].data.elements if e.kind == "pipe" and e.step == 2]
    depth = {"3/4 in sch 40": 18.2626, "d25 pn 10": 18.5}[pipe]
    assert 1000 * middle.cut_length == pytest.approx(2 * depth, abs=1e-6)
    assert built(parts(told))


def test_a_tube_s_leg_too_short_is_told_with_the_least_that_fits():
    """Two right angles of radius 60 take 60 each off the leg between them: 120."""

    def parts(length):
        route = [{"right": 200}, {"up": length}, {"right": 200}]
        return {
            "run": {
                "kind": "run",
                "tube": "12/16 mm",
                "bend_radius": 60,
                "start": [100, 300, 200],
                "route": route,
            }
        }

    only = too_short(parts(119.9))
    assert "expected 120 mm or more" in str(only)
    assert only.path == "parts.run.route[2]"
    assert built(parts(120))
