"""Arithmetic over quantities and names in a scene: ``inside_depth / 2 - 3/4 in``.

A small evaluator of its own, without Python's eval, bounded in size and time. Knows numbers, units, names and
a handful of functions; what a name stands for is the caller's business.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from layout3d.errors import UnknownName
from layout3d.scene.syntax import Step, steps_of
from layout3d.scene.words import ArithmeticMistake
from layout3d.units import DIMENSIONLESS, KINDS, Dims, exact_unit, kind_of

__all__ = ["ArithmeticMistake", "Quantity", "as_kind", "evaluate", "quantity_of"]

_LARGEST_EXPONENT = 16
_LARGEST_DIMENSION = 24  # m^24 and beyond is no quantity of this trade, and keeps the whole numbers small
_LENGTH, _ANGLE = KINDS["length"].dims, KINDS["angle"].dims
_DEGREE = math.pi / 180


@dataclass(frozen=True, slots=True)
class Quantity:
    """A computed value.

    ``value`` is in SI, or as written where ``bare``: a number that no unit ever touched, which may yet become
    a length in the file's unit, an angle in degrees or a plain number. ``point`` marks a point on a
    temperature scale (25 °C), which can be shifted but not doubled.
    """

    value: float
    dims: Dims = DIMENSIONLESS
    bare: bool = True
    point: bool = False


def evaluate(text: str, *, lookup: Callable[[str], Quantity], bare_length: float) -> Quantity:
    """Compute what an expression of a scene stands for.

    Parameters
    ----------
    text : at most 500 characters and 200 words. ``+ - * / ^``, parentheses, ``min max abs sqrt sin cos tan
        round floor ceil``, ``pi``, names with dots, and numbers with a unit right behind them:
        ``3/4 in``, ``1-1/2 in``, ``1 ft 6 in``, ``5' 6"``, ``20 L/h``, ``45°``, ``30 %``
    lookup : gives the quantity that a name stands for; called only once the text is known to be well formed
    bare_length : what 1 stands for where a bare number meets a length, [m]: 0.001 in a file in mm

    Returns
    -------
    The quantity. A ratio of two lengths is a number but not bare.

    Raises
    ------
    ArithmeticMistake : with the offset in the text. Whatever ``lookup`` raises, ``UnknownName`` above all.

    Notes
    -----
    A unit binds tighter than any sign, and a compound one is written without spaces: ``20 L/h`` is a flow,
    ``20 L / h`` a volume divided by a value named h. ``round(x, step)`` rounds to multiples, halves away from
    zero, and takes 149.9999999999 of 150 mm for 150.

    Examples
    --------
    >>> depth = Quantity(0.6, (1, 0, 0, 0, 0, 0), bare=False)
    >>> evaluate("inside_depth / 2 - 3/4 in", lookup=lambda name: depth, bare_length=0.001).value
    0.28095
    """
    stack: list[Quantity] = []
    for step in steps_of(text):
        if step.literal is not None:
            literal = step.literal
            value = literal.si(-1 if step.negated else 1)
            stack.append(Quantity(value, literal.dims, literal.bare, literal.point))
        elif step.kind == "name":
            stack.append(Quantity(math.pi, bare=False) if step.text == "pi" else _looked_up(step, lookup))
        else:
            operands = stack[len(stack) - step.count :]
            del stack[len(stack) - step.count :]
            stack.append(_checked(_apply(step, operands, bare_length), step.offset))
    (result,) = stack
    return result


def as_kind(
    quantity: Quantity, kind: str, *, bare_length: float, expected: str = "", example: str = ""
) -> float:
    """Take a quantity for what a field wants.

    Parameters
    ----------
    quantity : from ``evaluate``
    kind : one of ``units.KINDS``
    bare_length : what a bare 1 stands for as a length, [m]
    expected, example : what the field wants, and a value of it; those of the kind where not given

    Returns
    -------
    SI value. A bare number is a length in the file's unit, an angle in degrees, or a number.

    Raises
    ------
    ArithmeticMistake : the quantity is of another kind, or bare where a unit is needed.

    Examples
    --------
    >>> as_kind(Quantity(21), "length", bare_length=0.001)
    0.021
    """
    wanted = KINDS[kind]
    expected, example = expected or _a(kind), example or wanted.example
    if quantity.bare:
        if kind == "length":
            return _times(quantity.value, bare_length)
        if kind == "angle":
            return quantity.value * _DEGREE
        if kind == "number":
            return quantity.value
        raise ArithmeticMistake(
            f"a bare number where {_a(kind)} is wanted",
            expected=expected,
            remedy=f"write the unit, e.g. {example}",
        )
    if quantity.dims == wanted.dims:
        return quantity.value
    found = _a(_told(quantity))
    remedy = f"write {_a(kind)}, e.g. {example}"
    if quantity.dims == DIMENSIONLESS:
        found = "a plain number (a ratio, or one with %)"
        remedy = f"multiply it by {_a(kind)}, e.g. * {example}"
    raise ArithmeticMistake(f"{found} where {_a(kind)} is wanted", expected=expected, remedy=remedy)


def quantity_of(value: float, kind: str) -> Quantity:
    """Return an SI value of this kind as a quantity with its unit, never bare."""
    return Quantity(value, KINDS[kind].dims, bare=False)


# computing


def _looked_up(step: Step, lookup: Callable[[str], Quantity]) -> Quantity:
    try:
        return _checked(lookup(step.text), step.offset)
    except UnknownName as error:
        if re.fullmatch(r"(R|Rp|Rc|G|M|NPT|BSP[PT]?)[0-9]+", step.text):
            raise ArithmeticMistake(
                f"{step.text!r} is not a name here; it reads as the name of a thread, which is not a length",
                offset=step.offset,
                expected="a length",
                remedy="write the measured size, e.g. 26.4 mm",
            ) from error
        if exact_unit(step.text) and not error.remedy:
            error.remedy = (
                "if a unit is meant, write it right behind a number and without spaces, e.g. 20 L/h"
            )
        raise


def _apply(step: Step, operands: list[Quantity], bare_length: float) -> Quantity:
    try:
        if step.kind == "call":
            return _call(step, operands, bare_length)
        if step.text == "negative":
            (only,) = operands
            _refuse_point(step, only)
            return Quantity(-only.value, only.dims, only.bare)
        first, second = operands
        if step.text in ("+", "-"):
            return _sum(step, first, second, bare_length)
        _refuse_point(step, first, second)
        if step.text == "^":
            return _power(step, first, second)
        return _product(step, first, second)
    except OverflowError:
        raise _too_large(step.offset) from None
    except ZeroDivisionError:
        raise ArithmeticMistake("a division by zero", offset=step.offset) from None


def _checked(quantity: Quantity, offset: int) -> Quantity:
    if not math.isfinite(quantity.value):
        raise _too_large(offset)
    if any(abs(power) > _LARGEST_DIMENSION for power in quantity.dims):
        raise ArithmeticMistake("a power of a unit that nothing is measured in", offset=offset)
    if quantity.value == 0 and math.copysign(1, quantity.value) < 0:
        return Quantity(0.0, quantity.dims, quantity.bare, quantity.point)
    return quantity


def _too_large(offset: int) -> ArithmeticMistake:
    return ArithmeticMistake("a figure too large to compute with", offset=offset, expected="a size in reach")


def _refuse_point(step: Step, *operands: Quantity) -> None:
    if any(operand.point for operand in operands):
        raise ArithmeticMistake(
            f"a temperature in °C or °F with {step.text!r}",
            offset=step.offset,
            expected="a difference in K added to it or taken from it",
            remedy="write e.g. 25 °C + 3 K",
        )


def _sum(step: Step, first: Quantity, second: Quantity, bare_length: float) -> Quantity:
    first, second = _alike(step, [first, second], bare_length)
    minus = step.text == "-"
    if second.point and not (minus and first.point):
        _refuse_point(step, second)
    value = first.value - second.value if minus else first.value + second.value
    return Quantity(value, first.dims, first.bare and second.bare, first.point and not second.point)


def _product(step: Step, first: Quantity, second: Quantity) -> Quantity:
    over = step.text == "/"
    value = first.value / second.value if over else first.value * second.value
    dims = tuple(a - b if over else a + b for a, b in zip(first.dims, second.dims, strict=True))
    # 1200 * sin(30 deg) and 500 * 30 % may still become a length; a ratio over a bare number may not
    bare = dims == DIMENSIONLESS and (first.bare or (second.bare and not over))
    return Quantity(value, dims, bare and _plain(first) and _plain(second))


def _plain(quantity: Quantity) -> bool:
    return quantity.dims == DIMENSIONLESS


def _power(step: Step, base: Quantity, exponent: Quantity) -> Quantity:
    if not _plain(exponent):
        raise ArithmeticMistake(
            f"{_a(_told(exponent))} as a power", offset=step.offset, expected="a plain number behind '^'"
        )
    power = exponent.value
    if abs(power) > _LARGEST_EXPONENT:
        raise ArithmeticMistake(
            f"a power of {power:g}",
            offset=step.offset,
            expected=f"one from -{_LARGEST_EXPONENT} to {_LARGEST_EXPONENT}",
        )
    if power == int(power):
        return Quantity(base.value ** int(power), tuple(e * int(power) for e in base.dims), base.bare)
    if not _plain(base):
        raise ArithmeticMistake(
            f"{_a(_told(base))} to the power of {power:g}",
            offset=step.offset,
            expected="a whole power, or sqrt( )",
        )
    if base.value < 0:
        raise ArithmeticMistake(f"a number below 0 to the power of {power:g}", offset=step.offset)
    return Quantity(base.value**power, base.dims, base.bare)


def _call(step: Step, operands: list[Quantity], bare_length: float) -> Quantity:
    if step.text in ("min", "max"):
        operands = _alike(step, operands, bare_length)
        if len({operand.point for operand in operands}) > 1:
            _refuse_point(step, *operands)
        choose = min if step.text == "min" else max
        value = choose(operand.value for operand in operands)
        bare = all(operand.bare for operand in operands)
        return Quantity(value, operands[0].dims, bare, operands[0].point)
    _refuse_point(step, *operands)
    if step.text in ("round", "floor", "ceil"):
        return _rounded(step, operands, bare_length)
    only = operands[0]
    if step.text == "abs":
        return Quantity(abs(only.value), only.dims, only.bare)
    if step.text == "sqrt":
        if only.value < 0:
            raise ArithmeticMistake("the square root of a number below 0", offset=step.offset)
        if any(power % 2 for power in only.dims):
            raise ArithmeticMistake(
                f"the square root of {_a(_told(only))}", offset=step.offset, expected="e.g. an area"
            )
        return Quantity(math.sqrt(only.value), tuple(power // 2 for power in only.dims), only.bare)
    return _of_angle(step, only)


def _of_angle(step: Step, only: Quantity) -> Quantity:
    if not only.bare and only.dims != _ANGLE:
        raise ArithmeticMistake(
            f"{_a(_told(only))} in {step.text}( )",
            offset=step.offset,
            expected="an angle",
            remedy="write e.g. 30 deg",
        )
    angle = only.value * _DEGREE if only.bare else only.value
    sine, cosine = (0.0 if abs(x) < 1e-15 else x for x in (math.sin(angle), math.cos(angle)))
    if step.text == "tan" and cosine == 0:
        raise ArithmeticMistake("the tangent of a right angle, which has none", offset=step.offset)
    value = {"sin": sine, "cos": cosine, "tan": sine / cosine if cosine else math.inf}[step.text]
    return Quantity(value, bare=False)


def _rounded(step: Step, operands: list[Quantity], bare_length: float) -> Quantity:
    if len(operands) == 1:
        if not _plain(operands[0]):
            raise ArithmeticMistake(
                f"{step.text} of {_a(_told(operands[0]))} without a step",
                offset=step.offset,
                remedy=f"say to what, e.g. {step.text}(…, 5 mm)",
            )
        operands = [operands[0], Quantity(1.0, bare=operands[0].bare)]
    figure, multiple = _alike(step, operands, bare_length)
    if multiple.value <= 0:
        raise ArithmeticMistake(f"a step of 0 or less in {step.text}( )", offset=step.offset)
    count = figure.value / multiple.value
    whole = math.floor(abs(count) + 0.5) * (1 if count > 0 else -1)  # halves away from zero
    # what a sum of decimals misses a whole number by must not cost a step
    if step.text != "round" and abs(count - whole) > 1e-9 * max(1.0, abs(count)):
        whole = math.floor(count) if step.text == "floor" else math.ceil(count)
    return Quantity(_times(float(whole), multiple.value), figure.dims, figure.bare and multiple.bare)


def _alike(step: Step, operands: list[Quantity], bare_length: float) -> list[Quantity]:
    """Bring operands to one kind: a bare number becomes a length or an angle beside one."""
    dims = next((o.dims for o in operands if not o.bare), DIMENSIONLESS)
    scale = {_LENGTH: bare_length, _ANGLE: _DEGREE}.get(dims)
    if scale is not None:
        operands = [Quantity(_times(o.value, scale), dims, False) if o.bare else o for o in operands]
    for one, other in pairwise(operands):
        if one.dims != other.dims:
            raise ArithmeticMistake(
                f"{_a(_told(one))} and {_a(_told(other))} {_DONE[step.text]}",
                offset=step.offset,
                expected="two of one kind",
                remedy="write the unit behind the bare number" if one.bare or other.bare else "",
            )
    return operands


_DONE = {"+": "added", "-": "taken from each other", "min": "compared", "max": "compared"} | dict.fromkeys(
    ("round", "floor", "ceil"), "rounded to one another"
)


def _times(value: float, factor: float) -> float:
    """Multiply decimals as written, so that a bare 21 in a file in mm is 21 mm to the last bit."""
    return float(Fraction(repr(value)) * Fraction(repr(factor)))


def _told(quantity: Quantity) -> str:
    if quantity.bare:
        return "bare number"
    return "plain number" if _plain(quantity) else kind_of(quantity.dims)


def _a(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
