"""Quantities in and out: unit names to SI factors, SI values to short text.

A plain table that lists every name: no prefixes, so that 'cd', 'ft' or 'min' can never be read as centi-,
femto- or milli-something, and none of the names of a full registry that are also words of the trade.
Arithmetic over quantities is in ``scene.arithmetic``; no other module parses a unit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from fractions import Fraction
from functools import cache, lru_cache
from typing import Literal, NamedTuple, get_args

__all__ = [
    "DIMENSIONLESS",
    "GRAVITY",
    "KINDS",
    "UNIT_SYMBOLS",
    "Dims",
    "Kind",
    "KindOfQuantity",
    "exact_unit",
    "kind_of",
    "known_units",
    "parse_unit",
    "show",
    "show_dims",
    "shown_in",
    "to_si",
]

Dims = tuple[int, ...]
"""Exponents of (m, kg, s, K, rad, lm); the angle and the lumen count, so that neither is a plain number."""

_BASE_SYMBOLS = ("m", "kg", "s", "K", "rad", "lm")
DIMENSIONLESS: Dims = (0,) * len(_BASE_SYMBOLS)

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

_UNITS: tuple[tuple[str, str, str], ...] = (
    # a unit's names, how many it is, and of what; factors by NIST Special Publication 811 (2008), appendix
    # B.8, exact unless a line says otherwise
    ("kilometer km", "1000", "meter"),
    ("decimeter dm", "1/10", "meter"),
    ("centimeter cm", "1/100", "meter"),
    ("millimeter mm", "1/1000", "meter"),
    ("micrometer um µm μm", "1/1000000", "meter"),
    ("inch in inches", "254/10000", "meter"),
    ("foot ft feet", "12", "inch"),
    ("yard yd yards", "3", "foot"),
    ("liter L l litre litres liters", "1/1000", "meter^3"),
    ("centiliter cL cl", "1/100", "liter"),
    ("milliliter mL ml", "1/1000", "liter"),
    ("gallon gal gallons us_gal", "231", "inch^3"),  # gallon and quart are the US liquid ones
    ("quart qt", "1/4", "gallon"),
    ("imperial_gallon imp_gal uk_gal", "454609/100000", "liter"),
    ("degree deg degrees", "3.14159265358979323846264338327950288/180", "radian"),  # pi to 36 figures
    ("gram g grams", "1/1000", "kilogram"),
    ("milligram mg", "1/1000", "gram"),
    ("tonne t", "1000", "kilogram"),  # the metric one
    ("pound lb lbs pounds", "45359237/100000000", "kilogram"),  # pound and ounce avoirdupois
    ("ounce oz ounces", "1/16", "pound"),
    ("minute min minutes", "60", "second"),
    ("hour h hr hours", "60", "minute"),
    ("day d days", "24", "hour"),
    ("gallon_per_hour gph GPH", "1", "gallon/hour"),
    ("gallon_per_minute gpm GPM", "1", "gallon/minute"),
    ("liter_per_hour lph LPH", "1", "liter/hour"),
    ("liter_per_minute lpm LPM", "1", "liter/minute"),
    ("newton N", "1", "kilogram·meter/second^2"),
    ("kilonewton kN", "1000", "newton"),
    ("pound_force lbf", "980665/100000", "pound·meter/second^2"),
    ("pascal Pa", "1", "newton/meter^2"),
    ("hectopascal hPa", "100", "pascal"),
    ("kilopascal kPa", "1000", "pascal"),
    ("megapascal MPa", "1000000", "pascal"),
    ("gigapascal GPa", "1000000000", "pascal"),
    ("millibar mbar", "100", "pascal"),
    ("bar", "100000", "pascal"),
    ("psi", "1", "pound_force/inch^2"),
    # a column of water is the conventional one, 1000 kg/m3 at standard gravity
    ("meter_of_water mH2O", "980665/100", "pascal"),
    ("millimeter_of_water mmH2O", "1/1000", "meter_of_water"),
    ("inch_of_water inH2O", "254/10000", "meter_of_water"),
    ("foot_of_water ftH2O", "12", "inch_of_water"),
    ("watt W watts", "1", "newton·meter/second"),
    ("kilowatt kW", "1000", "watt"),
    ("lux lx", "1", "lumen/meter^2"),
    ("foot_candle fc", "1", "lumen/foot^2"),
    ("degC celsius", "1", "kelvin"),
    ("degF fahrenheit", "5/9", "kelvin"),
)
_BASE_NAMES = (
    "meter m meters metre metres",
    "kilogram kg kilograms",
    "second s sec seconds",
    "kelvin K",
    "radian rad radians",
    "lumen lm",
)
_SCALE_ZEROS = {"degC": Fraction("273.15"), "degF": Fraction("233.15") + Fraction(200, 9)}
"""Where a scale of temperature, read as a point on it, begins, [K]."""

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


def known_units() -> frozenset[str]:
    """Return every unit name and mark."""
    return frozenset(_table()) | frozenset(UNIT_SYMBOLS)


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
    return _combined(text, _named) if 0 < len(text) <= _LONGEST_UNIT else None


def _combined(text: str, named: Callable[[str], _Unit | None]) -> _Unit | None:
    pieces = re.split(r"(/|·|(?<!\*)\*(?!\*))", text)
    factor, dims, offset = Fraction(1), DIMENSIONLESS, Fraction(0)
    for sign, piece in zip(["*", *pieces[1::2]], pieces[0::2], strict=True):
        part = _part(piece.strip(" "), named)
        if part is None or (part.offset and len(pieces) > 1):
            return None
        power = -1 if sign == "/" else 1
        factor *= part.factor**power
        dims = tuple(a + power * b for a, b in zip(dims, part.dims, strict=True))
        offset = part.offset
    return _Unit(factor, dims, offset)


def _part(text: str, named: Callable[[str], _Unit | None]) -> _Unit | None:
    match = _PART.match(text)
    if match is None:
        return None
    name = match["name"].strip(" ")
    written = match["power"] or (match["raised"] or "").translate(_RAISED)
    unit = named(name)
    if unit is None and not written and name[-1:] in ("2", "3"):
        # 'm3', 'in2', 's2': a figure right behind a unit of length or time
        unit, written = named(name[:-1]), name[-1]
        if unit is None or unit.dims not in (KINDS["length"].dims, KINDS["time"].dims):
            return None
    if unit is None or not written:
        return unit
    power = int(written)
    if unit.offset or power == 0:
        return None
    return _Unit(unit.factor**power, tuple(e * power for e in unit.dims), Fraction(0))


def _named(text: str) -> _Unit | None:
    return _table().get(UNIT_SYMBOLS.get(text, text))


@cache
def _table() -> dict[str, _Unit]:
    """Return every unit by each of its names."""
    table = dict.fromkeys(("percent", "pct"), _Unit(Fraction(1, 100), DIMENSIONLESS, Fraction(0)))
    for index, names in enumerate(_BASE_NAMES):
        dims = tuple(int(index == base) for base in range(len(_BASE_NAMES)))
        table |= dict.fromkeys(names.split(), _Unit(Fraction(1), dims, Fraction(0)))

    for names, figure, of in _UNITS:
        above, _, below = figure.partition("/")
        one = _combined(of, table.get)
        assert one is not None, of
        zero = _SCALE_ZEROS.get(names.split()[0], Fraction(0))
        defined = _Unit(Fraction(above) / Fraction(below or 1) * one.factor, one.dims, zero)
        table |= dict.fromkeys(names.split(), defined)
    return table


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


_system: ContextVar[str] = ContextVar("system", default="metric")


@contextmanager
def shown_in(system: str) -> Iterator[None]:
    """Show quantities in one system of units, ``metric`` or ``inch``, wherever none is named.

    A scene is read, built and examined within the one that it is written in, so that messages from deep
    inside, which know no scene, speak its units.

    >>> with shown_in("inch"):
    ...     show(0.0254, "length")
    '1 in'
    """
    before = _system.set(system)
    try:
        yield
    finally:
        _system.reset(before)


def show(value_si: float, kind: str, *, system: str | None = None, digits: int | None = None) -> str:
    """Write an SI value as short text in the units of the trade.

    Parameters
    ----------
    value_si : in the kind's SI unit (``KINDS[kind].unit``)
    kind : one of ``KINDS``
    system : ``metric`` or ``inch``; by default the one of ``shown_in``, or else metric
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
    system = system or _system.get()
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
