"""A picture of a stage as a PNG: a view or a cut, parts named, findings numbered where they are.

What is on it is returned as data. No dimensions are drawn here, and no sequence of steps.
"""

from __future__ import annotations

import itertools
import zlib
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw import screen
from layout3d.draw.camera import VIEWS, Camera, camera_at, camera_for
from layout3d.draw.labels import Box, Label, Wanted, place_labels
from layout3d.draw.overlay import Overlay, shortened, text_size, wrapped
from layout3d.draw.page import PictureFacts, ScaleBar, finding_point, legend_rows, place_badges, scale_bar
from layout3d.draw.pieces import Stage
from layout3d.draw.seen import LabelPoint, families, label_points, look
from layout3d.draw.style import PAGE
from layout3d.errors import LayoutError, OutOfRange, UnknownName, nearest
from layout3d.files import is_folder, written
from layout3d.solid.placement import vector
from layout3d.units import show as show_value

if TYPE_CHECKING:
    from layout3d.checks.base import Finding
    from layout3d.draw.cut import Cut
    from layout3d.draw.flow_colours import ColourKey

__all__ = ["LARGEST", "SMALLEST", "PictureFacts", "check_size", "part_labels", "picture"]

SMALLEST, LARGEST = 320, 8000  # pixels a side
MOST_LINES, MOST_EACH = 8, 3  # of the legend, and of one finding in it
INDENT = 2.3  # of its text behind the margin, radii of a badge
MOST_LABELS = 26
PER_LABEL_COLUMN = 0.17  # of the page's width at most


