"""The sections of the page, each made of what a command tells, and of no figure of its own."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from layout3d.checks.base import Finding
from layout3d.draw.charts import bar_figure, chart_svg, gauge_figure, pump_figure
from layout3d.draw.outage_chart import FONT, outage_figure
from layout3d.errors import LayoutError
from layout3d.flow.result import RunningFlow
from layout3d.hold.hold import Hold
from layout3d.model.model import Model
from layout3d.outage.ledger import Outages
from layout3d.outage.without_circuit import stopped_without_circuit
from layout3d.page.markup import caution_box, lines_markup, said, table_markup, tag, words
from layout3d.report.bands import one_line
from layout3d.report.cautions import BENCH
from layout3d.report.figures import both_volumes, pressure_on_floor
from layout3d.report.flow import flow_lines
from layout3d.report.holds import hold_lines
from layout3d.report.make import amount_text, bench_lines, cost_line, pack_text
from layout3d.report.order import NOT_PROVEN, step_facts
from layout3d.report.outage import outage_lines
from layout3d.report.swim import swim_lines
from layout3d.report.text import count_of, error_lines, place_of
from layout3d.report.volume import volume_lines
from layout3d.report.writing import filled
from layout3d.sheets.sheet import Sheet
from layout3d.sheets.svg import svg
from layout3d.shop.shop import Shop
from layout3d.shop.step import BuildOrder
from layout3d.swim.room import Room
from layout3d.units import show
from layout3d.water.dipstick import Mark

__all__ = ["Told", "sections"]

GROUPS = {
    "glass": "Glass",
    "background": "Background",
    "plumbing": "Pipework",
    "rock": "Rock",
    "wood": "Wood",
    "substrate": "Bed",
    "plant": "Plants",
    "equipment": "Equipment",
    "sump": "Sump",
    "stand": "Stand",
}
ABOUT_MODEL = (
    "Drag to turn; two fingers, or the wheel after a click, to come nearer; the right button to shift. Arrow "
    "keys, plus and minus do the same. A click picks a part."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """All that the page tells of a model; what has no figure stands there as the error that says why."""

    model: Model
    findings: Sequence[Finding]
    rules: int
    cautions: Sequence[str]
    figures: Any
    marks: Sequence[Mark]
    holds: Sequence[Hold]
    room: Room
    flow: RunningFlow | LayoutError
    outages: Outages | LayoutError | None
    shop: Shop
    order: BuildOrder
    sheets: Sequence[Sheet] | LayoutError

    @property
    def ruled(self) -> int:
        """Return how many faults the rules found."""
        return sum(finding.severity == "fault" for finding in self.findings)

    @property
    def other_faults(self) -> tuple[str, ...]:
        """Return what `flow`, `outage` and `make` end with a fault for; a rule may have found it as well."""
        bench = len(self.shop.faults) + len(self.order.faults)
        return tuple(
            text
            for text, there in (
                (f"{count_of(bench, 'fault')} in cutting and building", bench > 0),
                ("a flow can't be figured", self._no_flow),
                ("what fails puts water on the floor, or can't be figured", self._floods),
            )
            if there
        )

    @property
    def _no_flow(self) -> bool:
        if isinstance(self.flow, LayoutError):
            return True
        return any(failure.setting == "likely" for failure in self.flow.failures())

    @property
    def _floods(self) -> bool:
        if isinstance(self.outages, LayoutError):
            return True
        if self.outages is not None:
            return self.outages.floods
        return any(one.floor or one.why_not for one in stopped_without_circuit(self.model))


def sections(told: Told) -> Iterator[tuple[str, str, str]]:
    """Yield the sections: id, heading, HTML; figures in the units of ``units.shown_in``."""
    yield "summary", "At a glance", _summary(told)
    yield "model", "Model", _model(told)
    yield "findings", "Findings", _findings(told)
    yield "water", "Water and weight", _water(told)
    yield "flow", "What runs", _flow(told)
    yield "outage", "When something fails", _outage(told)
    if told.holds or told.room.sizes:
        yield "hardscape", "Rock, wood and fish", _hardscape(told)
    yield "parts", "Parts and cuts", _parts(told)
    yield "order", "Order of building", _order(told)
    yield "sheets", "Sheets", _sheets(told)
    yield "cautions", "Before you rely on it", caution_box(told.cautions)


def _summary(told: Told) -> str:
    number = told.figures
    severities = [finding.severity for finding in told.findings]
    counts = ", ".join(count_of(severities.count(each), each) for each in ("fault", "warning", "note"))
    others = told.other_faults
    more = f"; beside them {', and '.join(others)}" if others else ""
    faulty = told.ruled > 0 or bool(others)
    none = "" if faulty else ". That the rules found no fault doesn't say that it holds"
    cards = [
        ("Findings", counts, f"from {count_of(told.rules, 'rule')}{more}{none}", faulty),
        (
            "Water in the tank",
            " · ".join(both_volumes(number["water_volume_net"])),
            f"at a waterline of {show(told.model.waterline, 'length')}, less what stands in it",
            False,
        ),
        (
            "All together",
            show(number["mass_total"], "mass"),
            f"{pressure_on_floor(number['floor_pressure'])} on the floor, on the mean of the "
            "footprint: ask a structural engineer",
            False,
        ),
        *_running_cards(told),
        _fill_card(told),
        (
            "To build it",
            count_of(len(told.order.steps), "step"),
            _waits(told.order),
            bool(told.order.faults),
        ),
    ]
    made = []
    for what, figure, beside, fault in cards:
        kind = ' class="fault"' if fault else ""
        made.append(
            f"<div{kind}><dt>{words(what)}</dt><dd>{words(figure)}<span>{words(beside)}</span></dd></div>"
        )
    return f'<dl class="cards">{"".join(made)}</dl>'


def _running_cards(told: Told) -> Iterator[tuple[str, str, str, bool]]:
    if isinstance(told.flow, LayoutError):
        yield "Pumps", "not figured", told.flow.found, True
        return
    for pump in told.flow.pumps:
        fine = pump.state == "flowing"
        about = (
            f"{pump.model}, {one_line(pump.head, 'head')} of head" if fine else f"{pump.model}, {pump.state}"
        )
        yield _pump_title(pump.pump), one_line(pump.flow, "flow"), about, not fine
    if not told.flow.pumps:
        yield "Pumps", "none runs", "no pump moves water through anything in this scene", False


def _pump_title(name: str) -> str:
    """Return a pump's name as a title, the word once."""
    return name[0].upper() + name[1:] if "pump" in name.lower() else f"Pump {name}"


