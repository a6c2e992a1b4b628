"""Where a pipe stands that fits a fitting's port."""

from layout3d.fittings.port import FittingPort
from layout3d.solid.placement import Placement


def frame(port: FittingPort) -> Placement:
    """A placement at a port's seat, z outward: a pipe made along z fits it, flat on flat, without gaps."""
    upright = abs(port.direction[2]) > 0.9
    return Placement.from_frame(port.seat, (1, 0, 0) if upright else (0, 0, 1), port.direction)
