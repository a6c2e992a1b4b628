"""The look of everything drawn: colours, finishes by material, kind and group, type, line widths.

The one place for it. Colours are sRGB in 0 … 1, chosen by eye for this project: a warm paper page, muted
natural materials, water and glass in one cool family. Marks of findings use the colours of Okabe and Ito
2008, "Color Universal Design" (jfly.uni-koeln.de/color), which stay apart for colour-blind readers; shape and
number tell the same again. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from layout3d.fittings.registry import fittings
from layout3d.parts.base import Body

__all__ = [
    "CUT_COLOURS",
    "FINDING_MARKS",
    "LAMPLIGHT",
    "PAGE",
    "RAMP",
    "WATER",
    "Colour",
    "Finish",
    "Mark",
    "Page",
    "WaterLook",
    "cut_colour",
    "finish_of",
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


def _finish(colour: str, second: str | None = None, grain: Grain = "plain", **more: object) -> Finish:
    plain = Finish(colour=_hex(colour), second=_hex(second or colour), grain=grain)
    return replace(plain, **more)  # type: ignore[arg-type] # keywords of Finish


def _stone(colour: str, second: str, contrast: float = 1.0, moss: float = 0.25) -> Finish:
    return _finish(colour, second, "stone", crease=42.0, contrast=contrast, moss=moss, shine=0.04)


def _wood(colour: str, second: str, contrast: float = 1.0) -> Finish:
    return _finish(colour, second, "wood", crease=70.0, contrast=contrast, shine=0.04)


def _bed(colour: str, second: str, contrast: float = 1.0) -> Finish:
    return _finish(colour, second, "sand", crease=60.0, contrast=contrast, shine=0.0)


_GLASS = _finish(
    "#c4ded6",
    opacity=0.075,
    edge_opacity=0.5,
    edge_colour=_hex("#7fb5a6"),
    outline=_hex("#5d8f86"),
    shine=0.25,
    gloss=60.0,
    crease=20.0,
)
_ACRYLIC = replace(_GLASS, colour=_hex("#e4e9ee"), edge_colour=_hex("#a5b6c2"), outline=_hex("#7a8b98"))
_SEALANT = _finish("#c9d2d0", opacity=0.28, edge_opacity=0.28, shine=0.02)

_BY_MATERIAL: Mapping[str, Finish] = {
    "granite": _stone("#99948d", "#6b6763", 1.1),
    "basalt": _stone("#626364", "#414346", 0.9),
    "limestone": _stone("#bdb29e", "#93876f", 0.9),
    "marble": _stone("#d6d1c8", "#a9a49b", 0.8, 0.1),
    "slate": _stone("#737675", "#4c4f50", 0.9),
    "sandstone": _stone("#c0a078", "#94714e", 1.0),
    "gneiss": _stone("#958e86", "#63605e", 1.2),
    "clay rock": _stone("#b0845f", "#7d5a42", 1.1),
    "lava rock": _stone("#6f5249", "#43312d", 1.0, 0.1),
    "pumice": _stone("#bfb9ac", "#98907f", 0.8, 0.1),
    "root wood": _wood("#a5805a", "#6e4f36"),
    "root wood waterlogged": _wood("#856144", "#523a28"),
    "bog wood": _wood("#7a5a41", "#493528"),
    "wood mopane": _wood("#7d5238", "#4a2f22", 1.2),
    "wood mopane waterlogged": _wood("#6b4530", "#3f281d", 1.2),
    "wood mangrove": _wood("#8e6547", "#59402e"),
    "wood teak": _wood("#a67c4e", "#745434"),
    "cork bark": _wood("#8a6d50", "#57432f", 1.4),
    "sand": _bed("#e2cda4", "#bf9f70"),
    "coral sand": _bed("#e8e2d2", "#c9bfa9"),
    "gravel": _bed("#b0a797", "#7d7467", 1.4),
    "clay granules": _bed("#5d4c40", "#3d3129", 1.3),
    "expanded clay": _bed("#a5714f", "#744d37", 1.3),
    "moss": _finish("#6f8b3f", "#48662f", "leaf", crease=80.0),
    "silicone": _SEALANT,
    "filter foam": _finish("#56666f", "#3f4d55", "sand", crease=30.0, contrast=0.7),
    "filter media": _finish("#cfc6b6", "#a79b88", "sand", crease=30.0, contrast=1.3),
    "steel": _finish("#a9aeb2", shine=0.3, gloss=30.0),
    "aluminium": _finish("#bfc3c5", shine=0.3, gloss=30.0),
}

_PIPE = _finish("#d0d1cc", shine=0.16, gloss=24.0)
_FITTING = _finish("#b3b6b3", shine=0.16, gloss=24.0)
_VALVE = _finish("#8e9492", shine=0.16, gloss=24.0)
_DARK = _finish("#454a4e", "#3a3f43", shine=0.14, gloss=20.0)

_BACKGROUND = _stone("#988b7b", "#5f554b", 1.2, 0.5)

_BY_KIND: Mapping[str, Finish] = {
    **{
        kind: {"fitting": _FITTING, "valve": _VALVE, "dark": _DARK}[each.finish]
        for kind, each in fittings().items()
    },
    "pipe": _PIPE,
    "tube": _finish("#7c8588", shine=0.2, gloss=24.0),
    "bulkhead": _finish("#5b6164", shine=0.14, gloss=20.0),
    "rim": _finish("#34393c", shine=0.1),
    "light": _finish("#c9ccca", shine=0.2, gloss=30.0),
    "filter_basket": _finish("#dcdfd8", "#c3c8bf", "sand", crease=30.0, contrast=0.6),
    "clip": _FITTING,
    "suction_cup": _DARK,
    "slab": _BACKGROUND,
    "bedding": _finish("#d9c9a0", "#c2ae80", "sand", crease=40.0, contrast=0.7),
    "mat": _finish("#55595a"),
    "silicone": _SEALANT,
    "baffle": replace(_GLASS, opacity=0.16),
}

_BY_GROUP: Mapping[str, Finish] = {
    "glass": _FITTING,
    "background": _BACKGROUND,
    "plumbing": _FITTING,
    "wood": _wood("#a5805a", "#6e4f36"),
    "rock": _stone("#99948d", "#6b6763", 1.1),
    "substrate": _bed("#e2cda4", "#bf9f70"),
    "equipment": _DARK,
    "plant": _finish("#5c8a43", "#35592f", "leaf", crease=80.0, shine=0.05),
    "sump": _finish("#b9bcb9"),
    "stand": _finish("#b39874", "#8d7350", "wood", crease=30.0, contrast=0.45),
}

_CLEAR = {"glass": _GLASS, "acrylic": _ACRYLIC, "polycarbonate": _ACRYLIC}
_NATURAL_GROUPS = ("rock", "wood", "substrate")


def finish_of(body: Body) -> Finish:
    """Return a body's finish: clear materials first, then its kind, its material, its group."""
    if body.group == "background" and body.kind != "bedding" and body.material != "cork bark":
        return _BY_GROUP["background"]
    if body.kind in _BY_KIND:
        return _BY_KIND[body.kind]
    if body.material in _CLEAR and body.group in ("glass", "sump", "stand", "equipment"):
        return _CLEAR[body.material]
    if body.group == "plant" and body.material != "moss":
        return _BY_GROUP["plant"]
    if body.group not in ("plumbing", "stand") and body.material in _BY_MATERIAL:
        return _BY_MATERIAL[body.material]
    if body.material.startswith("wood") and body.group in _NATURAL_GROUPS:
        return _BY_GROUP["wood"]
    return _BY_GROUP.get(body.group, _FITTING)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLook:
    """Water: tint of its sides and surface with their opacities, the waterline, and how it wets things."""

    side: Colour = (0.357, 0.624, 0.682)
    side_opacity: float = 0.115
    surface: Colour = (0.561, 0.776, 0.816)
    surface_opacity: float = 0.22
    line: Colour = (0.165, 0.478, 0.565)
    wet: Colour = (0.208, 0.376, 0.420)
    wet_share: float = 0.10  # how far colours under water go towards ``wet``


