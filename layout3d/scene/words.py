"""An expression's text cut into words: numbers with their units, names, signs.

This is where trade notation is read: ``3/4 in``, ``1-1/2 in``, ``5' 6"``. What can be read in two ways is
refused. Nothing is computed here beyond the one number that a literal stands for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import NoReturn

from layout3d.errors import SceneMistake
from layout3d.units import DIMENSIONLESS, Dims, exact_unit

__all__ = ["ArithmeticMistake", "Literal", "Word", "split"]

_LONGEST_TEXT = 500  # characters
_MOST_WORDS = 200


class ArithmeticMistake(SceneMistake):
    """What is wrong with an expression; ``offset`` counts characters from the start of its text."""

    def __init__(self, found: str, *, offset: int = 0, expected: str = "", remedy: str = "") -> None:
        super().__init__(found, expected=expected, remedy=remedy)
        self.offset = offset


@dataclass(frozen=True, slots=True)
class Literal:
    """A number as written, exact, and its unit."""

    number: Fraction
    unit: str = ""
    factor: Fraction = Fraction(1)
    dims: Dims = DIMENSIONLESS
    zero: Fraction = Fraction(0)  # where the unit's scale begins, in SI
    offset: int = 0

    @property
    def bare(self) -> bool:
        """No unit."""
        return not self.unit

    @property
    def point(self) -> bool:
        """A point on a temperature scale."""
        return self.zero != 0

    def si(self, sign: int = 1) -> float:
        """Return the SI value, rounded once."""
        exact = sign * self.number * self.factor + self.zero
        try:
            value = float(exact)
        except OverflowError:
            raise ArithmeticMistake("a number too large to compute with", offset=self.offset) from None
        if value == 0 and exact != 0:
            raise ArithmeticMistake("a number too small to compute with", offset=self.offset)
        return value


@dataclass(frozen=True, slots=True)
class Word:
    """``kind`` is number, name, sign or end; ``text`` as written, but ``**`` is ``^``; empty at the end."""

    kind: str
    text: str
    offset: int
    literal: Literal | None = None

    @property
    def is_operand(self) -> bool:
        """Something that stands for a value, or the parenthesis that ends one."""
        return self.kind in ("number", "name") or self.text == ")"


_SPACE = re.compile(r"[ \t\n\r\u00a0\u2009\u202f]*")
_NAME = re.compile(r"[^\W\d]\w*(?:\.[^\W\d]\w*)*")
_NUMBER = re.compile(r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3}(?![0-9]))?")
_MIXED = re.compile(
    r"(?P<whole>[0-9]+)(?P<between>-|[ \u00a0]+)(?P<above>[0-9]+)/(?P<below>[0-9]+)(?![0-9.])"
)
_FRACTION = re.compile(r"(?P<above>[0-9]+)/(?P<below>[0-9]+)(?![0-9.])")
_POWER = r"(?:(?:\^|\*\*)-?[0-9](?![0-9.])|⁻?[¹²³⁴⁵⁶⁷⁸⁹])?"
_UNIT = re.compile(rf"(?:°[CF](?!\w)|fl oz(?!\w)|[°\"″”'′’%]|[^\W\d]\w*){_POWER}(?:[/·][^\W\d]\w*{_POWER})*")
_SIGNS = {"**": "^", "×": "*", "·": "*", "÷": "/", "−": "-"} | {sign: sign for sign in "+-*/^(),"}
_FEET, _INCHES = ("'", "′", "’"), ('"', "″", "”")

_SIZE = r"[0-9][-0-9/ ]*(in|\")?\s*"
_TAPER = r"(NPTF?|NPS|BSP[PT]?)"
_THREAD = re.compile(
    rf"(Rp|Rc|R|G|{_TAPER})\s*[0-9]+([- ]?[0-9]*/[0-9]+)?\s*\"?|{_SIZE}{_TAPER}|M[0-9.]+\s*[x×]\s*[0-9.]+"
)
_PIPE = re.compile(rf"DN\s*[0-9]+|{_SIZE}(sch|schedule)\.?\s*[0-9]+", re.IGNORECASE)
_NO_FIGURE = re.compile(r"[-+]?\.?(nan|inf|infinity)", re.IGNORECASE)


def name_of_a_size(text: str) -> ArithmeticMistake | None:
    """Return the mistake of writing a thread's or a pipe's name for a length, None for any other text.

    >>> print(name_of_a_size("R3/4"))
    'R3/4' is the name of a thread, not a length
        expected a length
        write the measured size, e.g. 26.4 mm; for a division put spaces around the '/'
    """
    text = text.strip()
    remedy = "write the measured size, e.g. 26.4 mm"
    if "/" in text:
        remedy += "; for a division put spaces around the '/'"
    for pattern, what in ((_THREAD, "thread"), (_PIPE, "pipe size")):
        if pattern.fullmatch(text) and not text.isidentifier():  # R3 alone may be a name of the scene's own
            found = f"{text!r} is the name of a {what}, not a length"
            return ArithmeticMistake(found, expected="a length", remedy=remedy)
    return None


def split(text: str) -> tuple[Word, ...]:
    """Cut an expression into words; the last one is empty.

    Raises
    ------
    ArithmeticMistake : too long, a sign that isn't known, a number or unit that can't be read or can be read
        in two ways, the name of a thread.
    """
    if len(text) > _LONGEST_TEXT:
        raise ArithmeticMistake(
            f"{len(text)} characters",
            expected=f"an expression of at most {_LONGEST_TEXT}",
            remedy="give parts of it a name under `values:`",
        )
    if not text.strip():
        raise ArithmeticMistake("nothing", expected="a number, a name or an expression")
    if _NO_FIGURE.fullmatch(text.strip()):
        raise ArithmeticMistake(
            f"{text.strip()!r} is not a figure", expected="a number, a name or an expression"
        )
    mistake = name_of_a_size(text)
    if mistake is not None:
        raise mistake
    return tuple(_Cutter(text).words())


class _Cutter:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0

    def refuse(self, found: str, *, at: int | None = None, expected: str = "", remedy: str = "") -> NoReturn:
        raise ArithmeticMistake(found, offset=self.at if at is None else at, expected=expected, remedy=remedy)

    def words(self) -> list[Word]:
        words: list[Word] = []
        while True:
            self.skip_space()
            if self.at >= len(self.text):
                words.append(Word("end", "", len(self.text)))
                return words
            if len(words) >= _MOST_WORDS:
                self.refuse(
                    f"more than {_MOST_WORDS} words and signs",
                    remedy="give parts of it a name under `values:`",
                )
            words.append(self.next_word())

    def skip_space(self) -> None:
        match = _SPACE.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    def next_word(self) -> Word:
        start = self.at
        if _NUMBER.match(self.text, start):
            literal = self.number()
            return Word("number", self.text[start : self.at], start, literal)
        name = _NAME.match(self.text, start)
        if name and all(part.isidentifier() for part in name[0].split(".")):
            self.at = name.end()
            return Word("name", name[0], start)
        for length in (2, 1):
            written = self.text[start : start + length]
            if written in _SIGNS:
                self.at += len(written)
                return Word("sign", _SIGNS[written], start)
        raise self.unknown_sign()

    def unknown_sign(self) -> ArithmeticMistake:
        sign = self.text[self.at]
        remedy = "take it out"
        if sign in "½¼¾⅛⅜⅝⅞⅓⅔":
            remedy = "write the fraction with a '/', e.g. 1/2 in"
        elif sign == "=":
            remedy = "write what stands behind the '=' only"
        elif sign in "\"″”'′’°%²³":
            remedy = "a unit stands right behind a number"
        elif sign == ".":
            remedy = "a '.' stands in a number or between two names"
        shown = sign if sign.isprintable() else f"U+{ord(sign):04X}"
        self.refuse(
            f"{shown!r} can't stand here", expected="a number, a name or a sign + - * / ^", remedy=remedy
        )

    def number(self) -> Literal:
        """Read one literal; ``5'-6"`` and ``1 ft 6 in`` are one as well."""
        literal = self.single()
        while literal.unit:
            before = self.at
            joined = self.tight_dash(literal)
            if not joined:
                self.skip_space()
            if not _NUMBER.match(self.text, self.at):
                self.at = before
                break
            literal = self.add(literal, self.single())
        return literal

    def tight_dash(self, literal: Literal) -> bool:
        """Step over the dash of ``5'-6"``; refuse ``5 ft-6 in``, which could also be a difference."""
        text, at = self.text, self.at
        if literal.unit not in (*_FEET, "ft") or text[at : at + 1] != "-" or not _NUMBER.match(text, at + 1):
            return False
        self.at += 1
        following = self.single()
        end, self.at = self.at, at
        if literal.unit in _FEET and following.unit in _INCHES:
            self.at += 1
            return True
        if following.unit in (*_INCHES, "in") and literal.unit == "ft":
            self.refuse(
                f"{text[literal.offset : end]!r} can be read in two ways",
                at=literal.offset,
                remedy="write 1 ft 6 in for one and a half feet, 1 ft - 6 in for half a foot",
            )
        return False

    def add(self, first: Literal, second: Literal) -> Literal:
        written = (
            f"{self.text[first.offset : second.offset].strip()!r} and {self.text[second.offset : self.at]!r}"
        )
        if not second.unit:
            self.refuse(
                f"no sign between {written}",
                at=second.offset,
                remedy="put a sign between them, or write the unit",
            )
        if first.dims != second.dims or first.point or second.factor >= first.factor:
            self.refuse(
                f"no sign between {written}",
                at=second.offset,
                expected="a smaller unit of the same kind, as in 1 ft 6 in, or a sign",
                remedy="put a sign between them, e.g. +",
            )
        number = first.number + second.number * second.factor / first.factor
        return Literal(number, first.unit, first.factor, first.dims, offset=first.offset)

    def single(self) -> Literal:
        start = self.at
        mixed = _MIXED.match(self.text, start)
        if mixed:
            literal = self.mixed(mixed)
            if literal is not None:
                return literal
        fraction = _FRACTION.match(self.text, start)
        if fraction:
            self.at = fraction.end()
            literal = self.with_unit(self.ratio(fraction), start)
            if literal.unit:
                return literal
            self.at = start  # 3/4 without a unit is a division like any other
        number = _NUMBER.match(self.text, start)
        assert number is not None
        self.at = number.end()
        return self.with_unit(Fraction(number[0]), start)

    def mixed(self, match: re.Match[str]) -> Literal | None:
        """Read ``1 1/2`` and ``1-1/2 in``; None where the dash is a minus."""
        start, dash = match.start(), match["between"] == "-"
        part = self.ratio(match)
        self.at = match.end()
        literal = self.with_unit(int(match["whole"]) + part, start)
        if dash and part >= 1 and not literal.unit:
            self.at = start
            return None
        if part >= 1 or (dash and not literal.unit):
            self.refuse(
                f"{match[0]!r} can be read in two ways",
                at=start,
                expected="a fraction below 1 behind a whole number, as in 1-1/2 in or 1 1/2",
                remedy="put spaces around the '-' of a difference, and a sign between two numbers",
            )
        return literal

    def ratio(self, match: re.Match[str]) -> Fraction:
        if int(match["below"]) == 0:
            self.refuse("a division by zero", at=match.start("below"))
        return Fraction(int(match["above"]), int(match["below"]))

    def with_unit(self, number: Fraction, start: int) -> Literal:
        end = self.at
        space = _SPACE.match(self.text, end)
        assert space is not None
        match = _UNIT.match(self.text, space.end())
        if match is None:
            self.separate(end)
            return Literal(number, offset=start)
        written = match[0]
        # '12 mm/depth' is twelve millimetres divided by a name, and so is '12 mm/min(2, 3)'
        called = self.text[match.end() :].lstrip().startswith("(")
        while exact_unit(written) is None or (called and written == match[0] and "/" in written):
            if "/" not in written:
                self.not_a_unit(written, space.end())
            written = written[: written.rindex("/")]
        unit = exact_unit(written)
        assert unit is not None
        self.at = space.end() + len(written)
        if self.text[self.at :].lstrip().startswith(("^", "**")):
            text = self.text[start : self.at]
            self.refuse(
                f"{text!r} with a power",
                remedy=f"write the power tight behind the unit, or ({text})^… for the whole",
            )
        factor, dims, zero = unit
        return Literal(number, written, factor, dims, zero, start)

    def separate(self, end: int) -> None:
        """Refuse what sticks to the end of a number and belongs to neither a number nor a sign."""
        rest = self.text[end : end + 1]
        if rest == "." or (rest == "," and self.text[end + 1 : end + 2].isdigit() and "(" not in self.text):
            self.refuse(
                f"{rest!r} behind a number",
                at=end,
                remedy="write 12.5 and 1200, not 12,5 or 1,200 or 1.200.5",
            )

    def not_a_unit(self, written: str, at: int) -> NoReturn:
        if re.match(r"(sch|schedule|NPT|BSP)", written, re.IGNORECASE):
            self.refuse(
                f"{written!r} belongs to the name of a pipe or thread, not to a length",
                at=at,
                expected="a length",
                remedy="write the measured size, e.g. 26.4 mm",
            )
        self.refuse(
            f"{written!r} is not a unit",
            at=at,
            expected="a unit behind a number, e.g. mm, in, L, L/h, kg, deg",
            remedy="if it is a name, put a sign before it, e.g. *",
        )
