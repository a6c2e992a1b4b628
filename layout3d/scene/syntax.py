"""An expression's words put into the order in which they are computed.

The grammar: ``+ -`` bind loosest, then ``* /``, then the minus before a value, then ``^`` (from right to
left), then parentheses and functions. Nothing is computed here, and no name is looked up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from layout3d.scene.words import ArithmeticMistake, Literal, Word, split
from layout3d.units import exact_unit

__all__ = ["FUNCTIONS", "WITH_A_POINT", "Step", "steps_of"]

WITH_A_POINT = "write 12.5 and 1200, not 12,5 or 1,200"
"""What to do about a comma within a number."""

_MOST_NESTING = 30


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a computation.

    ``kind`` is literal, name, sign or call; ``count`` is how many results before it the step takes;
    ``negated`` marks a literal with its minus.
    """

    kind: str
    text: str
    offset: int
    count: int = 0
    literal: Literal | None = None
    negated: bool = False


_ARGUMENTS = {  # least and most
    "min": (1, 100),
    "max": (1, 100),
    "abs": (1, 1),
    "sqrt": (1, 1),
    "sin": (1, 1),
    "cos": (1, 1),
    "tan": (1, 1),
    "round": (1, 2),
    "floor": (1, 2),
    "ceil": (1, 2),
}
FUNCTIONS = frozenset(_ARGUMENTS)
"""The functions that an expression may call."""


@lru_cache(maxsize=4096)
def steps_of(text: str) -> tuple[Step, ...]:
    """Put an expression into steps, each behind the ones whose results it takes.

    Raises
    ------
    ArithmeticMistake : the text is not well formed, too long, or nested too deep.

    >>> [step.text for step in steps_of("2 * (depth - 3 mm)")]
    ['2', 'depth', '3 mm', '-', '*']
    """
    reader = _Reader(split(text))
    reader.sum()
    if reader.word.text:
        raise reader.unexpected()
    return tuple(reader.steps)


class _Reader:
    """Recursive descent; as deep as the nesting of the text, which is bounded."""

    def __init__(self, words: Sequence[Word]) -> None:
        self.words = words
        self.at = 0
        self.depth = 0
        self.steps: list[Step] = []

    @property
    def word(self) -> Word:
        return self.words[self.at]

    def enter(self) -> None:
        self.depth += 1
        if self.depth > _MOST_NESTING:
            raise ArithmeticMistake(
                f"nested more than {_MOST_NESTING} deep", offset=self.word.offset, remedy="name a part of it"
            )

    def unexpected(self) -> ArithmeticMistake:
        word, before = self.word, self.words[self.at - 1] if self.at else None
        offset = word.offset
        if not word.text:
            return ArithmeticMistake("ends too early", offset=offset, expected="a number or a name")
        if word.text == ",":
            return ArithmeticMistake(
                "a comma",
                offset=offset,
                expected="a decimal point",
                remedy=WITH_A_POINT,
            )
        if word.text == ")":
            return ArithmeticMistake("a ')' without its '('", offset=offset, remedy="take it out")
        if before is not None and before.is_operand and (word.is_operand or word.text == "("):
            remedy = "put a sign between them, e.g. *"
            if word.kind == "name" and exact_unit(word.text):
                remedy = f"a unit stands right behind a number; here write * 1 {word.text}"
            return ArithmeticMistake(
                f"no sign between {before.text!r} and {word.text!r}", offset=offset, remedy=remedy
            )
        return ArithmeticMistake(
            f"{word.text!r} can't stand here", offset=offset, expected="a number or a name"
        )

    def sum(self) -> None:
        self.product()
        while self.word.text in ("+", "-"):
            self.binary(self.product)

    def product(self) -> None:
        self.signed()
        while self.word.text in ("*", "/"):
            self.binary(self.signed)

    def binary(self, operand: Callable[[], None]) -> None:
        sign = self.word
        self.at += 1
        operand()
        self.steps.append(Step("sign", sign.text, sign.offset, 2))

    def signed(self) -> None:
        sign = self.word
        if sign.kind != "sign" or sign.text not in ("+", "-"):
            self.power()
            return
        self.at += 1
        literal = self.word.literal
        if literal is not None and literal.point and sign.text == "-":
            # -5 °C is five below the scale's zero, not the opposite of 278.15 K
            self.at += 1
            self.steps.append(Step("literal", sign.text, sign.offset, literal=literal, negated=True))
            return
        self.enter()
        self.signed()
        self.depth -= 1
        if sign.text == "-":
            self.steps.append(Step("sign", "negative", sign.offset, 1))

    def power(self) -> None:
        self.operand()
        if self.word.text == "^":
            self.enter()
            self.binary(self.signed)
            self.depth -= 1

    def operand(self) -> None:
        word = self.word
        if word.literal is not None:
            self.at += 1
            self.steps.append(Step("literal", word.text, word.offset, literal=word.literal))
        elif word.kind == "name":
            self.at += 1
            if self.word.text == "(":
                self.call(word)
            else:
                self.steps.append(Step("name", word.text, word.offset))
        elif word.text == "(":
            self.enter()
            self.at += 1
            self.sum()
            self.close(word)
        else:
            raise self.unexpected()

    def call(self, function: Word) -> None:
        if function.text not in _ARGUMENTS:
            raise ArithmeticMistake(
                f"{function.text!r} is not a function",
                offset=function.offset,
                expected="one of: " + ", ".join(sorted(_ARGUMENTS)),
                remedy="put * before the parenthesis if it is a name",
            )
        self.enter()
        opened = self.word
        self.at += 1
        count = 1
        self.sum()
        while self.word.text == ",":
            self.at += 1
            count += 1
            self.sum()
        self.close(opened)
        least, most = _ARGUMENTS[function.text]
        if not least <= count <= most:
            told = "one value" if most == 1 else f"{least} to {most} values"
            raise ArithmeticMistake(
                f"{function.text} with {count} values",
                offset=function.offset,
                expected=f"{told} in its parentheses",
            )
        self.steps.append(Step("call", function.text, function.offset, count))

    def close(self, opened: Word) -> None:
        if not self.word.text:
            raise ArithmeticMistake("a '(' without its ')'", offset=opened.offset, remedy="close it")
        if self.word.text != ")":
            raise self.unexpected()
        self.at += 1
        self.depth -= 1
