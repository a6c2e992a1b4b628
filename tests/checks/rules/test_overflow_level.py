"""The running level against rim, brace and waterline."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from layout3d.band import Band
from layout3d.checks.rules.overflow_level import _to_rim
from layout3d.model.build import build_model
from layout3d.outage.circuit import circuit
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[3] / "scenes" / "faulty"
RULE = "overflow-level"


@pytest.mark.parametrize(
    ("tall", "severity"), [(312, None), (318, "warning"), (340, "warning"), (345, "fault")]
)
def test_to_the_rim(faulty, tall, severity):
    """A rim of 36.2 mm takes 3.7 mm of head for some 250 L/h; the high figure is a millimetre more."""
    found = [f for f in faulty(RULE, tall=tall) if "waterline" not in f.message]
    if severity is None:
        assert found == []
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured <= 0.025


def test_a_scene_says_how_many_slots_leaves_may_stop(faulty_text):
    """A sound scene has room for a third; with every slot stopped the water stands at the rim."""
    sound = ("level: 90", "level: 150")
    assert [f for f in faulty_text("fill-line", sound) if f.rule == RULE] == []
    (finding,) = [
        f
        for f in faulty_text("fill-line", sound, ("waterline:", "limits: {slots_stopped: 1}\nwaterline:"))
        if f.rule == RULE
    ]
    assert "99% of the slots stopped" in finding.message
    assert finding.measured == pytest.approx(0.0)


@pytest.mark.parametrize(("waterline", "told"), [(186, 1), (187, 0), (194, 0), (200, 0), (201, 1)])
def test_to_the_waterline(faulty_text, waterline, told):
    """A sound scene runs at 191.7 to 195.7 mm; 5 mm more or less are let be (limit waterline_to_overflow)."""
    found = faulty_text(
        "fill-line", ("level: 90", "level: 150"), ("waterline: 194", f"waterline: {waterline}")
    )
    found = [f for f in found if f.rule == RULE]
    assert [f.severity for f in found] == ["warning"] * told
    for finding in found:
        assert finding.limit == 0.005
        assert 0.005 < finding.measured < 0.0065
        # the likely level lies within: the intake goes up to a waterline above it, down to one below
        by, way = re.search(r"([\d.]+) mm (higher|lower)", finding.remedy).groups()
        assert way == ("higher" if waterline > 195.7 else "lower")
        assert finding.measured < float(by) / 1000 < finding.measured + 0.004


def test_a_brace_comes_before_the_rim(faulty_text):
    """The brace's lower face lies 40 mm below the rim; the water at its high figure 16 mm below it."""
    brace = ("glass: 10\n", "glass: 10\n    perimeter_brace: {width: 50, thickness: 40}\n")
    found = faulty_text(RULE, brace, ("tall: 346", "tall: 290"), ("waterline: 194", "waterline: 394"))
    (finding,) = [f for f in found if f.rule == RULE]
    assert "the lower face of the brace" in finding.message
    assert finding.severity == "warning"
    assert 0.010 < finding.measured < 0.018


def test_slots_stopped_count_in_the_margin_to_the_rim():
    """By hand: 250 mm less 228 mm with one slot in three stopped leaves 22 mm, 3 mm short of 25 mm."""
    model = build_model(read_scene(FAULTY / f"{RULE}.yaml", overrides={"tall": "300 mm"}))
    levels = {"level": Band.exact(0.200), "level_stopped": Band.exact(0.228), "spill": 0.250, "brace": None}
    (finding,) = _to_rim(model, replace(circuit(model), **levels))
    assert finding.measured == pytest.approx(0.022)
    assert "with 33% of the slots stopped, leaves 22 mm" in finding.message
    assert (
        tuple(_to_rim(model, replace(circuit(model), **levels | {"level_stopped": Band.exact(0.224)}))) == ()
    )
