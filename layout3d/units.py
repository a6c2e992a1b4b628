"""Quantities in and out: unit names to SI factors, SI values to short text.

On top of pint, with a definition file of our own (``units.txt``) that lists every name: loading it takes
milliseconds, where the library's full registry takes a tenth of a second and knows names that are also
words of the trade. Arithmetic over quantities is in ``scene.arithmetic``; no other module parses a unit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from importlib import resources
from typing import Any, Literal, NamedTuple, get_args

__all__ = [
    "DIMENSIONLESS",
    "GRAVITY",
    "KINDS",
    "UNIT_SYMBOLS",
    "Dims",
    "Kind",
    "KindOfQuantity",
    "exact_unit",
    "is_scale_point",
    "kind_of",
    "known_units",
    "parse_unit",
    "show",
    "show_dims",
    "to_si",
]

Dims = tuple[int, ...]
"""Exponents of (m, kg, s, K, rad, lm); the angle and the lumen count, so that neither is a plain number."""

_BASES = ("[length]", "[mass]", "[time]", "[temperature]", "[angle]", "[light]")
_BASE_SYMBOLS = ("m", "kg", "s", "K", "rad", "lm")
DIMENSIONLESS: Dims = (0,) * len(_BASES)

Kind = Literal[
    "length",
    "area",
    "volume",
    "angle",
    "mass",
    "flow",
    "pressure",
    "number",
    "time",
    "density",
    "temperature",
    "speed",
    "power",
    "flow per length",
    "illuminance",
    "luminous flux",
    "force",
    "mass per area",
    "acceleration",
]


class KindOfQuantity(NamedTuple):
    """What a kind of quantity is measured in, and how one is written."""

    unit: str
    dims: Dims
    example: str


KINDS: Mapping[str, KindOfQuantity] = {
    "length": KindOfQuantity("m", (1, 0, 0, 0, 0, 0), "120 mm"),
    "area": KindOfQuantity("m²", (2, 0, 0, 0, 0, 0), "0.5 m2"),
    "volume": KindOfQuantity("m³", (3, 0, 0, 0, 0, 0), "350 L"),
    "angle": KindOfQuantity("rad", (0, 0, 0, 0, 1, 0), "45 deg"),
    "mass": KindOfQuantity("kg", (0, 1, 0, 0, 0, 0), "12 kg"),
    "flow": KindOfQuantity("m³/s", (3, 0, -1, 0, 0, 0), "800 L/h"),
    "pressure": KindOfQuantity("Pa", (-1, 1, -2, 0, 0, 0), "2 kPa"),
    "number": KindOfQuantity("", DIMENSIONLESS, "0.4"),
    "time": KindOfQuantity("s", (0, 0, 1, 0, 0, 0), "10 min"),
    "density": KindOfQuantity("kg/m³", (-3, 1, 0, 0, 0, 0), "1600 kg/m3"),
    "temperature": KindOfQuantity("K", (0, 0, 0, 1, 0, 0), "25 °C"),
    "speed": KindOfQuantity("m/s", (1, 0, -1, 0, 0, 0), "1.5 m/s"),
    "power": KindOfQuantity("W", (2, 1, -3, 0, 0, 0), "40 W"),
    "flow per length": KindOfQuantity("m²/s", (2, 0, -1, 0, 0, 0), "60 L/h/m"),
    "illuminance": KindOfQuantity("lux", (-2, 0, 0, 0, 0, 1), "8000 lux"),
    "luminous flux": KindOfQuantity("lm", (0, 0, 0, 0, 0, 1), "6000 lm"),
    "force": KindOfQuantity("N", (1, 1, -2, 0, 0, 0), "250 N"),
    "mass per area": KindOfQuantity("kg/m²", (-2, 1, 0, 0, 0, 0), "300 kg/m2"),
    "acceleration": KindOfQuantity("m/s²", (1, 0, -2, 0, 0, 0), "9.81 m/s2"),
}
assert set(KINDS) == set(get_args(Kind))

GRAVITY = 9.80665  # [m/s²], standard acceleration of free fall, 3rd CGPM 1901

UNIT_SYMBOLS: Mapping[str, str] = {
    '"': "in",
    "″": "in",
    "”": "in",
    "'": "ft",
    "′": "ft",
    "’": "ft",
    "°": "deg",
    "°C": "degC",
    "°F": "degF",
    "%": "percent",
}
"""Marks that stand for a unit's name."""

