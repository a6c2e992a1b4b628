"""``layout3d place``: try positions of pieces, rank those that pass every rule, write the best one back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from layout3d.commands.answer import end_with, figures_of
from layout3d.commands.ending import DONE, FAULT
from layout3d.commands.scene import (
    AsJson,
    SceneFile,
    Settings,
    option,
    overrides_of,
    progress,
    quantity_of,
    refusals_told,
    scene_of,
)
from layout3d.commands.sweep import Cluster, Jobs, engine_of

if TYPE_CHECKING:
    from layout3d.place.search import Found
    from layout3d.report.writing import Line
    from layout3d.scene.scene import Scene

Parts = Annotated[
    list[str], typer.Argument(metavar="PART...", help="The pieces to move.", show_default=False)
]
Wish = Annotated[
    str, option("--wish NAME=WEIGHT,...", "Of water, above, wick, seen, focal, spread, light, swim, drip.")
]
Span = Annotated[str, option("--left A..B", "Where base points may be, from the inside left.")]
Front = Annotated[str, option("--front A..B", "The same from the inside front.")]
Turn = Annotated[str, option("--turn A..B", "Turns about the upright; 'keep' leaves them.")]
Tip = Annotated[str, option("--tip A..B", "How far tops may lean, any way; kept if not given.")]
Focal = Annotated[str, option("--focal X,Y", "Place of the wish focal, from left and front.")]
Lit = Annotated[str, option("--lit PLANTS", "Plants that the wish light means; all if none.")]
Tries = Annotated[int, option("--tries N", "Positions to look at.")]
Keep = Annotated[int, option("--keep N", "Candidates to tell.")]
Seed = Annotated[int, option("--seed N", "The same seed gives the same result.")]
Sheet = Annotated[Path | None, option("--sheet FILE", "Draw the candidates on one page (.png).")]
Write = Annotated[bool, option("--write", "Change the scene file to the best one without a fault.")]


def place(
    scene: SceneFile,
    part: Parts,
    wish: Wish = "water,seen",
    left: Span = "",
    front: Front = "",
    turn: Turn = "-180..180",
    tip: Tip = "",
    focal: Focal = "",
    lit: Lit = "",
    tries: Tries = 2000,
    keep: Keep = 6,
    seed: Seed = 0,
    sheet: Sheet = None,
    write: Write = False,
    jobs: Jobs = -1,
    cluster: Cluster = "",
    settings: Settings = None,
    as_json: AsJson = False,
) -> None:
    """Search positions of pieces, ranked by wishes, under every rule.

    Exit code: 0 a place without a fault was found, and with --write written; 1 none was, or none that beats
    what the file has; 2 the scene or an option can't be used.
    """
    with refusals_told(as_json=as_json):
        from layout3d.errors import LayoutError
        from layout3d.place.search import Region, search
        from layout3d.place.wishes import wishes_of
        from layout3d.report.place import place_json, place_lines
        from layout3d.units import shown_in

        if tries < 1 or not 1 <= keep <= 24 or seed < 0:
            raise LayoutError(
                f"--tries {tries} --keep {keep} --seed {seed}",
                expected="1 try or more, 1 to 24 candidates, a seed of 0 or more",
            )
        if write and settings:
            raise LayoutError(
                "--write beside --set",
                expected="one of them: the place was found in a scene that the file doesn't say",
                remedy="write the values into the file first, or leave --write out",
            )
        plain = scene_of(scene, settings)
        wishes = wishes_of(wish)
        spans = [_span(*given, plain) for given in ((left, "length", "--left"), (front, "length", "--front"))]
        turns = None if turn.strip() == "keep" else _span(turn, "angle", "--turn", plain)
        region = Region(left=spans[0], front=spans[1], turn=turns, tip=_span(tip, "angle", "--tip", plain))
        with progress("scenes", quiet=as_json) as done:
            found = search(
                str(scene),
                part,
                wishes,
                region=region,
                tries=tries,
                keep=keep,
                seed=seed,
                focal=_pair(focal, ",", "length", "--focal", plain, "two lengths, such as 600,300"),
                lit=[name.strip() for name in lit.split(",") if name.strip()],
                settings=overrides_of(settings),
                engine=engine_of(jobs, cluster),
                done=done,
            )
        sound = [candidate for candidate in found.candidates if not candidate.faults]
        drawn = []
        with shown_in(plain.style):
            lines = place_lines(part, found)
            if sheet is not None:
                _draw(scene, part, found, plain, sheet, overrides_of(settings))
                drawn.append(sheet)
        wrote = not write or (bool(sound) and _write(scene, found, lines))
        facts = place_json(str(scene), part, wishes, found) if as_json else None
        answer = figures_of(DONE if sound and wrote else FAULT, facts, lines, drawn=drawn)
    end_with(answer)


def _span(text: str, kind: str, option: str, scene: Scene) -> tuple[float, float] | None:
    from layout3d.errors import LayoutError

    pair = _pair(text, "..", kind, option, scene, "two figures with two dots between, such as 200..900")
    if pair is not None and pair[0] > pair[1]:
        raise LayoutError(f"{option} {text}", expected="the smaller figure first")
    return pair


def _pair(
    text: str, between: str, kind: str, option: str, scene: Scene, expected: str
) -> tuple[float, float] | None:
    """Read two figures of an option; None where it isn't given."""
    from layout3d.errors import LayoutError

    if not text:
        return None
    given = text.split(between)
    if len(given) != 2:
        raise LayoutError(f"{option} {text}", expected=expected)
    one, other = (quantity_of(each.strip(), scene, kind, option) for each in given)
    return one, other


def _draw(
    scene: Path, parts: list[str], found: Found, plain: Scene, sheet: Path, settings: dict[str, str]
) -> None:
    from functools import partial

    from layout3d.draw.contact_sheet import contact_sheet
    from layout3d.model.build import build_model
    from layout3d.model.model import Model
    from layout3d.report.place import candidate_words
    from layout3d.scene.file import read_text
    from layout3d.scene.reader import read_scene
    from layout3d.scene.write_back import Value, changed

    text = read_text(scene)

    def made(changes: dict[str, Value]) -> Model:
        return build_model(read_scene(scene, text=changed(text, changes), overrides=settings))

    entries = []
    for number, one in enumerate((found.before, *found.candidates)):
        if any(fault.startswith("can't be built") for fault in one.faults):
            continue
        head = f"{number}" if number else "before"
        lines = [f"{head}: score {one.score:.3f}, faults: {', '.join(one.faults) or 'none'}"]
        lines += [f"{part}: {candidate_words(one, part)}" for part in parts]
        lines.append(", ".join(f"{name} {figure:.2f}" for name, figure in one.wishes.items()))
        entries.append((partial(made, dict(one.changes)), lines))
    contact_sheet(entries, title=f"{plain.title}: places of {', '.join(parts)}", to=sheet)


def _write(scene: Path, found: Found, lines: list[Line]) -> bool:
    """Write the best candidate into the scene file, if it beats what stands there; tell whether it does."""
    from layout3d.files import written
    from layout3d.report.writing import Line as Told
    from layout3d.scene.file import read_text
    from layout3d.scene.write_back import changed

    best, before = found.candidates[0], found.before
    if not before.faults and before.score >= best.score:
        lines.append(Told("nothing was written: no place beats the one that the scene has"))
        return False
    with written(scene) as partial:
        partial.write_text(
            changed(read_text(scene), best.changes, file=str(scene)), encoding="utf-8", newline=""
        )
    lines.append(Told(f"wrote {', '.join(best.changes)} to {scene}"))
    return True
