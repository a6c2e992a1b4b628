"""Arithmetic of scenes against Python's own numbers and against fractions, trade notation, and refusals."""

from __future__ import annotations

import contextlib
import math
import time
from fractions import Fraction
from typing import NamedTuple

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout3d.errors import UnknownName
from layout3d.scene.arithmetic import ArithmeticMistake, Quantity, as_kind, evaluate, quantity_of
from layout3d.units import KINDS

MM = 0.001
KNOWN = {
    "inside_depth": quantity_of(0.6, "length"),
    "tank.inside_depth": quantity_of(0.6, "length"),
    "width": Quantity(1200.0),
    "count": Quantity(3.0),
    "h": quantity_of(7200.0, "time"),
    "m": Quantity(5.0),
    "min": Quantity(8.0),
    "slope": quantity_of(0.02, "number"),
}


def lookup(name: str) -> Quantity:
    if name not in KNOWN:
        raise UnknownName(f"no value is called {name!r}")
    return KNOWN[name]


def value(text: str, kind: str = "length", bare_length: float = MM) -> float:
    return as_kind(evaluate(text, lookup=lookup, bare_length=bare_length), kind, bare_length=bare_length)


def mistake(text: str, kind: str = "length", bare_length: float = MM) -> ArithmeticMistake:
    with pytest.raises(ArithmeticMistake) as caught:
        value(text, kind, bare_length)
    return caught.value


