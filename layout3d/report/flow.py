"""What pumps keep running, and the change for a wanted flow, as text and as JSON: bands from low to high."""

from __future__ import annotations

import operator
from typing import Any

from layout3d.band import SETTINGS
from layout3d.fittings.losses import losses_table
from layout3d.flow.network import PUSHED_BACK
from layout3d.flow.result import BarRun, Failure, RunningFlow, Stretch, System
from layout3d.flow.sizing import Change
from layout3d.flow.turnover import turnovers
from layout3d.model.model import Model
from layout3d.report.bands import band_cells, band_rows, likely_cell, one_line
from layout3d.report.cautions import FLOW
from layout3d.report.json import heading, told
from layout3d.report.text import caution_lines, count_of, title_lines
from layout3d.report.writing import Line, section, table
from layout3d.units import in_own_units, show

__all__ = ["change_lines", "flow_json", "flow_lines"]

RANGE = (
    "low, likely, high: losses of all fittings and holes over their published range, all at once and one "
    "branch against the others; pumps weaker and stronger than their curve by its tolerance"
)
MOST_ROWS = 12  # of losses; the rest is summed up
ROWS_OF_HOLES = 7
LEAST_SHARE = 0.001  # of the pumps' power; less is not listed


@in_own_units
def flow_lines(model: Model, flow: RunningFlow) -> list[Line]:
    """Return the whole report of what runs."""
    lines = title_lines(model)
    lines += [line for failure in flow.failures() for line in _failure(failure)]
    lines += [Line(f"{idle.pump} moves nothing: {idle.why}", style="warning") for idle in flow.idle]
    if not flow.systems:
        lines += [Line(""), Line("no pump moves water through anything in this scene")]
    if flow.pumps:
        lines += [Line(""), *_pumps(flow), Line(RANGE, 2, "faint")]
        lines += [Line(""), *_outs(flow), *_turnover(model, flow)]
    for bar in flow.bars:
        lines += [Line(""), *_bar(bar)]
    for system in flow.systems:
        if system.runs and system.stretches:
            lines += [Line(""), *_losses(system)]
    if flow.pumps:
        lines += _fast(model, flow)
    lines += section("Taken as given", (Line(text, 2) for text in _assumptions(model, flow)))
    lines += section("Losses of fittings from", (Line(text, 2) for text in _loss_sources(flow)))
    return lines + caution_lines(FLOW)


def _failure(failure: Failure) -> list[Line]:
    at = "" if failure.setting == "likely" else f"at {failure.setting} losses: "
    severity = "fault" if failure.setting == "likely" else "warning"
    lines = [Line(""), Line(f"{at}{failure.message}", style=severity)]
    return [*lines, Line(f"to mend it: {failure.remedy}", 3)] if failure.remedy else lines


def _siphons(system: System) -> list[Line]:
    """Return where water is drawn over a top, the deepest of each run."""
    return [
        Line(
            f"{part} runs {show(one.draw, 'length', digits=2)} below the air's pressure at {one.place}: "
            "figured as full, with air less flows",
            2,
            "note",
        )
        for part, one in system.deepest_siphons.items()
    ]


def _pumps(flow: RunningFlow) -> list[Line]:
    flow_head = (f"{what}{name}" for what in ("flow ", "head ") for name in SETTINGS)
    header = ("pump", "", "speed", *flow_head, "of shut-off head", "of greatest flow")
    rows = [
        (
            pump.pump,
            pump.model,
            f"{pump.speed:.0%}",
            *band_cells(pump.flow, "flow"),
            *band_cells(pump.head, "head"),
            likely_cell(pump.head_share, "share") if pump.flow.likely >= 0.0 else pump.state,
            likely_cell(pump.flow_share, "share") if pump.flow.likely >= 0.0 else "",
        )
        for pump in flow.pumps
    ]
    lines = [
        Line("Pumps: flow and head", style="head"),
        *table([header, *rows], right=range(2, 11), headed=True),
    ]
    words = {
        "dead-headed": "pushes against a head it can't lift: dead-headed",
        "pushed back": f"is overcome, and water runs back through it ({PUSHED_BACK})",
    }
    return [
        *lines,
        *(Line(f"{one.pump} {words[one.state]}", 2, "fault") for one in flow.pumps if one.state in words),
    ]


