"""Entries a scene adds to the catalogue: checked, completed by stated rules, marked 'given in the scene'."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

from layout3d.catalog.entry import MEASURE_YOURS, Bulkhead, Limit, Material, Pipe, Pump, Tube
from layout3d.catalog.shipped import shipped_lengths, sourced
from layout3d.errors import LayoutError, SceneMistake, UnknownName, nearest
from layout3d.fields import Choice, FieldType, Number, Quantity, Text
from layout3d.fields_composite import Listing, Point

__all__ = ["OWN_FIELDS", "own_entry", "own_lengths", "own_limit"]

GIVEN: Final = "given in the scene"
Entry = TypeVar("Entry", Pipe, Tube, Bulkhead, Material, Pump)
Given = Mapping[str, Any]


_LENGTH = Quantity("length", above=0.0, most=100.0)
_FAMILY = Choice(("inch", "metric"))
_SHARE = Number(least=0.0, most=1.0)
_DENSITY = Quantity("density", above=0.0, most=30_000.0)
_NAME, _TEXT = Text(60), Text(200)
_CURVE = Listing(
    Point(("flow", "head"), each=(Quantity("flow", least=0.0), Quantity("length", least=0.0))), 2, 60
)


def _lengths(*names: str) -> dict[str, FieldType]:
    return dict.fromkeys(names, _LENGTH)


OWN_FIELDS: Final[Mapping[str, Mapping[str, FieldType]]] = MappingProxyType(
    {
        "pipes": {"like": _NAME, "family": _FAMILY, "size": _TEXT}
        | _lengths("outside_diameter", "inside_diameter", "wall_min", "socket_depth")
        | _lengths("g_90", "g_45", "coupling_gap", "hub_diameter"),
        "tubes": {"like": _NAME, "kind": _TEXT, "family": _FAMILY, "size": _TEXT}
        | _lengths("inside", "outside", "min_bend_radius"),
        "bulkheads": {"like": _NAME}
        | _lengths("hole_diameter", "flange_diameter", "flange_thickness", "nut_diameter", "nut_thickness")
        | _lengths("thread_diameter", "gasket_thickness", "length", "bore", "socket_depth"),
        "fittings": _lengths(*(name for row in shipped_lengths().values() for name in row)),
        "materials": {"like": _NAME, "density": _DENSITY, "porosity": _SHARE, "bulk_density": _DENSITY}
        | {"note": _TEXT},
        "pumps": {"like": _NAME, "points": _CURVE, "power": Quantity("power", least=0.0)}
        | {"size": Point(("length", "width", "height"), _LENGTH), "outlet": _LENGTH, "tolerance": _SHARE}
        | {"note": _TEXT},
    }
)
"""What a scene may give for each section of its catalogue beside limits, whose values are plain figures."""


def _refuse_unknown(path: str, section: str, given: Given) -> None:
    for key in given:
        if key not in OWN_FIELDS[section]:
            raise UnknownName(
                f"{key!r} is not a field of an own entry in {section}",
                expected=nearest(key, OWN_FIELDS[section], most=16),
                path=f"{path}.{key}",
            )


def _need(path: str, given: Given, *names: str) -> None:
    missing = [name for name in names if name not in given]
    if missing:
        raise SceneMistake(
            f"the own entry lacks {', '.join(missing)}",
            expected=f"{', '.join(missing)}, or `like:` with the name of an entry to start from",
            path=path,
        )


def own_entry(section: str, path: str, name: str, given: Given, like: Callable[[str], Any]) -> Any:
    """Make a scene's own pipe, tube, bulkhead, material or pump.

    Parameters
    ----------
    path : where it stands below the file's root, for messages
    given : the fields in SI, of those in ``OWN_FIELDS``
    like : finds the entry that `like:` names

    Raises
    ------
    SceneMistake, UnknownName : a field is unknown, is lacking, or can't be built.
    """
    _refuse_unknown(path, section, given)
    if section == "bulkheads":
        _need(path, given, "like")
    base = like(given["like"]) if "like" in given else None
    figures = {key: value for key, value in given.items() if key != "like"}
    try:
        return _MAKERS[section](path, name, figures, base)
    except LayoutError:
        raise
    except (TypeError, ValueError) as error:
        raise SceneMistake(str(error), expected="figures that can be built", path=path) from error


def _started(base: Entry, name: str, given: Given, **more: Any) -> Entry:
    """Return the entry that `like:` named, with what differs."""
    if isinstance(base, Pipe | Bulkhead):
        own = dict.fromkeys((entry.name for entry in fields(base) if entry.name in given), GIVEN)
        more["sources"] = tuple({**dict(base.sources), **own}.items())
    source = f"{GIVEN}; else as {base.name} ({base.source})"
    return replace(base, **{**given, **more}, name=name, source=source)


def _pipe(path: str, name: str, given: Given, base: Pipe | None) -> Pipe:
    """Make a pipe from what differs, or from its diameters and stated rules."""
    if base is not None:
        more: dict[str, Any] = {}
        if "wall_min" not in given and {"outside_diameter", "inside_diameter"} & set(given):
            outside = given.get("outside_diameter", base.outside_diameter)
            more["wall_min"] = (outside - given.get("inside_diameter", base.inside_diameter)) / 2.0
        if "outside_diameter" in given and "size" not in given:
            more["size"] = name  # another outside doesn't go into the base's sockets
        return _started(base, name, given, **more)
    _need(path, given, "outside_diameter", "inside_diameter")
    outside, inside = given["outside_diameter"], given["inside_diameter"]
    rules = {
        "wall_min": ((outside - inside) / 2.0, "outside less inside, halved"),
        "socket_depth": (0.5 * outside + 0.006, "ISO 727-1 rule 0.5 d + 6 mm (from memory)"),
        "g_90": (0.5 * outside + 0.001, "z = d/2 + 1 mm (from memory)"),
        "g_45": (0.21 * outside + 0.001, "z = d/2 tan 22.5 + 1 mm (from memory)"),
        "coupling_gap": (0.003, "from memory, check before relying on it"),
        "hub_diameter": (1.26 * outside, MEASURE_YOURS),
    }
    figures, sources = sourced(rules | {key: (given[key], GIVEN) for key in rules if key in given})
    return Pipe(
        name=name,
        family=given.get("family", "metric"),
        size=str(given.get("size", name)),
        outside_diameter=outside,
        inside_diameter=inside,
        source=GIVEN,
        sources=sources,
        **figures,
    )


def _tube(path: str, name: str, given: Given, base: Tube | None) -> Tube:
    """Make a flexible tube; its bend radius is 6 outside diameters where none is given."""
    if base is not None:
        return _started(base, name, given)
    _need(path, given, "inside", "outside")
    bend = "" if "min_bend_radius" in given else "; bend radius common practice, no source"
    own = {"kind": "tube", "family": "metric", "min_bend_radius": 6.0 * given["outside"], **given}
    return Tube(**{**own, "name": name, "size": str(given.get("size", name)), "source": GIVEN + bend})


def _bulkhead(_path: str, name: str, given: Given, base: Bulkhead) -> Bulkhead:
    """Make a bulkhead from a shipped one and what was measured on the real one."""
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
    return _started(base, name, given, **more)


def _material(path: str, name: str, given: Given, base: Material | None) -> Material:
    """Make a material from its density, or from another one and what differs."""
    given = dict(given)
    if "bulk_density" in given:
        if "density" in given:
            raise SceneMistake(
                "both density and bulk_density are given",
                expected="one of them: density of the stuff itself, or bulk_density with its pores",
                path=path,
            )
        porosity = given.get("porosity", base.porosity if base else 0.0)
        if not 0.0 <= porosity < 1.0:
            raise SceneMistake(f"porosity {porosity!r}", expected="0 to below 1", path=f"{path}.porosity")
        given["density"] = given.pop("bulk_density") / (1.0 - porosity)
    if base is not None:
        density = given.get("density", base.density)
        span = (min(density, base.density_range[0]), max(density, base.density_range[1]))
        return _started(base, name, given, density_range=span, also=())
    _need(path, given, "density")
    return Material(name=name, density_range=(given["density"], given["density"]), source=GIVEN, **given)


def _pump(path: str, name: str, given: Given, base: Pump | None) -> Pump:
    """Make a pump from its curve and power, or from a generic one and what differs."""
    given = dict(given)
    for key in {"points", "size"} & set(given):
        given[key] = tuple(tuple(item) if isinstance(item, list | tuple) else item for item in given[key])
    if base is not None:
        made: Pump = _started(base, name, given)
        if "points" not in given:
            return made
        # the curve is its own: no word of the generic one's
        return replace(made, source=f"{GIVEN}; all but its curve as {base.name}", note=given.get("note", ""))
    _need(path, given, "points", "power")
    return Pump(name=name, source=GIVEN, **given)


_MAKERS: Mapping[str, Callable[..., Any]] = {
    "pipes": _pipe,
    "tubes": _tube,
    "bulkheads": _bulkhead,
    "materials": _material,
    "pumps": _pump,
}


def own_lengths(path: str, given: Given, base: Mapping[str, float]) -> Mapping[str, float]:
    """Return a size's fitting lengths with the scene's figures over the shipped ones."""
    _refuse_unknown(path, "fittings", given)
    for key, value in given.items():
        if not value > 0:
            raise SceneMistake(f"{key} is {value!r}", expected="a length above 0", path=f"{path}.{key}")
    return {**base, **given}


def own_limit(path: str, base: Limit, value: Any) -> Limit:
    """Return a shipped limit with the scene's value."""
    if not isinstance(value, int | float) or isinstance(value, bool) or value < 0:
        raise SceneMistake(f"{value!r} is no limit", expected="a number, 0 or more", path=path)
    source = f"{GIVEN} (shipped: {base.value:g}, {base.source})"
    return replace(base, value=float(value), source=source)
