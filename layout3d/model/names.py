"""Names in ``clearances:`` and ``accept:``, held against what the scene is built into."""

from __future__ import annotations

from collections.abc import Mapping

from layout3d.errors import LayoutError, UnknownName, nearest
from layout3d.parts.base import GROUPS, Built, Part
from layout3d.parts.tank_data import TankData
from layout3d.scene.scene import Scene

__all__ = ["unknown_names"]


def unknown_names(scene: Scene, built: Mapping[str, Built[Part, object]]) -> list[LayoutError]:
    """Return a mistake for each name that nothing bears; else a slip of the pen would ask for nothing.

    A clearance is between parts, bodies or groups. A finding may also be of a hole, a port or a space.
    """
    solid = {*built, *GROUPS, *(body.name for item in built.values() for body in item.bodies)}
    all_known = set(solid)
    for item in built.values():
        all_known |= {port.name for port in item.ports}
        all_known |= {space.name for space in item.keep_clear} | {space.name for space in item.spaces}
        if isinstance(item.data, TankData):
            all_known |= set(item.data.holes)
    mistakes: list[LayoutError] = []
    for section, entries, known in (
        ("clearances", [entry.between for entry in scene.clearances], solid),
        ("accept", [entry.parts for entry in scene.accept], all_known),
    ):
        mistakes += [
            UnknownName(
                f"nothing in the scene is called {name!r}",
                expected=nearest(name, known),
                path=f"{section}[{number}]",
            )
            for number, names in enumerate(entries, start=1)
            for name in names
            if name not in known
        ]
    for part in scene.parts:
        for name in getattr(part, "fixed_to", ()):
            if name not in all_known and name != "room":
                found = f"nothing in the scene is called {name!r}"
                mistakes.append(part.mistake("fixed_to", found, expected=nearest(name, {*all_known, "room"})))
    return mistakes