def _outs(flow: RunningFlow) -> list[Line]:
    header = ("way out", *SETTINGS, "speed")
    rows = [
        (
            out.where,
            *band_cells(out.flow, "flow"),
            likely_cell(out.velocity, "speed") if out.velocity else "",
        )
        for out in sorted(flow.outs, key=lambda one: -one.flow.likely)
    ]
    lines = [Line("Where it goes", style="head"), *table([header, *rows], right=range(1, 5), headed=True)]
    for out in flow.outs:
        if out.crest is not None:
            short = show(out.crest.height - out.crest.level, "length", digits=2)
            text = f"no water gets to the {out.where}: {short} below the top of its pipe"
            lines.append(Line(text, 2, "fault"))
    return [*lines, *(line for system in flow.systems for line in _siphons(system))]


def _turnover(model: Model, flow: RunningFlow) -> list[Line]:
    limit = model.scene.catalog.limit
    low, high = limit("turnover_usual_low"), limit("turnover_usual_high")
    told = f"; {low.value:g} to {high.value:g} is usual ({high.source})"
    lines = []
    for found in turnovers(model, flow):
        times, volume = one_line(found.per_hour, "number"), show(found.volume, "volume", digits=3)
        what, usual = f"{found.kind} ({', '.join(found.pumps)})", told if found.kind == "return" else ""
        lines.append(Line(f"{what}: {times} times an hour the {volume} in the tank{usual}", 2))
    return section("Turnover", lines)


def _bar(bar: BarRun) -> list[Line]:
    """Return one drip bar: what it gives in all, how evenly, and hole by hole in short."""
    sizes = sorted(set(bar.bar.diameters))
    drilled = " and ".join(show(size, "length") for size in sizes)
    holes = f"{count_of(bar.bar.count, 'hole')} of {drilled}"
    lines = [
        Line(f"Drip bar {bar.body}", style="head"),
        Line(
            f"{holes} over {show(bar.bar.served_length, 'length')} of wall; their area is "
            f"{bar.bar.area_ratio:.2f} of the bore's (0.3 very even, 0.5 even, above 1 uneven: common "
            "practice, no source)",
            2,
        ),
    ]
    static = bar.static_head.map(lambda head: head - bar.level)
    total = bar.total_head.map(lambda head: head - bar.level)
    rows = [
        ("flow of all holes", bar.flow, "flow"),
        ("per length of wall", bar.flow_per_metre, "flow per length"),
        ("head at the inlet over the holes, static", static, "length"),
        ("head at the inlet over the holes, total", total, "length"),
        ("speed at the inlet", bar.velocity, "rough speed"),
        ("coefficient of variation of the holes", bar.variation, "share"),
        ("weakest quarter over the mean", bar.uniformity, "share"),
    ]
    return [*lines, *band_rows(rows), Line(_states(bar), 2), *_brink(bar), *_holes(bar)]


def _brink(bar: BarRun) -> list[Line]:
    """Tell how near the holes are to holding their drops, and what a disturbance would do."""
    if bar.crest is not None or bar.count("dry", "holds"):
        return []
    margin = one_line(bar.margin, "length", digits=2)
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


def _holes(bar: BarRun) -> list[Line]:
    """Return a few holes from inlet to far end, the weakest and the strongest among them."""
    flows = [hole.flow.likely for hole in bar.holes]
    last = len(flows) - 1
    picked = {round(last * step / (ROWS_OF_HOLES - 1)) for step in range(ROWS_OF_HOLES)}
    picked |= {flows.index(min(flows)), flows.index(max(flows))}
    header = ("hole", "from the inlet", *SETTINGS, "static head", "")
    rows = [
        (
            str(hole.number),
            show(hole.along, "length"),
            *band_cells(hole.flow, "flow"),
            show(hole.head, "length", digits=3),
            hole.state,
        )
        for hole in (bar.holes[number] for number in sorted(picked))
    ]
    return table([header, *rows], right=range(6), headed=True)


