"""The JSON Schema of a scene file, made from the fields that part kinds and sections declare.

For editors that complete and check while one types. It says less than the reader: names, circles, arithmetic
and what fields ask of each other are judged only there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from layout3d.fields import FieldSpec, field_specs
from layout3d.fields_composite import Listing
from layout3d.parts.base import Part
from layout3d.parts.registry import kinds
from layout3d.scene.own import OwnEntries
from layout3d.scene.scene import Head, Sections
from layout3d.units import show

__all__ = ["SCHEMA_ID", "default_text", "scene_schema"]

SCHEMA_ID = "https://json-schema.org/draft/2020-12/schema"

_QUANTITY = {"type": ["number", "string"]}
_NAMES = {"pattern": "^[A-Za-z_][A-Za-z0-9_]{0,59}$"}


def scene_schema() -> dict[str, Any]:
    """Return the schema; what the reader takes fits it, once a YAML reader has made plain data of it."""
    known = kinds()
    return {
        "$schema": SCHEMA_ID,
        "title": "A scene: a tank and what is laid out in it",
        "type": "object",
        "required": [*(name for name, spec in field_specs(Head).items() if spec.required), "parts"],
        "additionalProperties": False,
        "properties": {
            **_properties(field_specs(Head)),
            "values": {
                "type": "object",
                "description": "named values that others are computed from",
                "propertyNames": _NAMES,
                "additionalProperties": _QUANTITY,
            },
            "parts": {
                "type": "object",
                "description": "parts by name, exactly one of them a tank",
                "propertyNames": _NAMES,
                "additionalProperties": {
                    "type": "object",
                    "required": ["kind"],
                    "properties": {"kind": {"enum": list(known), "description": "what the part is"}},
                    "allOf": [
                        {
                            "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
                            "then": {"$ref": f"#/$defs/{kind}"},
                        }
                        for kind in known
                    ],
                },
            },
            **{
                name: {**spec.type.schema(), "description": spec.doc}
                for name, spec in field_specs(Sections).items()
            },
            "limits": {
                "type": "object",
                "description": "limits that rules judge by, where they differ from the shipped ones",
                "additionalProperties": _QUANTITY,
            },
            "catalog": {**OwnEntries().schema(), "description": "sizes, materials and pumps of one's own"},
        },
        "$defs": {kind: _part_schema(kind, cls) for kind, cls in known.items()},
    }


def default_text(spec: FieldSpec) -> str:
    """Say what a field is where the scene doesn't give it: '' for nothing, else as it could be written."""
    default = spec.default
    if spec.required or default is None or default == "" or default == () or default == {}:
        return ""
    if isinstance(default, bool):
        return "true" if default else "false"
    if isinstance(default, tuple) and isinstance(spec.type, Listing):
        items = [FieldSpec(name="", type=spec.type.item, default=item, doc="") for item in default]
        return ", ".join(default_text(item) for item in items)
    kind = getattr(spec.type, "kind", None)
    if isinstance(default, int | float) and isinstance(kind, str):
        return show(default, kind)
    if isinstance(default, int | float):
        return f"{default:g}"
    return default if isinstance(default, str) else ""


def _part_schema(kind: str, cls: type[Part]) -> dict[str, Any]:
    specs = field_specs(cls)
    return {
        "description": (cls.__doc__ or "").strip().splitlines()[0],
        "required": ["kind", *(name for name, spec in specs.items() if spec.required)],
        "additionalProperties": False,
        "properties": {"kind": {"const": kind}, **_properties(specs)},
    }


def _properties(specs: Mapping[str, FieldSpec]) -> dict[str, Any]:
    return {name: {**spec.type.schema(), "description": _told(spec)} for name, spec in specs.items()}


def _told(spec: FieldSpec) -> str:
    default = default_text(spec)
    return f"{spec.doc}: {spec.type.words()}" + (f"; {default} by default" if default else "")