# what is written, in inches of exactly 25.4 mm (NIST SP 811, appendix B.8)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("3/4 in", "3/4"),
        ("1-1/2 in", "3/2"),
        ("1 1/2 in", "3/2"),
        ('1-1/2"', "3/2"),
        ("10-1/2 in", "21/2"),
        ("- 1-1/2 in", "-3/2"),
        ("3/4in", "3/4"),
        ("0.75 in", "3/4"),
        (".75 in", "3/4"),
        ("75e-2 in", "3/4"),
        ("1 ft 6 in", "18"),
        ("1ft 6in", "18"),
        ("1 ft 6 1/2 in", "37/2"),
        ("5' 6\"", "66"),
        ("5'6\"", "66"),
        ("5'-6\"", "66"),
        ("5'-6 1/2\"", "133/2"),
        ("5’ 6”", "66"),
        ("1 yd 1 ft 1 in", "49"),
        ("1 ft - 6 in", "6"),
        ("2 in-1/2 in", "3/2"),
        ("2 - 1/2 in", "2-1/2"),  # a bare 2 in a file in inches
        ("2 * 3/4 in", "3/2"),
        ("1 ft 6 in * 2", "36"),
        ("6 in / 2", "3"),
        ("12 in/ft * 1 ft", "12"),
        ("2 × 3 in ÷ 4 − 1 in", "1/2"),
        ("1 1/2", "3/2"),
        ("3/4", "3/4"),
    ],
)
def test_trade_notation(text, inches):
    whole, _, part = inches.partition("-") if inches[0] != "-" else (inches, "", "0")
    exact = (Fraction(whole) - Fraction(part or 0)) * Fraction("0.0254")
    assert value(text, bare_length=0.0254) == pytest.approx(float(exact), rel=1e-15)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("21", "length", 0.021),
        ("21 mm", "length", 0.021),
        ("inside_depth / 2 - 3/4 in", "length", 0.6 / 2 - 0.01905),
        ("tank.inside_depth / 2", "length", 0.3),
        ("width / 2 + 10 mm", "length", 0.610),
        ("width / 2 + 10", "length", 0.610),
        ("width * sin(30 deg)", "length", 0.6),
        ("width * 30 %", "length", 0.36),
        ("width * (1 - slope)", "length", 1.176),
        ("sqrt(inside_depth^2 + (800 mm)^2)", "length", 1.0),
        ("350 gal", "volume", 350 * 231 * 0.0254**3),
        ("10.1 fl oz + 1 fl_oz", "volume", 11.1 / 128 * 231 * 0.0254**3),
        ("20 L/h", "flow", 20e-3 / 3600),
        ("(40 L) / h", "flow", 40e-3 / 7200),
        ("60 L/h/m", "flow per length", 60e-3 / 3600),
        ("1600 kg/m3", "density", 1600.0),
        ("12 m^2", "area", 12.0),
        ("12 m²", "area", 12.0),
        ("(2 m)^2", "area", 4.0),
        ("inside_depth * 2 m", "area", 1.2),
        ("90 deg", "angle", math.pi / 2),
        ("45°", "angle", math.pi / 4),
        ("45", "angle", math.pi / 4),
        ("45 + 1 rad", "angle", math.pi / 4 + 1),
        ("1 h 30 min", "time", 5400.0),
        ("30 %", "number", 0.3),
        ("inside_depth / 300 mm", "number", 2.0),
        ("2 * pi", "number", 2 * math.pi),
        ("25 °C", "temperature", 298.15),
        ("-5 °C", "temperature", 268.15),
        ("77 °F", "temperature", 298.15),
        ("25 °C + 3 K", "temperature", 301.15),
        ("20 °C - 5 K", "temperature", 288.15),
        ("max(20 °C, 22 °C)", "temperature", 295.15),
        ("20 °C - 5 °C", "temperature", 15.0),
        ("m * 2", "number", 10.0),  # a value may bear a unit's name: units stand behind numbers only
        ("min + 1", "number", 9.0),  # and a function's
        ("min(count, m)", "number", 3.0),
        ("max(10, 1 in, 20 mm)", "length", 0.0254),
        ("abs(10 mm - inside_depth)", "length", 0.59),
        ("round(inside_depth / 7, 5 mm)", "length", 0.085),
        ("round(inside_depth / 7, 5)", "length", 0.085),
        ("floor(150 mm, 50 mm)", "length", 0.15),
        ("ceil(0.1 + 0.2, 0.1)", "number", 0.3),
        ("round(2.5)", "number", 3.0),
        ("round(-2.5)", "number", -3.0),
        ("floor(-2.5)", "number", -3.0),
        ("ceil(2.1)", "number", 3.0),
        ("-2^2", "number", -4.0),
        ("2^-1", "number", 0.5),
        ("2**3^2", "number", 512.0),
        ("4^0.5", "number", 2.0),
        ("cos(90)", "number", 0.0),
        ("tan(45 deg)", "number", 1.0),
        ("10-4/2", "number", 8.0),  # four halves are no fraction of the trade
    ],
)
def test_computes(text, kind, si):
    assert value(text, kind) == pytest.approx(si, rel=1e-14, abs=1e-15)


@given(st.integers(-(10**6), 10**6), st.sampled_from([0.001, 0.0254]))
@settings(derandomize=True)
def test_a_bare_number_is_the_file_s_unit_to_the_last_bit(number, bare_length):
    unit = "mm" if bare_length == MM else "in"
    for written in (f"{number}", f"{number / 8}"):
        assert value(written, bare_length=bare_length) == value(f"{written} {unit}", bare_length=bare_length)
    assert evaluate(f"{number} mm", lookup=lookup, bare_length=MM).value == number / 1000


def test_bareness():
    """A bare number may yet become a length; a ratio of lengths is a number and stays one."""
    assert evaluate("width / 2 * (3 + 1)", lookup=lookup, bare_length=MM).bare
    ratio = evaluate("inside_depth / 300 mm", lookup=lookup, bare_length=MM)
    assert ratio == Quantity(2.0, bare=False)
    assert evaluate("pi", lookup=lookup, bare_length=MM).bare is False
    assert evaluate("1 + inside_depth / 300 mm", lookup=lookup, bare_length=MM).bare is False
    assert evaluate("500 * inside_depth / 300 mm", lookup=lookup, bare_length=MM).bare is False
    assert evaluate("0 mm", lookup=lookup, bare_length=MM).bare is False


