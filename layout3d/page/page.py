"""The whole page: what is told of a scene, its look, the model that turns and the library that turns it."""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.page.library import webgl_library
from layout3d.page.markup import words
from layout3d.page.sections import Told, sections
from layout3d.page.solids import TOLERANCE, solids_of
from layout3d.report.rules import notes_of
from layout3d.report.writing import filled
from layout3d.sheets.measures import box_of_bodies
from layout3d.units import show, shown_in

__all__ = ["page_of", "told_of"]

_BESIDE = Path(__file__).parent


def told_of(model: Model) -> Told:
    """Return all that the page tells of a model.

    Raises
    ------
    LayoutError : the scene's ``shop:`` names something that isn't there.
    """
    from layout3d.checks.examine import examine
    from layout3d.flow.running import running
    from layout3d.hold.hold import holds
    from layout3d.outage.outages import outages
    from layout3d.report.cautions import BENCH, FLOW, LIFT, OUTAGE, cautions_of
    from layout3d.report.holds import HOLD_CAUTION
    from layout3d.report.rules import known_rules
    from layout3d.sheets.sheets_of import sheets_of, style_of
    from layout3d.shop.order import build_order
    from layout3d.shop.shop import shop
    from layout3d.swim.room import room
    from layout3d.water.dipstick import dipstick
    from layout3d.water.figures import figures
    from layout3d.water.mass import lifts

    with shown_in(model.scene.style):
        rules = known_rules(())
        findings, held = examine(model), holds(model)
        more = ([HOLD_CAUTION] if held else []) + ([LIFT] if lifts(model) else [])
        return Told(
            model=model,
            findings=findings,
            rules=len(rules),
            cautions=tuple(dict.fromkeys([*cautions_of(findings, rules, *more), *FLOW, *OUTAGE, BENCH])),
            figures=figures(model),
            marks=dipstick(model),
            holds=held,
            room=room(model),
            flow=_or_why_not(lambda: running(model)),
            outages=_or_why_not(lambda: outages(model)),
            shop=shop(model),
            order=build_order(model),
            sheets=_or_why_not(lambda: sheets_of(model, style_of(model, findings=findings))),
        )


def _or_why_not(make: Any) -> Any:
    try:
        return make()
    except LayoutError as error:
        return error


def page_of(told: Told) -> str:
    """Return the page: HTML that opens offline; the same scene gives the same text.

    Nothing is fetched from anywhere, and the browser holds the page to it (the policy in ``page.html``).

    Raises
    ------
    LayoutError : the library that turns the model isn't installed.
    """
    (code, licence), model = webgl_library(), told.model
    with shown_in(model.scene.style):
        made = list(sections(told))
        about = _about(model)
        facts = _facts(told)
    body = "\n".join(
        f'<section id="{name}" aria-labelledby="{name}-head"><h2 id="{name}-head">{words(heading)}</h2>\n'
        f"{content}\n</section>"
        for name, heading, content in made
    )
    return filled(
        _BESIDE / "page.html",
        title=words(model.scene.title),
        date=f"<p>{words(model.scene.date)}</p>" if model.scene.date else "",
        file=words(model.scene.file),
        links="".join(f'<li><a href="#{name}">{words(heading)}</a></li>' for name, heading, _ in made),
        body=body,
        about=about,
        licence="\n".join(words(line) for line in licence.splitlines()),
        solids=_as_script(solids_of(model)),
        facts=_as_script(facts),
        library=code,
        look=_own("look.css"),
        tables=_own("tables.js"),
        view=_own("view.js"),
    )


def _own(name: str) -> str:
    return (_BESIDE / name).read_text(encoding="utf-8")


def _as_script(facts: Any) -> str:
    """Return data as JSON that no text in it can end early."""
    return json.dumps(facts, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")


def _about(model: Model) -> str:
    notes = "".join(f"<li>{words(note)}</li>" for note in notes_of(model))
    built = f"<details><summary>Built and judged with</summary><ul>{notes}</ul></details>" if notes else ""
    return (
        f"<p>Computed by layout3d {words(version('layout3d'))} from {words(model.scene.file)}. The model "
        f"that turns is drawn with fewer faces: no corner of the scene's own lies farther from it than "
        f"{show(TOLERANCE, 'length')}, and no figure comes from it.</p>{built}"
    )


def _facts(told: Told) -> dict[str, list[list[str]]]:
    """Return what is told of a part that is picked: its name -> rows of a label and a text."""
    model = told.model
    displaced = told.figures["displaced"]
    facts: dict[str, list[list[str]]] = {"water": [["is", "water, as it stands in tank, boxes and sump"]]}
    for part in dict.fromkeys(body.part for body in model.bodies):
        bodies = [body for body in model.bodies if body.part == part]
        size = " x ".join(show(b - a, "length") for a, b in zip(*box_of_bodies(bodies), strict=True))
        materials = ", ".join(dict.fromkeys(body.material for body in bodies))
        rows = [
            ["is", model.built[part].part.kind.replace("_", " ")],
            ["of", materials],
            ["size", size],
            ["dry mass", show(sum(body.mass for body in bodies), "mass")],
        ]
        if displaced.get(part, 0.0) > 0.0:
            rows.append(["takes of the water", show(displaced[part], "volume")])
        rows += [
            [finding.severity, finding.message]
            for finding in told.findings
            if any(name == part or name.startswith(f"{part}.") for name in finding.parts)
        ]
        facts[part] = rows
    return facts
