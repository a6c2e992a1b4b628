"""Findings of all rules together: sorted, accepted, and never silently missing."""

from dataclasses import replace

import pytest

from layout3d.checks import examine as module
from layout3d.checks.base import Finding, Rule, rule
from layout3d.checks.examine import examine
from layout3d.checks.registry import rules
from layout3d.errors import OutOfRange


def test_every_rule_says_what_it_asks_in_a_sentence():
    for name, found in rules().items():
        assert isinstance(found, Rule)
        assert found.name == name == name.lower()
        assert found.asks[0].isupper()
        assert found.asks.endswith(".")


def test_faults_come_first_and_the_largest_miss_before_the_others(model_of):
    hole = "{panel: back, left: LEFT, bottom: 250, diameter: WIDE}"
    holes = f"far: {hole.replace('LEFT', '300').replace('WIDE', '8')}, "
    holes += f"near: {hole.replace('LEFT', '100').replace('WIDE', '3')}"
    found = examine(model_of("", holes=holes, waterline=395), only=("hole-size", "freeboard"))
    assert [(f.rule, f.severity) for f in found] == [
        ("hole-size", "fault"),
        ("hole-size", "fault"),
        ("freeboard", "warning"),
    ]
    assert found[0].parts[-1] == "near"


def test_a_miss_is_a_share_of_the_larger_of_measure_and_limit():
    finding = Finding(
        rule="x", severity="fault", parts=(), message="", remedy="", measured=3.0, limit=4.0, unit="m"
    )
    assert finding.miss == pytest.approx(0.25)
    assert replace(finding, measured=8.0).miss == pytest.approx(0.5)
    assert replace(finding, limit=0.0).miss == pytest.approx(1.0)
    assert replace(finding, measured=None).miss == 0.0


def test_a_figure_that_can_not_be_computed_is_a_finding(model_of, monkeypatch):
    @rule("of-no-range", asks="Nothing.")
    def refused(model):
        raise OutOfRange("a pipe as wide as a street", expected="a pipe of the table", remedy="ask a town")
        yield

    monkeypatch.setattr(module, "rules", lambda: {"of-no-range": refused})
    (finding,) = examine(model_of(""))
    assert (finding.rule, finding.severity) == ("of-no-range", "fault")
    assert finding.message == "could not be judged: a pipe as wide as a street (expected a pipe of the table)"
    assert finding.remedy == "ask a town"


ACCEPT = "accept: [{{rule: hole-size, parts: [{parts}], why: it is there already}}]\n"


@pytest.mark.parametrize("parts", ["air", "tank.air", "tank", "tank.back", "air, tank.back"])
def test_a_hole_is_accepted_by_any_of_its_names(model_of, parts):
    holes = "air: {panel: back, left: 300, bottom: 250, bulkhead: 1/2 in thin, diameter: 28}"
    model = model_of("", holes=holes, more=ACCEPT.format(parts=parts))
    (finding,) = examine(model, only=("hole-size",))
    assert finding.severity == "note"


def test_all_the_parts_of_an_entry_have_to_be_in_the_finding(model_of):
    holes = "air: {panel: back, left: 300, bottom: 250, diameter: 8}"
    model = model_of("", holes=holes, more=ACCEPT.format(parts="air, tank.left"))
    (finding,) = examine(model, only=("hole-size",))
    assert finding.severity == "fault"
