"""What the window shows, as frozen data, and what each key makes of it. Nothing is drawn here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from layout3d.checks.base import Finding
from layout3d.draw.pieces import WATER_NAME
from layout3d.draw.stage import Stage
from layout3d.parts.base import GROUPS, Vector, vector

__all__ = ["KEYS", "VIEW_KEYS", "ViewState", "group_keys", "state_of"]

Axis = Literal["x", "y", "z"]
_AXES: tuple[Axis, ...] = ("x", "y", "z")
# the side that a cut takes away at first: the viewer's, standing at the front left, looking down
_TOWARDS: dict[str, float] = {"x": -1.0, "y": -1.0, "z": 1.0}
_STEPS = 50  # of a cut from one end of the scene to the other

VIEW_KEYS: dict[str, str] = {
    "c": "three_quarter",
    "f": "front",
    "b": "back",
    "l": "left",
    "r": "right",
    "t": "plan",
}
KEYS: tuple[tuple[str, str], ...] = (
    ("1 … 9, 0", "show or hide a group; or tick its box"),
    ("a", "show all"),
    ("n, p", "next, previous finding; or click its number"),
    ("x, y, z", "cut open square to x, y, z; again: close"),
    ("Up, Down", "move the cut; or drag its plane"),
    ("v", "cut away the other side"),
    ("f b l r t c", "from the front, back, left, right, top, corner"),
    ("h", "this help"),
    ("q", "close the window"),
)
"""What the keys do, for the help text."""


def group_keys(groups: Sequence[str]) -> dict[str, str]:
    """Return the groups by the digit that shows or hides them: 1 to 9, then 0."""
    return dict(zip("1234567890", groups, strict=False))


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewState:
    """What the window shows.

    ``groups`` are those of the scene, water last. ``current`` is the index of the finding told, or None.
    ``cut`` is an axis and a place, [m], and ``towards`` 1 or -1: the side of it that is taken away.
    ``low`` and ``high`` are the corners of the scene.
    """

    groups: tuple[str, ...]
    findings: tuple[Finding, ...]
    low: Vector
    high: Vector
    hidden: frozenset[str] = frozenset()
    current: int | None = None
    cut: tuple[Axis, float] | None = None
    towards: float = 1.0
    help: bool = True
    closed: bool = False
    checked: bool = True

    def shown(self, group: str) -> bool:
        """Tell whether a group is shown."""
        return group not in self.hidden

    def toggled(self, group: str) -> ViewState:
        """Show a group that is hidden, hide one that is shown; KeyError for one that the scene lacks."""
        if group not in self.groups:
            raise KeyError(group)
        return replace(self, hidden=self.hidden ^ {group})

    def stepped(self, by: int) -> ViewState:
        """Tell the next finding (1) or the one before (-1), round and round; the first or last at first."""
        count = len(self.findings)
        if not count:
            return self
        start = (-1 if by > 0 else 0) if self.current is None else self.current
        return replace(self, current=(start + by) % count)

    def at_finding(self, index: int) -> ViewState:
        """Tell this finding; IndexError if there is none."""
        if not 0 <= index < len(self.findings):
            raise IndexError(index)
        return replace(self, current=index)

    def with_cut(self, axis: Axis) -> ViewState:
        """Cut through the middle square to an axis; close the cut if it is that one already."""
        if self.cut is not None and self.cut[0] == axis:
            return replace(self, cut=None)
        k = _AXES.index(axis)
        middle = (self.low[k] + self.high[k]) / 2.0
        return replace(self, cut=(axis, middle), towards=_TOWARDS[axis])

    def moved_cut(self, place: float) -> ViewState:
        """Put the cut at a place, [m], held within the scene; without a cut nothing changes."""
        if self.cut is None:
            return self
        k = _AXES.index(self.cut[0])
        return replace(self, cut=(self.cut[0], min(max(place, self.low[k]), self.high[k])))

    def pressed(self, key: str) -> ViewState:
        """Return what a key makes of this; a key that means nothing leaves it alone."""
        groups = group_keys(self.groups)
        if key in groups:
            return self.toggled(groups[key])
        if key in _TOWARDS:
            return self.with_cut(_AXES["xyz".index(key)])
        if key in ("Up", "Down") and self.cut is not None:
            k = _AXES.index(self.cut[0])
            step = (self.high[k] - self.low[k]) / _STEPS
            return self.moved_cut(self.cut[1] + (step if key == "Up" else -step))
        if key in ("n", "p"):
            return self.stepped(1 if key == "n" else -1)
        changed = {
            "a": {"hidden": frozenset()},
            "v": {"towards": -self.towards},
            "h": {"help": not self.help},
            "Escape": {"current": None},
            "q": {"closed": True},
        }.get(key, {})
        return replace(self, **changed)  # type: ignore[arg-type] # fields of ViewState by name

    def message(self) -> tuple[str, ...]:
        """Return what is told of the current finding, line by line; or how many there are."""
        if self.current is None:
            count = len(self.findings)
            told = f"{count} finding{'s' if count != 1 else ''}: press n" if count else "no findings"
            return (told if self.checked else "not checked",)
        finding = self.findings[self.current]
        head = f"{self.current + 1} of {len(self.findings)}  {finding.severity}  {finding.rule}"
        return (head, finding.message, *([finding.remedy] if finding.remedy else []))

    def help_lines(self) -> tuple[str, ...]:
        """Return the key help, aligned for a type of even width."""
        return tuple(f"{keys:<12} {what}" for keys, what in KEYS)


def state_of(stage: Stage, findings: Sequence[Finding] | None) -> ViewState:
    """Return what the window shows first: everything, no cut, no finding told yet.

    ``findings`` are None where nobody checked, which is another thing than none found.
    """
    present = {piece.group for piece in stage.pieces}
    return ViewState(
        groups=tuple(group for group in (*GROUPS, WATER_NAME) if group in present),
        findings=tuple(findings or ()),
        checked=findings is not None,
        low=vector(stage.bounds[0]),
        high=vector(stage.bounds[1]),
    )