def _fill_card(told: Told) -> tuple[str, str, str, bool]:
    if isinstance(told.outages, LayoutError):
        return "Fill line", "not figured", told.outages.found, True
    if told.outages is None:
        return "Fill line", "none", "no pump in a sump brings water to the tank", False
    mark = told.outages.careful_mark
    if mark.running is None:
        return "Fill line", "no mark holds", "see: when something fails", True
    low, high = (show(level, "length") for level in mark.running)
    where = f"over the sump's floor, with the pumps running; the scene's mark: {show(mark.mark, 'length')}"
    return "Fill line", f"{low} to {high}", where, not mark.holds


def _waits(order: BuildOrder) -> str:
    last = max((step.earliest for step in order.steps), default=0.0)
    unknown = any(wait.time is None for step in order.steps for wait in step.waits)
    return f"known waits take {show(last, 'time')}{'; others as their makers say' if unknown else ''}"


# -- model and findings ---------------------------------------------------------------------------------


def _model(told: Told) -> str:
    groups: dict[str, list[str]] = {}
    for body in told.model.bodies:
        names = groups.setdefault(body.group, [])
        if body.part not in names:
            names.append(body.part)
    lists = []
    # a part with bodies of two groups stands under its first
    listed: set[str] = set()
    for group, names in [*groups.items(), ("water", ["water"])]:
        rows = "".join(_part_row(name) for name in names if name not in listed)
        listed.update(names)
        title = words(GROUPS.get(group, group.capitalize()))
        if rows:
            lists.append(f"<fieldset><legend>{title}</legend><ul>{rows}</ul></fieldset>")
    viewer, about = Path(__file__).with_name("viewer.html"), words(ABOUT_MODEL)
    return "".join(line.strip() for line in filled(viewer, about=about, groups="".join(lists)).splitlines())


def _part_row(name: str) -> str:
    told = words(name)
    return (
        f'<li><input type="checkbox" checked data-shown="{told}" aria-label="show {told}">'
        f'<button type="button" data-pick="{told}">{told}</button></li>'
    )


def _findings(told: Told) -> str:
    made = [_finding(number, finding) for number, finding in enumerate(told.findings, start=1)]
    for fault in (*told.shop.faults, *told.order.faults):
        made.append(
            f'<li class="fault"><p>{tag("fault")} <span class="rule">cutting and building</span></p>'
            f"<p>{said(fault.message)}</p><p>To mend it: {said(fault.remedy)}</p></li>"
        )
    count = f"<p>{count_of(told.rules, 'rule')} looked at the scene.</p>"
    none = "" if made else "<p>They found nothing. That doesn't say that it holds: read the cautions.</p>"
    return f'{count}{none}<ol class="findings">{"".join(made)}</ol>' if made else count + none


def _finding(number: int, finding: Finding) -> str:
    parts = " ".join(
        f'<button type="button" data-pick="{words(part)}">{words(part)}</button>' for part in finding.parts
    )
    lines = [f"<p>{said(finding.message)}</p>"]
    if finding.remedy:
        lines.append(f"<p>To mend it: {said(finding.remedy)}</p>")
    lines += [f"<p>And with it {said(also)}</p>" for also in finding.also]
    if finding.at is not None:
        at = ",".join(f"{value:.5f}" for value in finding.at)
        lines.append(
            f'<p class="faint">at {words(place_of(finding.at))} '
            f'<button type="button" data-at="{at}">Show in the model</button></p>'
        )
    return (
        f'<li class="{finding.severity}" id="finding-{number}"><p>{tag(finding.severity)} '
        f'<span class="rule">{words(finding.rule)}</span> {parts}</p>{"".join(lines)}</li>'
    )