WATER = WaterLook()
LAMPLIGHT: Colour = (1.0, 0.97, 0.88)

CUT_COLOURS: Mapping[str, Colour] = {
    "glass": _hex("#8fbcb0"),
    "background": _hex("#c7a27c"),
    "plumbing": _hex("#8a979c"),
    "wood": _hex("#b5814f"),
    "rock": _hex("#9a9088"),
    "substrate": _hex("#dcc391"),
    "equipment": _hex("#6d7780"),
    "plant": _hex("#86a766"),
    "sump": _hex("#9aa3a4"),
    "media": _hex("#a58d7f"),
    "stand": _hex("#c3a57c"),
    "water": _hex("#b4d7de"),
}
"""Faces of a cut, by group, and of filter media."""


def cut_colour(body: Body) -> Colour:
    """Return the colour of a body's cut face."""
    if finish_of(body).opacity < 1.0:
        return CUT_COLOURS["glass"]
    return CUT_COLOURS["media"] if body.kind == "media" else CUT_COLOURS.get(body.group, (0.7, 0.7, 0.7))


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

RAMP: tuple[Colour, ...] = tuple(
    _hex(text) for text in ("#e9dfc2", "#a9c9b4", "#4f9aa6", "#28618c", "#1d2f5c")
)
"""From little to much, as a quantity is told by colour: it darkens from sand through water to night."""
