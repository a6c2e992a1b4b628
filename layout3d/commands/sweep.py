"""``layout3d sweep``: vary one or two values of a scene, and see what figures and faults make of it."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from layout3d.commands.answer import end_with, figures_of
from layout3d.commands.ending import DONE, SIGNALLED
from layout3d.commands.scene import (
    AsJson,
    SceneFile,
    Settings,
    option,
    overrides_of,
    progress,
    refusals_told,
    scene_of,
)

if TYPE_CHECKING:
    from layout3d.place.engine import Engine

__all__ = ["Cluster", "Jobs", "engine_of", "sweep"]

Jobs = Annotated[int, option("--jobs N", "Processes; -1 is all cores.")]
Cluster = Annotated[str, option("--cluster ADDRESS", "Use the dask scheduler at this address instead.")]
Vary = Annotated[list[str], option("--vary NAME=A..B:STEP", "A named value or a field; may be repeated.")]
Show = Annotated[
    str,
    option("--show NAMES", "Figures of check --json, drip_flow, drip_uniformity, pump_flow; commas between."),
]
Csv = Annotated[Path | None, option("--csv FILE", "Write the rows as CSV too, SI.")]
Plot = Annotated[
    Path | None, option("--plot FILE", "Draw it (.png, .svg or .pdf): a line, or a map for two.")
]


def sweep(
    scene: SceneFile,
    vary: Vary,
    show: Show = "water_volume_net",
    csv: Csv = None,
    plot: Plot = None,
    jobs: Jobs = -1,
    cluster: Cluster = "",
    settings: Settings = None,
    as_json: AsJson = False,
) -> None:
    """Vary values over ranges, and tell figures and faults of every scene.

    Ctrl-C ends it early, and tells what was reached.
    """
    with refusals_told(as_json=as_json):
        from layout3d.files import written
        from layout3d.place.sweep import axis_of, in_scene
        from layout3d.place.sweep import sweep as swept
        from layout3d.report.sweep import sweep_csv, sweep_json, sweep_lines
        from layout3d.units import shown_in

        axes = [axis_of(text) for text in vary]
        names = [name.strip() for name in show.split(",") if name.strip()]
        plain = scene_of(scene, settings)
        axes = [in_scene(str(scene), axis, settings=overrides_of(settings)) for axis in axes]
        asked = 1
        for axis in axes:
            asked *= len(axis.figures)
        with progress("scenes", quiet=as_json) as done:
            rows = swept(
                str(scene),
                axes,
                names,
                settings=overrides_of(settings),
                engine=engine_of(jobs, cluster),
                done=done,
            )
        drawn = []
        if csv is not None:
            with written(csv) as partial:
                partial.write_text(sweep_csv(axes, rows, names), encoding="utf-8")
            drawn.append(csv)
        if plot is not None and rows:
            from layout3d.draw.sweep_chart import sweep_chart

            with shown_in(plain.style):
                sweep_chart(axes, rows, names, title=plain.title, to=plot)
            drawn.append(plot)
        facts = sweep_json(str(scene), axes, rows, asked=asked) if as_json else None
        with shown_in(plain.style):
            lines = sweep_lines(axes, rows, names, asked=asked)
        # Ctrl-C keeps what is known by then; it is not all that was asked for
        code = DONE if len(rows) == asked else SIGNALLED + signal.SIGINT
        answer = figures_of(code, facts, lines, drawn=drawn)
    end_with(answer)


def engine_of(jobs: int, cluster: str) -> Engine:
    """Return where evaluations run.

    Raises
    ------
    LayoutError : no number of processes.
    """
    from layout3d.errors import LayoutError
    from layout3d.place.engine import Engine

    if jobs == 0 or jobs < -1:
        raise LayoutError(f"--jobs {jobs}", expected="1 or more, or -1 for all cores")
    return Engine(jobs=jobs, cluster=cluster)
