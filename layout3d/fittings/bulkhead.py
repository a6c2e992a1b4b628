"""Shape of a bulkhead in its pane of glass: flange, gasket, body, nut, drawn tight. Threads are rings.

Own axes: the origin is on the inside face of the glass, in the middle of the hole; +z points into the tank,
the glass lies from z = 0 to -thickness. Ports: 'inside' points to +z, 'outside' to -z.
"""

from __future__ import annotations

from functools import lru_cache

from layout3d.catalog.entry import Bulkhead
from layout3d.errors import OutOfRange
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import BODY_SIDES, Outline, corners, turned, within_corners
from layout3d.solid.primitives import sides
from layout3d.units import show

__all__ = ["bulkhead_shape"]

NUT_SIDES = 8
THREAD_PITCH = 4e-3  # of the drawn rings, [m]; the real thread's pitch is not known
MOST_RINGS = 7
THREAD_DEPTH = 0.8e-3  # [m]; common practice, no source
WATERWAY_SIDES = 32


@lru_cache(maxsize=256)
def bulkhead_shape(entry: Bulkhead, glass_thickness: float) -> FittingShape:
    """Return a bulkhead clamped on glass of this thickness, [m].

    Raises
    ------
    OutOfRange : the glass and the nut take more than the thread's length. A glass outside of ``grip_range``
        that still fits is made as it is: judging it is a check's task.
    """
    flange_top = entry.inside_height
    foot = entry.outside_length
    nut_end = glass_thickness + entry.nut_thickness
    if not glass_thickness > 0.0 or nut_end > foot:
        raise OutOfRange(
            f"bulkhead {entry.name}: its nut ends {show(nut_end, 'length')} behind the inside face of the "
            f"glass, its thread {show(foot, 'length')}",
            expected=f"glass above 0 and up to {show(foot - entry.nut_thickness, 'length')} thick",
            remedy="take a longer bulkhead, or give its length under `catalog: bulkheads:`",
        )
    flange, thread, socket, bore = (
        d / 2.0 for d in (entry.flange_diameter, entry.thread_diameter, entry.socket_diameter, entry.bore)
    )
    nut = within_corners(entry.nut_diameter / 2.0, NUT_SIDES)
    seat, edge = entry.gasket_thickness, 0.15 * entry.flange_thickness
    gasket, half_stop, middle = (
        0.97 * flange,
        entry.length / 2.0 - entry.socket_depth,
        (flange_top - foot) / 2.0,
    )
    above = ((flange - edge, flange_top), (flange, flange_top - edge), (flange, seat), (gasket, seat))
    stop, start = middle - half_stop, middle + half_stop
    shape = turned(
        [
            *corners(BODY_SIDES, *above, (gasket, 0.0), (thread, 0.0), (thread, -glass_thickness)),
            *corners(NUT_SIDES, (nut, -glass_thickness), (nut, -nut_end)),
            *_rings(thread, min(THREAD_DEPTH, 0.4 * (thread - socket)), -nut_end, -foot),
            *corners(sides(socket), (socket, -foot), (socket, stop)),
            *corners(WATERWAY_SIDES, (bore, stop), (bore, start)),
            *corners(sides(socket), (socket, start), (socket, flange_top)),
        ]
    )
    ports = tuple(
        FittingPort(
            name=name,
            at=(0.0, 0.0, z),
            direction=(0.0, 0.0, way),
            end="socket",
            socket_bottom=entry.socket_depth,
            bore=entry.bore,
        )
        for name, z, way in (("inside", flange_top, 1.0), ("outside", -foot, -1.0))
    )
    return FittingShape(kind="bulkhead", shape=shape, ports=ports)


def _rings(radius: float, depth: float, start: float, end: float) -> Outline:
    """Return the outline of the thread that shows behind the nut, from z ``start`` down to ``end``."""
    count = min(int((start - end) // THREAD_PITCH), MOST_RINGS)
    pitch = (start - end) / count if count else 0.0
    outline = [(radius - depth, start)]
    for ring in range(count):
        low = start - ring * pitch
        outline += [(radius, low - 0.5 * pitch), (radius - depth, low - pitch)]
    return corners(BODY_SIDES, *outline, *([] if count else [(radius - depth, end)]))
