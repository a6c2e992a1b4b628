from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pytest

from layout3d.plain import form_of


@dataclass(frozen=True)
class Inner:
    name: str
    rows: np.ndarray


@dataclass(frozen=True)
class Outer:
    inner: tuple[Inner, ...]
    by_name: dict[str, Inner]
    names: frozenset[str]
    far: float | None


class Odd:
    """What is not written by its fields."""

    def __init__(self, figure: int) -> None:
        self.figure = figure


FORM = form_of(
    "some", Outer, Inner, size=lambda _: 1, others={Odd: (lambda odd: (odd.figure,), lambda row: Odd(*row))}
)
ROWS = (np.arange(6, dtype="<f4").reshape(3, 2)[::2], np.array([True, False, True]), np.zeros((0, 3), "<i4"))
VALUE = Outer(
    tuple(Inner(f"{number}", rows) for number, rows in enumerate(ROWS)),
    {"a": Inner("b", np.array([1], "|u1"))},
    frozenset({"x", "y"}),
    float("inf"),
)


def test_frozen_data_is_read_as_it_was_written():
    again = FORM.unpack(FORM.pack(VALUE))
    assert (type(again), again.names, again.far, again.by_name["a"].name) == (
        Outer,
        VALUE.names,
        VALUE.far,
        "b",
    )
    for one, other in zip(
        [*VALUE.inner, VALUE.by_name["a"]], [*again.inner, again.by_name["a"]], strict=True
    ):
        assert [field.name for field in fields(one)] == ["name", "rows"]
        assert one.name == other.name
        assert one.rows.dtype == other.rows.dtype
        assert np.array_equal(one.rows, other.rows)
        assert other.rows.flags.aligned
        assert other.rows.flags.writeable
    assert FORM.unpack(FORM.pack((Odd(3), None, (1.5, "a"))))[1:] == (None, (1.5, "a"))
    assert FORM.unpack(FORM.pack(Odd(3))).figure == 3


@pytest.mark.parametrize("damage", [lambda c: c[:-1], lambda c: c + b"0", lambda c: c[:8], lambda c: b""])
def test_other_bytes_are_refused(damage):
    with pytest.raises(ValueError, match=r"buffer|size|Expecting|Extra"):
        FORM.unpack(damage(FORM.pack(VALUE)))


def test_what_is_of_no_kind_of_the_form_is_neither_written_nor_read():
    with pytest.raises(TypeError):
        form_of("less", Outer, size=lambda _: 1).pack(VALUE)
    with pytest.raises(KeyError):
        form_of("less", Outer, size=lambda _: 1).unpack(FORM.pack(VALUE))
