"""What every fault tells is of one piece: by how much it misses, in figures and in words, and where."""

import functools
from pathlib import Path

import numpy as np
import pytest

from layout3d.checks.examine import examine
from layout3d.checks.registry import rules
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.units import show, shown_in

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
KINDS = {"m": "length", "m³": "volume", "m³/s": "flow", "m/s": "speed", "rad": "angle", "N": "force"}
RULES = rules()
BESIDE = {
    "hole-under-brace": 0.011,  # the hole's middle, in a brace 10 mm beside it
    "overflow-level": 0.005,  # the running level, over the drain's intake
    "sump-rim": 0.070,  # the middle of the compartment at its rim, beside the baffle
}
"""Rules whose place is none in a part that they name, and how far from it that is in their scene, [m]."""


@functools.cache
def faults(rule):
    model = build_model(read_scene(FAULTY / f"{rule}.yaml"))
    return model, [one for one in examine(model, only=(rule,)) if one.severity == "fault"]


def shown(value, kind):
    """Return a figure as it may stand in a message: with the digits that a message of its kind has."""
    return {show(value, kind), *(show(value, kind, digits=digits) for digits in (1, 2, 3, 4))}


@pytest.mark.parametrize("rule", RULES)
def test_a_fault_tells_by_how_much_it_misses(rule):
    model, found = faults(rule)
    for fault in found:
        if fault.measured is None or fault.limit is None or fault.unit not in KINDS:
            continue
        kind, told = KINDS[fault.unit], f"{fault.message} {fault.remedy}"
        with shown_in(model.scene.style):
            assert any(text in told for text in shown(abs(fault.measured - fault.limit), kind)), told


@pytest.mark.parametrize("rule", RULES)
def test_a_fault_lies_where_its_parts_are(rule):
    """In the box round the parts that it names, to a millimetre."""
    model, found = faults(rule)
    for fault in found:
        if fault.at is None:
            continue
        bodies = [body for name in fault.parts for body in model.bodies_of(name)]
        if not bodies:
            continue
        low = np.min([body.solid.bounds[0] for body in bodies], axis=0)
        high = np.max([body.solid.bounds[1] for body in bodies], axis=0)
        away = np.maximum(np.maximum(low - fault.at, np.asarray(fault.at) - high), 0.0)
        assert np.linalg.norm(away) <= BESIDE.get(rule, 0.001), (fault.at, low, high, fault.parts)
