"""Head lost is told by how much runs, whichever way a stretch was laid."""

from types import SimpleNamespace

import pytest

from layout3d.band import Band
from layout3d.report.flow import _stretch


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_flow_against_its_stretch_is_no_less_than_none(way):
    flow = Band.around(way * 1270 / 3.6e6, 0.01)
    one = SimpleNamespace(
        link=SimpleNamespace(name="header.second.branch", kind="tee"),
        flow=flow,
        velocity=Band.exact(0.93),
        loss=Band.exact(0.077),
        share=0.035,
    )
    assert _stretch(one)[2] == "1,270 L/h"