def _losses(system: System) -> list[Line]:
    by_part = [cost for cost in system.costs if abs(cost.share) >= LEAST_SHARE]
    lines = [Line(f"Where the power of {system.name} goes", style="head")]
    lines += table([(cost.what, f"{cost.share:.1%}") for cost in by_part], right=(1,))
    worst = sorted((one for one in system.stretches if one.loss), key=lambda one: -one.share)
    listed = [one for one in worst[:MOST_ROWS] if one.share >= LEAST_SHARE]
    header = ("element", "", "flow", "speed", *SETTINGS, "share")
    lost = table([header, *map(_stretch, listed)], right=range(2, 8), headed=True)
    lines += section("Head lost, what costs most first", lost)
    rest = sum(one.share for one in worst) - sum(one.share for one in listed)
    if len(worst) > len(listed):
        lines.append(
            Line(f"and {count_of(len(worst) - len(listed), 'more element')}, {rest:.1%} together", 2, "faint")
        )
    return lines


def _stretch(one: Stretch) -> tuple[str, ...]:
    assert one.loss is not None, "only stretches with a loss are listed (report.flow._stretch)"
    along = one.flow if one.flow.likely >= 0.0 else one.flow.map(operator.neg)  # either way it costs head
    return (
        one.link.name,
        one.link.kind.replace("_", " "),
        likely_cell(along, "flow"),
        likely_cell(one.velocity, "speed"),
        *band_cells(one.loss, "length", digits=2),
        f"{one.share:.1%}",
    )


def _fast(model: Model, flow: RunningFlow) -> list[Line]:
    limit = model.scene.catalog.limit("velocity_supply")
    fast = [one for one in flow.stretches if one.velocity.likely > limit.value]
    fast.sort(key=lambda one: -one.velocity.likely)
    rows = [(one.link.name, one_line(one.velocity, "speed", digits=2)) for one in fast]
    return section(f"Faster than {show(limit.value, 'speed')} ({limit.source})", table(rows))


@in_own_units
def _assumptions(model: Model, flow: RunningFlow) -> tuple[str, ...]:
    """Return what was taken as given, so that a reader can judge the figures."""
    told = [
        f"water {show(flow.temperature + 273.15, 'temperature')}, levels as in the "
        "scene and held there; pipes new and smooth: slime and lime take flow, plan for a tenth less",
        "bends, tees and valves one by one, without what they do to each other when close; no velocity head "
        "at tees",
        "gravity drains, the overflow and air lines are not in here (see `layout3d outage`)",
    ]
    sources = {f"{pump.model}: {model.scene.catalog.pump(pump.model).source}" for pump in flow.pumps}
    told += [f"pump curve {text}" for text in sorted(sources)]
    told += [
        f"{pump.pump} at {pump.speed:.0%} speed: flow goes with the speed, head with its square"
        for pump in flow.pumps
        if pump.speed != 1.0
    ]
    fitted = sorted({pump.model for pump in flow.pumps if pump.curve.parabola})
    told += [f"the three points of {name} are joined by a parabola" for name in fitted]
    if flow.bars:
        told.append(
            "holes drilled clean and free of burrs; share of the speed that comes back as pressure behind a "
            "hole 0.7 to 1.0 (from memory); a burr inside takes up to a quarter of the flow"
        )
    return (*told, *flow.notes)


def _loss_sources(flow: RunningFlow) -> list[str]:
    """Return the full titles of the sets that loss sources name, each once."""
    text = " ".join(stretch.source for stretch in flow.stretches)
    return [title for name, title in losses_table()["sets"].items() if name in text]


# -- the change for a wanted flow ----------------------------------------------------------------------------


