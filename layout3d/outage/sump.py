"""Water in a sump compartment by compartment: levels while pumps run and at rest, and how much that is.

The scene's level of the last compartment, the return chamber, is taken as filled; those before it follow from
baffles and flow. Left out: what clings to media, waves, air under hoods.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from layout3d.band import SETTINGS, Band
from layout3d.flow.orifice import orifice_head
from layout3d.flow.weir import BroadWeir, weir_head
from layout3d.model.model import Model
from layout3d.parts.base import Built
from layout3d.parts.sump import Sump
from layout3d.parts.vessel import SumpData
from layout3d.water.gauge import cavity_table
from layout3d.water.level_table import LevelTable, together
from layout3d.water.sump import compartment_tables, sump_space

__all__ = ["CompartmentLevel", "SumpWater", "baffle_head", "running_levels", "sump_water_of"]

UNDER = 0.60  # coefficient of the gap under a baffle, [-]. Handbook value of a sharp orifice
LEAST_STEP = 1e-9  # levels of a table nearer to each other are one, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentLevel:
    """One compartment while the pumps run.

    ``level`` and ``head`` (over its baffle, or lost under it) as bands, z and [m]; ``volume`` at the likely
    level, [m³]; ``media`` the space that media take, pores with them, [m³]; ``set_level`` is the scene's.
    """

    name: str
    level: Band
    head: Band
    volume: float
    media: float
    set_level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SumpWater:
    """A sump as a vessel. LevelTable are z in the tank's axes, [m].

    ``tables`` are those of its compartments in the order of the flow, ``inside`` that of the whole box with
    all compartments at one level. ``whole`` is all water at rest by the level of the return chamber:
    compartments before it stand at their baffles until the water rises over them. ``crests`` are the tops of
    the baffles over which water runs, None where it runs under. ``chamber`` is the return chamber with what
    is open to it below: these rise and fall together, apart from the head of the flow.
    """

    built: Built[Sump, SumpData]
    tables: tuple[LevelTable, ...]
    inside: LevelTable
    whole: LevelTable
    crests: tuple[float | None, ...]
    chamber: LevelTable

    @property
    def data(self) -> SumpData:
        """What the sump was built into."""
        return self.built.data

    @property
    def name(self) -> str:
        """Name of the part."""
        return self.built.part.name

    @property
    def chamber_name(self) -> str:
        """Name of the return chamber as a vessel, 'sump.chamber'."""
        return f"{self.name}.{self.data.return_chamber.name}"

    @property
    def chamber_names(self) -> tuple[str, ...]:
        """Names as vessels of all whose water is in ``chamber``, the return chamber last."""
        names = tuple(f"{self.name}.{one.name}" for one in self.data.compartments)
        return names[_last_crest(self.crests) + 1 :]

    @property
    def rim(self) -> float:
        """Height of its rim, z [m]."""
        return self.data.rim

    @property
    def floor(self) -> float:
        """Height of its floor, z [m]."""
        return self.data.floor

    @property
    def chamber_top(self) -> float:
        """Level at which the return chamber flows back over the last baffle, or its rim, z [m]."""
        return min(self.rim, next((crest for crest in reversed(self.crests) if crest is not None), self.rim))

    @property
    def room(self) -> float:
        """Return what it takes up over the scene's levels until it runs over, [m³]."""
        held = self.held([one.water_z for one in self.data.compartments])
        return max(0.0, self.whole.volume(self.rim) - held)

    def resting(self, chamber_level: float) -> tuple[float, ...]:
        """Return the level of each compartment at rest, by that of the return chamber, z [m].

        No higher than the rim: where a baffle reaches over it, water runs over the rim instead.
        """
        return tuple(min(level, self.rim) for level in _resting(self.crests, chamber_level))

    def held(self, levels: Sequence[float]) -> float:
        """Return all water in it with its compartments at these levels, z [m]; [m³]."""
        return _held(self.data, self.inside, self.tables, levels)


def sump_water_of(model: Model, built: Built[Sump, SumpData]) -> SumpWater:
    """Return a sump as a vessel, by the exact tables of its compartments."""
    data = built.data
    tables = compartment_tables(model)
    own = tuple(tables[f"{built.part.name}.{c.name}"] for c in data.compartments)
    crests = tuple(
        None if c.baffle_gap > 0.0 else data.floor + c.baffle_height for c in data.compartments[:-1]
    )
    inside = cavity_table(sump_space(model, data, data.interior), built.part.name)
    return SumpWater(
        built=built,
        tables=own,
        chamber=together(own[_last_crest(crests) + 1 :]),
        inside=inside,
        whole=_whole(built.part.name, data, inside, own, crests),
        crests=crests,
    )


