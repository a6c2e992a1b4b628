"""How far a valve stands open, as a field of a step: shut, or as far as its loss is known."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import FieldType, Node, Number, Reader

__all__ = ["Opening"]


@dataclass(frozen=True, slots=True)
class Opening(FieldType):
    """An opening: 0 for shut, or from ``least`` to 1, [-]. Between, no loss is known."""

    json = ("number", "string")

    least: float

    def read(self, node: Node, reader: Reader) -> float:
        """Return the opening."""
        value = Number(least=0.0, most=1.0).read(node, reader)
        if 0.0 < value < self.least - 1e-9:
            reader.fail(
                node,
                f"open by {value:.3g}: no loss is known of a valve that is so nearly shut",
                expected=self.words(),
                remedy="open it further, shut it, or take a smaller pump",
            )
        return value

    def words(self) -> str:
        """Return the range."""
        return f"a number: 0 for shut, or {self.least:.3g} to 1"
