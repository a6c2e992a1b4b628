"""What a search of places found, as JSON and as a table, in the units of ``units.shown_in``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from layout3d.place.search import Candidate, Found
from layout3d.report.cautions import PLACE
from layout3d.report.json import FORMAT, plain
from layout3d.report.writing import Line, table
from layout3d.units import show

__all__ = ["candidate_words", "place_json", "place_lines"]


def place_json(scene: str, parts: Sequence[str], wishes: Mapping[str, float], found: Found) -> dict[str, Any]:
    """Return the object that ``place --json`` prints."""
    return {
        "format": FORMAT,
        "scene": scene,
        "parts": list(parts),
        "tried": found.tried,
        "free": found.free,
        "examined": found.examined,
        "seed": found.seed,
        "stopped": found.stopped,
        "weights": dict(wishes),
        "before": plain(found.before),
        "candidates": [plain(candidate) for candidate in found.candidates],
        "cautions": [PLACE],
    }


def place_lines(parts: Sequence[str], found: Found) -> list[Line]:
    """Return the candidates as a table, best first, with where the pieces stood before above them."""
    names = list(found.before.wishes)
    cells = [["", *(f"{part}: left, front, turn" for part in parts), "score", *names, "takes", "faults"]]
    for number, candidate in enumerate((found.before, *found.candidates)):
        places = [candidate_words(candidate, part) for part in parts]
        takes = candidate.figures.get("displaced")
        cells.append(
            [
                str(number) if number else "before",
                *places,
                f"{candidate.score:.3f}",
                *(f"{candidate.wishes[name]:.3f}" for name in names),
                show(takes, "volume") if takes is not None else "",
                ", ".join(candidate.faults) or "none",
            ]
        )
    lines = table(cells)
    told = (
        f"{found.tried} places tried, {found.free} touched nothing, {found.examined} examined by every rule"
    )
    lines += [Line(""), Line(f"{told}; seed {found.seed}", style="faint")]
    if found.stopped:
        lines.append(Line("stopped before the end: these are the best until then", style="warning"))
    if not any(not candidate.faults for candidate in found.candidates):
        lines.append(Line("no place without a fault was found", style="fault"))
    return [*lines, Line(""), Line(PLACE, style="faint")]


def candidate_words(candidate: Candidate, part: str) -> str:
    """Return where a candidate puts a part, in words."""
    left, front = (show(place, "length") for place in candidate.at[part])
    turn = candidate.turn[part]
    words = f"{left}, {front}, {show(turn.about_up, 'angle')}"
    for angle, more, less in ((turn.tip_right, "right", "left"), (turn.tip_back, "back", "front")):
        if angle:
            words += f", {show(abs(angle), 'angle')} {more if angle > 0 else less}"
    return words
