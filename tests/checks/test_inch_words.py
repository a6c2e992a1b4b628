"""A scene in inches is spoken to in inches: no message, remedy or note of a finding tells a metric figure."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from layout3d.checks.examine import examine
from layout3d.checks.registry import rules
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
METRIC = re.compile(
    r"(?<![/\d.,])\d[\d.,]* (m|mm|µm|L|mL|L/h|L/h/m|m/s|m²|mm²|m³|m³/s|kg|g|N|Pa|kPa)(?![\w/])"
)
"""A metric figure; a name such as that of a 12/16 mm tube is none."""


@pytest.mark.parametrize("rule", rules())
def test_an_inch_scene_is_told_no_metric_figure(rule):
    model = build_model(replace(read_scene(FAULTY / f"{rule}.yaml"), style="inch"))
    found = examine(model)
    assert found
    for one in found:
        for text in (one.message, one.remedy, *one.also):
            assert not METRIC.search(text), text
