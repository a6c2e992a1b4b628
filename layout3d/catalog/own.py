"""Entries a scene adds to the catalogue: checked, completed by stated rules, marked 'given in the scene'."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

from layout3d.catalog.entry import Bulkhead, Limit, Material, Pipe, Pump, Tube
from layout3d.catalog.shipped import shipped_lengths
from layout3d.errors import SceneMistake, UnknownName, nearest

__all__ = [
    "OWN_FIELDS",
    "own_bulkhead",
    "own_lengths",
    "own_limit",
    "own_material",
    "own_pipe",
    "own_pump",
    "own_tube",
]

GIVEN: Final = "given in the scene"
Made = TypeVar("Made")
Entry = TypeVar("Entry", Pipe, Tube, Bulkhead, Material, Pump)

OWN_FIELDS: Final[Mapping[str, Mapping[str, str]]] = MappingProxyType(
    {
        "pipes": {
            "like": "name",
            "family": "family",
            "size": "text",
            "outside_diameter": "length",
            "inside_diameter": "length",
            "wall_min": "length",
            "socket_depth": "length",
            "g_90": "length",
            "g_45": "length",
            "coupling_gap": "length",
            "hub_diameter": "length",
        },
        "tubes": {
            "like": "name",
            "kind": "text",
            "family": "family",
            "size": "text",
            "inside": "length",
            "outside": "length",
            "min_bend_radius": "length",
        },
        "bulkheads": {
            "like": "name",
            "hole_diameter": "length",
            "flange_diameter": "length",
            "flange_thickness": "length",
            "nut_diameter": "length",
            "nut_thickness": "length",
            "thread_diameter": "length",
            "gasket_thickness": "length",
            "length": "length",
            "bore": "length",
            "socket_depth": "length",
        },
        "fittings": {name: "length" for row in shipped_lengths().values() for name in row},
        "materials": {
            "like": "name",
            "density": "density",
            "porosity": "ratio",
            "bulk_density": "density",
            "note": "text",
        },
        "pumps": {
            "like": "name",
            "points": "curve",
            "power": "power",
            "size": "box",
            "outlet": "length",
            "note": "text",
        },
        "limits": {"value": "number", "severity": "severity"},
    }
)
"""What a scene may give for each section of its catalogue: field -> kind of value, for the file's reader."""


def _refuse_unknown(path: str, section: str, given: Mapping[str, Any]) -> None:
    for key in given:
        if key not in OWN_FIELDS[section]:
            raise UnknownName(
                f"{key!r} is not a field of an own entry in {section}",
                expected=nearest(key, OWN_FIELDS[section], most=16),
                path=f"{path}.{key}",
            )


def _need(path: str, given: Mapping[str, Any], names: Iterable[str]) -> None:
    missing = [name for name in names if name not in given]
    if missing:
        raise SceneMistake(
            f"the own entry lacks {', '.join(missing)}",
            expected=f"{', '.join(missing)}, or `like:` with the name of an entry to start from",
            path=path,
        )


def _made(path: str, make: Callable[[], Made]) -> Made:
    try:
        return make()
    except (TypeError, ValueError) as error:
        raise SceneMistake(str(error), expected="figures that can be built", path=path) from error


def _started(base: Entry, name: str, given: Mapping[str, Any], **more: Any) -> Entry:
    changed = {key: value for key, value in given.items() if key != "like"} | more
    if isinstance(base, Pipe | Bulkhead):
        known = {entry.name for entry in fields(base)}
        changed["sources"] = tuple(
            {**dict(base.sources), **{key: GIVEN for key in given if key in known and key != "like"}}.items()
        )
    return replace(base, name=name, source=f"{GIVEN}; else as {base.name} ({base.source})", **changed)


def own_pipe(path: str, name: str, given: Mapping[str, Any], like: Callable[[str], Pipe]) -> Pipe:
    """Make a scene's own pipe from `like` and what differs, or from its diameters and stated rules."""
    _refuse_unknown(path, "pipes", given)
    if "like" in given:
        base = like(given["like"])
        more: dict[str, Any] = {}
        if "wall_min" not in given and {"outside_diameter", "inside_diameter"} & set(given):
            outside = given.get("outside_diameter", base.outside_diameter)
            more["wall_min"] = (outside - given.get("inside_diameter", base.inside_diameter)) / 2.0
        if "outside_diameter" in given and "size" not in given:
            more["size"] = name  # another outside doesn't go into the base's sockets
        return _made(path, lambda: _started(base, name, given, **more))
    _need(path, given, ("outside_diameter", "inside_diameter"))
    outside, inside = given["outside_diameter"], given["inside_diameter"]
    rules = {
        "wall_min": ((outside - inside) / 2.0, "outside less inside, halved"),
        "socket_depth": (0.5 * outside + 0.006, "ISO 727-1 rule 0.5 d + 6 mm (from memory)"),
        "g_90": (0.5 * outside + 0.001, "z = d/2 + 1 mm (from memory)"),
        "g_45": (0.21 * outside + 0.001, "z = d/2 tan 22.5 + 1 mm (from memory)"),
        "coupling_gap": (0.003, "from memory, check before relying on it"),
        "hub_diameter": (1.26 * outside, "common practice, no source; makers differ: measure yours"),
    }
    figures = {key: given.get(key, value) for key, (value, _) in rules.items()}
    sources = {key: GIVEN if key in given else source for key, (_, source) in rules.items()}
    return _made(
        path,
        lambda: Pipe(
            name=name,
            family=given.get("family", "metric"),
            size=str(given.get("size", name)),
            series="own",
            outside_diameter=outside,
            inside_diameter=inside,
            source=GIVEN,
            sources=tuple(sources.items()),
            **figures,
        ),
    )


