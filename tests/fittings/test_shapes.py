"""Fittings: closed, hollow, ports where the standards put them, and pipes that fill their sockets."""

import math

import numpy as np
import pytest
from seated import frame

from layout3d.catalog import default
from layout3d.errors import OutOfRange
from layout3d.fittings.hub import chamfer
from layout3d.fittings.registry import fitting, fittings
from layout3d.solid.boolean import section
from layout3d.solid.distance import gap, inside, overlap
from layout3d.solid.primitives import tube

CATALOG = default()
SMALLER = {
    "3/8 in sch 40": None,
    "3 in sch 80": "2 in sch 80",
    "d16 pn 16": None,
    "d63 pn 10": "d50 pn 16",
}
"""The least and the largest size of each system; those between lie in the runs of ``tests/parts/run``."""
LOOPS = {
    "tee": 2,
    "wye": 2,
    "cap": 0,
    "air_stone": 0,
    "strainer": 32,
}  # handles of the surface: ways through, less one; slots count too


SMALL = ("3/8 in sch 40", "d16 pn 16")  # no rubber coupling is made for these


def made(kind, pipe, **more):
    smaller = SMALLER.get(pipe) if kind == "reducing_bush" else None
    return fitting(kind).shape(fitting(kind).size(CATALOG, pipe, smaller), **more)


CASES = [
    (kind, pipe)
    for pipe, smaller in SMALLER.items()
    for kind in fittings()
    if (smaller is not None or kind != "reducing_bush") and not (kind == "rubber_coupling" and pipe in SMALL)
]


@pytest.mark.parametrize(("kind", "pipe"), CASES)
def test_one_closed_solid_with_a_way_through_and_few_faces(kind, pipe):
    part = made(kind, pipe)
    assert len(part.shape.manifold.decompose()) == 1
    assert part.shape.manifold.genus() == LOOPS.get(kind, 1)
    assert len(part.shape.faces) <= 3500
    assert part.shape.volume > 0.0


@pytest.mark.parametrize("pipe", CATALOG.names("pipes"))
@pytest.mark.parametrize("kind", ["elbow_90", "elbow_45", "tee"])
def test_every_size_can_be_made_and_its_faces_lie_at_take_off_and_socket_depth(kind, pipe):
    """H = G + socket depth."""
    entry = CATALOG.pipe(pipe)
    take_off = entry.g_45 if kind == "elbow_45" else entry.g_90
    part = made(kind, pipe)
    for port in part.ports:
        assert np.dot(port.at, port.direction) == pytest.approx(take_off + entry.socket_depth, abs=1e-12)
        assert np.dot(port.seat, port.direction) == pytest.approx(take_off, abs=1e-12)
        reach = (part.shape.vertices @ np.array(port.direction)).max()
        if kind != "elbow_45":
            assert reach == pytest.approx(take_off + entry.socket_depth, abs=1e-9)


@pytest.mark.parametrize("pipe", ["3/4 in sch 40", "d32 pn 16"])
def test_volume_of_a_coupling(pipe):
    """Closed form: sleeve with two frustum rims, less two sockets and the bore between."""
    entry = CATALOG.pipe(pipe)
    outside, rim = entry.hub_diameter / 2, chamfer(entry)
    face = entry.coupling_gap / 2 + entry.socket_depth
    sleeve = math.pi * outside**2 * 2 * (face - rim)
    inner = outside - rim
    rims = 2 * math.pi * rim * (outside**2 + outside * inner + inner**2) / 3
    sockets = 2 * math.pi / 4 * entry.outside_diameter**2 * entry.socket_depth
    bore = math.pi / 4 * entry.inside_diameter**2 * entry.coupling_gap
    assert made("coupling", pipe).shape.volume == pytest.approx(sleeve + rims - sockets - bore, rel=1e-9)


@pytest.mark.parametrize(("kind", "pipe"), CASES)
def test_a_pipe_in_each_socket_touches_it_and_shares_no_space(kind, pipe):
    part = made(kind, pipe)
    entries = {"a": CATALOG.pipe(pipe), "branch": CATALOG.pipe(pipe), "b": CATALOG.pipe(pipe)}
    if kind == "reducing_bush":
        entries["b"] = CATALOG.pipe(SMALLER[pipe])
    body = part.shape.solid()
    for port in part.ports:
        if port.end != "socket":
            continue
        entry = entries[port.name]
        length = 3 * entry.outside_diameter + entry.socket_depth
        piece = tube(entry.outside_diameter / 2, entry.inside_diameter / 2, length).solid(frame(port))
        assert overlap(body, piece) is None
        assert gap(body, piece).distance < 1e-6


