"""Rubber couplings on a pump's pipework: a warning where they hold, a fault where the pump presses more."""

from pathlib import Path

import pytest

from layout3d.checks.rules.drain_only import drain_only
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).parents[3] / "scenes" / "faulty" / "drain-only.yaml"


def found(*, limit="", **values):
    text = FAULTY.read_text(encoding="utf-8") + (f"limits: {{drain_only_head: {limit}}}\n" if limit else "")
    return list(drain_only.find(build_model(read_scene(FAULTY, text=text, overrides=values))))


def test_the_head_is_what_the_pump_presses_with_its_end_shut():
    """Shut-off head 3.6 m over 300 mm of water, less the coupling's height; head goes with speed²."""
    (full,) = found()
    (slow,) = found(pump_speed="50 %")
    assert full.severity == "fault"
    assert slow.severity == "warning"
    assert full.measured - slow.measured == pytest.approx(3.6 * (1 - 0.5**2), abs=1e-9)
    height = full.at[2]
    assert full.measured == pytest.approx(3.6 + 0.3 - height, abs=0.01)


@pytest.mark.parametrize(("more", "severity"), [(0.001, "warning"), (-0.001, "fault")])
def test_just_either_side_of_what_it_holds(more, severity):
    (once,) = found()
    (finding,) = found(limit=f"{1000 * (once.measured + more)} mm")
    assert finding.severity == severity


def test_on_a_drain_it_is_at_home():
    scene = FAULTY.parents[1] / "drains.yaml"
    assert list(drain_only.find(build_model(read_scene(scene)))) == []
