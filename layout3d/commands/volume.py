"""``layout3d volume``: water by level, what each part takes of it, and what everything weighs."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

from layout3d.commands.answer import Answer, figures_of, tell
from layout3d.commands.ending import DONE
from layout3d.commands.scene import AsJson, SceneFile, Settings, model_of, option, quantity_of

Table = Annotated[bool, option("--table", "Add the dipstick: water at each level.")]
Step = Annotated[str, option("--step LENGTH", "Between levels; 10 mm or 1/2 in by default.")]
Plot = Annotated[Path | None, option("--plot FILE", "Draw water by level (.png, .svg or .pdf).")]
Swim = Annotated[
    Path | None, option("--swim FILE", "Draw how wide the water is at each place (.png, .svg or .pdf).")
]


def volume(
    scene: SceneFile,
    settings: Settings = None,
    with_table: Table = False,
    step: Step = "",
    plot: Plot = None,
    swim: Swim = None,
    as_json: AsJson = False,
) -> None:
    """Tell water, what parts take, and weight.

    Volumes are those at the scene's waterline; --table and --plot give them for every level.
    """
    make = partial(_answer, scene, settings, step, plot, swim, with_table=with_table, as_json=as_json)
    draws = plot is not None or swim is not None
    tell("volume", scene, settings, (with_table, step), make, as_json=as_json, draws=draws)


def _answer(
    scene: Path,
    settings: list[str] | None,
    step: str,
    plot: Path | None,
    swim: Path | None,
    *,
    with_table: bool,
    as_json: bool,
) -> Answer:
    from layout3d.report.volume import volume_json, volume_lines
    from layout3d.report.writing import Line
    from layout3d.water.dipstick import dipstick

    model = model_of(scene, settings)
    rise = quantity_of(step, model.scene, "length", "--step") if step else None
    marks = dipstick(model, step=rise)
    told = marks if with_table else None
    facts, lines = volume_json(model, told), volume_lines(model, told)
    if plot is not None:
        from layout3d.draw.charts import gauge_figure, save_chart

        save_chart(lambda: gauge_figure(model, marks), plot, title=model.scene.title)
        lines += [Line("")]
    if swim is not None:
        from layout3d.draw.swim_chart import swim_chart
        from layout3d.report.swim import swim_lines
        from layout3d.swim.room import room
        from layout3d.units import shown_in

        swim_chart(model, to=swim)
        with shown_in(model.scene.style):
            lines += [*swim_lines(room(model)), Line("")]
    drawn = [file for file in (plot, swim) if file is not None]
    return figures_of(DONE, facts if as_json else None, lines, drawn=drawn)