def running_levels(model: Model, sump: SumpWater, flow: Band) -> tuple[CompartmentLevel, ...]:
    """Return the levels of a sump's compartments while ``flow`` [m³/s] runs through it.

    Notes
    -----
    Over a baffle the head of a broad or nearly sharp crest as wide as the sump is deep; where the water
    behind stands higher than the baffle it does not rule, and both sides are level. Under a baffle the head
    of an orifice, coefficient 0.60. The filter sock is clean.
    """
    set_level = sump.data.return_chamber.water_z
    above = dict.fromkeys(SETTINGS, set_level)
    found = [_told(model, sump, -1, Band.exact(set_level, "as the scene fills it"), Band.exact(0.0))]
    for index in range(len(sump.crests) - 1, -1, -1):
        head = baffle_head(sump.data, index, flow)
        crest = sump.crests[index]
        for setting in SETTINGS:
            drop = head.at(setting)
            if crest is None:
                above[setting] += drop
            else:
                above[setting] = max(crest + drop, above[setting])
        low, likely, high = (min(above[setting], sump.rim) for setting in SETTINGS)
        level = Band(low=low, likely=likely, high=high, note=head.note)
        found.append(_told(model, sump, index, level, head))
    return tuple(reversed(found))


def baffle_head(data: SumpData, index: int, flow: Band) -> Band:
    """Return the head that ``flow`` [m³/s] needs over a compartment's baffle, or under it, [m]."""
    compartment = data.compartments[index]
    width = _width(data)
    if compartment.baffle_gap > 0.0:
        # a gap as a round hole of the same area: only the area counts
        bore = 2.0 * math.sqrt(width * compartment.baffle_gap / math.pi)
        return flow.map(lambda q: orifice_head(bore, q, coefficient=UNDER), "gap as an orifice, 0.60")
    weir = BroadWeir(width=width, thickness=_thickness(data, index))
    low, likely, high = (weir_head(weir, flow.at(setting)) for setting in SETTINGS)
    return Band(low=low.low, likely=likely.likely, high=high.high, note=likely.note)


def _last_crest(crests: Sequence[float | None]) -> int:
    """Return the place of the last baffle over which water runs; -1 for none."""
    return max((place for place, crest in enumerate(crests) if crest is not None), default=-1)


def _told(model: Model, sump: SumpWater, index: int, level: Band, head: Band) -> CompartmentLevel:
    compartment = sump.data.compartments[index]
    media = f"{sump.name}.media_{compartment.name}"
    return CompartmentLevel(
        name=compartment.name,
        level=level,
        head=head,
        volume=sump.tables[index].volume(level.likely),
        media=sum(body.solid.volume for body in model.bodies_of(media)),
        set_level=compartment.water_z,
    )


def _resting(crests: Sequence[float | None], chamber_level: float) -> tuple[float, ...]:
    found = [chamber_level]
    for crest in reversed(crests):
        found.append(found[-1] if crest is None else max(found[-1], crest))
    return tuple(reversed(found))


def _whole(
    name: str,
    data: SumpData,
    inside: LevelTable,
    tables: Sequence[LevelTable],
    crests: Sequence[float | None],
) -> LevelTable:
    """Return all water of a sump at rest by the level of its return chamber."""
    marks = {level for table in (inside, *tables) for level in table.levels}
    marks |= {crest for crest in crests if crest is not None}
    levels: list[float] = []
    for level in sorted(mark for mark in marks if data.floor <= mark <= data.rim):
        if not levels or level - levels[-1] > LEAST_STEP:
            levels.append(level)
    volumes: list[float] = []
    for level in levels:
        heights = [min(height, data.rim) for height in _resting(crests, level)]
        volumes.append(max(_held(data, inside, tables, heights), volumes[-1] if volumes else 0.0))
    return LevelTable(levels=tuple(levels), volumes=tuple(volumes), name=f"all of {name}")


def _held(
    data: SumpData, inside: LevelTable, tables: Sequence[LevelTable], heights: Sequence[float]
) -> float:
    """Return all water of a sump, [m³]: the box up to the chamber's level, and what stands higher."""
    base = heights[-1]
    total = inside.volume(base)
    for table, height in zip(tables, heights, strict=True):
        total += table.volume(height) - table.volume(base)
    for index, compartment in enumerate(data.compartments[:-1]):
        # over the baffle itself, where both sides stand over it
        top = max(data.floor + compartment.baffle_height, base)
        over = max(0.0, min(heights[index], heights[index + 1]) - top)
        if over:
            total += over * _thickness(data, index) * _width(data)
    return total


def _width(data: SumpData) -> float:
    low, high = data.interior.shape.bounds
    return float(high[1] - low[1])


def _thickness(data: SumpData, index: int) -> float:
    before, after = _spans(data)[index : index + 2]
    return max(after[0] - before[1], before[0] - after[1], 1e-6)


def _spans(data: SumpData) -> list[tuple[float, float]]:
    """Return where each compartment starts and ends along the sump, in its own axes, [m]."""
    spans = []
    for compartment in data.compartments:
        own = data.interior.placement.inverse().apply(compartment.interior.vertices)
        spans.append((float(own[:, 0].min()), float(own[:, 0].max())))
    assert all(a != b for a, b in pairwise(spans)), "compartments lie side by side (_spans)"
    return spans
