"""The ``cameras:`` section of a scene: spots, by name, that pictures and sheets are drawn from."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout3d.fields import Quantity, field
from layout3d.fields_composite import Entries, Position, PositionType, record

__all__ = ["CAMERAS", "CameraFields"]


@dataclass(frozen=True, kw_only=True)
class CameraFields:
    """A spot that pictures and sheets are drawn from."""

    at: Position = field(PositionType(), doc="where the camera stands")
    target: Position = field(PositionType(), doc="what lies in the middle of its pictures")
    angle: float = field(
        Quantity("angle", least=math.radians(2.0), most=math.radians(120.0)),
        math.radians(35.0),
        doc="of its lens, over the shorter side of the picture",
    )


CAMERAS = Entries(record(CameraFields, "a camera"), "a camera")
"""The type of the section."""
