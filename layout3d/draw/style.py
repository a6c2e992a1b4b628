"""The look of everything drawn: colours, finishes by material, kind and group, type, line widths.

The one place for it, with ``style.yaml``, which holds the finishes. Colours are sRGB in 0 … 1, chosen by eye
for this project: a warm paper page, muted natural materials, water and glass in one cool family. Marks of
findings use the colours of Okabe and Ito 2008, "Color Universal Design" (jfly.uni-koeln.de/color), which stay
apart for colour-blind readers; shape and number tell the same again. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from layout3d.files import own_data

if TYPE_CHECKING:
    from layout3d.parts.base import Body

__all__ = [
    "FINDING_MARKS",
    "LAMPLIGHT",
    "MARKED",
    "MARKED_OPACITY",
    "MARKED_SHARE",
    "PAGE",
    "WATER",
    "Colour",
    "Finish",
    "Mark",
    "Page",
    "WaterLook",
    "cut_colour",
    "cut_colours",
    "finish_of",
    "ramp_stops",
]

Colour = tuple[float, float, float]
Grain = Literal["plain", "stone", "wood", "sand", "leaf"]


def _hex(text: str) -> Colour:
    red, green, blue = (int(text[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    return (red, green, blue)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """How a surface looks. ``colour`` varies towards ``second`` by ``grain``.

    ``crease`` is the angle between faces above which an edge is drawn sharp, [degrees]. ``contrast`` scales
    the grain. ``shine`` is the share of mirrored light, ``gloss`` how small its spot is. ``opacity`` below 1
    makes it clear; ``edge_opacity`` that of a pane's narrow faces. ``outline`` draws its sharp edges.
    """

    colour: Colour
    second: Colour
    grain: Grain = "plain"
    crease: float = 35.0
    contrast: float = 1.0
    shine: float = 0.06
    gloss: float = 12.0
    opacity: float = 1.0
    edge_opacity: float = 1.0
    edge_colour: Colour | None = None
    outline: Colour | None = None
    moss: float = 0.0


@cache
def _data() -> Mapping[str, Any]:
    """Return the finishes, read once they are asked for: who draws what is kept needs none of them."""
    read: Mapping[str, Any] = own_data(Path(__file__).with_suffix(".yaml"))
    return read


def _look(entry: str | Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of a finish: a named one, or an entry with what it is like."""
    if isinstance(entry, str):
        return _look(_data()["finishes"][entry])
    own = {name: _hex(value) if str(value)[0] == "#" else value for name, value in entry.items()}
    like = own.pop("like", None)
    return _look(str(like)) | own if like else own


def _finish(entry: str | Mapping[str, Any]) -> Finish:
    look = _look(entry)
    return Finish(**{"second": look["colour"], **look})


@cache
def _finishes(section: str) -> Mapping[str, Finish]:
    """Return the finishes of 'materials', 'clear' materials, 'kinds' or 'groups' by name."""
    from layout3d.fittings.registry import fittings

    own = {name: _finish(entry) for name, entry in _data()[section].items()}
    return (
        {kind: _finish(each.finish) for kind, each in fittings().items()} | own if section == "kinds" else own
    )


_NATURAL_GROUPS = ("rock", "wood", "substrate")


def finish_of(body: Body) -> Finish:
    """Return a body's finish: clear materials first, then its kind, its material, its group."""
    sections = (_finishes(section) for section in ("materials", "clear", "kinds", "groups"))
    by_material, clear, by_kind, by_group = sections
    if body.group == "background" and body.kind != "bedding" and body.material != "cork bark":
        return by_group["background"]
    if body.kind in by_kind:
        return by_kind[body.kind]
    if body.material in clear and body.group in ("glass", "sump", "stand", "equipment"):
        return clear[body.material]
    if body.group == "plant" and body.material != "moss":
        return by_group["plant"]
    if (body.group not in ("plumbing", "stand") or body.kind == "bar") and body.material in by_material:
        return by_material[body.material]
    if body.material.startswith("wood") and body.group in _NATURAL_GROUPS:
        return by_group["wood"]
    return by_group.get(body.group, by_group["plumbing"])


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLook:
    """Water: tint of its sides and surface with their opacities, the waterline, and how it colours things.

    Its sides get denser by ``deep_opacity`` down to ``deep_at`` [m], and things under it go a further
    ``deep_share`` towards ``wet`` until there.
    """

    side: Colour = (0.357, 0.624, 0.682)
    side_opacity: float = 0.115
    surface: Colour = (0.561, 0.776, 0.816)
    surface_opacity: float = 0.22
    line: Colour = (0.165, 0.478, 0.565)
    wet: Colour = (0.208, 0.376, 0.420)
    wet_share: float = 0.10  # how far colours under water go towards ``wet``
    runs: Colour = (0.87, 0.94, 0.96)  # rivulets
    darkened: float = 0.50  # what wet rock loses of its colour
    deep_at: float = 0.5
    deep_opacity: float = 0.09
    deep_share: float = 0.22


WATER = WaterLook()
LAMPLIGHT: Colour = (1.0, 0.97, 0.88)

MARKED: Colour = _hex("#c0508f")
"""What is new in a picture of a step: near the reddish purple of Okabe and Ito, which no finding has."""
MARKED_SHARE, MARKED_OPACITY = 0.45, 0.28


@cache
def cut_colours() -> Mapping[str, Colour]:
    """Return the colours of a cut's faces, by group, and of filter media."""
    return {name: _hex(text) for name, text in _data()["cut"].items()}


def cut_colour(body: Body) -> Colour:
    """Return the colour of a body's cut face."""
    own = "glass" if finish_of(body).opacity < 1.0 else "media" if body.kind == "media" else body.group
    return cut_colours().get(own, (0.7, 0.7, 0.7))


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of a finding: its colour, that of its number, and its outline's shape."""

    colour: Colour
    ink: Colour
    shape: Literal["circle", "triangle", "square"]


FINDING_MARKS: Mapping[str, Mark] = {
    "fault": Mark(_hex("#d55e00"), (1.0, 1.0, 1.0), "circle"),
    "warning": Mark(_hex("#e69f00"), _hex("#1f1a10"), "triangle"),
    "note": Mark(_hex("#0072b2"), (1.0, 1.0, 1.0), "square"),
}
"""By severity: vermilion, orange and blue of Okabe and Ito."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Paper, ink and type. Lengths are pixels on a page 1600 wide, and scale with it."""

    top: Colour = (0.984, 0.980, 0.969)
    bottom: Colour = (0.890, 0.886, 0.863)
    ink: Colour = (0.173, 0.196, 0.212)
    soft_ink: Colour = (0.424, 0.451, 0.467)
    leader: Colour = (0.310, 0.345, 0.365)
    halo: Colour = (0.984, 0.980, 0.969)
    text: float = 21.0
    small: float = 17.0
    title: float = 32.0
    margin: float = 40.0
    leader_width: float = 1.3
    cut_width: float = 2.2
    badge: float = 15.0  # radius


PAGE = Page()


@cache
def ramp_stops() -> tuple[Colour, ...]:
    """Return the colours that tell a quantity, from little to much."""
    return tuple(_hex(text) for text in _data()["ramp"])
