"""``layout3d make``: parts list, cut list, build order and templates, written to a folder."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from layout3d.commands.answer import end_with, figures_of
from layout3d.commands.ending import DONE, FAULT
from layout3d.commands.scene import (
    AsJson,
    NoFaults,
    SceneFile,
    Settings,
    model_of,
    option,
    refusals_told,
    refuse_file,
)

if TYPE_CHECKING:
    from layout3d.model.model import Model
    from layout3d.shop.fault import Fault

LIST = "files.json"
_NAMES = re.compile(r"[a-z_]+\.(json|csv|txt)|(templates|panels)/[^/\x00]+\.(pdf|dxf)")


Paper = Annotated[
    str,
    option(
        "--paper", "Of the templates: A4, A3, letter or tabloid; by default A4, in scenes in inches letter."
    ),
]


def _checked(model: Model) -> Iterator[Fault]:
    """Yield the faults that `check` finds: what is cut and drilled from a faulty scene is lost."""
    from layout3d.checks.examine import examine
    from layout3d.shop.fault import Fault

    for finding in examine(model):
        if finding.severity == "fault":
            said = f"{finding.rule}: {finding.message}"
            yield Fault(parts=finding.parts, message=said, remedy=finding.remedy)


def make(
    scene: SceneFile,
    to: Annotated[Path, option("--to DIR", "A new or empty folder.")],
    settings: Settings = None,
    replace: Annotated[bool, option("--replace", "Replace what an earlier make wrote.")] = False,
    paper: Paper = "",
    no_faults: NoFaults = False,
    as_json: AsJson = False,
) -> None:
    """Write what to buy, what to cut and how to build it.

    parts.csv and parts.json, cuts.json, order.json, make.txt with what is printed, templates at 1:1 as PDF,
    panels for the glass shop as DXF, and files.json that tells what was written. The folder is written whole
    or not at all. Exit code 1 where `check` finds a fault, or something can't be cut or built.
    """
    with refusals_told(as_json=as_json):
        refuse_file(to, "--to", expected="a folder without a suffix: what is made is many files")
        from layout3d.beside import made_beside
        from layout3d.folders import OwnFolder
        from layout3d.report.cautions import BENCH
        from layout3d.report.make import fault_lines, make_files, make_lines
        from layout3d.report.order import order_files, order_lines
        from layout3d.report.writing import Line, plain
        from layout3d.sheets.drawing import check_paper
        from layout3d.sheets.templates.collect import bench_files
        from layout3d.shop.order import build_order
        from layout3d.shop.shop import shop
        from layout3d.shop.step import ORDER
        from layout3d.units import shown_in

        if paper:
            check_paper(paper)
        model = model_of(scene, settings)
        with shown_in(model.scene.style), made_beside((ORDER,), lambda: map(build_order, [model])):
            checked = () if no_faults else tuple(_checked(model))
            made, order = shop(model), build_order(model)
            faults = (*checked, *made.faults, *order.faults)
            lines = [*fault_lines(model, faults), *make_lines(model, made), *order_lines(model, order)]
            lines += [Line(""), Line(BENCH, style="faint")]
            files: dict[str, bytes] = {"make.txt": plain(lines).encode()}
            files |= order_files(model, order) | make_files(model, made) | bench_files(model, paper=paper)
        facts: dict[str, Any] = {"format": 1, "scene": model.scene.file, "title": model.scene.title}
        facts |= {"faults": [fault.message for fault in faults]}

        def fill(folder: Path) -> dict[str, Any]:
            for name, content in files.items():
                (folder / name).parent.mkdir(exist_ok=True)
                (folder / name).write_bytes(content)
            return facts

        written = OwnFolder(what="make", listed=LIST, names=_NAMES).write(to, fill, replace=replace)
        lines += [Line(""), Line(f"wrote {len(written['written'])} files and {LIST} to {to}")]
    end_with(figures_of(FAULT if faults else DONE, written if as_json else None, lines))
