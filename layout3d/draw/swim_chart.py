"""How wide the water is at each place, as coloured cuts from above, from the front and from the side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.charts import save_chart
from layout3d.draw.style import FINDING_MARKS, PAGE
from layout3d.errors import LayoutError, Place
from layout3d.model.model import Model
from layout3d.swim.field import Clearance
from layout3d.swim.room import Room, clearances, room
from layout3d.units import in_own_units, length_unit, show, to_si

__all__ = ["swim_chart", "swim_figure"]

AXES = ("from the left", "from the front", "over the floor")
CUTS = (  # across, up, and the axis that is cut square to it, with what the cut is called
    (0, 1, 2, "from above, at"),
    (0, 2, 1, "from the front, at"),
    (1, 2, 0, "from the left, at"),
)


def swim_chart(model: Model, *, to: Path) -> None:
    """Draw the cuts through the roomiest place, and save them.

    Raises
    ------
    LayoutError : no water stands in the tank, another suffix, or the file can't be written.
    """
    field = clearances(model)
    if field is None or not field.squared.any():
        raise LayoutError(
            "no water stands in the tank: there is no room to draw",
            expected="a waterline over the ground",
            place=Place(str(to)),
        )
    save_chart(lambda: swim_figure(model, field, room(model)), to, title=model.scene.title)


@in_own_units
def swim_figure(model: Model, field: Clearance, found: Room) -> Any:
    """Return the chart: diameters of the ball that fits with its middle at each place, in the scene's units.

    Lines stand where a fish of a stated size still fits for certain; what the scene marks as a trap is shown
    in all cuts, wherever it lies.
    """
    from matplotlib.figure import Figure

    unit = length_unit()
    scale = to_si(1, unit)
    distance = field.distance
    wide = np.where(field.squared > 0, 2.0 * distance, np.nan) / scale
    roomiest = np.unravel_index(int(field.squared.argmax()), field.squared.shape)
    low = (field.low - field.cell / 2.0) / scale
    high = low + np.array(wide.shape) * field.cell / scale
    span = high - low
    figure = Figure(
        figsize=(11.0, 2.0 + 9.6 * (span[1] + span[2]) / (span[0] + span[1])), layout="constrained"
    )
    grid = figure.add_gridspec(2, 2, width_ratios=(span[0], span[1]), height_ratios=(span[1], span[2]))
    panels = [figure.add_subplot(grid[0, 0]), figure.add_subplot(grid[1, 0]), figure.add_subplot(grid[1, 1])]
    most = float(np.nanmax(wide))
    levels = sorted({size.depth + 2.0 * field.error[0] for size in found.sizes})
    drawn: Any = None
    for panel, (across, up, cut, words) in zip(panels, CUTS, strict=True):
        face = np.moveaxis(wide, (across, up, cut), (0, 1, 2))[:, :, roomiest[cut]].T
        extent = (low[across], high[across], low[up], high[up])
        panel.set_facecolor(PAGE.bottom)
        drawn = panel.imshow(
            face, origin="lower", extent=extent, cmap="cividis", vmin=0.0, vmax=most, interpolation="nearest"
        )
        _lines(panel, face, extent, [level / scale for level in levels], found)
        at = show(float(field.at(tuple(int(k) for k in roomiest))[cut]), "length", digits=3)  # type: ignore[arg-type] # three numbers
        panel.set_title(f"{words} {at} {AXES[cut]}", fontsize=10.0)
        panel.set_xlabel(f"{AXES[across]}, {unit}")
        panel.set_ylabel(f"{AXES[up]}, {unit}")
        _traps(panel, found, across, up, scale)
    bar = figure.colorbar(drawn, ax=panels, fraction=0.03)
    bar.set_label(f"diameter of the ball that fits there, {unit}", color=PAGE.ink)
    bar.outline.set_edgecolor(PAGE.leader)
    litres = [
        f"a fish {show(size.depth, 'length')} deep has {show(size.volume, 'volume', digits=3)}"
        for size in found.sizes
    ]
    widest = show(found.widest, "length", digits=3)
    figure.suptitle(
        f"{model.scene.title}: room to swim\n{'; '.join(litres)}\nwidest ball {widest}; grid of "
        f"{show(field.cell, 'length', digits=2)}, lines are certain",
        x=0.01,
        ha="left",
        color=PAGE.ink,
        fontsize=11.0,
    )
    return figure


def _lines(panel: Any, face: Any, extent: tuple[float, ...], levels: Sequence[float], found: Room) -> None:
    """Draw where each size of fish still fits, with its size."""
    filled = np.nan_to_num(face, nan=0.0)
    here = [level for level in levels if filled.min() < level < filled.max()]
    if not here:
        return
    names = {
        level: show(size.depth, "length")
        for level, size in zip(levels, sorted(found.sizes, key=lambda each: each.depth), strict=False)
    }
    drawn = panel.contour(
        filled, levels=here, colors=[PAGE.top], linewidths=1.1, origin="lower", extent=extent
    )
    panel.clabel(drawn, fmt={level: names[level] for level in here}, fontsize=8.0)


def _traps(panel: Any, found: Room, across: int, up: int, scale: float) -> None:
    at = [pocket.at for size in found.sizes for pocket in size.traps]
    if at:
        x, y = (np.array(at)[:, axis] / scale for axis in (across, up))
        colour, told = FINDING_MARKS["fault"].colour, "water that may trap a fish"
        panel.scatter(x, y, marker="X", s=40, color=colour, edgecolor=PAGE.halo, label=told)
        if up == 1:
            panel.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0))