# refusals


@pytest.mark.parametrize(
    ("text", "offset", "found"),
    [
        ("", 0, "nothing"),
        ("   ", 0, "nothing"),
        (".nan", 0, "'.nan' is not a figure"),
        ("-.inf", 0, "'-.inf' is not a figure"),
        ("NaN", 0, "'NaN' is not a figure"),
        ("3 +", 3, "ends too early"),
        ("(3", 0, "a '(' without its ')'"),
        ("3)", 1, "a ')' without its '('"),
        ("()", 1, "a ')' without its '('"),
        ("* 3", 0, "'*' can't stand here"),
        ("12 widgets", 3, "'widgets' is not a unit"),
        ("2 inside_depth", 2, "'inside_depth' is not a unit"),
        ("inside_depth m", 13, "no sign between 'inside_depth' and 'm'"),
        ("(2 + 3) mm", 8, "no sign between ')' and 'mm'"),
        ("2 (3)", 2, "no sign between '2' and '('"),
        ("1 ft 6", 5, "no sign between '1 ft' and '6'"),
        ("6 in 1 ft", 5, "no sign between '6 in' and '1 ft'"),
        ("3 mm 5 mm", 5, "no sign between '3 mm' and '5 mm'"),
        ("5 m 3 kg", 4, "no sign between '5 m' and '3 kg'"),
        ("5' 6'", 3, 'no sign between "5\'" and "6\'"'),
        ("1-1/2", 0, "'1-1/2' can be read in two ways"),
        ("10-4/2 in", 0, "'10-4/2' can be read in two ways"),
        ("1 3/2 in", 0, "'1 3/2' can be read in two ways"),
        ("1 ft-6 in", 0, "'1 ft-6 in' can be read in two ways"),
        ("2 m ^2", 3, "'2 m' with a power"),
        ("12,5 mm", 2, "',' behind a number"),
        ("1,200", 1, "',' behind a number"),
        ("1.200.5", 5, "'.' behind a number"),
        ("½ in", 0, "'½' can't stand here"),
        ("width = 3", 6, "'=' can't stand here"),
        ("a[0]", 1, "'[' can't stand here"),
        ("'mm'", 0, "\"'\" can't stand here"),
        ("３ mm", 0, "'３' can't stand here"),
        ("inside_depth + 3 kg", 13, "a length and a mass added"),
        ("3 L - inside_depth", 4, "a volume and a length taken from each other"),
        ("5 + 3 kg", 2, "a bare number and a mass added"),
        ("slope + 3 mm", 6, "a plain number and a length added"),
        ("max(3 L, 2 kg)", 0, "a volume and a mass compared"),
        ("2 ^ (3 mm)", 2, "a length as a power"),
        ("2 ^ 17", 2, "a power of 17"),
        ("2 ^ -17", 2, "a power of -17"),
        ("(2 m) ^ 0.5", 6, "a length to the power of 0.5"),
        ("(0 - 2) ^ 0.5", 8, "a number below 0 to the power of 0.5"),
        ("(3 m)^16^2", 5, "a power of 256"),
        ("((3 m)^9)^9", 9, "a power of a unit that nothing is measured in"),
        ("1 / 0", 2, "a division by zero"),
        ("1 / (2 - 2)", 2, "a division by zero"),
        ("0 ^ -1", 2, "a division by zero"),
        ("3/0 in", 2, "a division by zero"),
        ("1e300 * 1e300", 6, "a figure too large to compute with"),
        ("1e200 ^ 2", 6, "a figure too large to compute with"),
        ("1e999", 0, "a number too large to compute with"),
        ("1e-400", 0, "a number too small to compute with"),
        ("9" * 400, 0, "a number too large to compute with"),
        ("sqrt(0 - 1)", 0, "the square root of a number below 0"),
        ("sqrt(2 m)", 0, "the square root of a length"),
        ("sin(2 m)", 0, "a length in sin( )"),
        ("tan(90 deg)", 0, "the tangent of a right angle, which has none"),
        ("round(3 mm)", 0, "round of a length without a step"),
        ("round(3, 0)", 0, "a step of 0 or less in round( )"),
        ("abs(1, 2)", 0, "abs with 2 values"),
        ("max()", 4, "a ')' without its '('"),
        ("width(3)", 0, "'width' is not a function"),
        ("__import__(1)", 0, "'__import__' is not a function"),
        ("20 °C + 3 °C", 6, "a temperature in °C or °F with '+'"),
        ("2 * 20 °C", 2, "a temperature in °C or °F with '*'"),
        ("3 K - 20 °C", 4, "a temperature in °C or °F with '-'"),
        ("abs(20 °C)", 0, "a temperature in °C or °F with 'abs'"),
        ("max(20 °C, 3 K)", 0, "a temperature in °C or °F with 'max'"),
        ("20 °C 3 °F", 6, "no sign between '20 °C' and '3 °F'"),
        ("x" * 501, 0, "501 characters"),
        ("1+" * 120 + "1", 200, "more than 200 words and signs"),
        ("(" * 31 + "1" + ")" * 31, 30, "nested more than 30 deep"),
        ("-" * 31 + "1", 31, "nested more than 30 deep"),
        ("^".join("1" * 32), 61, "nested more than 30 deep"),
    ],
)
def test_refuses(text, offset, found):
    told = mistake(text)
    assert (told.offset, told.found) == (offset, found)
    assert isinstance(told, ValueError)