def picture(
    stage: Stage,
    *,
    view: str = "three_quarter",
    spot: str = "",
    camera: Camera | None = None,
    to: Path,
    findings: Sequence[Finding] = (),
    size: tuple[int, int] = (1600, 1200),
    labels: bool = True,
    cut: Cut | None = None,
    net_volume: float | None = None,
    key: ColourKey | None = None,
    on: screen.Screen | None = None,
) -> PictureFacts:
    """Draw a stage and write the picture whole, or not at all.

    Parameters
    ----------
    stage : of a model or a part of it, as ``stage.set_stage`` sets it; one serves any number of views
    view : 'three_quarter' (perspective), 'front', 'back', 'left', 'right' or 'plan' (parallel)
    spot : a camera of the scene by name, in place of a view
    camera : where it is seen from, of this size, in place of both; ``view`` then tells the side of a cut
    to : the PNG file; its folder has to be there
    findings : numbered from 1 in this order, as a report lists them
    size : width and height in pixels, 320 to 8000
    labels : whether parts are named
    cut : ('x' | 'y' | 'z', place in [m]); the viewer's side is taken away and cut faces are filled
    net_volume : of the water, [m³], told in the title block if given
    key : what the colours of a stage painted by a quantity mean
    on : a screen of this size to draw on, which stays open: further views of one stage are then quick

    Returns
    -------
    What was drawn, and where on the picture.

    Raises
    ------
    UnknownName : no such view, camera or axis.
    OutOfRange : a size beyond the limits, or a cut that passes everything or is seen edge-on.
    LayoutError : the file can't be written there.
    """
    _check(view, to, size)
    if spot and spot not in stage.cameras:
        known = nearest(spot, stage.cameras) if stage.cameras else "a scene with `cameras:`"
        raise UnknownName(f"no camera is called {spot!r}", expected=known)
    stands = stage.cameras[spot] if spot else None
    drawn, plane = stage, None
    free = bool(spot) or camera is not None  # it may show no more than a piece of what there is
    words = [f"camera {spot.replace('_', ' ')}" if spot else VIEWS[view].words] if camera is None else []
    if cut is not None:
        from layout3d.draw.cut import cut_stage, cut_words, plane_of

        seen_from = view if stands is None else stands.at
        plane, drawn = plane_of(cut, seen_from), cut_stage(stage, cut, seen_from)
        words.append(f"cut {show_value(cut[1], 'length', system=stage.style)} {cut_words(cut)}")
    scale = min(size[0] / 1600.0, size[1] / 1200.0)
    head = _title(stage, words, net_volume)
    if view == "plan" and not free:
        drawn, overhead = _from_above(drawn)
        if overhead:
            head = (head[0], f"{head[1]}  ·  without what hangs above")
    told, more = _legend(findings, scale, size[0])
    lines = sum(len(own) for own in told) + (more > 0)
    frame = _frame(drawn, size, scale, labels, lines=lines)
    corners = _corners(drawn)
    if plane is not None:  # on what is left
        corners[:, plane.axis] = plane.behind(corners[:, plane.axis])
    if stands is not None:
        camera = camera_at(stands, size=size)
    elif camera is None:
        camera = camera_for(view, corners, size=size, frame=frame)

    with nullcontext(on) if on is not None else screen.opened(size) as page, screen.quiet():
        page.show(drawn, scale=scale)
        image = page.pixels(camera)
        seen = look(page, drawn)

    overlay = Overlay(image, scale)
    placed: tuple[Label, ...] = ()
    dropped: tuple[str, ...] = ()
    if labels:
        area = _area(camera, corners, scale)
        if free:  # columns stand on the picture
            area, seen = frame, seen.inside(frame)
        points = label_points(drawn, camera, seen, grain=max(round(3 * scale), 1))
        placed, dropped = part_labels(points, scale, area=area, room=PER_LABEL_COLUMN * size[0])
    bounds = {name: np.array([one.low, one.high]) for one in drawn.extents for name in (one.part, one.name)}
    places = [
        (number, finding, point)
        for number, finding in enumerate(findings, start=1)
        if (point := finding_point(finding, bounds)) is not None
        and (plane is None or plane.ahead(np.array([point]))[0] < 0.01)
    ]
    badges = place_badges(
        places, camera, radius=PAGE.badge * scale, page=frame, taken=[label.box for label in placed]
    )
    margin = PAGE.margin * scale
    bottom = size[1] - margin - lines * _line(scale) - (0.5 * margin if findings else 0.0)
    bar = scale_bar(
        camera,
        camera.focal if free else vector((corners.min(axis=0) + corners.max(axis=0)) / 2.0),
        style=stage.style,
        corner=(margin, bottom - 8.0 * scale),
        room=0.16 * size[0],
    )
    for label in placed:
        overlay.label(label)
    for badge in badges:
        if badge.centre != badge.at:
            overlay.line([badge.at, badge.centre], PAGE.ink, 1.6 * scale)
            overlay.dot(badge.at, 3.5 * scale, PAGE.ink, PAGE.halo)
    for badge in badges:
        overlay.badge(badge.number, badge.severity, badge.centre, badge.radius)
    _draw_title(overlay, head)
    _draw_bar(
        overlay, bar, where="" if camera.parallel else " at mid depth" if not free else " at its target"
    )
    if key is not None:
        from layout3d.draw.flow_colours import draw_key

        draw_key(overlay, key, bottom=bar.at[1] - 12.0 * scale)
    legend = _draw_legend(overlay, findings, told, more)
    with written(to) as partial:
        # runs of equal bytes alone, in two thirds of the time and a tenth more bytes
        overlay.finished().save(partial, format="PNG", compress_level=4, compress_type=zlib.Z_RLE)
    return PictureFacts(
        file=to,
        view=spot or view,
        size=size,
        camera=camera,
        parts=drawn.parts,
        labels=placed,
        unlabelled=dropped,
        badges=badges,
        scale_bar=bar,
        title=head,
        legend=legend,
        drawing=frame,
        pixels=seen.by_group,
    )


def check_size(size: tuple[int, int]) -> None:
    """Raise OutOfRange for a size that no picture has."""
    for name, side in zip(("wide", "high"), size, strict=True):
        if not SMALLEST <= side <= LARGEST:
            raise OutOfRange(
                f"a picture can't be {side} pixels {name}", expected=f"{SMALLEST} to {LARGEST} pixels"
            )


