"""Quantities in and out: unit names to SI factors, SI values to short text.

The table (``units.yaml``) is plain and lists every name: no prefixes, so that 'cd', 'ft' or 'min' can never
be read as centi-, femto- or milli-something, and none of the names of a full registry that are also words of
the trade. Arithmetic over quantities is in ``scene.arithmetic``; no other module parses a unit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from fractions import Fraction
from functools import cache, lru_cache, wraps
from pathlib import Path
from typing import Any, Concatenate, NamedTuple, ParamSpec, Protocol, TypeVar

from layout3d.files import own_data

__all__ = [
    "DIMENSIONLESS",
    "GRAVITY",
    "KINDS",
    "UNIT_SYMBOLS",
    "Dims",
    "KindOfQuantity",
    "exact_unit",
    "in_own_units",
    "kind_of",
    "known_units",
    "length_unit",
    "on_drawing",
    "show",
    "show_dims",
    "shown_in",
    "system_shown",
    "to_si",
]

Dims = tuple[int, ...]
"""Exponents of (m, kg, s, K, rad, lm); the angle and the lumen count, so that neither is a plain number."""

GRAVITY = 9.80665  # [m/s²], standard acceleration of free fall, 3rd CGPM 1901

_DATA: Mapping[str, Any] = own_data(Path(__file__).with_suffix(".yaml"))
DIMENSIONLESS: Dims = (0,) * len(_DATA["bases"])
UNIT_SYMBOLS: Mapping[str, str] = _DATA["marks"]
"""Marks that stand for a unit's name."""

_LONGEST_UNIT = 60  # characters; the longest sensible one, 'millimeter_of_water/meter', has 25
_PART = re.compile(r"(?P<name>.+?)(?:(?:\^|\*\*)(?P<power>-?[0-9])|(?P<raised>⁻?[¹²³⁴⁵⁶⁷⁸⁹]))?\Z")
_RAISED = str.maketrans("⁻¹²³⁴⁵⁶⁷⁸⁹", "-123456789")
_RAISED_BY_A_FIGURE: tuple[Dims, ...] = ((1, 0, 0, 0, 0, 0), (0, 0, 1, 0, 0, 0))  # a length, a time


class _Unit(NamedTuple):
    factor: Fraction
    dims: Dims
    offset: Fraction


_NUMBER = _Unit(Fraction(1), DIMENSIONLESS, Fraction(0))


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
    found = exact_unit(unit)
    if found is None:
        raise ValueError(f"to_si: {unit!r} is not a known unit")
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"to_si: {value!r} is not a finite figure")
        value = Fraction(repr(value))  # the decimal that was written, not the binary nearest to it
    return float(value * found.factor + found.offset)


@lru_cache(maxsize=1024)
def exact_unit(text: str) -> _Unit | None:
    """Find a unit's exact factor, its dimensions and where its scale begins in SI; None if not a unit.

    Pi stands in the degree with 36 figures. Sums of such fractions, rounded once, make
    ``1 ft 6 in`` and ``18 in`` the same number.

    Parameters
    ----------
    text : one unit or a combination: ``mm``, ``L/h``, ``kg/m3``, ``m^2``, ``W/m²``, ``"``, ``°``

    >>> float(exact_unit("in").factor), exact_unit("in").dims
    (0.0254, (1, 0, 0, 0, 0, 0))
    >>> exact_unit("sch 40") is None
    True
    """
    return _combined(text, _named) if 0 < len(text) <= _LONGEST_UNIT else None


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
    symbols = [symbol for symbol, _ in _DATA["bases"]]

    def join(sign: int) -> list[str]:
        pairs = [(symbol, power * sign) for symbol, power in zip(symbols, dims, strict=True)]
        return [s if p == 1 else s + str(p).translate(raised) for s, p in pairs if p > 0]

    above, below = join(1), join(-1)
    text = "·".join(above) or "1"
    if not below:
        return text
    return f"{text}/{below[0]}" if len(below) == 1 else f"{text}/({'·'.join(below)})"


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
        if unit is None or unit.dims not in _RAISED_BY_A_FIGURE:
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
    table: dict[str, _Unit] = {}
    for index, (_, names) in enumerate(_DATA["bases"]):
        dims = tuple(int(index == base) for base in range(len(DIMENSIONLESS)))
        table |= dict.fromkeys(names.split(), _Unit(Fraction(1), dims, Fraction(0)))
    for names, figure, of in _DATA["units"]:
        above, _, below = str(figure).partition("/")
        one = _combined(of, table.get) if of else _NUMBER
        assert one is not None, of
        zero = Fraction(_DATA["zeros"].get(names.split()[0], 0))
        defined = _Unit(Fraction(above) / Fraction(below or 1) * one.factor, one.dims, zero)
        table |= dict.fromkeys(names.split(), defined)
    return table


class KindOfQuantity(NamedTuple):
    """What a kind of quantity is measured in, and how one is written."""

    unit: str
    dims: Dims
    example: str


def _known(unit: str) -> _Unit:
    """Return a unit that our own table names; '' is the plain number."""
    found = exact_unit(unit) if unit else _NUMBER
    assert found is not None, unit
    return found


