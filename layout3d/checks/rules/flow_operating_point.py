"""Pumps that move no water, run beyond their curve, or push against a head they can't lift."""

from __future__ import annotations

from layout3d.band import Band
from layout3d.checks.base import CURRENT, Finding, Findings, Severity, rule
from layout3d.checks.flow_words import behind_top, between, middle_of
from layout3d.checks.measure import length
from layout3d.flow.network import PUSHED_BACK
from layout3d.flow.result import Failure, PumpRun, System
from layout3d.flow.running import running, running_with
from layout3d.model.model import Model

STILL = 1e-9  # [m³/s], 4 mL/h: less is called no flow
LEVEL = 1e-3  # [m]; a grade line nearer to a mouth than this is at the mouth


@rule(
    "flow-operating-point",
    asks="Each pump moves water, within its curve, to every way out that isn't shut.",
    caution=CURRENT,
    limits=("siphon_draw",),
)
def operating_points(model: Model) -> Findings:
    """Find pumps without a point of operation, and branches that no water comes out of."""
    flow = running(model)
    for system in flow.systems:
        for failure in system.failures:
            yield _failed(model, failure)
        if system.runs:
            yield from _still(model, system)


def _failed(model: Model, failure: Failure) -> Finding:
    """Return a failure as a finding: a fault where nothing runs or no figure is had, else a warning."""
    certain = failure.setting == "likely" or failure.kind == "not figured"
    severity: Severity = "fault" if certain else "warning"
    at = f"at {failure.setting} losses, " if failure.setting != "likely" else ""
    unknown = "flow could not be figured: " if failure.kind == "not figured" else ""
    return Finding(
        severity=severity,
        parts=failure.parts,
        measured=failure.measured,
        limit=failure.limit,
        at=middle_of(model, failure.parts[0]) if failure.parts else None,
        message=f"{at}{unknown}{failure.message}",
        remedy=failure.remedy or "give the scene figures that the tables know",
    )


def _still(model: Model, system: System) -> Findings:
    for pump in system.pumps:
        if pump.flow.low < -STILL:
            yield _pushed_back(model, pump)
        elif pump.state == "dead-headed":
            yield Finding(
                parts=(pump.pump,),
                measured=pump.curve.shut_off_head,
                limit=pump.head.likely,
                at=middle_of(model, pump.pump),
                message=f"{pump.pump} is dead-headed: it lifts {length(pump.curve.shut_off_head)} at most, "
                "less than stands against it",
                remedy="run it faster, use a stronger one, or give it pipework of its own",
            )
    heads = {point.node: point.head for point in system.grade}
    for out in system.outs:
        head = heads.get(out.name)
        if out.kind != "mouth" or out.flow.likely > STILL or head is None:
            continue
        if out.crest is not None:
            yield behind_top(
                out.crest,
                out.where,
                parts=(out.part,),
                at=middle_of(model, out.part),
                others="the lower ways out",
            )
        elif out.height - head.likely > LEVEL:
            short = length(out.height - head.likely)
            yield Finding(
                parts=(out.part,),
                measured=head.likely,
                limit=out.height,
                at=middle_of(model, out.part),
                message=f"nothing comes out of the {out.where}: the water stands {short} below it in the "
                "pipe",
                remedy=f"lower it by more than {short}, throttle the lower ways out, or run the pump faster",
            )
    for part, siphon in system.deepest_siphons.items():
        yield Finding(
            severity="note",
            parts=(part,),
            measured=siphon.draw,
            limit=0.0,
            at=middle_of(model, siphon.place) or middle_of(model, part),
            message=f"{part} runs {length(siphon.draw)} below the air's pressure at {siphon.place}: figured "
            "as a full pipe that draws its water down; with air in it less flows",
            remedy="see that it fills as it starts, or let air in at the top and count on its height",
        )


def _pushed_back(model: Model, pump: PumpRun) -> Finding:
    """Return a running pump that others overcome, or may, with what they push back through it."""
    likely = pump.state == "pushed back"
    stalled = next(one.flow for one in running_with(model, {pump.pump: 0.0}).pumps if one.pump == pump.pump)
    return Finding(
        severity="fault" if likely else "warning",
        parts=(pump.pump,),
        measured=pump.curve.shut_off_head,
        limit=pump.head.likely if likely else pump.head.high,
        at=middle_of(model, pump.pump),
        message=f"{pump.pump} {'is' if likely else 'may be'} pushed back: it lifts "
        f"{length(pump.curve.shut_off_head)} at most, others set {length(pump.head.likely)} against it, and "
        f"{between(_back(pump.flow), 'flow')} run back through it ({PUSHED_BACK}); "
        f"{between(_back(stalled), 'flow')} if it stalls",
        remedy="run it faster, use a stronger one, or give it a check valve and pipework of its own",
    )


def _back(flow: Band) -> Band:
    """Return what runs back, [m³/s], as a band above 0."""
    return flow.map(lambda figure: max(0.0, -figure))