# -- what is figured: the lines of each command, without its title -----------------------------------------


def _not_figured(error: LayoutError) -> str:
    return f"<p>{tag('fault')} not figured, so that nothing is known of it:</p>" + lines_markup(
        error_lines(error)
    )


def _chart(draw: Callable[[], Any], about: str, *, font: float = 10.0) -> str:
    content = base64.b64encode(chart_svg(draw, title=about, font=font)).decode()
    told = words(about)
    return (
        f'<figure><img alt="{told}; the figures stand in the tables" '
        f'src="data:image/svg+xml;base64,{content}"><figcaption>{told}</figcaption></figure>'
    )


def _water(told: Told) -> str:
    model = told.model
    chart = _chart(lambda: gauge_figure(model, told.marks), "Water in the tank by level")
    return chart + lines_markup(volume_lines(model, told.marks)[1:])


def _flow(told: Told) -> str:
    if isinstance(told.flow, LayoutError):
        return _not_figured(told.flow)
    model, flow = told.model, told.flow
    charts = [
        _chart(
            partial(pump_figure, model, pump),
            f"{_pump_title(pump.pump)}: its curve, and what the pipework asks",
        )
        for pump in flow.pumps
    ]
    charts += [
        _chart(partial(bar_figure, model, bar), f"Drip bar {bar.run}, hole by hole") for bar in flow.bars
    ]
    return "".join(charts) + lines_markup(flow_lines(model, flow)[1:])


def _outage(told: Told) -> str:
    if isinstance(told.outages, LayoutError):
        return _not_figured(told.outages)
    model, found = told.model, told.outages
    chart = ""
    if found is not None:
        chart = _chart(
            lambda: outage_figure(model, found), "Levels as it runs and after each failure", font=FONT
        )
    return chart + lines_markup(outage_lines(model, found)[1:])


def _hardscape(told: Told) -> str:
    return lines_markup([*hold_lines(told.holds), *swim_lines(told.room)])


# -- the bench ----------------------------------------------------------------------------------------------


def _parts(told: Told) -> str:
    model, shop = told.model, told.shop
    currency = model.scene.shop.currency
    # a source is a sentence or two: in a cell of its own it would stretch its row over half a screen
    sources = list(dict.fromkeys(row.source for row in shop.parts))
    rows = [
        (
            f"{row.number}",
            row.item,
            row.size,
            amount_text(row),
            pack_text(row, currency),
            " ".join(row.marks),
            ", ".join(row.parts),
            f"{sources.index(row.source) + 1}",
        )
        for row in shop.parts
    ]
    head = ("no.", "item", "size", "amount", "packs and notes", "marks", "for", "source")
    made = ["<h3>What to buy</h3>", table_markup(head, rows, "Parts", name="parts-list")]
    told_once = "".join(f"<li>{said(source)}</li>" for source in sources)
    made.append(f'<h4>Sources of the amounts, by number</h4><ol class="faint">{told_once}</ol>')
    cost = cost_line(model, shop)
    made += [f"<p>{words(cost)}</p>"] if cost else []
    if shop.not_counted:
        counted = "".join(f"<li>{said(text)}</li>" for text in shop.not_counted)
        made.append(f"<h3>Not counted</h3><ul>{counted}</ul>")
    made.append(lines_markup(bench_lines(shop)))
    return "\n".join(made) + caution_box([BENCH])


def _order(told: Told) -> str:
    order = told.order
    made = []
    for step in order.steps:
        facts = "".join(f"<li>{said(text)}</li>" for text in step_facts(step))
        made.append(f'<li value="{step.number}"><p>{words(step.does)}</p><ul>{facts}</ul></li>')
    parts = [f'<ol class="steps">{"".join(made)}</ol>']
    for title, names in (
        ("Never to be reached again once the background is in", order.never_again),
        ("No straight way out of the finished tank, for service", order.no_way_out),
    ):
        if names:
            parts.append(f"<h3>{title}</h3><p>{words(', '.join(names))}</p>")
    sources = {wait.source: wait.why for step in order.steps for wait in step.waits}
    if sources:
        rows = "".join(f"<li>{words(why)}: {words(source)}</li>" for source, why in sources.items())
        parts.append(f'<h3>Waits, and ways</h3><ul class="faint">{rows}<li>{words(NOT_PROVEN)}</li></ul>')
    return "".join(parts) + caution_box([BENCH])


def _sheets(told: Told) -> str:
    if isinstance(told.sheets, LayoutError):
        return "<p>There are no sheets of this scene:</p>" + lines_markup(error_lines(told.sheets))
    about = (
        "Reduced to the width of this page: measure nothing from them, and print sheets with "
        "<code>layout3d sheet</code>, templates with <code>layout3d make</code>."
    )
    made = [f"<p>{about}</p>"]
    for sheet in told.sheets:
        name = words(sheet.page.name)
        made.append(f'<figure class="paper"><figcaption>{name}</figcaption>{svg(sheet.page)}</figure>')
    return "".join(made)
