"""Sizes of drilled holes."""

from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import hole_size as module

RULE = "hole-size"


@pytest.mark.parametrize(
    ("diameter", "severity", "measured"),
    [
        (10, None, None),
        (9.99, "fault", 0.00999),
    ],
)
def test_either_side_of_each_limit(faulty, diameter, severity, measured):
    """One thickness of the glass at least (limit glass_hole_least_thicknesses)."""
    found = faulty(RULE, diameter=diameter)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(("diameter", "count"), [(133.3, 0), (133.4, 1)])
def test_a_third_of_the_narrow_side_at_most(check, diameter, count):
    found = check(RULE, holes=f"hole: {{panel: back, left: 300, bottom: 200, diameter: {diameter}}}")
    assert [f.severity for f in found] == ["warning"] * count


def test_a_floor_on_its_corner_is_as_wide_as_its_sides_are_apart(check):
    """A square of 424.3 mm sides within a box of 600 mm, glass 10 mm outside of each: 444.3 mm across."""
    tank = "DIAMOND"
    (finding,) = check(RULE, tank=tank, holes="hole: {panel: bottom, left: 300, front: 300, diameter: 149}")
    assert finding.limit == pytest.approx(0.3333 * (0.3 * 2**0.5 + 0.020))


@pytest.mark.parametrize(("diameter", "measured"), [(28.1, []), (28.05, [0.00095])])
def test_a_bulkhead_wants_slack_around_its_thread(check, diameter, measured):
    """A thread of 27.1 mm and 1 mm around it (limit bulkhead_hole_slack)."""
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: 1/2 in thin, diameter: {diameter}}}"
    found = check(RULE, holes=holes)
    assert [f.measured for f in found] == pytest.approx(measured)


@pytest.mark.parametrize(("diameter", "measured"), [(36, []), (36.1, [0.00395]), (44.2, [-0.0001])])
def test_flange_and_nut_cover_the_glass_around_the_hole(check, diameter, measured):
    """The nut of 44 mm is the smaller one; 4 mm all round (limit bulkhead_cover)."""
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: 1/2 in thin, diameter: {diameter}}}"
    found = check(RULE, holes=holes)
    assert [f.measured for f in found] == pytest.approx(measured)


@pytest.mark.parametrize(("glass", "count"), [(30, 0), (31, 1)])
def test_the_thread_grips_glass_of_a_stated_range(check, glass, count):
    """5 to 30 mm, as long as the thread is long enough (catalogue of bulkheads)."""
    tank = f"kind: tank, inside: [900, 600, 400], glass: {glass}"
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: 3 in heavy}"
    found = check(RULE, tank=tank, holes=holes)
    assert [f.measured for f in found] == pytest.approx([glass / 1000] * count)


def judged(monkeypatch, *, glass=0.010, diameter=0.030, narrow=0.4, bulkhead="a"):
    """Run the rule over one hole for a bulkhead with a thread of 27 mm that grips 5 to 30 mm of glass."""
    entry = SimpleNamespace(
        name="a",
        thread_diameter=0.027,
        hole_diameter=0.029,
        flange_diameter=0.046,
        nut_diameter=0.044,
        grip_range=(0.005, 0.030),
    )
    hole = SimpleNamespace(name="hole", diameter=diameter, at=(0.1, 0.2, 0.3), bulkhead=bulkhead)
    panel = SimpleNamespace(body="tank.back", thickness=glass, narrow=narrow)
    monkeypatch.setattr(module, "holes", lambda model: [(hole, panel)])
    model = made_model(
        glass_hole_least_thicknesses=1.5,
        glass_hole_most_of_side=0.25,
        bulkhead_hole_slack=0.001,
        bulkhead_cover=0.004,
    )
    model.scene.catalog.bulkhead = lambda name: entry
    return list(module.hole_sizes.find(model))


@pytest.mark.parametrize(("glass", "limit"), [(0.005, None), (0.0049, 0.005), (0.020, None), (0.0301, 0.030)])
def test_glass_too_thin_or_too_thick_for_the_thread(monkeypatch, glass, limit):
    found = [one for one in judged(monkeypatch, glass=glass) if "grips" in one.message]
    assert [(one.measured, one.limit) for one in found] == ([(glass, limit)] if limit else [])
    for one in found:
        assert (one.parts, one.at) == (("tank.back", "hole"), (0.1, 0.2, 0.3))
        assert one.message == (f"a a bulkhead grips glass of 5 mm to 30 mm, tank.back is {1000 * glass:g} mm")
        assert one.remedy == (
            "put a washer under the nut" if limit == 0.005 else "use a bulkhead with a longer thread"
        )


@pytest.mark.parametrize(
    ("more", "severity", "limit"),
    [
        ({"glass": 0.020}, None, None),  # 1.5 times 20 are 30 mm
        ({"glass": 0.0201}, "fault", 0.03015),
        ({"narrow": 0.120}, None, None),  # a quarter is 30 mm
        ({"narrow": 0.1199}, "warning", 0.029975),
        ({"diameter": 0.028}, None, None),
        ({"diameter": 0.0279}, "fault", 0.001),
        ({"diameter": 0.036}, None, None),  # the nut of 44 is narrower than the flange: 4 mm on each side
        ({"diameter": 0.0361}, "fault", 0.004),
        ({"diameter": 0.0279, "bulkhead": ""}, None, None),
    ],
)
def test_each_limit_of_a_hole(monkeypatch, more, severity, limit):
    found = judged(monkeypatch, **more)
    assert [(one.severity, pytest.approx(one.limit)) for one in found] == (
        [(severity, limit)] if severity else []
    )


def test_what_is_wrong_with_a_hole_is_told_in_full(monkeypatch):
    told = [one.message for one in judged(monkeypatch, glass=0.024, diameter=0.0345, narrow=0.1)]
    assert told == [
        "hole is 34.5 mm wide in a pane 24 mm thick: 1.5 mm short of 36 mm (limit "
        "glass_hole_least_thicknesses)",
        "hole is 34.5 mm wide in a pane 100 mm across: 9.5 mm over 25 mm (limit glass_hole_most_of_side)",
    ]
    slack, cover = judged(monkeypatch, diameter=0.0275), judged(monkeypatch, diameter=0.046)
    assert slack[0].message.startswith("hole leaves 0.5 mm around the thread of a a bulkhead: 0.5 mm short")
    assert slack[0].remedy == "drill 28 mm or more; measure your own bulkhead first"
    assert cover[0].message.startswith("the nut of a a bulkhead falls through hole: 5 mm short of 4 mm")
    assert cover[0].remedy == "drill 29 mm, or use a wider bulkhead"
