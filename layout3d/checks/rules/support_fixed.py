"""Clips and suction cups that find nothing to hold on to where the scene asks for them."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length, runs
from layout3d.model.model import Model


@rule("support-fixed", asks="Clips and suction cups have something beside the pipe to be fixed to.")
def support_fixed(model: Model) -> Findings:
    """Find supports that could not be put where they are asked for; the run is built without them."""
    for name, run in runs(model):
        for none in run.no_supports:
            said = none.kind.replace("_", " ")
            place = f"{length(none.along)} along {name}"
            if none.away is None:
                message = (
                    f"no {said} can be put {place}: nothing of {none.against or 'the tank'} stands square "
                    "beside it there"
                )
                limit = None
            else:
                near = none.away < none.reach[0]
                limit = none.reach[0 if near else 1]
                least, most = (length(each) for each in none.reach)
                message = (
                    f"no {said} can be put {place}: the pipe's middle is {length(none.away)} from "
                    f"{none.wall}, {length(abs(limit - none.away))} "
                    f"{'short of' if near else 'over'} the {least} to {most} that a {said} bridges"
                )
            yield Finding(
                parts=(name, none.wall) if none.wall else (name,),
                measured=none.away,
                limit=limit,
                at=none.at,
                message=message,
                remedy=f"move {name}, put the {said} (`{none.where}`) beside something that holds it, or fix "
                "it to something else",
            )
