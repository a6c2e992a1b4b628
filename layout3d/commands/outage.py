"""``layout3d outage``: power cut, blocked drain, stopped pump, what lets go; where the fill line goes."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

from layout3d.commands.answer import Answer, figures_of, tell
from layout3d.commands.ending import DONE, FAULT
from layout3d.commands.scene import AsJson, SceneFile, Settings, model_of, option

Chart = Annotated[
    Path | None, option("--chart FILE", "Draw tank and sump with their levels (.png, .svg or .pdf).")
]


def outage(scene: SceneFile, settings: Settings = None, chart: Chart = None, as_json: AsJson = False) -> None:
    """Tell where the water goes when something fails, and where the fill line goes.

    Exit code 1 where a power cut or a blocked drain puts water on the floor, or no fill line holds. A scene
    without a sump is told what stopped pumps let back, and what siphons on.
    """
    make = partial(_answer, scene, settings, chart, as_json=as_json)
    tell("outage", scene, settings, (), make, as_json=as_json, draws=chart is not None)


def _answer(scene: Path, settings: list[str] | None, chart: Path | None, *, as_json: bool) -> Answer:
    from layout3d.errors import LayoutError
    from layout3d.outage.outages import outages
    from layout3d.outage.without_circuit import stopped_without_circuit
    from layout3d.report.outage import outage_json, outage_lines
    from layout3d.report.writing import Line

    model = model_of(scene, settings)
    found = outages(model)
    facts = outage_json(model, found) if as_json else None
    lines = [] if as_json else outage_lines(model, found)
    if chart is not None:
        if found is None:
            raise LayoutError(
                "--chart of a scene without a circuit",
                expected="a pump in a sump that brings water to the tank",
            )
        from layout3d.draw.charts import save_chart
        from layout3d.draw.outage_chart import FONT, outage_figure

        save_chart(partial(outage_figure, model, found), chart, title=model.scene.title, font=FONT)
        lines += [Line("")]
    floods = found.floods if found else any(one.floor for one in stopped_without_circuit(model))
    code = FAULT if floods else DONE
    return figures_of(code, facts, lines, drawn=() if chart is None else (chart,))
