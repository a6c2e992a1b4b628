"""Which limits each rule judges by: every limit of the catalogue is used, and read where it is said to be."""

from dataclasses import replace
from pathlib import Path

from layout3d.catalog import default
from layout3d.catalog.catalog import Catalog
from layout3d.checks.limits_of import TOLD_LIMITS, limits_of
from layout3d.checks.registry import rules
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene


def test_every_limit_is_judged_by_a_rule_or_told_with_the_figures():
    used = {name for rule in rules().values() for name in limits_of(rule)}
    assert not used & set(TOLD_LIMITS)
    assert used | set(TOLD_LIMITS) == set(default().names("limits"))


def test_rules_name_their_own_limits():
    known = rules()
    assert limits_of(known["pipe-to-glass"]) == ("pipe_to_glass", "pipe_to_glass_least")
    assert "freeboard" in limits_of(known["freeboard"])
    assert "glass_hole_edge_diameters" in limits_of(known["hole-edge-distance"])
    assert limits_of(known["hole-in-tempered"]) == ()


def test_what_a_rule_reads_while_it_runs_is_listed(monkeypatch):
    scene = Path(__file__).with_name("clean.yaml")
    read: set[str] = set()
    limit = Catalog.limit

    def noted(self, name):
        read.add(name)
        return limit(self, name)

    model = build_model(read_scene(scene))
    monkeypatch.setattr(Catalog, "limit", noted)
    for name, rule in rules().items():
        read.clear()
        list(rule.find(replace(model)))
        # read as the pipework is, and by the events, whichever rule asks first
        from_flow = {"top_up_interval", "sump_margin", "water_cover", "port_gap"}
        assert read - from_flow <= set(limits_of(rule)), name