@pytest.mark.parametrize(
    "text", ["R3/4", "R 1/2", "Rp1/2", "G1/2", "G 1", "3/4 NPT", "3/4 in NPT", "NPT 1/2", "M20x1.5", "R3"]
)
def test_the_name_of_a_thread_is_no_length(text):
    assert "the name of a thread" in mistake(text).found
    assert "measured size" in mistake(text).remedy


@pytest.mark.parametrize("text", ["DN 20", "3/4 in sch 40", "3/4in sch40", "3/4 in schedule 80", "1 sch 40"])
def test_the_name_of_a_pipe_is_no_length(text):
    assert "the name of a pipe size" in mistake(text).found


def test_a_name_that_looks_like_a_thread_may_be_used():
    assert evaluate("R3 / 4", lookup=lambda _: Quantity(8.0), bare_length=MM) == Quantity(2.0)


@pytest.mark.parametrize(
    ("text", "kind", "found", "remedy"),
    [
        ("12", "mass", "a bare number where a mass is wanted", "write the unit, e.g. 12 kg"),
        ("12", "volume", "a bare number where a volume is wanted", "write the unit, e.g. 350 L"),
        ("12 kg", "length", "a mass where a length is wanted", "write a length, e.g. 120 mm"),
        ("12 mm", "angle", "a length where an angle is wanted", "write an angle, e.g. 45 deg"),
        ("12 mm", "number", "a length where a number is wanted", "write a number, e.g. 0.4"),
        ("30 %", "length", "a plain number (a ratio, or one with %) where a length is wanted",
         "multiply it by a length, e.g. * 120 mm"),
        ("2 m / 3 kg", "length", "a quantity in m/kg where a length is wanted",
         "write a length, e.g. 120 mm"),
    ],
)  # fmt: skip
def test_refuses_another_kind(text, kind, found, remedy):
    told = mistake(text, kind)
    assert (told.found, told.remedy) == (found, remedy)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"length", "angle", "number"}))
def test_a_bare_number_is_no_quantity_of_any_other_kind(kind):
    assert "write the unit" in mistake("12", kind).remedy


def test_unknown_names_pass_through():
    with pytest.raises(UnknownName, match="no value is called 'depht'"):
        evaluate("depht / 2", lookup=lookup, bare_length=MM)
    with pytest.raises(UnknownName, match=r"without spaces, e\.g\. 20 L/h"):
        evaluate("20 L / s", lookup=lookup, bare_length=MM)