_LONGEST_UNIT = 60  # characters; the longest sensible one, 'millimeter_of_water/meter', has 25
_LARGEST_POWER = 9
_PART = re.compile(r"(?P<name>.+?)(?:(?:\^|\*\*)(?P<power>-?[0-9])|(?P<raised>⁻?[¹²³⁴⁵⁶⁷⁸⁹]))?\Z")
_RAISED = str.maketrans("⁻¹²³⁴⁵⁶⁷⁸⁹", "-123456789")


class _Unit(NamedTuple):
    factor: Fraction
    dims: Dims
    offset: Fraction


def parse_unit(text: str) -> tuple[float, Dims] | None:
    """Find the SI factor and the dimensions of a unit.

    Parameters
    ----------
    text : one unit or a combination: ``mm``, ``L/h``, ``kg/m3``, ``m^2``, ``W/m²``, ``"``, ``°``

    Returns
    -------
    (factor, dims), or None where the text is not a unit. One of this unit is ``factor`` of the SI unit;
    for ``°C`` and ``°F`` that is one degree's step, and ``to_si`` knows where their scales begin.

    Examples
    --------
    >>> parse_unit("in")
    (0.0254, (1, 0, 0, 0, 0, 0))
    >>> parse_unit("sch 40") is None
    True
    """
    unit = _find(text)
    return (float(unit.factor), unit.dims) if unit else None


def to_si(value: float | Fraction, unit: str) -> float:
    """Convert a figure to SI, rounding once, so that 21 mm is 0.021 m to the last bit.

    Raises
    ------
    ValueError : the unit is not known, or the value is not finite.

    Examples
    --------
    >>> to_si(21, "mm"), to_si(Fraction(3, 4), '"'), to_si(25, "°C")
    (0.021, 0.01905, 298.15)
    """
    found = _find(unit)
    if found is None:
        raise ValueError(f"to_si: {unit!r} is not a known unit")
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"to_si: {value!r} is not a finite figure")
        value = Fraction(repr(value))  # the decimal that was written, not the binary nearest to it
    return float(value * found.factor + found.offset)


def exact_unit(text: str) -> tuple[Fraction, Dims, Fraction] | None:
    """Find a unit's exact factor, its dimensions and where its scale begins in SI; None if not a unit.

    Pi stands in the degree with 36 figures. Sums of such fractions, rounded once, make
    ``1 ft 6 in`` and ``18 in`` the same number.
    """
    return _find(text)


def is_scale_point(unit: str) -> bool:
    """Say whether figures in this unit are points on a scale with a zero of its own: ``°C``, ``°F``."""
    found = _find(unit)
    return found is not None and found.offset != 0


def known_units() -> frozenset[str]:
    """Return every unit name and mark."""
    return _registry()[1] | frozenset(UNIT_SYMBOLS)


def kind_of(dims: Dims) -> str:
    """Name the kind of quantity with these dimensions, or its SI unit where it has no name of its own."""
    for name, kind in KINDS.items():
        if kind.dims == dims:
            return name
    return f"quantity in {show_dims(dims)}"


def show_dims(dims: Dims) -> str:
    """Write dimensions as an SI unit.

    >>> show_dims((-1, 1, -2, 0, 0, 0))
    'kg/(m·s²)'
    """
    raised = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")

    def join(sign: int) -> list[str]:
        pairs = [(symbol, power * sign) for symbol, power in zip(_BASE_SYMBOLS, dims, strict=True)]
        return [s if p == 1 else s + str(p).translate(raised) for s, p in pairs if p > 0]

    above, below = join(1), join(-1)
    text = "·".join(above) or "1"
    if not below:
        return text
    return f"{text}/{below[0]}" if len(below) == 1 else f"{text}/({'·'.join(below)})"