@in_own_units
def change_lines(model: Model, change: Change) -> list[Line]:
    """Return what to change, how to write it, and what then runs."""
    wanted = show(change.wanted, "flow per length", digits=3)
    lines = [
        Line(f"{_what(change)}: {_figure(change, change.after)}, now {_figure(change, change.before)}", 2),
        Line(f"in the scene: {_patch(change)}", 2),
        Line(f"it then gives {one_line(change.run.flow_per_metre, 'flow per length')}", 2),
    ]
    for choice in change.choices:
        size = show(choice.bar.diameters[0], "length")
        each = one_line(choice.flow_per_metre, "flow per length")
        lines.append(Line(f"with a drill of {size}: {each}", 2))
    told = section(f"For {wanted} from {change.run.run}", lines)
    return [*title_lines(model), *told, Line(""), *_bar(change.run), *caution_lines(FLOW)]


def _what(change: Change) -> str:
    if change.varied == "speed":
        return f"speed of {change.part}"
    if change.varied == "diameter":
        return "diameter of the holes"
    return f"pitch of the holes, {change.bar.count} of them"


def _figure(change: Change, value: float) -> str:
    return f"{value:.1%}" if change.varied == "speed" else show(value, "length", digits=3)


def _patch(change: Change) -> str:
    if change.varied == "speed":
        return f"parts.{change.part}.speed: {change.after:.1%}"
    size = show(change.bar.diameters[0], "length", digits=3)
    if change.varied == "diameter":
        return f"drip: {{diameter: {size}, …}} in the route of {change.part}"
    pitch = show(change.after, "length", digits=3)
    return f"drip: {{pitch: {pitch}, count: {change.bar.count}, …}} in the route of {change.part}"


# -- as JSON, SI units; its schema stands in ``schema/flow.json`` --------------------------------------------


def flow_json(model: Model, flow: RunningFlow, change: Change | None = None) -> dict[str, Any]:
    """Return the object that ``flow --json`` prints; ``change`` only where one was asked for."""
    facts = heading(model) | {
        "water_temperature": flow.temperature + 273.15,
        "systems": [_system_facts(system) for system in flow.systems],
        "turnover": [told(one, "kind pumps flow volume per_hour") for one in turnovers(model, flow)],
        "idle": [told(one, "pump why") for one in flow.idle],
        "failures": [
            told(one, "kind setting message remedy measured limit pumps=parts") for one in flow.failures()
        ],
        "assumptions": [RANGE, *_assumptions(model, flow)],
        "loss_sources": _loss_sources(flow),
        "cautions": list(FLOW),
    }
    if change is not None:
        names = "varied part before after head wanted_per_metre=wanted holes=bar.count"
        facts["change"] = told(change, names) | {
            "bar": _bar_facts(change.run),
            "choices": [
                {"diameter": one.bar.diameters[0]} | told(one, "per_metre=flow_per_metre")
                for one in change.choices
            ],
        }
    return facts


def _system_facts(system: System) -> dict[str, Any]:
    pump = (
        "pump model speed water flow head state "
        "shut_off_head=curve.shut_off_head greatest_flow=curve.max_flow"
    )
    out = "name where kind part height flow velocity top_in_the_way=crest"
    element = (
        "body=link.body kind=link.kind part=link.part bore=link.bore length=link.length flow velocity loss "
        "share state source name=link.name from=link.start"
    )
    return told(system, "driven_by=pump_names grade_line=grade shares=costs") | {
        "pumps": [told(one, pump) for one in system.pumps],
        "outs": [told(one, out) for one in system.outs],
        "elements": [told(one, element) | {"to": one.link.end or ""} for one in system.stretches],
        "siphons": [point.node for point in system.siphons],
        "bars": [_bar_facts(bar) for bar in system.bars],
        **{way: told(system, way)[way] or {} for way in ("water_in", "water_out")},
    }


def _bar_facts(bar: BarRun) -> dict[str, Any]:
    facts = told(
        bar,
        "run body flow static_head total_head level velocity variation margin on_the_brink "
        "per_metre=flow_per_metre served_length=bar.served_length area_ratio=bar.area_ratio "
        "low_quarter_uniformity=uniformity",
    )
    holes = [told(hole, "number along diameter height flow state static_head=head") for hole in bar.holes]
    return facts | {"pressure_recovery": True, "holes": holes}
