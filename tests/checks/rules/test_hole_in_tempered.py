"""Holes in toughened panes."""

import pytest

RULE = "hole-in-tempered"


@pytest.mark.parametrize("panel", ["front", "back", "left", "right"])
def test_a_hole_counts_in_its_own_pane_alone(check, panel):
    side = "left" if panel in ("front", "back") else "front"
    holes = f"hole: {{panel: {panel}, {side}: 200, bottom: 200, diameter: 35}}"
    tank = f"BOX, tempered: [{panel}]"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.severity == "fault"
    assert finding.parts == (f"tank.{panel}", "hole")
    others = ", ".join(name for name in ("front", "back", "left", "right", "bottom") if name != panel)
    assert check(RULE, tank=tank.replace(f"[{panel}]", f"[{others}]"), holes=holes) == ()