KINDS: Mapping[str, KindOfQuantity] = {
    name: KindOfQuantity(kind["unit"], _known(kind["unit"]).dims, kind["example"])
    for name, kind in _DATA["kinds"].items()
}
"""Kinds of quantity by name."""

_FIGURES = 4  # significant figures kept by default: a tenth of a millimetre in a metre
_LONGEST = 1e12  # figures from here on are told with their power of ten
_NOTHING = 1e-9  # of the unit shown: below it a figure is rounding noise and shows as 0


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


def system_shown() -> str:
    """Return the units that figures are told in: ``metric`` or ``inch``, by ``shown_in``."""
    return _system.get()


def length_unit() -> str:
    """Return what drawings and charts count lengths in, by ``shown_in``: ``mm`` or ``in``."""
    return "in" if _system.get() == "inch" else "mm"


class _Scene(Protocol):
    @property
    def style(self) -> str: ...


class _OfAScene(Protocol):
    @property
    def scene(self) -> _Scene: ...


_Model = TypeVar("_Model", bound=_OfAScene)
_Given = ParamSpec("_Given")
_Told = TypeVar("_Told")


def in_own_units(
    tell: Callable[Concatenate[_Model, _Given], _Told],
) -> Callable[Concatenate[_Model, _Given], _Told]:
    """Have a function that tells of a model show quantities in the units of its scene."""

    @wraps(tell)
    def telling(model: _Model, /, *args: _Given.args, **named: _Given.kwargs) -> _Told:
        with shown_in(model.scene.style):
            return tell(model, *args, **named)

    return telling


def show(
    value_si: float,
    kind: str,
    *,
    system: str | None = None,
    digits: int | None = None,
    give: float = 0.0,
) -> str:
    """Write an SI value as short text in the units of the trade.

    Parameters
    ----------
    value_si : in the kind's SI unit (``KINDS[kind].unit``)
    kind : one of ``KINDS``
    system : ``metric`` or ``inch``; by default the one of ``shown_in``, or else metric
    digits : significant figures, at least 1; by default 4, or 2 where the unit needs no more
    give : how far off the value may be either way, in the same SI unit: no figure is told beyond the second
        of it, or beyond the first where that is a large one; 0 where it is known

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
    >>> show(0.4573, "length", give=0.010), show(0.4573, "length", give=0.06)
    ('457 mm', '460 mm')

    Sources
    -------
    Rounding by ``give``: Particle Data Group, Review of Particle Physics, introduction: two figures of the
    error from 100 to 354, one from 355 to 949, and above that two of 1000. From memory.
    """
    if kind not in KINDS:
        raise ValueError(f"show: {kind!r} is not a kind of quantity")
    system = system or _system.get()
    if system not in ("metric", "inch"):
        raise ValueError(f"show: system must be 'metric' or 'inch', got {system!r}")
    if digits is not None and digits < 1:
        raise ValueError(f"show: digits must be 1 or more, got {digits}")
    if math.isnan(value_si):
        return "no figure"
    if math.isinf(value_si):
        return "without limit"
    steps = _DATA["kinds"][kind].get(system) or _DATA["kinds"][kind]["metric"]
    name, _, decimals = next(step for step in steps if abs(value_si) < step[1])
    unit = _known(name)
    text = _figure(
        (value_si - float(unit.offset)) / float(unit.factor), decimals, digits, give / float(unit.factor)
    )
    return f"{text}{'' if name in ('', '°') else ' '}{name}"


def _figure(figure: float, decimals: int, digits: int | None, give: float) -> str:
    size = abs(figure)
    if size < _NOTHING:
        return "0"
    if size >= _LONGEST:
        return f"{figure:.{digits or 3}g}"
    above = math.floor(math.log10(size)) + 1  # figures before the point; 0 or less for 0.0…
    # at least two figures by default, else 0.02 mm would read 0
    usual = max(min(decimals, _FIGURES - above), 2 - above, 0)
    places = usual if digits is None else digits - above
    if give > 0.0:
        power = math.floor(math.log10(give / 0.95))
        borne = -power if give >= 3.55 * 10.0**power else 1 - power
        places = max(
            min(places, borne), 1 - above
        )  # at least one figure, or a small end of a wide band reads 0
    rounded = round(figure, places) + 0.0
    text = f"{rounded:,.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def on_drawing(value_si: float, *, system: str | None = None) -> str:
    """Write a length as drawings print it, without its unit: the title block names that.

    Millimetres to a tenth; inches to the nearest 1/32, a fraction in lowest terms, as a steel rule reads;
    ``system`` as ``show`` takes it.

    >>> on_drawing(0.0267, system="metric"), on_drawing(1.25, system="metric")
    ('26.7', '1250')
    >>> on_drawing(0.9144, system="inch"), on_drawing(0.0699, system="inch")
    ('36', '2 3/4')
    """
    if (system or _system.get()) == "metric":
        return f"{round(value_si * 1000.0, 1) + 0.0:.1f}".removesuffix(".0")
    whole, rest = divmod(round(abs(value_si) / 0.0254 * 32), 32)
    figures = [str(whole)] if whole else []
    figures += [str(Fraction(rest, 32))] if rest else []
    return ("-" if value_si < 0 and figures else "") + (" ".join(figures) or "0")
