"""The sculpted background: slabs on one or more panels, with relief, pipe channels, slits and cut-outs."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import SceneMistake, nearest
from layout3d.fields import CatalogName, Choice, Count, Length, Name, Text, field
from layout3d.fields_composite import Listing, record
from layout3d.parts.base import Part
from layout3d.parts.forms.relief import RELIEF_FORMS
from layout3d.parts.shapes.natural import FILE_UNIT_DOC, FILE_UNITS, UP_DOC

__all__ = ["BackgroundFields", "Channel", "CutOut", "Relief"]

_LENGTH = Length(0.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Relief:
    """What stands out of the slab towards the viewer."""

    form: str = field(
        Choice((*RELIEF_FORMS, "flat")), "strata", doc="how a grown relief looks; flat for none"
    )
    depth: float = field(Length(0.0, 1.0), 0.05, doc="from the slab to its foremost point")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another relief")
    pitch: float = field(Length(0.002, 0.1), 0.010, doc="of the grid it is drawn on")
    image: str = field(Text(200), "", doc="or a grey height image (8 or 16 bit) in the scene's folder")


@dataclass(frozen=True, kw_only=True)
class Channel:
    """A channel cut into the slab from behind, along a run."""

    follow: str = field(Name("a run"), doc="the run that lies in it")
    gap: float = field(Length(0.0, 0.1), 0.003, doc="around pipe and fittings")
    open: str = field(
        Choice(("back", "none")), "back", doc="back: the pipe is laid in from behind; none: a closed bore"
    )


@dataclass(frozen=True, kw_only=True)
class CutOut:
    """A slit or an opening, cut from the front."""

    panel: str = field(Name("a panel"), doc="the panel whose slab is cut")
    along: float = field(_LENGTH, doc="its middle along the panel, from the left as seen from inside")
    up: float = field(_LENGTH, doc="its middle over the tank's floor")
    width: float = field(Length(0.001, 5.0), doc="along the panel")
    height: float | None = field(Length(0.001, 5.0), None, doc="up the panel; a round hole if not given")
    stop: float | None = field(
        _LENGTH,
        None,
        doc="the cut comes from the front and stops this far short of the glass; right through if not given",
    )


@dataclass(frozen=True, kw_only=True)
class BackgroundFields(Part):
    """What the scene file says of a background."""

    panels: tuple[str, ...] = field(Listing(Name("a panel"), least=1, most=24), doc="the panels it stands on")
    thickness: float = field(Length(0.003, 0.5), doc="of the slab behind its relief")
    relief: Relief = field(record(Relief, "a relief"), Relief(), doc="what stands out of the slab")
    mesh: str = field(
        Text(200), "", doc="or a mesh of the whole slab, one panel only, stretched to no side: see `longest`"
    )
    longest: float | None = field(Length(0.05, 10.0), None, doc="longest side that the mesh is scaled to")
    file_unit: str = field(Choice(tuple(FILE_UNITS)), "", doc=FILE_UNIT_DOC)
    up: str = field(Choice(("y", "z")), "", doc=UP_DOC)
    gap: float = field(Length(0.0, 0.2), 0.0, doc="from the glass to the slab")
    bedding: str = field(
        CatalogName("material"),
        "",
        doc="what fills the gap, such as expanding polyurethane foam; open if not given",
    )
    bottom: float = field(_LENGTH, 0.0, doc="its lower edge over the tank's floor")
    top: float | None = field(
        _LENGTH, None, doc="its upper edge over the floor; up to the brace if not given"
    )
    splits: tuple[float, ...] = field(
        Listing(_LENGTH, most=20), (), doc="where the slab on the first panel is sawn into pieces, along it"
    )
    joint: float = field(Length(0.0, 0.05), 0.002, doc="width of those saw cuts")
    embeds: tuple[str, ...] = field(
        Listing(Name("a run, a hole or another part"), most=200),
        (),
        doc="what it is foamed around, without a gap: runs, parts, or holes by their bare name; foam stops "
        "drip holes too, so give a bar a channel or a slit (`cut_outs`) instead",
    )
    channels: tuple[Channel, ...] = field(
        Listing(record(Channel, "a channel"), most=50), (), doc="channels along runs"
    )
    cut_outs: tuple[CutOut, ...] = field(
        Listing(record(CutOut, "a cut-out"), most=100), (), doc="slits and openings"
    )
    comes_out: tuple[str, ...] = field(
        Listing(Name("a piece of a run, such as run.pipe_2"), most=100),
        (),
        doc="pieces of hidden runs that leave the slab on purpose: these need no cover",
    )
    material: str = field(CatalogName("material"), "rigid polyurethane foam", doc="of the slab")

    def __post_init__(self) -> None:
        """Refuse contradictions."""
        if self.bedding and not self.gap:
            raise SceneMistake("bedding without a gap", expected="`gap:` above 0", path="bedding")
        if self.top is not None and self.top <= self.bottom:
            raise SceneMistake("its top is not above its bottom", expected="top above bottom", path="top")
        if len(set(self.panels)) != len(self.panels):
            raise SceneMistake("a panel stands twice", expected="each panel once", path="panels")
        for number, cut in enumerate(self.cut_outs, start=1):
            if cut.panel not in self.panels:
                raise SceneMistake(
                    f"no slab stands on panel {cut.panel!r}",
                    expected=nearest(cut.panel, self.panels),
                    path=f"cut_outs[{number}].panel",
                )
        if self.mesh and len(self.panels) != 1:
            raise SceneMistake("a mesh on several panels", expected="one panel", path="mesh")
        if "bottom" in self.panels:
            raise SceneMistake("a background on the bottom", expected="walls", path="panels")