def test_names_are_looked_up_only_in_a_text_that_is_well_formed():
    asked = []

    def note(name: str) -> Quantity:
        asked.append(name)
        return Quantity(1.0)

    with pytest.raises(ArithmeticMistake):
        evaluate("first + second +", lookup=note, bare_length=MM)
    assert asked == []
    evaluate("second + first", lookup=note, bare_length=MM)
    assert asked == ["second", "first"]


def test_a_name_may_not_stand_for_what_is_no_figure():
    with pytest.raises(ArithmeticMistake, match="too large"):
        evaluate("a", lookup=lambda _: Quantity(math.nan), bare_length=MM)


def test_only_names_are_looked_up_and_none_of_a_text_that_is_not_well_formed():
    asked = []

    def look(name):
        asked.append(name)
        return Quantity(0.1, (1, 0, 0, 0, 0, 0), bare=False)

    evaluate("tank.inside_depth / 2 - max(gap, 3 mm) * pi", lookup=look, bare_length=MM)
    evaluate("12 mm/depth", lookup=look, bare_length=MM)
    assert asked == ["tank.inside_depth", "gap", "depth"]
    with pytest.raises(ArithmeticMistake):
        evaluate("gap + 3 +", lookup=look, bare_length=MM)
    assert len(asked) == 3


def test_python_is_out_of_reach():
    for text in (
        "().__class__",
        "__import__('os')",
        "lambda: 1",
        "[x for x in y]",
        "a.__class__(1)",
        "1 if 1 else 2",
    ):
        with pytest.raises((ArithmeticMistake, UnknownName)):
            evaluate(text, lookup=lookup, bare_length=MM)


# against Python's own arithmetic: the same operations in floats, bit for bit, and in fractions


class Case(NamedTuple):
    """An expression and, by fractions, its value and the size of what was added up in it."""

    text: str
    exact: Fraction
    size: Fraction


def negative(case: Case) -> Case:
    return Case(f"-{case.text}", -case.exact, case.size)


def joined(parts: tuple[Case, str, Case]) -> Case:
    first, sign, second = parts
    text = f"({first.text} {sign} {second.text})"
    if sign == "*":
        return Case(text, first.exact * second.exact, first.size * second.size)
    if sign == "/":
        assume(second.exact != 0)
        assume(second.size / abs(second.exact) < 10**4)  # no division by what all but vanished
        return Case(
            text,
            first.exact / second.exact,
            first.size / abs(second.exact) * (second.size / abs(second.exact)),
        )
    exact = first.exact + second.exact if sign == "+" else first.exact - second.exact
    return Case(text, exact, first.size + second.size)


def powered(parts: tuple[Case, int]) -> Case:
    base, power = parts
    return Case(f"({base.text}) ** {power}", base.exact**power, base.size**power)


NUMBERS = st.decimals("0.001", 9999, places=3).map(lambda d: Case(f"{d}", Fraction(d), Fraction(d)))
CASES = st.recursive(
    NUMBERS,
    lambda inner: (
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(joined)
        | inner.map(negative)
        | st.tuples(inner, st.integers(1, 3)).map(powered)
    ),
    max_leaves=12,
)


@given(CASES)
@settings(max_examples=160, derandomize=True)
def test_numbers_agree_with_python_s_own(case):
    assume(len(case.text) <= 500)
    result = evaluate(case.text, lookup=lookup, bare_length=MM)
    assert result.bare
    # by floats: the same operations in the same order. The text is made of numbers and signs above.
    assert result.value == eval(case.text)
    # by fractions: what rounding can make of it, 1e-16 for each of at most some fifty operations
    assert abs(Fraction(result.value) - case.exact) <= case.size * Fraction(1, 10**12)


