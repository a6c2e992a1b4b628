"""Scanned or outlined pieces whose volume is so unsure that figures with it may be wrong."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from layout3d.checks.base import Finding, Findings, Severity, rule
from layout3d.checks.measure import limit
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.units import show

if TYPE_CHECKING:
    from layout3d.solid.mesh_file import Repair


@rule(
    "scan-mended",
    asks="A scan is as it was read: little of its volume rests on what mending made of it.",
    limits=("scan_unsure", "scan_unsure_most"),
)
def scan_mended(model: Model) -> Findings:
    """Find scans that a hull stands in for, had holes, ran through themselves, or fall apart.

    What a hull adds is its volume over what the open surface sums up. What a closed hole may hide is taken as
    half a ball on it, outward or inward. What ran through itself was counted twice, and is now counted once.
    """
    slight, most = limit(model, "scan_unsure"), limit(model, "scan_unsure_most")
    for name, built in model.built.items():
        scan = built.scan
        if scan is None:
            continue
        place = vector(built.bodies[0].solid.centroid)
        for unsure, message, remedy in _told(name, scan):
            if unsure is not None and unsure <= slight:
                continue
            severity: Severity = "fault" if scan.hull and (unsure is None or unsure > most) else "warning"
            yield Finding(
                severity=severity,
                parts=(name,),
                measured=unsure,
                limit=None if unsure is None else most if severity == "fault" else slight,
                unit="" if unsure is None else "-",
                at=place,
                message=message,
                remedy=remedy,
            )


def _told(name: str, scan: Repair) -> Iterator[tuple[float | None, str, str]]:
    """Yield for each mending the share of the volume in doubt (None: not known), what it is, and a remedy."""
    if scan.outlined:
        yield (
            None,
            f"{name} is the largest piece with the outlines in {scan.file}: the real one has at most its "
            "volume and mass, holds down less, and leaves more water",
            "weigh the piece or dip it to know its volume, or scan it",
        )
    if scan.hull:
        factor = scan.hull_factor
        large = (
            "how much larger than the piece isn't known" if factor is None else f"about {factor:.2g} times it"
        )
        yield (
            None if factor is None else abs(factor - 1.0),
            f"{name} is the convex hull of {scan.file}, {large}: all its volume, mass and fit are the hull's "
            f"({scan.reason})",
            "close the scan's surface, or weigh the piece or dip it to know its volume",
        )
    if scan.closed:
        yield (
            scan.bulge,
            f"{_percent(scan.closed)} of the surface of {name} was not scanned but closed flat: were the "
            f"piece round there, {_percent(scan.bulge)} of its volume would be wrong",
            "scan what is missing, or weigh the piece or dip it to know its volume",
        )
    if scan.lapped != 1.0:
        yield (
            scan.lapped - 1.0,
            f"the surface of {name} runs through itself: as read it is {_percent(scan.lapped - 1)} too "
            "large, and was made one skin",
            "look at the piece in a picture, or mend the scan",
        )
    if scan.loose:
        yield (
            scan.loose,
            f"{name} is of pieces that don't touch: {_percent(scan.loose)} of its volume stands apart from "
            "the largest, and is taken as one with it",
            "take what is loose out of the scan, or make it a part of its own",
        )


def _percent(share: float) -> str:
    return f"{show(100.0 * share, 'number', digits=2)} %"
