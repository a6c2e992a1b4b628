"""The JSON Schemas that ship with the package, by name."""

from __future__ import annotations

from importlib import resources

from layout3d.errors import UnknownName, nearest

__all__ = ["SCHEMAS", "schema_text"]

SCHEMAS = {
    "scene": ("layout3d.scene", "scene.schema.json"),
    "check": ("layout3d.report", "schema/check.json"),
    "volume": ("layout3d.report", "schema/volume.json"),
    "flow": ("layout3d.report", "schema/flow.json"),
    "outage": ("layout3d.report", "schema/outage.json"),
    "sheet": ("layout3d.report", "schema/sheet.json"),
    "place": ("layout3d.report", "schema/place.json"),
    "sweep": ("layout3d.report", "schema/sweep.json"),
    "manifest": ("layout3d.report", "schema/manifest.json"),
    "parts": ("layout3d.report", "schema/parts.json"),
    "order": ("layout3d.report", "schema/order.json"),
    "cuts": ("layout3d.report", "schema/cuts.json"),
    "errors": ("layout3d.report", "schema/errors.json"),
}
"""Name to (package, file): the scene file, and what commands print with --json."""


def schema_text(name: str) -> str:
    """Return a shipped schema's text.

    Raises
    ------
    UnknownName : there is no such schema.
    """
    if name not in SCHEMAS:
        raise UnknownName(f"no schema is called {name!r}", expected=nearest(name, SCHEMAS))
    package, file = SCHEMAS[name]
    return resources.files(package).joinpath(file).read_text(encoding="utf-8")
