"""The drip bars of a solved system hole by hole, with bands over losses, hole coefficient and recovery."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from layout3d.flow.bar import Bar, BarFlow
from layout3d.flow.drip_bar import RECOVERY
from layout3d.flow.network import DripHole, Node
from layout3d.flow.plumbing import Plumbing
from layout3d.flow.running_data import BarRun, HoleRun
from layout3d.flow.running_told import FITTINGS, band_over
from layout3d.flow.settled import Bars, Settled, bar_at, branch_of, hole_state
from layout3d.flow.water import Water
from layout3d.model.model import Model
from layout3d.parts.run_data import RunData
from layout3d.units import GRAVITY

__all__ = ["bar_runs"]

NOTE = f"{FITTINGS}, recovery {RECOVERY.low:g} to {RECOVERY.high:g}"


def bar_runs(
    laid: Plumbing, nodes: Sequence[Node], cases: Sequence[Settled], bars: Bars, water: Water, model: Model
) -> tuple[BarRun, ...]:
    """Return the bars and the drilled through pipes of one system; the likely case comes first."""
    found = [_bar(node, cases, bars, water) for node in bars.laid]
    through: dict[str, list[DripHole]] = {}
    for node in nodes:
        if isinstance(node, DripHole):
            through.setdefault(branch_of(node), []).append(node)
    parts = {piece.body: piece.part for piece in laid.pieces.values()}
    found += [_through(parts[body], body, several, cases, water, model) for body, several in through.items()]
    return tuple(found)


def _bar(node: str, cases: Sequence[Settled], bars: Bars, water: Water) -> BarRun:
    laid = bars.laid[node]
    solved = [case.bars[node] for case in cases]
    lower = [_less_recovery(laid.bar, node, case, water) for case in cases]
    every = solved + lower
    flows = np.array([one.flows for one in every])
    likely = solved[0]
    crest = cases[0].unreached.get(node)
    return BarRun(
        run=laid.run,
        body=laid.body,
        node=node,
        bar=laid.bar,
        holes=tuple(
            HoleRun(
                number=number + 1,
                along=laid.bar.positions[number],
                diameter=laid.bar.diameters[number],
                height=laid.bar.heights[number],
                flow=band_over(flows[:, number].tolist(), NOTE),
                # behind a top that no water passes a hole lacks what the top lacks
                head=float(likely.hole_heads[number]) if crest is None else crest.level - crest.height,
                state=likely.states[number] if crest is None else "dry",
            )
            for number in range(laid.bar.count)
        ),
        flow=band_over([one.flow for one in every], NOTE),
        static_head=band_over([one.static_head for one in every], NOTE),
        total_head=band_over([one.total_head for one in every], NOTE),
        velocity=band_over([one.inlet_velocity for one in every], NOTE),
        variation=band_over([one.variation for one in every], NOTE),
        uniformity=band_over([one.low_quarter_uniformity for one in every], NOTE),
        crest=crest,
    )


def _less_recovery(bar: Bar, node: str, case: Settled, water: Water) -> BarFlow:
    """Solve a bar again at the head of a case, with the least of the recovery."""
    head = case.bars[node].total_head
    return bar_at(bar, head, case.held[node], case.coefficients[node], RECOVERY.low, water)


def _through(
    part: str,
    body: str,
    holes: Sequence[DripHole],
    cases: Sequence[Settled],
    water: Water,
    model: Model,
) -> BarRun:
    """Tell the holes of a pipe that goes on, solved in the network without recovery."""
    element = next(one for one in _run(model, part).elements if one.body == body)
    places = sorted(hole.along for hole in element.holes)
    by_name = [{one.name: one for one in case.steady.nodes} for case in cases]
    flows = np.array([[max(0.0, found[hole.name].outflow) for hole in holes] for found in by_name])
    heads = np.array(
        [[found[hole.name].pressure_head or 0.0 for hole in holes] for found in by_name], dtype=np.float64
    )
    first = next(link for link in cases[0].steady.links if link.name == f"{body}.1")
    inlets = [next(one for one in case.steady.links if one.name == first.name) for case in cases]
    area = 0.25 * math.pi * element.bore**2
    speeds = [abs(one.flow) / area for one in inlets]
    inlet_heads = [found[holes[0].name].head or 0.0 for found in by_name]
    return BarRun(
        run=part,
        body=body,
        node=holes[0].name,
        bar=Bar(
            positions=tuple(places),
            diameters=tuple(hole.diameter for hole in holes),
            heights=tuple(hole.elevation for hole in holes),
            length=element.flow_length,
            bore=element.bore,
            wall=holes[0].wall,
        ),
        holes=tuple(
            HoleRun(
                number=number + 1,
                along=places[number],
                diameter=hole.diameter,
                height=hole.elevation,
                flow=band_over(flows[:, number].tolist()),
                head=float(heads[0, number]),
                state=hole_state(float(heads[0, number]), float(flows[0, number]), hole.diameter, water),
            )
            for number, hole in enumerate(holes)
        ),
        flow=band_over(flows.sum(axis=1).tolist()),
        static_head=band_over(
            [head - speed**2 / (2.0 * GRAVITY) for head, speed in zip(inlet_heads, speeds, strict=True)]
        ),
        total_head=band_over(inlet_heads),
        velocity=band_over(speeds),
        variation=band_over([_variation(row) for row in flows]),
        uniformity=band_over([_low_quarter(row) for row in flows]),
        recovered=False,
    )


def _run(model: Model, part: str) -> RunData:
    data = model.built[part].data
    assert isinstance(data, RunData), "a run builds its data (running_bars._run)"
    return data


def _variation(flows: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    mean = float(flows.mean())
    return float(flows.std()) / mean if mean > 0.0 else 0.0


def _low_quarter(flows: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    mean = float(flows.mean())
    return float(np.sort(flows)[: math.ceil(0.25 * len(flows))].mean()) / mean if mean > 0.0 else 0.0
