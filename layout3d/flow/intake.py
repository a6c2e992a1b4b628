"""How water gets into a drain: over a standpipe's rim, through slots or holes, into a hole in the wall.

An intake is one or two stages in a row: slots, and the pipe behind them. Each gives the level before it for
a flow and the level behind it. Waves, vortices and leaves are left out (``blocked`` stops a share of slots).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from layout3d.band import OPPOSITE, SETTINGS, Band, Setting
from layout3d.errors import NotPossible, OutOfRange
from layout3d.flow.roots import root
from layout3d.flow.weir import SLOT, StandpipeRim, weir_flow, weir_head
from layout3d.guards import above_zero, not_negative, within
from layout3d.units import show

__all__ = [
    "Intake",
    "Rim",
    "Slit",
    "Slits",
    "Stage",
    "hole_slits",
    "intake_flow",
    "intake_level",
    "slits_flow",
]

STRIPS = 48  # a round hole is cut into so many strips; with 48 its flow is within 0.1 % of the limit
HIGHEST = 3.0  # [m] of head, as far as a level is sought
# level that water standing in the pipe asks for before it, z [m], by flow [m³/s] and the level's setting
Backwater = Callable[[float, Setting], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slit:
    """An upright opening from ``low`` to ``high``, z [m], and ``width`` [m] (of several alike: together)."""

    low: float
    high: float
    width: float

    def __post_init__(self) -> None:
        if not self.high > self.low:
            raise OutOfRange(
                f"a slit from {show(self.low, 'length')} to {show(self.high, 'length')} has no height"
            )
        above_zero(self.width, "width of the slit", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slits:
    """A stage of openings; ``screens`` tells that leaves and snails can lie before them."""

    slits: tuple[Slit, ...]
    screens: bool = False

    @property
    def crest(self) -> float:
        """Lowest level at which water gets through, z [m]."""
        return min(slit.low for slit in self.slits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rim(StandpipeRim):
    """A stage that is the upturned end of a pipe of ``diameter`` inside, its rim at ``crest``, z [m]."""

    crest: float


Stage = Slits | Rim


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What water passes in order, ``words`` for it, and the formula behind it."""

    words: str
    stages: tuple[Stage, ...]

    @property
    def crest(self) -> float:
        """Level from which water runs in, z [m]."""
        return max(stage.crest for stage in self.stages)

    @property
    def screened(self) -> bool:
        """Whether it has slots or holes that can clog."""
        return any(isinstance(stage, Slits) and stage.screens for stage in self.stages)

    @property
    def formula(self) -> str:
        """Name of the formulas that its level comes from."""
        names = []
        for stage in self.stages:
            if isinstance(stage, Rim):
                names.append("rim of a pipe as a weir, 1.70 to 1.84 pi D h^1.5")
            elif stage.screens:
                names.append("narrow slots, 1.77 b h^1.5, give or take 20 %")
            else:
                names.append("round bore in strips, 1.77 b h^1.5, give or take 20 %")
        return "; behind it ".join(names)


def hole_slits(centre: float, diameter: float, *, screens: bool = False) -> Slits:
    """Return a round hole in an upright wall as strips, its ``centre`` at z [m]."""
    radius = above_zero(diameter, "diameter of the hole", "m") / 2.0
    # strips of equal turn have equal weight where the hole is narrow, and keep the area exactly
    turns = [math.pi * number / STRIPS for number in range(STRIPS + 1)]

    def area_below(turn: float) -> float:
        return radius * radius * (turn - math.sin(turn) * math.cos(turn))

    slits = []
    for before, after in pairwise(turns):
        low, high = centre - radius * math.cos(before), centre - radius * math.cos(after)
        slits.append(Slit(low=low, high=high, width=(area_below(after) - area_below(before)) / (high - low)))
    return Slits(slits=tuple(slits), screens=screens)