def _check(view: str, to: Path, size: tuple[int, int]) -> None:
    if view not in VIEWS:
        raise UnknownName(f"{view!r} is not a view", expected=nearest(view, VIEWS))
    check_size(size)
    if to.suffix.lower() != ".png":
        raise LayoutError(f"{to}: pictures are written as PNG", expected="a name that ends in .png")
    if not is_folder(to.parent):
        raise LayoutError(
            f"{to}: there is no folder {str(to.parent)!r}", remedy="make the folder first, or name another"
        )


def _from_above(drawn: Stage) -> tuple[Stage, bool]:
    """Take away what a plan is spoilt by: the ground's shadow, a grey page from here, and hanging lights.

    Returns the stage, and whether anything that hangs over the tank was left out; alone, it stays.
    """
    above = {extent.name for extent in drawn.extents if extent.overhead}
    if len(above) == len(drawn.extents):
        above = set()
    pieces = tuple(piece for piece in drawn.pieces if piece.body and piece.body not in above)
    extents = tuple(extent for extent in drawn.extents if extent.name not in above)
    return replace(drawn, pieces=pieces, extents=extents), bool(above)


def _title(stage: Stage, words: list[str], net_volume: float | None) -> tuple[str, str]:
    words.append(f"waterline {show_value(stage.waterline, 'length', system=stage.style)}")
    if net_volume is not None:
        words.append(f"{show_value(net_volume, 'volume', system=stage.style)} of water, net")
    return (stage.title, "  ·  ".join(words))


def _line(scale: float) -> float:
    return 31.0 * scale


def _text_of(parts: Sequence[str]) -> str:
    """Name one part, or a family of numbered ones."""
    first = parts[0].replace("_", " ")
    return first if len(parts) == 1 else f"{first.rstrip('0123456789').rstrip()} × {len(parts)}"


def _frame(stage: Stage, size: tuple[int, int], scale: float, labels: bool, *, lines: int) -> Box:
    """Return the part of the page that the drawing may fill."""
    margin = PAGE.margin * scale
    side = margin
    if labels:
        widest = max((text_size(_text_of([p]), PAGE.text * scale)[0] for p in stage.parts), default=0.0)
        side += min(widest, PER_LABEL_COLUMN * size[0]) + 42.0 * scale
    top = margin + 84.0 * scale
    bottom = size[1] - margin - 44.0 * scale - lines * _line(scale) - (0.5 * margin if lines else 0.0)
    return (side, top, size[0] - side, max(bottom, top + 0.3 * size[1]))


def _corners(stage: Stage) -> NDArray[np.float64]:
    """Return corners of the bodies' boxes, (n, 3): tighter on the page than those of the whole."""
    boxes = [(one.low, (*one.high[:2], one.top)) for one in stage.extents]
    return np.array(
        [corner for low, high in boxes for corner in itertools.product(*zip(low, high, strict=True))]
    )


def _area(camera: Camera, corners: NDArray[np.float64], scale: float) -> Box:
    """Return the part of the page that is drawn on, left, top, right, bottom, [pixels]."""
    flat = camera.project(corners)
    middle = (camera.size[0] / 2.0, camera.size[1] / 2.0)
    return (
        min(float(flat[:, 0].min()) - 14.0 * scale, middle[0]),
        float(flat[:, 1].min()),
        max(float(flat[:, 0].max()) + 14.0 * scale, middle[0]),
        float(flat[:, 1].max()),
    )


