"""A run that ends open where it would spray or drain the tank, and is not told to end so."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import FLOOD, Finding, Findings, Severity, rule
from layout3d.checks.measure import ROUNDING, length, limit
from layout3d.checks.thrown import Jet, jets, lands, leaves_tank
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.pipework.graph import Mouth, Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import sump_at, whole_vessel
from layout3d.units import show

__all__ = ["open_ends", "within"]


@rule(
    "open-end",
    asks="A run ends in a fitting, in a port, or open over the tank or the sump.",
    caution=FLOOD,
    limits=("mouth_over_rim", "landing_below_rim", "landing_to_glass"),
)
def open_ends(model: Model) -> Findings:
    """Find ends of runs, branches of tees and drip holes that are open outside tank and sump.

    An end behind a closed valve is a note, and so is a vent of a drain, so high that no water gets there. A
    branch that is open over the tank or the sump is a warning: it may be a vent, or forgotten; a fault where
    a pump drives it above the rim, for it sprays over it. An end that misses its port is told by the rule
    ports-meet, a bulkhead by the rule plugged. What a pump throws over the tank's rim is a fault too, and
    what comes down beside the glass on something as high as that: it runs over.
    """
    flying = tuple(jets(model))
    yield from _thrown(model, flying)
    yield from _onto_rim(model, flying)
    found = pipework(model)
    for mouth in found.mouths:
        if mouth.kind in ("bulkhead", "outlet") or mouth.meant:
            continue
        points = tuple(hole.at for hole in mouth.holes) or (mouth.at,)
        highest = max(points, key=lambda point: _over_rim(model, point))
        outside = [point for point in points if not within(model, point)]
        high = _over_rim(model, highest)
        if not mouth.branch and high > 0 and not outside:
            yield Finding(
                severity="warning",
                parts=tuple(dict.fromkeys((mouth.part, mouth.body))),
                measured=high,
                limit=0.0,
                at=highest,
                message=f"{mouth.words} is open {length(high)} above the sump's rim: it splashes over it",
                remedy=f"bring it {length(high)} lower, or more",
            )
        elif outside or mouth.branch:
            yield _open(model, found, mouth, outside[0] if outside else None)


def _thrown(model: Model, flying: tuple[Jet, ...]) -> Findings:
    """Find jets that come down beside the tank, those of a pipe's holes together."""
    thrown: dict[tuple[str, str], list[Jet]] = {}
    for jet in flying:
        if leaves_tank(model, jet):
            thrown.setdefault((jet.body, jet.words), []).append(jet)
    for several in thrown.values():
        worst = max(several, key=lambda jet: jet.speed)
        what = worst.words if worst.of == 1 else f"{len(several)} of {worst.of} {worst.words}"
        verb = "throws" if worst.of == 1 else "throw"
        yield Finding(
            parts=tuple(dict.fromkeys((worst.part, worst.body))),
            at=worst.start,
            message=f"{what} {verb} water over the rim of {model.tank_name}, at "
            f"{show(worst.speed, 'speed', digits=2)}: it comes down outside the glass",
            remedy="turn it down (`angles:` of holes), set it lower, or give it less head",
        )


def _onto_rim(model: Model, flying: tuple[Jet, ...]) -> Findings:
    """Find water that comes down on a background or a brace next to the rim, told once for each of these."""
    deep, wide = limit(model, "landing_below_rim"), limit(model, "landing_to_glass")
    tank = model.tank
    found: dict[tuple[str, str, str], list[tuple[float, Vector]]] = {}
    for jet in flying:
        hit = lands(model, jet, tank.height - deep)
        if hit is None or hit[0].group not in ("background", "glass"):
            continue
        below = max(tank.height - hit[1][2], 0.0)
        if below < deep - ROUNDING and float(tank.room(np.array([hit[1]]))[0]) < wide - ROUNDING:
            found.setdefault((jet.part, jet.words, hit[0].name), []).append((below, hit[1]))
    for (part, words, body), several in found.items():
        below, at = min(several)
        yield Finding(
            parts=(part, body),
            measured=below,
            limit=deep,
            at=at,
            message=f"water of {words} comes down on {body} {length(below)} below {model.tank_name}'s rim, "
            f"less than {length(deep)}, beside the glass (limit landing_below_rim): it runs over the rim",
            remedy=f"let it out lower, in front of {body}, or farther from the glass than {length(wide)}",
        )


def _open(model: Model, found: Pipework, mouth: Mouth, outside: Vector | None) -> Finding:
    valve = found.closed_before(mouth)
    sprays = mouth.branch and not outside and _sprays(model, found, mouth)
    vents = outside is not None and _vents(model, found, mouth)
    where = "outside the tank and the sump" if outside else "and nothing joins it"
    where += ", over every rim that water gets to: a vent" if vents else ""
    driven = ", and the pump drives water out of it above the rim" if sprays else ""
    closed = f"; {valve} holds it closed" if valve else ""
    severity: Severity = "note" if valve or vents else "fault" if outside or sprays else "warning"
    if mouth.branch:
        remedy = f"start a run at {mouth.node}, or take the tee out"
    elif mouth.holes:
        remedy = "lead the drip holes over the tank, or take them out"
    else:
        remedy = "end it in a port (`join:`), in a cap, or over the tank or sump"
    return Finding(
        severity=severity,
        parts=tuple(dict.fromkeys((mouth.part, mouth.body))),
        at=outside or mouth.at,
        message=f"{mouth.words} is open {where}{driven}{closed}",
        remedy=remedy,
    )


def _vents(model: Model, found: Pipework, mouth: Mouth) -> bool:
    """Tell whether an end of a drilled drain lies over the rims of all vessels that its pipe opens in."""
    part = found.part_of(mouth.node)
    if part is None or mouth.kind != "open" or not any(edge.kind == "bulkhead" for edge in part.edges):
        return False
    vessels = {whole_vessel(one.vessel) for one in part.mouths}
    rims = [built.data.rim for built in model.sumps if built.part.name in vessels]
    return not part.pumps and mouth.lower_edge > max((model.tank.height, *rims))


def _sprays(model: Model, found: Pipework, mouth: Mouth) -> bool:
    """Tell whether a pump drives a mouth that lies above the rim of its vessel."""
    part = found.part_of(mouth.node)
    sump = None if model.tank.holds(mouth.at) else sump_at(model, mouth.at)
    rim = model.tank.height if sump is None else sump[1].rim
    return part is not None and bool(part.water_pumps) and mouth.at[2] > rim


def _over_rim(model: Model, point: Vector) -> float:
    """Return how far a point lies above the rim of a sump it is over, [m]; 0 in the tank, or over none."""
    found = None if model.tank.holds(point) else sump_at(model, point)
    return 0.0 if found is None else point[2] - found[1].rim


def within(model: Model, point: Vector) -> bool:
    """Tell whether a point lies over or in the tank's or a sump's plan, not below its floor."""
    above = limit(model, "mouth_over_rim") + ROUNDING
    if model.tank.holds(point) and point[2] <= model.tank.height + above:
        return True
    found = sump_at(model, point)
    return found is not None and point[2] <= found[1].rim + above
