"""Drip holes that clog."""

from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import drip_clog as module

RULE = "drip-clog"


@pytest.mark.parametrize(
    ("diameter", "severity", "limit"),
    [(2.0, None, None), (1.99, "warning", 0.002), (1.0, "warning", 0.002), (0.99, "fault", 0.001)],
)
def test_either_side_of_each_limit(faulty, diameter, severity, limit):
    found = faulty(RULE, diameter=diameter)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.limit) == (severity, limit)
        assert finding.measured == pytest.approx(diameter / 1000)
        assert "10 of 10 drip holes" in finding.message


def test_the_smallest_of_several_holes_is_told_and_each_pipe_by_itself(monkeypatch):
    """2 mm wanted and 1 mm at least: of 1.5, 0.8, 2 and 3 mm two clog; the second pipe's are wide enough."""

    def pipe(name, *diameters):
        holes = [SimpleNamespace(diameter=one / 1000, at=(one, 0.0, 0.0)) for one in diameters]
        return SimpleNamespace(body=name, holes=tuple(holes))

    run = SimpleNamespace(elements=(pipe("a"), pipe("b", 2, 3), pipe("c", 1.5, 0.8, 2, 3), pipe("d", 1, 3)))
    monkeypatch.setattr(module, "runs", lambda model: [("bar", run)])
    model = made_model(drip_hole_diameter=0.002, drip_hole_diameter_least=0.001)
    first, second = module.clogging_holes.find(model)
    assert (first.severity, first.parts, first.at) == ("fault", ("c",), (0.8, 0.0, 0.0))
    assert (first.measured, first.limit) == pytest.approx((0.0008, 0.001))
    assert first.message == (
        "2 of 4 drip holes of c clog: the smallest is 0.8 mm, 0.2 mm short of 1 mm (limit "
        "drip_hole_diameter_least)"
    )
    assert first.remedy.startswith("drill bar with 2 mm or more, ")
    assert (second.severity, second.parts, second.limit) == ("warning", ("d",), 0.002)
    assert second.message.startswith("1 of 2 drip holes of d clog: the smallest is 1 mm, 1 mm short of 2 mm ")