@lru_cache(maxsize=1024)
def _find(text: str) -> _Unit | None:
    if not 0 < len(text) <= _LONGEST_UNIT:
        return None
    pieces = re.split(r"(/|·|(?<!\*)\*(?!\*))", text)
    factor, dims, offset = Fraction(1), DIMENSIONLESS, Fraction(0)
    for sign, piece in zip(["*", *pieces[1::2]], pieces[0::2], strict=True):
        part = _part(piece.strip(" "))
        if part is None or (part.offset and len(pieces) > 1):
            return None
        power = -1 if sign == "/" else 1
        factor *= part.factor**power
        dims = tuple(a + power * b for a, b in zip(dims, part.dims, strict=True))
        offset = part.offset
    return _Unit(factor, dims, offset)


def _part(text: str) -> _Unit | None:
    match = _PART.match(text)
    if match is None:
        return None
    name = match["name"].strip(" ")
    written = match["power"] or (match["raised"] or "").translate(_RAISED)
    unit = _named(name)
    if unit is None and not written and name[-1:] in ("2", "3"):
        # 'm3', 'in2', 's2': a figure right behind a unit of length or time
        unit, written = _named(name[:-1]), name[-1]
        if unit is None or unit.dims not in (KINDS["length"].dims, KINDS["time"].dims):
            return None
    if unit is None or not written:
        return unit
    power = int(written)
    if unit.offset or power == 0:
        return None
    return _Unit(unit.factor**power, tuple(e * power for e in unit.dims), Fraction(0))


@lru_cache(maxsize=256)
def _named(text: str) -> _Unit | None:
    registry, names = _registry()
    name = UNIT_SYMBOLS.get(text, text)
    if name not in names:  # the registry itself would also take plurals, prefixes and sums
        return None
    offset = Fraction(0)
    if f"delta_{name}" in registry:
        offset = Fraction(registry.Quantity(Fraction(0), name).to_root_units().magnitude)
    factor = Fraction(registry.get_root_units(name, check_nonmult=False)[0])
    powers = registry.get_dimensionality(name)
    return _Unit(factor, tuple(int(powers.get(base, 0)) for base in _BASES), offset)


@lru_cache(maxsize=1)
def _registry() -> tuple[Any, frozenset[str]]:
    """Return the library's registry with our definitions alone, and the names in it."""
    import pint  # 0.15 s: only once a unit is met

    definitions = resources.files("layout3d").joinpath("units.txt").read_text(encoding="utf-8").splitlines()
    registry: Any = pint.UnitRegistry(None, non_int_type=Fraction, on_redefinition="raise")
    registry.load_definitions(definitions)
    # the library makes a 'delta_' unit for each scale with an offset; here a difference is written in K
    return registry, frozenset(name for name in registry if not name.startswith(("delta_", "Δ")))


