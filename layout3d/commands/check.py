"""``layout3d check``: build the scene, run every rule, print what they found and the key figures."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import Annotated

from layout3d.commands.answer import Answer, Known, figures_of, tell
from layout3d.commands.ending import DONE, FAULT
from layout3d.commands.scene import AsJson, SceneFile, Settings, option, scene_of
from layout3d.report.writing import write

Only = Annotated[list[str] | None, option("--only RULE", "Run only this rule; may be repeated.")]


def check(scene: SceneFile, settings: Settings = None, only: Only = None, as_json: AsJson = False) -> None:
    """Check a scene by every rule.

    Print what was found, worst first, with what would mend it, then the key figures.

    Exit code: 0 no fault, 1 a fault was found, 2 the scene can't be read or built.
    """
    make = partial(_answer, scene, settings, only, as_json=as_json)
    tell("check", scene, settings, (tuple(only or ()),), make, as_json=as_json)


def _answer(scene: Path, settings: list[str] | None, only: list[str] | None, *, as_json: bool) -> Answer:
    from layout3d.checks.examine import examine
    from layout3d.errors import SceneRefused
    from layout3d.hold.hold import holds
    from layout3d.report.cautions import cautions_of
    from layout3d.report.holds import HOLD_CAUTION, hold_lines, holds_json
    from layout3d.report.json import check_json
    from layout3d.report.rules import known_rules, refuse_unknown_rules
    from layout3d.report.swim import swim_json, swim_lines
    from layout3d.report.text import check_lines
    from layout3d.swim.room import room
    from layout3d.units import shown_in
    from layout3d.water.figures import figures
    from layout3d.water.last_model import keep_last

    chosen, known = known_rules(only or ()), Known(scene, settings)
    try:
        findings = () if only else known.findings()
        model = known.model()
    except SceneRefused:
        if not as_json:
            _tell_of_the_tank(scene, settings)
        raise
    refuse_unknown_rules(model.scene)
    if only:
        findings = examine(model, only=tuple(chosen))
    key_figures = figures(model)
    known.net_volume(), known.scenery()  # of these, and kept for pictures
    held, swim = holds(model), room(model)
    if not only:
        keep_last(scene, model)
    cautions = cautions_of(findings, chosen, *([HOLD_CAUTION] if held else []))
    code = FAULT if any(finding.severity == "fault" for finding in findings) else DONE
    if as_json:
        facts = check_json(
            model, findings, key_figures, cautions=cautions, holds=holds_json(held), swim=swim_json(swim)
        )
        return figures_of(code, facts, ())
    with shown_in(model.scene.style):
        more = hold_lines(held) + swim_lines(swim)
    lines = check_lines(model, findings, key_figures, rules_asked=len(chosen), more=more, cautions=cautions)
    return figures_of(code, None, lines)


def _tell_of_the_tank(file: Path, settings: list[str] | None) -> None:
    """Tell what is wrong with the tank's holes, though other parts can't be built: glass is drilled once."""
    from layout3d.checks.drilled_holes import OF_THE_TANK
    from layout3d.checks.examine import examine
    from layout3d.errors import LayoutError
    from layout3d.model.build import tank_alone
    from layout3d.report.text import tank_lines

    try:
        model = tank_alone(scene_of(file, settings))
    except LayoutError:
        return  # it is among the mistakes that are told next
    write(tank_lines(model, examine(model, only=OF_THE_TANK)), sys.stderr)
