"""Pipe and socket sizes against standards, read from other places than our tables."""

import math

import fluids
import pytest

from layout3d.catalog import default

CATALOG = default()
NPS = {
    "3/8": 0.375,
    "1/2": 0.5,
    "3/4": 0.75,
    "1": 1.0,
    "1-1/4": 1.25,
    "1-1/2": 1.5,
    "2": 2.0,
    "2-1/2": 2.5,
    "3": 3.0,
}


@pytest.mark.parametrize("schedule", ["40", "80"])
@pytest.mark.parametrize("size", NPS)
def test_inch_pipe_against_the_astm_d1785_table_of_the_fluids_library(size, schedule):
    """ASTM D1785 as tabulated in ``fluids.piping`` (mm, rounded to 0.1 mm outside and 0.01 mm wall)."""
    _, inside, outside, wall = fluids.nearest_pipe(NPS=NPS[size], schedule=f"{schedule}D1785")
    pipe = CATALOG.pipe(f"{size} in sch {schedule}")
    assert pipe.outside_diameter == pytest.approx(outside, abs=0.06e-3)
    assert pipe.wall_min == pytest.approx(wall, abs=0.02e-3)
    nominal = pipe.outside_diameter - 2 * pipe.wall_min
    assert nominal == pytest.approx(inside, abs=0.12e-3)
    assert pipe.inside_diameter < nominal


def test_three_quarter_inch_by_name():
    """ASTM D1785: 1.050 in (26.67 mm) outside; makers' tables: 0.810 in average inside, 0.332 L/m."""
    pipe = CATALOG.pipe("3/4 in sch 40")
    assert pipe.outside_diameter == pytest.approx(0.02667, abs=1e-9)
    assert math.pi / 4 * pipe.inside_diameter**2 * 1e3 == pytest.approx(0.332, abs=0.0005)


@pytest.mark.parametrize("size", ["16", "20", "25", "32", "40", "50", "63"])
def test_metric_socket_depth_follows_iso_727_1(size):
    """ISO 727-1 rule: L = 0.5 d + 6 mm; z = d/2 + 1 mm for elbow 90 and tee (both from memory)."""
    pipe = CATALOG.pipe(f"d{size} pn 16")
    assert pipe.socket_depth == pytest.approx(0.5 * pipe.outside_diameter + 0.006, abs=1e-9)
    assert pipe.g_90 == pytest.approx(pipe.outside_diameter / 2 + 0.001, abs=1e-9)


@pytest.mark.parametrize(("size", "series"), [("25", 10), ("32", 10), ("50", 16), ("63", 16), ("16", 16)])
def test_metric_walls_carry_their_pressure_by_iso_161_1(size, series):
    """ISO 161-1: p = 2 sigma e / (d - e), sigma 10 MPa for PVC-U (25 MPa over 2.5), from memory.

    A class is met within the rounding: not less than 97 % of it.
    """
    pipe = CATALOG.pipe(f"d{size} pn {series}")
    pressure = 2 * 10.0e6 * pipe.wall_min / (pipe.outside_diameter - pipe.wall_min)
    assert pressure >= 0.97 * series * 1e5


@pytest.mark.parametrize(
    ("size", "schedule", "depth_in"),
    [
        ("1/2", 40, 0.688),
        ("3/4", 40, 0.719),
        ("1", 40, 0.875),
        ("2", 40, 1.156),
        ("1/2", 80, 0.875),
        ("1", 80, 1.125),
    ],
)
def test_inch_socket_depth(size, schedule, depth_in):
    """ASTM D2466 (schedule 40) and ASTM D2467 (schedule 80), minimum socket depth, inches."""
    assert CATALOG.pipe(f"{size} in sch {schedule}").socket_depth == pytest.approx(
        depth_in * 0.0254, abs=1e-9
    )


@pytest.mark.parametrize(
    ("size", "elbow_90", "elbow_45", "coupling"),
    [
        ("1/2", 1 / 2, 1 / 4, 3 / 32),
        ("3/4", 9 / 16, 5 / 16, 3 / 32),
        ("1-1/2", 1.0, 7 / 16, 3 / 32),
        ("3", 29 / 16, 3 / 4, 1 / 4),
    ],
)
def test_inch_take_off(size, elbow_90, elbow_45, coupling):
    """ASTM D2467 minimum take-off as tabulated by a PVC consultant, inches."""
    pipe = CATALOG.pipe(f"{size} in sch 80")
    assert pipe.g_90 == pytest.approx(elbow_90 * 0.0254, abs=1e-6)
    assert pipe.g_45 == pytest.approx(elbow_45 * 0.0254, abs=1e-6)
    assert pipe.coupling_gap == pytest.approx(coupling * 0.0254, abs=1e-6)
    assert 0.0 <= CATALOG.pipe(f"{size} in sch 40").g_90 - pipe.g_90 <= 0.002


def test_take_off_is_more_than_half_the_pipe():
    """Geometry: two pipes can't meet closer than half their diameter from the crossing of their axes."""
    for name in CATALOG.names("pipes"):
        pipe = CATALOG.pipe(name)
        if pipe.size == "3/8":  # 9.5 mm against 8.6 mm
            assert pipe.g_90 > pipe.outside_diameter / 2
        assert pipe.g_90 > 0.97 * pipe.outside_diameter / 2
