"""What pumps keep running, as lines of text: every figure as low, likely and high, in the scene's units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from layout3d.flow.network import PUSHED_BACK
from layout3d.flow.result import BarRun, Failure, RunningFlow, Stretch, System
from layout3d.flow.turnover import turnovers
from layout3d.model.model import Model
from layout3d.report.cautions import FLOW
from layout3d.report.flow_words import (
    RANGE,
    assumptions,
    band_cells,
    likely_cell,
    loss_sources,
    one_line,
    share_cells,
)
from layout3d.report.text import caution_lines, count_of
from layout3d.report.writing import Line, table
from layout3d.units import show

__all__ = ["bar_lines", "flow_lines"]

BAND = ("low", "likely", "high")
MOST_ROWS = 12  # of losses; the rest is summed up
ROWS_OF_HOLES = 7
LEAST_SHARE = 0.001  # of the pumps' power; less is not listed


def flow_lines(model: Model, flow: RunningFlow) -> list[Line]:
    """Return the whole report of what runs."""
    style = model.scene.style
    lines = [Line(f"{model.scene.title}  ({model.scene.file})", style="head")]
    lines += [line for failure in flow.failures() for line in _failure(failure)]
    lines += [Line(f"{idle.pump} moves nothing: {idle.why}", style="warning") for idle in flow.idle]
    if not flow.systems:
        lines += [Line(""), Line("no pump moves water through anything in this scene")]
    if flow.pumps:
        lines += [Line(""), *_pumps(flow, style), Line(RANGE, 2, "faint")]
        lines += [Line(""), *_outs(flow, style), *_turnover(model, flow)]
    for bar in flow.bars:
        lines += [Line(""), *bar_lines(bar, style)]
    for system in flow.systems:
        if system.runs and system.stretches:
            lines += [Line(""), *_losses(system, style)]
    if flow.pumps:
        lines += _fast(model, flow)
    lines += [Line(""), Line("Taken as given", style="head")]
    lines += [Line(text, 2) for text in assumptions(model, flow)]
    sources = loss_sources(stretch.source for stretch in flow.stretches)
    if sources:
        lines += [
            Line(""),
            Line("Losses of fittings from", style="head"),
            *(Line(text, 2) for text in sources),
        ]
    return lines + caution_lines(FLOW)


def _failure(failure: Failure) -> list[Line]:
    at = "" if failure.setting == "likely" else f"at {failure.setting} losses: "
    severity = "fault" if failure.setting == "likely" else "warning"
    lines = [Line(""), Line(f"{at}{failure.message}", style=severity)]
    return [*lines, Line(f"to mend it: {failure.remedy}", 3)] if failure.remedy else lines


def _siphons(system: System, style: str) -> list[Line]:
    """Return where water is drawn over a top, the deepest of each run."""
    return [
        Line(
            f"{part} runs {show(one.draw, 'length', system=style, digits=2)} below the air's pressure at "
            f"{one.place}: figured as full, with air less flows",
            2,
            "note",
        )
        for part, one in system.deepest_siphons.items()
    ]


def _pumps(flow: RunningFlow, style: str) -> list[Line]:
    header = ("", "", "", *BAND, *BAND, "of shut-off head", "of greatest flow")
    rows = [
        (
            pump.pump,
            pump.model,
            f"{pump.speed:.0%}",
            *band_cells(pump.flow, "flow", style),
            *band_cells(pump.head, "head", style),
            *(
                (share_cells(pump.head_share)[1], share_cells(pump.flow_share)[1])
                if pump.flow.likely >= 0.0
                else (pump.state, "")
            ),
        )
        for pump in flow.pumps
    ]
    lines = [Line("Pumps: flow and head", style="head"), *table([header, *rows], right=range(2, 11))]
    words = {
        "dead-headed": "pushes against a head it can't lift: dead-headed",
        "pushed back": f"is overcome, and water runs back through it ({PUSHED_BACK})",
    }
    return [
        *lines,
        *(Line(f"{one.pump} {words[one.state]}", 2, "fault") for one in flow.pumps if one.state in words),
    ]


def _outs(flow: RunningFlow, style: str) -> list[Line]:
    header = ("", *BAND, "speed")
    rows = [
        (
            out.where,
            *band_cells(out.flow, "flow", style),
            likely_cell(out.velocity, "speed", style) if out.velocity else "",
        )
        for out in sorted(flow.outs, key=lambda one: -one.flow.likely)
    ]
    lines = [Line("Where it goes", style="head"), *table([header, *rows], right=range(1, 5))]
    for out in flow.outs:
        if out.crest is not None:
            short = show(out.crest.height - out.crest.level, "length", system=style, digits=2)
            lines.append(
                Line(f"no water gets to the {out.where}: {short} below the top of its pipe", 2, "fault")
            )
    return [*lines, *(line for system in flow.systems for line in _siphons(system, style))]


def _turnover(model: Model, flow: RunningFlow) -> list[Line]:
    style, limit = model.scene.style, model.scene.catalog.limit
    low, high = limit("turnover_usual_low"), limit("turnover_usual_high")
    lines = []
    for found in turnovers(model, flow):
        told = f"; {low.value:g} to {high.value:g} is usual ({high.source})"
        usual = told if found.kind == "return" else ""
        times = one_line(found.per_hour, lambda band: band_cells(band, "number", style))
        lines.append(
            Line(
                f"{found.kind} ({', '.join(found.pumps)}): {times} times an hour the "
                f"{show(found.volume, 'volume', system=style, digits=3)} in the tank{usual}",
                2,
            )
        )
    return [Line(""), Line("Turnover", style="head"), *lines] if lines else []


def bar_lines(bar: BarRun, style: str) -> list[Line]:
    """Return one drip bar: what it gives in all, how evenly, and hole by hole in short."""
    sizes = sorted(set(bar.bar.diameters))
    holes = f"{count_of(bar.bar.count, 'hole')} of " + " and ".join(
        show(size, "length", system=style) for size in sizes
    )
    lines = [
        Line(f"Drip bar {bar.body}", style="head"),
        Line(
            f"{holes} over {show(bar.bar.served_length, 'length', system=style)} of wall; their area is "
            f"{bar.bar.area_ratio:.2f} of the bore's (0.3 very even, 0.5 even, above 1 uneven: common "
            "practice, no source)",
            2,
        ),
    ]
    static = bar.static_head.map(lambda head: head - bar.level)
    total = bar.total_head.map(lambda head: head - bar.level)
    rows = [
        ("", *BAND),
        ("flow of all holes", *band_cells(bar.flow, "flow", style)),
        ("per length of wall", *band_cells(bar.flow_per_metre, "flow per length", style)),
        ("head at the inlet over the holes, static", *band_cells(static, "length", style)),
        ("head at the inlet over the holes, total", *band_cells(total, "length", style)),
        ("speed at the inlet", *band_cells(bar.velocity, "speed", style, digits=2)),
        ("coefficient of variation of the holes", *share_cells(bar.variation)),
        ("weakest quarter over the mean", *share_cells(bar.uniformity)),
    ]
    lines += table(rows, right=(1, 2, 3))
    lines += [Line(_states(bar), 2), *_brink(bar, style), *_holes(bar, style)]
    return lines


def _brink(bar: BarRun, style: str) -> list[Line]:
    """Tell how near the holes are to holding their drops, and what a disturbance would do."""
    if bar.crest is not None or bar.count("dry", "holds"):
        return []
    margin = one_line(bar.margin, lambda band: band_cells(band, "length", style, digits=2))
    told = [Line(f"head over the hole that begins last, above that which breaks its drop: {margin}", 2)]
    if bar.on_the_brink:
        told.append(
            Line(
                f"{count_of(bar.on_the_brink, 'hole')} run under less head than breaks a drop: once stopped, "
                "by a finger or a bubble, they stay shut; a little less speed or level stops them as well",
                2,
                "warning",
            )
        )
    return told


def _states(bar: BarRun) -> str:
    words = {
        "dry": "dry (no head reaches them)",
        "holds": "dry (surface tension holds the drop)",
        "weeps": "weeping (near the head that holds a drop)",
        "runs": "running",
        "spurts": "spurting (the jet leaves the wall)",
    }
    counts = [(bar.count(state), text) for state, text in words.items()]  # type: ignore[arg-type] # the five states
    told = ", ".join(f"{count} {text}" for count, text in counts if count)
    return f"holes: {told}"


def _holes(bar: BarRun, style: str) -> list[Line]:
    """Return a few holes from inlet to far end, the weakest and the strongest among them."""
    flows = [hole.flow.likely for hole in bar.holes]
    last = len(flows) - 1
    picked = {round(last * step / (ROWS_OF_HOLES - 1)) for step in range(ROWS_OF_HOLES)}
    picked |= {flows.index(min(flows)), flows.index(max(flows))}
    header = ("hole", "from the inlet", *BAND, "static head", "")
    rows = [
        (
            str(hole.number),
            show(hole.along, "length", system=style),
            *band_cells(hole.flow, "flow", style),
            show(hole.head, "length", system=style, digits=3),
            hole.state,
        )
        for hole in (bar.holes[number] for number in sorted(picked))
    ]
    return table([header, *rows], right=range(6))


def _losses(system: System, style: str) -> list[Line]:
    by_part = [cost for cost in system.costs if abs(cost.share) >= LEAST_SHARE]
    lines = [Line(f"Where the power of {system.name} goes", style="head")]
    lines += table([(cost.what, f"{cost.share:.1%}") for cost in by_part], right=(1,))
    worst = sorted((one for one in system.stretches if one.loss), key=lambda one: -one.share)
    listed = [one for one in worst[:MOST_ROWS] if one.share >= LEAST_SHARE]
    header = ("", "", "flow", "speed", *BAND, "share")
    lines += [Line(""), Line("Head lost, what costs most first", style="head")]
    lines += table([header, *(_stretch(one, style) for one in listed)], right=range(2, 8))
    rest = sum(one.share for one in worst) - sum(one.share for one in listed)
    if len(worst) > len(listed):
        lines.append(
            Line(f"and {count_of(len(worst) - len(listed), 'more element')}, {rest:.1%} together", 2, "faint")
        )
    return lines


def _stretch(one: Stretch, style: str) -> tuple[str, ...]:
    assert one.loss is not None, "only stretches with a loss are listed (report.flow._stretch)"
    return (
        one.link,
        one.kind.replace("_", " "),
        likely_cell(one.flow, "flow", style),
        likely_cell(one.velocity, "speed", style),
        *band_cells(one.loss, "length", style, digits=2),
        f"{one.share:.1%}",
    )


def _fast(model: Model, flow: RunningFlow) -> list[Line]:
    limit = model.scene.catalog.limit("velocity_supply")
    style = model.scene.style
    fast = [one for one in flow.stretches if one.velocity.likely > limit.value]
    if not fast:
        return []
    shown = show(limit.value, "speed", system=style)
    return [
        Line(""),
        Line(f"Faster than {shown} ({limit.source})", style="head"),
        *table(_fast_rows(fast, style)),
    ]


def _fast_rows(fast: Iterable[Stretch], style: str) -> Sequence[tuple[str, str]]:
    return [
        (one.link, one_line(one.velocity, lambda band: band_cells(band, "speed", style, digits=2)))
        for one in sorted(fast, key=lambda one: -one.velocity.likely)
    ]
