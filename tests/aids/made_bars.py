"""Drip bars made by hand for the rules that judge them, in no scene and without computing. SI."""

from types import SimpleNamespace

from made_outages import band, judged, made_model

from layout3d.flow.result import BarRun, HoleRun, RunningFlow, System

__all__ = ["bar", "bars_judged", "hole"]


def bars_judged(monkeypatch, module, rule, *bars, **limits):
    """Run a rule of ``module`` over drip bars made by hand; a hole's place is its number."""
    return judged(
        monkeypatch,
        module,
        rule,
        made_model(**limits),
        running=lambda model: RunningFlow(systems=(System(bars=bars),)),
        hole_of=lambda model, bar, number: SimpleNamespace(at=(number, 0.0, 0.0)),
    )


def hole(number, *, flow=(1e-6, 2e-6, 3e-6), diameter=0.002, head=0.020, state="runs"):
    return HoleRun(
        number=number,
        along=0.1 * number,
        diameter=diameter,
        height=0.3,
        flow=band(*flow),
        head=head,
        hold=0.0147,
        state=state,
    )


def bar(*holes, variation=(0.1, 0.2, 0.3), ratio=0.4, crest=None):
    nothing = band(0.0, 0.0, 0.0)
    return BarRun(
        run="bar",
        body="bar.pipe_1",
        bar=SimpleNamespace(count=len(holes), area_ratio=ratio),
        holes=holes,
        flow=nothing,
        static_head=nothing,
        total_head=nothing,
        velocity=nothing,
        variation=band(*variation),
        uniformity=nothing,
        margin=nothing,
        crest=crest,
    )
