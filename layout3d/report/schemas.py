"""The JSON Schemas that ship with the package, by name."""

from __future__ import annotations

from importlib import resources

from layout3d.errors import UnknownName, nearest

__all__ = ["SCHEMAS", "schema_text"]

_PRINTED = (
    "check",
    "volume",
    "flow",
    "outage",
    "sheet",
    "place",
    "sweep",
    "manifest",
    "parts",
    "order",
    "cuts",
)
SCHEMAS = {
    "scene": ("layout3d.scene", "scene.schema.json"),
    **{name: ("layout3d.report", f"schema/{name}.json") for name in (*_PRINTED, "errors")},
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