def slits_flow(stage: Slits, level: float, behind: float, *, setting: Setting, blocked: float = 0.0) -> float:
    """Flow through slits, [m³/s], from water at ``level`` to water at ``behind``, z [m].

    Notes
    -----
    Each slit passes 2/3 C b sqrt(2g) (h^1.5 of its foot less that of its top), C 0.60, the coefficient of
    ``flow.weir.SLOT``. The part of it below the water behind passes C b sqrt(2g h) at the
    difference of the levels (drowned weir of Dubuat, as in handbooks).
    """
    share = 1.0 - (within(blocked, 0.0, 0.99, "blocked share", "") if stage.screens else 0.0)
    total = 0.0
    for slit in stage.slits:
        if level <= slit.low or level <= behind:
            continue
        covered = min(max(behind, slit.low), slit.high)  # from the foot up to here the slit is drowned
        free = _over(level - covered, setting) - _over(level - slit.high, setting)
        drowned = 0.0
        if covered > slit.low:
            difference = level - behind
            drowned = (covered - slit.low) * 1.5 * _over(difference, setting) / difference
        total += slit.width * (free + drowned)
    return share * total


def intake_level(
    intake: Intake, flow: float, *, blocked: float = 0.0, backwater: Backwater | None = None
) -> Band:
    """Level of the water before an intake that takes in ``flow``, z [m].

    Parameters
    ----------
    flow : [m³/s], 0 or more
    blocked : share of slots that is stopped, [-]; rims and holes in the wall have none
    backwater : level that the water in the pipe behind it asks for; none where it falls away freely

    Returns
    -------
    Band: ``high`` where the intake passes least. The crest where nothing flows.

    Raises
    ------
    NotPossible : the level would stand 3 m over the intake.
    """
    not_negative(flow, "flow into the drain", "m³/s")
    found = {setting: _level(intake, flow, setting, blocked, backwater) for setting in SETTINGS}
    return Band(**found, note=intake.formula)


def intake_flow(
    intake: Intake,
    level: float,
    *,
    setting: Setting,
    blocked: float = 0.0,
    backwater: Backwater | None = None,
) -> float:
    """Flow that an intake takes in from water at ``level``, z [m]; [m³/s]. Others as :func:`intake_level`.

    ``setting`` is that of a level's band: at 'low' the intake passes most.
    """
    if level <= intake.crest:
        return 0.0
    most = min(_most(stage, level, setting, blocked) for stage in intake.stages)
    if most <= 0.0 or (len(intake.stages) == 1 and (backwater is None or backwater(most, setting) <= level)):
        return most
    return root(lambda flow: _level(intake, flow, setting, blocked, backwater) - level, 0.0, most * 1.001)


def _most(stage: Stage, level: float, setting: Setting, blocked: float) -> float:
    """Return what a stage passes with nothing behind it."""
    if isinstance(stage, Rim):
        return weir_flow(stage, max(0.0, level - stage.crest)).at(OPPOSITE[setting])
    return slits_flow(stage, level, -math.inf, setting=setting, blocked=blocked)


def _level(
    intake: Intake, flow: float, setting: Setting, blocked: float, backwater: Backwater | None
) -> float:
    if flow == 0.0:
        return intake.crest
    behind = -math.inf
    for stage in reversed(intake.stages):
        last = stage is intake.stages[-1]
        if isinstance(stage, Rim):
            level = stage.crest + weir_head(stage, flow).at(setting)
        else:
            level = _slits_level(stage, flow, behind, setting, blocked)
        # the pipe rules by its mouth or by what stands in it, whichever asks for more
        behind = max(level, backwater(flow, setting)) if last and backwater else level
    return max(behind, intake.crest)


def _slits_level(stage: Slits, flow: float, behind: float, setting: Setting, blocked: float) -> float:
    low = max(stage.crest, behind)
    high = low + HIGHEST

    def miss(level: float) -> float:
        return slits_flow(stage, level, behind, setting=setting, blocked=blocked) - flow

    if miss(high) < 0.0:
        raise NotPossible(
            f"the intake passes {show(miss(high) + flow, 'flow')} at {show(HIGHEST, 'head')} of head, "
            f"{show(-miss(high), 'flow')} short of {show(flow, 'flow')}",
            remedy="use a larger strainer, more slots, or pump less",
        )
    return root(miss, low, high)


def _over(head: float, setting: Setting) -> float:
    """Flow over a metre of narrow crest, [m²/s]."""
    return 0.0 if head <= 0.0 else SLOT.at(OPPOSITE[setting]) * head**1.5
