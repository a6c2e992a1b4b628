"""The waterline under the top of the glass."""

import pytest

RULE = "freeboard"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        ("381.4 mm", None, None),
        ("381.5 mm", "warning", 0.0249),
        ("406.3 mm", "warning", 0.0001),
        ("406.4 mm", "fault", 0.0),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """A tank 16 in (406.4 mm) high, 25 mm to be left (limit freeboard)."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(("waterline", "count"), [(300, 0), (300.1, 1)])
def test_water_at_the_brace_is_a_warning(check, waterline, count):
    tank = "BOX, perimeter_brace: {width: 50, thickness: 10, below_top: 90}"
    found = check(RULE, tank=tank, waterline=waterline)
    assert [f.severity for f in found] == ["warning"] * count
    assert [f.measured for f in found] == pytest.approx([-0.0001] * count)


def test_the_place_is_the_middle_of_the_water_and_the_miss_is_told(check):
    """A box of 600 by 400 by 400 mm, 25 mm to be left."""
    (near,) = check(RULE, waterline=380)
    assert near.at == pytest.approx((0.3, 0.2, 0.38))
    assert near.message == (
        "the waterline leaves 20 mm to the glass's top edge: 5 mm short of 25 mm (limit freeboard)"
    )
    assert near.remedy == "lower the waterline by 5 mm"


def test_water_over_the_brace_is_told_by_how_much(check):
    """The strip's lower face 400 - 90 - 10 = 300 mm over the floor."""
    tank = "BOX, perimeter_brace: {width: 50, thickness: 10, below_top: 90}"
    (one,) = check(RULE, tank=tank, waterline=312)
    assert (one.parts, one.limit) == (("tank.perimeter_brace",), 0.0)
    assert one.at == pytest.approx((0.3, 0.2, 0.312))
    assert one.message.startswith("the waterline is 12 mm above the lower face of tank.perimeter_brace: ")
    assert one.remedy == "lower the waterline by 12 mm"
