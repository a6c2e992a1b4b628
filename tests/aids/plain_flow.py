"""Formulas of one line each, and bars and pumps told in a few figures, for tests of what flows."""

import math

import numpy as np

from layout3d.fittings.losses import Loss
from layout3d.flow.bar import Bar
from layout3d.flow.network import Outlet
from layout3d.flow.pipe import factor_and_slope
from layout3d.flow.pump import Curve


def velocity_head(flow: float, bore: float) -> float:
    """Head [m] of the mean velocity of a flow [m³/s] in a full round bore [m]: V²/2g."""
    return (flow / (math.pi / 4 * bore**2)) ** 2 / (2 * 9.80665)


def factor(reynolds: float, rough: float = 0.0) -> float:
    """Darcy's friction factor that the solvers go by, [-]."""
    return float(factor_and_slope(np.float64(reynolds), np.float64(rough))[0])


def torricelli(diameter: float, head: float, coefficient: float = 0.62) -> float:
    """Flow [m³/s] of a round hole into air: C A sqrt(2 g h); White, Fluid Mechanics, 4th ed., sec. 3.7."""
    return coefficient * math.pi / 4 * diameter**2 * math.sqrt(2 * 9.80665 * head)


def hole(name: str, elevation: float, diameter: float, coefficient: float = 0.62) -> Outlet:
    """A drilled hole into air as an open end that loses 1/C² velocity heads: Torricelli's, turned about."""
    return Outlet(name=name, elevation=elevation, bore=diameter, loss=Loss.exact(coefficient**-2))


def parabola(shut_off_head: float, max_flow: float) -> Curve:
    """A pump whose head falls with the square of its flow, from its top at no flow to none."""
    return Curve(flows=(0.0, max_flow / 2, max_flow), heads=(shut_off_head, 0.75 * shut_off_head, 0.0))


def even_bar(count, *, pitch, first=None, tail=0.0, height=0.0, rise=0.0, diameter, **more) -> Bar:
    """A bar of equal holes, ``pitch`` apart, the first a pitch from the inlet or ``first``, [m].

    ``tail`` follows the last; ``height`` is that of the first, ``rise`` how much each metre rises, [m/m].
    """
    start = pitch if first is None else first
    places = [start + pitch * number for number in range(count)]
    return Bar(
        positions=places,
        diameters=(diameter,) * count,
        heights=[height + rise * (place - start) for place in places],
        length=places[-1] + tail,
        **more,
    )
