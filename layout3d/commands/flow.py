"""``layout3d flow``: what pumps keep running, what each drip hole gives, what to change for a wanted flow."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from layout3d.commands.answer import Answer, figures_of, tell
from layout3d.commands.ending import DONE, FAULT
from layout3d.commands.scene import AsJson, SceneFile, Settings, model_of, option, quantity_of, refuse_file

if TYPE_CHECKING:
    from layout3d.flow.sizing import Change
    from layout3d.model.model import Model

Charts = Annotated[
    Path | None, option("--chart DIR", "Draw pump curves and drip bars into a folder, as PNG.")
]
Bar = Annotated[str, option("--bar RUN", "The drip bar to find a change for; takes --wanted.")]
Wanted = Annotated[str, option("--wanted FLOW", "Flow per length of wall, such as '60 L/h/m'.")]
Vary = Annotated[str, option("--vary WHAT", "What to change: speed, diameter or pitch.")]
Even = Annotated[
    str, option("--even SHARE", "Largest coefficient of variation of its holes; else limit drip_variation.")
]
PumpName = Annotated[str, option("--pump PUMP", "Whose speed to vary, where several feed the bar.")]
Wish = tuple[str, str, str, str, str]  # bar, wanted, vary, even, pump


def flow(
    scene: SceneFile,
    settings: Settings = None,
    bar: Bar = "",
    wanted: Wanted = "",
    vary: Vary = "speed",
    even: Even = "",
    pump: PumpName = "",
    chart: Charts = None,
    as_json: AsJson = False,
) -> None:
    """Tell pumps, branches, drip holes and what costs head, as low, likely and high.

    Exit code 1 where a pump moves no water or its flow can't be figured. With --bar and --wanted, the
    change that gives a drip bar a wanted flow.
    """
    wish = (bar, wanted, vary, even, pump)
    make = partial(_answer, scene, settings, wish, chart, as_json=as_json)
    tell("flow", scene, settings, (wish,), make, as_json=as_json, draws=chart is not None)


def _answer(
    scene: Path, settings: list[str] | None, wish: Wish, chart: Path | None, *, as_json: bool
) -> Answer:
    from layout3d.flow.running import running
    from layout3d.report.flow import change_lines, flow_json, flow_lines

    if chart is not None:
        refuse_file(chart, "--chart", expected="a folder without a suffix")
    bar, wanted, _, _, pump = wish
    model = model_of(scene, settings)
    change = _change(model, *wish) if bar or wanted or pump else None
    found = running(model)
    facts = flow_json(model, found, change) if as_json else None
    lines = [] if as_json else flow_lines(model, found) if change is None else change_lines(model, change)
    drawn: tuple[Path, ...] = ()
    if chart is not None:
        from layout3d.draw.charts import flow_charts

        drawn = flow_charts(model, found if change is None else change.flow, to=chart)
    failed = change is None and any(failure.setting == "likely" for failure in found.failures())
    return figures_of(FAULT if failed else DONE, facts, lines, drawn=drawn)


def _change(model: Model, bar: str, wanted: str, vary: str, even: str, pump: str) -> Change:
    from layout3d.errors import LayoutError, UnknownName, nearest
    from layout3d.flow.sizing import VARIED, change_for

    if not bar or not wanted:
        raise LayoutError(
            "--bar without --wanted" if bar else f"{'--wanted' if wanted else '--pump'} without --bar",
            expected="--bar and --wanted, such as --bar drip_bar --wanted '60 L/h/m'",
        )
    named = {name: name for name in VARIED}
    if vary not in named:
        raise UnknownName(f"--vary {vary}", expected=nearest(vary, named))
    return change_for(
        model,
        bar,
        flow_per_metre=quantity_of(wanted, model.scene, "flow per length", "--wanted"),
        vary=named[vary],
        variation=quantity_of(even, model.scene, "number", "--even") if even else None,
        pump=pump or None,
    )
