"""Findings of all rules together: sorted, accepted, and never silently missing."""

from dataclasses import replace

import pytest

from layout3d.checks import examine as module
from layout3d.checks.base import Finding, Rule, rule, rules
from layout3d.checks.examine import examine
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


def test_what_several_rules_lack_is_told_once_and_by_each_alone(model_of, monkeypatch):
    """A flood rule run by itself must not pass in silence because another one would have told why."""

    def refused(model):
        raise OutOfRange("no loss is known")
        yield

    two = {name: rule(name, asks="Nothing.")(refused) for name in ("a-level", "b-margin")}
    monkeypatch.setattr(module, "rules", lambda: two)
    (finding,) = examine(model_of(""))
    assert finding.rule == "a-level"
    assert finding.also == ("b-margin: could not be judged for the same reason",)
    (alone,) = examine(model_of(""), only=("b-margin",))
    assert (alone.rule, alone.severity, alone.also) == ("b-margin", "fault", ())


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


PUMP_IN_GLASS = "pump: {PUMP, clear: 100, at: {left: 300, back: 23, bottom: 0}, fixed_to: tank.bottom}"


def test_what_follows_from_an_overlap_is_told_under_it_and_counted_once(model_of):
    """A pump 50 mm wide, 2 mm into the glass: it is also outside, and the glass in the room for its hose."""
    model = model_of(PUMP_IN_GLASS, waterline=300, tank="BOX, silicone: 0")
    asked = ("overlap", "outside", "keep-clear")
    (finding,) = examine(model, only=asked)
    assert (finding.rule, finding.severity) == ("overlap", "fault")
    assert sorted(told.split(":")[0] for told in finding.also) == ["keep-clear", "outside"]
    assert {f.rule for name in asked[1:] for f in examine(model, only=(name,))} == set(asked[1:])


def test_what_follows_from_an_accepted_overlap_is_not_hidden_under_a_note(model_of):
    more = "accept: [{rule: overlap, parts: [pump], why: it is filed off there}]\n"
    found = examine(
        model_of(PUMP_IN_GLASS, waterline=300, tank="BOX, silicone: 0", more=more),
        only=("overlap", "outside"),
    )
    assert [(f.rule, f.severity, f.also) for f in found] == [
        ("outside", "fault", ()),
        ("overlap", "note", ()),
    ]