@pytest.mark.parametrize(
    "kind",
    ["elbow_90", "elbow_45", "tee", "wye", "coupling", "union", "ball_valve", "gate_valve", "check_valve"],
)
def test_two_pipes_in_one_fitting_keep_apart(kind):
    part = made(kind, "3/4 in sch 40")
    entry = CATALOG.pipe("3/4 in sch 40")
    pieces = [
        tube(entry.outside_diameter / 2, entry.inside_diameter / 2, 0.2).solid(frame(port))
        for port in part.ports
    ]
    for i, one in enumerate(pieces):
        for other in pieces[i + 1 :]:
            assert gap(one, other).distance > 0.0


@pytest.mark.parametrize(
    "kind", ["elbow_90", "elbow_45", "tee", "wye", "coupling", "union", "ball_valve", "gate_valve", "nozzle"]
)
def test_water_gets_through(kind):
    """The axis from each seat to the fitting's middle runs in the waterway, which is the bore wide."""
    part = made(kind, "1 in sch 40")
    entry = CATALOG.pipe("1 in sch 40")
    body = part.shape.solid()
    for port in part.ports:
        seat, way = np.array(port.seat), np.array(port.direction)
        ring = seat + 0.0005 * way
        up = np.array([0.0, 0.0, 1.0])
        across = np.cross(way, up)
        for turn in np.linspace(0, 2 * math.pi, 8, endpoint=False):
            beside = math.cos(turn) * up + math.sin(turn) * across
            assert not inside(
                body,
                [ring + 0.97 * entry.inside_diameter / 2 * beside * (0.6 if port.end == "open" else 1.0)],
            )[0]
        assert not inside(body, [seat - 0.001 * way])[0]


def test_a_closed_ball_valve_has_no_way_through_and_its_lever_lies_across():
    valve = fitting("ball_valve")
    size = valve.size(CATALOG, "1 in sch 40")
    open_valve, closed = valve.shape(size, opening=1.0), valve.shape(size, opening=0.0)
    assert open_valve.shape.manifold.genus() == 1
    assert closed.shape.manifold.genus() == 0
    assert inside(closed.shape.solid(), [(0.0, 0.0, 0.0)])[0]
    assert open_valve.shape.bounds[1, 0] == pytest.approx(max(size.handle, size.face[1]), rel=1e-3)
    assert closed.shape.bounds[1, 1] == pytest.approx(size.handle, rel=1e-3)
    with pytest.raises(ValueError, match="opening"):
        valve.shape(size, opening=1.5)


def test_an_elbow_in_section_has_the_bend_of_its_take_off():
    """In the plane of both axes the bore lies at bend radius plus and less bore radius from the centre."""
    entry = CATALOG.pipe("2 in sch 40")
    part = made("elbow_90", "2 in sch 40")
    loops = section(part.shape.solid(), origin=(0, 0, 0), normal=(0, 0, 1))
    points = np.concatenate(loops)
    centre = np.array([-entry.g_90, entry.g_90])
    inner = points[(points[:, 0] > -entry.g_90 + 1e-6) & (points[:, 1] < entry.g_90 - 1e-6)]
    away = np.linalg.norm(inner[:, :2] - centre, axis=1)
    bore = entry.inside_diameter / 2
    assert np.isclose(away, entry.g_90 + bore, rtol=2e-3).sum() >= 7
    assert np.isclose(away, entry.g_90 - bore, rtol=1e-2).sum() >= 7


def test_a_bush_fills_the_larger_socket():
    """Its spigot's tip meets the socket's bottom, its rim the socket's face."""
    large = CATALOG.pipe("1 in sch 40")
    made_bush = fitting("reducing_bush")
    bush = made_bush.shape(made_bush.size(CATALOG, large, "3/4 in sch 40"))
    coupling = made("coupling", "1 in sch 40")
    seat = frame(coupling.port("b"))
    # the bush comes in along +x from its tip: lay its x along the port's outward direction
    from layout3d.solid.shape import Placement

    placed = bush.shape.solid(seat @ Placement.from_frame((0, 0, 0), (0, 0, 1), (1, 0, 0)).inverse())
    assert overlap(coupling.shape.solid(), placed) is None
    assert gap(coupling.shape.solid(), placed).distance < 1e-6


def test_a_take_off_too_short_for_the_bore_is_refused():
    mine = CATALOG.with_own({"pipes": {"short": {"like": "1 in sch 40", "g_90": 0.0125}}})
    with pytest.raises(OutOfRange, match=r"centre to socket bottom of 12\.5 mm leaves no wall"):
        fitting("elbow_90").shape(fitting("elbow_90").size(mine, "short"))


def test_the_same_fitting_is_made_once():
    assert made("tee", "1 in sch 40") is made("tee", "1 in sch 40")