LENGTHS = {"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "in": Fraction("0.0254")}
LENGTHS |= {"ft": Fraction("0.3048"), '"': Fraction("0.0254"), "": Fraction(1, 1000)}


@given(
    st.lists(
        st.tuples(
            st.sampled_from("+-"), st.integers(0, 999),
            st.sampled_from([(above, below) for below in (2, 4, 8, 16) for above in range(1, below)]),
            st.sampled_from(sorted(LENGTHS)),
        ),
        min_size=1,
        max_size=15,
    )
)  # fmt: skip
@settings(derandomize=True)
def test_sums_of_lengths_agree_with_fractions(terms):
    text, exact, size = "0 mm", Fraction(0), Fraction(0)
    for sign, whole, (above, below), unit in terms:
        text += f" {sign} {whole} {above}/{below} {unit}".rstrip()
        term = (whole + Fraction(above, below)) * LENGTHS[unit]
        exact += term if sign == "+" else -term
        size += term
    assert abs(Fraction(value(text)) - exact) <= size * Fraction(1, 10**14)


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
@settings(derandomize=True)
def test_dimensions_follow_the_operation(a, b):
    known = {"a": quantity_of(a, "length"), "b": quantity_of(b, "time")}
    product = evaluate("a * b", lookup=known.__getitem__, bare_length=MM)
    assert product == Quantity(a * b + 0.0, (1, 0, 1, 0, 0, 0), bare=False)
    if b:
        assume(math.isfinite(a / b))
        assert evaluate("a / b", lookup=known.__getitem__, bare_length=MM) == quantity_of(
            a / b + 0.0, "speed"
        )
    with pytest.raises(ArithmeticMistake, match="a length and a time added"):
        evaluate("a + b", lookup=known.__getitem__, bare_length=MM)


# fuzz

PIECES = [
    "1",
    "2.5",
    "3/4",
    "1-1/2",
    "1e300",
    "e5",
    "0",
    "16",
    "40",
    ".",
    "½",
    "mm",
    "in",
    "ft",
    "'",
    '"',
    "°",
]
PIECES += [
    "°C",
    "%",
    "L/h",
    "m^2",
    "kg",
    "²",
    "+",
    "-",
    "*",
    "/",
    "^",
    "**",
    "×",
    "(",
    ")",
    ",",
    "min",
    "max",
]
PIECES += ["round", "sqrt", "tan", "pi", "width", "a.b", "R3", "sch", "NPT"]
WORDS = st.sampled_from(PIECES)
TEXTS = st.lists(WORDS, max_size=30).flatmap(lambda words: st.sampled_from(["".join(words), " ".join(words)]))


@given(st.text(max_size=60) | TEXTS)
@settings(max_examples=120, derandomize=True)
def test_any_text_is_computed_or_refused(text):
    result = None
    try:
        result = evaluate(text, lookup=lookup, bare_length=MM)
    except (ArithmeticMistake, UnknownName) as caught:
        told = caught
    if result is not None:
        assert math.isfinite(result.value)
    elif isinstance(told, ArithmeticMistake):
        assert 0 <= told.offset <= len(text)
        assert told.found
        str(told).encode("utf-8", "surrogatepass")


LONG = ["9" * 500, "9 " * 250, "1-" * 250, "(" * 500, "5'-" * 160, "^9" * 250, "1/" * 250, "1 1/" * 120]
LONG += [
    "a." * 250,
    "3/4 in " * 70,
    "9" * 250 + "/" + "9" * 240 + " in",
    "-" * 500,
    "9**" * 160,
    "1" + " /" * 249,
]
LONG += [
    "R" + " " * 490 + "3/4",
    "3" + " " * 400 + "-" * 90 + "in",
    "m/" * 250,
    "1 m" + "/m" * 240,
    "1" + "e9" * 240,
]


@pytest.mark.parametrize("text", LONG)
def test_no_text_takes_long(text):
    start = time.process_time()
    with contextlib.suppress(ArithmeticMistake, UnknownName):
        evaluate(text, lookup=lookup, bare_length=MM)
    assert time.process_time() - start < 0.5  # some milliseconds; a text that explodes takes minutes