def part_labels(
    every: Sequence[LabelPoint], scale: float, *, area: Box, room: float
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Place labels beside what is drawn, no wider than ``room``; return them, and the parts left out."""
    wanted = wanted_labels(every, scale, room=room)
    return place_labels(wanted, area=area, gap=8.0 * scale, knee=18.0 * scale, most=MOST_LABELS)


def wanted_labels(every: Sequence[LabelPoint], scale: float, *, room: float) -> list[Wanted]:
    """Return the labels of parts, no wider than ``room``; of parts that are numbered there is one for all."""
    wanted = []
    for points in families(every):
        text = shortened(_text_of([point.part for point in points]), PAGE.text * scale, room)
        width, height = text_size(text, PAGE.text * scale)
        # the leader goes to the one that is seen best
        best = max(points, key=lambda point: point.weight)
        wanted.append(
            Wanted(
                parts=tuple(point.part for point in points),
                text=text,
                width=width,
                height=height,
                at=best.at,
                weight=sum(point.weight for point in points),
            )
        )
    return wanted


def _draw_title(overlay: Overlay, head: tuple[str, str]) -> None:
    scale, margin = overlay.scale, PAGE.margin * overlay.scale
    room = overlay.size[0] - 2.0 * margin
    title = shortened(head[0], PAGE.title * scale, room, bold=True)
    line = shortened(head[1], PAGE.small * scale, room)
    # what runs off the page behind the title is veiled
    wide = max(text_size(title, PAGE.title * scale, bold=True)[0], text_size(line, PAGE.small * scale)[0])
    box = (0.5 * margin, 0.5 * margin, 1.4 * margin + wide, margin * 0.8 + 74.0 * scale)
    overlay.box(box, PAGE.top, 0.82, radius=6.0 * scale)
    overlay.text((margin, margin * 0.8), title, PAGE.title * scale, bold=True)
    overlay.text((margin, margin * 0.8 + 45.0 * scale), line, PAGE.small * scale, colour=PAGE.soft_ink)


def _draw_bar(overlay: Overlay, bar: ScaleBar, *, where: str) -> None:
    (x, y), half, thin = bar.at, 3.0 * overlay.scale, 0.65 * overlay.scale
    overlay.box((x - thin, y - half - thin, x + bar.pixels + thin, y + half + thin), PAGE.ink)
    overlay.box((x + bar.pixels / 2.0, y - half + thin, x + bar.pixels - thin, y + half - thin), PAGE.halo)
    overlay.text(
        (x, y - 9.0 * overlay.scale), f"{bar.text}{where}", PAGE.small * overlay.scale, anchor="lb", halo=True
    )


def _legend(findings: Sequence[Finding], scale: float, wide: int) -> tuple[list[list[str]], int]:
    """Return the lines of each finding that has room under the picture, and how many have none."""
    room = wide - 2.0 * PAGE.margin * scale - INDENT * PAGE.badge * scale
    size = PAGE.small * scale
    every = []
    for finding in findings:
        own = wrapped(finding.message, size, room, first=room - _beside_name(finding, scale))
        if len(own) > MOST_EACH:
            own = [*own[: MOST_EACH - 1], shortened(" ".join(own[MOST_EACH - 1 :]), size, room)]
        every.append(own)
    kept, more = legend_rows([len(own) for own in every], MOST_LINES)
    return every[:kept], more


def _beside_name(finding: Finding, scale: float) -> float:
    """Return how far a finding's name pushes its message aside, pixels."""
    name = finding.rule.replace("-", " ")
    return text_size(name, PAGE.small * scale, bold=True)[0] + 10.0 * scale


def _draw_legend(
    overlay: Overlay, findings: Sequence[Finding], told: Sequence[Sequence[str]], more: int
) -> tuple[str, ...]:
    scale, margin = overlay.scale, PAGE.margin * overlay.scale
    radius, size = 0.8 * PAGE.badge * scale, PAGE.small * scale
    at = margin + INDENT * PAGE.badge * scale
    middle = overlay.size[1] - 0.8 * margin - (sum(map(len, told)) + (more > 0) - 0.5) * _line(scale)
    lines = []
    for number, (finding, own) in enumerate(zip(findings, told, strict=False), start=1):
        overlay.badge(number, finding.severity, (margin + radius, middle), radius)
        name = finding.rule.replace("-", " ")
        overlay.text((at, middle), name, size, bold=True, anchor="lm")
        for row, text in enumerate(own):
            aside = 0.0 if row else _beside_name(finding, scale)
            overlay.text((at + aside, middle), text, size, anchor="lm")
            middle += _line(scale)
        lines.append(f"{number} {name}: {' '.join(own)}")
    if more:
        lines.append(f"and {more} more finding{'s' if more > 1 else ''} in the report")
        overlay.text((at, middle), lines[-1], size, colour=PAGE.soft_ink, anchor="lm")
    return tuple(lines)