# (unit, the size below which it is used, decimals at most), smallest unit first
_Steps = tuple[tuple[str, float, int], ...]
_ALWAYS = math.inf
_STEPS: Mapping[str, Mapping[str, _Steps]] = {
    "metric": {
        "length": (("mm", 10.0, 1), ("m", _ALWAYS, 2)),
        "area": (("mm²", 0.01, 1), ("m²", _ALWAYS, 3)),
        "volume": (("mL", 1e-3, 1), ("L", _ALWAYS, 1)),
        "angle": (("°", _ALWAYS, 1),),
        "mass": (("g", 1.0, 1), ("kg", _ALWAYS, 1)),
        "flow": (("L/h", _ALWAYS, 1),),
        "pressure": (("Pa", 1e3, 1), ("kPa", 1e6, 2), ("MPa", _ALWAYS, 2)),
        "number": (("", _ALWAYS, 4),),
        "time": (("s", 120.0, 1), ("min", 7200.0, 1), ("h", 172800.0, 1), ("d", _ALWAYS, 1)),
        "density": (("kg/m³", _ALWAYS, 1),),
        "temperature": (("°C", _ALWAYS, 1),),
        "speed": (("m/s", _ALWAYS, 2),),
        "power": (("W", _ALWAYS, 1),),
        "flow per length": (("L/h/m", _ALWAYS, 1),),
        "illuminance": (("lux", _ALWAYS, 0),),
        "luminous flux": (("lm", _ALWAYS, 0),),
        "force": (("N", 1e4, 1), ("kN", _ALWAYS, 2)),
        "mass per area": (("kg/m²", _ALWAYS, 1),),
        "acceleration": (("m/s²", _ALWAYS, 2),),
    },
    "inch": {
        "length": (("in", _ALWAYS, 2),),
        "area": (("in²", 0.1, 2), ("ft²", _ALWAYS, 2)),
        "volume": (("in³", 3.8e-4, 2), ("gal", _ALWAYS, 2)),
        "mass": (("oz", 0.4, 2), ("lb", _ALWAYS, 1)),
        "flow": (("gph", _ALWAYS, 1),),
        "pressure": (("psi", _ALWAYS, 2),),
        "density": (("lb/ft³", _ALWAYS, 1),),
        "temperature": (("°F", _ALWAYS, 1),),
        "speed": (("ft/s", _ALWAYS, 2),),
        "flow per length": (("gph/ft", _ALWAYS, 2),),
        "force": (("lbf", _ALWAYS, 1),),
        "mass per area": (("lb/ft²", _ALWAYS, 1),),
        "acceleration": (("ft/s²", _ALWAYS, 2),),
    },
}
_FIGURES = 4  # significant figures kept by default: a tenth of a millimetre in a metre
_LONGEST = 1e12  # figures from here on are told with their power of ten
_NOTHING = 1e-9  # of the unit shown: below it a figure is rounding noise and shows as 0
_TIGHT = ("°", "°C", "°F")


def show(value_si: float, kind: str, *, system: str = "metric", digits: int | None = None) -> str:
    """Write an SI value as short text in the units of the trade.

    Parameters
    ----------
    value_si : in the kind's SI unit (``KINDS[kind].unit``)
    kind : one of ``KINDS``
    system : ``metric`` or ``inch``
    digits : significant figures, at least 1; by default 4, or 2 where the unit needs no more

    Returns
    -------
    Figure, space, unit, with a comma between thousands; never ``-0``. Not a number gives ``no figure``,
    an infinite one ``without limit``.

    Raises
    ------
    ValueError : unknown kind or system, or digits below 1.

    Examples
    --------
    >>> show(0.021, "length"), show(0.021, "length", system="inch")
    ('21 mm', '0.83 in')
    >>> show(1.24, "volume"), show(1.24, "volume", system="inch")
    ('1,240 L', '327.6 gal')
    """
    if kind not in KINDS:
        raise ValueError(f"show: {kind!r} is not a kind of quantity")
    if system not in _STEPS:
        raise ValueError(f"show: system must be 'metric' or 'inch', got {system!r}")
    if digits is not None and digits < 1:
        raise ValueError(f"show: digits must be 1 or more, got {digits}")
    if math.isnan(value_si):
        return "no figure"
    if math.isinf(value_si):
        return "without limit"
    steps = _STEPS[system].get(kind) or _STEPS["metric"][kind]
    name, _, decimals = next(step for step in steps if abs(value_si) < step[1])
    figure = value_si
    if name:
        unit = _find(name)
        assert unit is not None, name
        figure = (value_si - float(unit.offset)) / float(unit.factor)
    text = _figure(figure, decimals, digits)
    return f"{text}{'' if not name or name in _TIGHT[:1] else ' '}{name}"


def _figure(figure: float, decimals: int, digits: int | None) -> str:
    size = abs(figure)
    if size < _NOTHING:
        return "0"
    if size >= _LONGEST:
        return f"{figure:.{digits or 3}g}"
    above = math.floor(math.log10(size)) + 1  # figures before the point; 0 or less for 0.0…
    # at least two figures by default, else 0.02 mm would read 0
    usual = max(min(decimals, _FIGURES - above), 2 - above, 0)
    places = usual if digits is None else digits - above
    rounded = round(figure, places) + 0.0
    text = f"{rounded:,.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