def own_tube(path: str, name: str, given: Mapping[str, Any], like: Callable[[str], Tube]) -> Tube:
    """Make a scene's own flexible tube; its bend radius is 6 outside diameters where none is given."""
    _refuse_unknown(path, "tubes", given)
    if "like" in given:
        base = like(given["like"])
        return _made(path, lambda: _started(base, name, given))
    _need(path, given, ("inside", "outside"))
    return _made(
        path,
        lambda: Tube(
            name=name,
            kind=given.get("kind", "tube"),
            family=given.get("family", "metric"),
            size=str(given.get("size", name)),
            inside=given["inside"],
            outside=given["outside"],
            min_bend_radius=given.get("min_bend_radius", 6.0 * given["outside"]),
            source=GIVEN
            if "min_bend_radius" in given
            else f"{GIVEN}; bend radius common practice, no source",
        ),
    )


def own_bulkhead(path: str, name: str, given: Mapping[str, Any], like: Callable[[str], Bulkhead]) -> Bulkhead:
    """Make a scene's own bulkhead from a shipped one and what was measured on the real one."""
    _refuse_unknown(path, "bulkheads", given)
    _need(path, given, ("like",))
    base = like(given["like"])
    more: dict[str, Any] = {}
    if "hole_diameter" in given:
        more["hole_range"] = (given["hole_diameter"], given["hole_diameter"])
        if "thread_diameter" not in given:
            more["thread_diameter"] = min(base.thread_diameter, given["hole_diameter"] - 1.5e-3)
    flange, gasket, nut, length = (
        given.get(key, getattr(base, key))
        for key in ("flange_thickness", "gasket_thickness", "nut_thickness", "length")
    )
    more["grip_range"] = (base.grip_range[0], min(0.030, length - flange - gasket - nut))
    return _made(path, lambda: _started(base, name, given, **more))


def own_lengths(path: str, given: Mapping[str, Any], base: Mapping[str, float] | None) -> Mapping[str, float]:
    """Return a size's fitting lengths with the scene's figures over the shipped ones."""
    _refuse_unknown(path, "fittings", given)
    for key, value in given.items():
        if not value > 0:
            raise SceneMistake(f"{key} is {value!r}", expected="a length above 0", path=f"{path}.{key}")
    return {**(base or {}), **given}


def own_material(path: str, name: str, given: Mapping[str, Any], like: Callable[[str], Material]) -> Material:
    """Make a scene's own material from its density, or from another one and what differs."""
    _refuse_unknown(path, "materials", given)
    given = dict(given)
    if "bulk_density" in given:
        if "density" in given:
            raise SceneMistake(
                "both density and bulk_density are given",
                expected="one of them: density of the stuff itself, or bulk_density with its pores",
                path=path,
            )
        base_porosity = like(given["like"]).porosity if "like" in given else 0.0
        porosity = given.get("porosity", base_porosity)
        if not 0.0 <= porosity < 1.0:
            raise SceneMistake(f"porosity {porosity!r}", expected="0 to below 1", path=f"{path}.porosity")
        given["density"] = given.pop("bulk_density") / (1.0 - porosity)
    if "like" in given:
        base = like(given["like"])
        density = given.get("density", base.density)
        span = (min(density, base.density_range[0]), max(density, base.density_range[1]))
        return _made(path, lambda: _started(base, name, given, density_range=span, also=()))
    _need(path, given, ("density",))
    return _made(
        path,
        lambda: Material(
            name=name, density_range=(given["density"], given["density"]), source=GIVEN, **given
        ),
    )


def own_pump(path: str, name: str, given: Mapping[str, Any], like: Callable[[str], Pump]) -> Pump:
    """Make a scene's own pump from its curve and power, or from a generic one and what differs."""
    _refuse_unknown(path, "pumps", given)
    given = dict(given)
    for key in ("points", "size"):
        if key in given:
            given[key] = tuple(tuple(item) if isinstance(item, list | tuple) else item for item in given[key])
    if "like" in given:
        base = like(given["like"])
        return _made(path, lambda: _started(base, name, given))
    _need(path, given, ("points", "power"))
    return _made(path, lambda: Pump(name=name, source=GIVEN, **given))


def own_limit(path: str, base: Limit, given: float | Mapping[str, Any]) -> Limit:
    """Return a shipped limit with the scene's value, and severity where given."""
    if not isinstance(given, Mapping):
        given = {"value": given}
    _refuse_unknown(path, "limits", given)
    severity = given.get("severity", base.severity)
    if severity not in {"fault", "warning", "note"}:
        raise SceneMistake(
            f"severity {severity!r}", expected="one of: fault, warning, note", path=f"{path}.severity"
        )
    value = given.get("value", base.value)
    if not isinstance(value, int | float) or isinstance(value, bool) or value < 0:
        raise SceneMistake(f"{value!r} is no limit", expected="a number, 0 or more", path=f"{path}.value")
    return replace(
        base,
        value=float(value),
        severity=severity,
        source=f"{GIVEN} (shipped: {base.value:g}, {base.source})",
    )
