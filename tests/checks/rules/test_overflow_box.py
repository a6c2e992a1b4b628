"""Overflow boxes: two drains in them, a crest at the waterline, a fall behind it, room for a hand."""

import pytest

RULE = "overflow-box"
BOX = (
    "box: {kind: overflow_box, panel: back, left: 0, width: WIDTH, depth: 150, top: 325, level: LEVEL, "
    "weir: {depth: 25, slot: 6, tooth: 4}}\n"
)
MAIN = "main: {panel: bottom, left: 50, back: 60, bulkhead: d20}"
SECOND = "second: {panel: bottom, left: 120, back: 60, bulkhead: d20}"
BOTH = f"{MAIN}, {SECOND}"


@pytest.fixture
def found(check):
    """Run the rule over a box whose inside is 174 by 144 mm, its crest at 300 mm, water in it at 220."""

    def run(holes=BOTH, more="", *, width=180, level=220, waterline=300):
        box = BOX.replace("WIDTH", str(width)).replace("LEVEL", str(level))
        return check(RULE, box + more, holes=holes, waterline=waterline)

    return run


# -- drains -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("holes", "severity", "count"),
    [
        (BOTH, None, 2),
        (MAIN, "warning", 1),
        ("", "fault", 0),
        (f"{MAIN}, {SECOND.replace('d20', 'd20, plugged: true')}", "warning", 1),
        (f"{MAIN}, cable: {{panel: bottom, left: 120, back: 60, diameter: 20}}", "warning", 1),
        (f"{MAIN}, aside: {{panel: bottom, left: 300, back: 60, bulkhead: d20}}", "warning", 1),
    ],
)
def test_a_box_walls_off_two_drains(found, holes, severity, count):
    """A plug, a hole without a bulkhead and one beside the box are none."""
    told = found(holes)
    assert [one.severity for one in told] == ([severity] if severity else [])
    for one in told:
        assert (one.measured, one.limit, one.unit, one.parts) == (float(count), 2.0, "1", ("box",))
        assert one.at == pytest.approx((0.087, 0.328, 0.0))  # the middle of its floor
        assert ("one drain, main" in one.message) == (count == 1)
        assert ("no drain" in one.message) == (count == 0)


@pytest.mark.parametrize(("end", "count"), [("open", 0), ("strainer", 0), ("cap", 1)])
def test_a_capped_standpipe_is_no_drain(found, end, count):
    runs = "".join(
        f"{name}_in: {{PIPE, start: {name}.inside, route: [{{up: 200}}, {stop}]}}\n"
        f"{name}_out: {{PIPE, start: {name}.outside, route: [{{down: 200}}, open]}}\n"
        for name, stop in (("main", "open"), ("second", end))
    )
    told = [one for one in found(more=runs) if one.unit == "1"]
    assert [one.measured for one in told] == [1.0] * count


@pytest.mark.parametrize(("across", "count"), [(100, 1), (250, 0)])
def test_a_pump_that_fills_the_box_brings_the_tank_nothing(found, across, count):
    """It stands in the tank, and its pipe ends over the box or past it."""
    pump = (
        "pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 400, back: 75, bottom: 0}}\n"
        "up: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 320}, "
        f"{{until: left, reach: [{across}, 0, 0]}}, {{down: 60}}, open]}}\n"
    )
    told = [finding for finding in found(more=pump) if "pumped water" in finding.message]
    assert len(told) == count
    assert all(finding.severity == "fault" and finding.parts == ("up", "box") for finding in told)


def test_the_hole_of_a_return_is_no_drain(found):
    """A pump on the other side of it brings water up."""
    more = """
sump: {SUMP, at: [0, 0, -600], inside: [450, 350, 300], compartments: [{name: a, level: 150}]}
pump: {PUMP, outlet: d20 pn 16, at: {in: sump.a, left: 200, front: 100, bottom: 0}}
up: {PIPE, start: pump.outlet, route: [{up: 60}, {until: left, reach: second.outside},
  {until: back, reach: second.outside}, {join: second.outside}]}
"""
    told = [one for one in found(more=more) if one.unit == "1"]
    assert [(one.severity, one.measured) for one in told] == [("warning", 1.0)]


# -- crest and fall -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("waterline", "severity", "measured", "limit"),
    [
        (300, None, None, None),
        (295.1, None, None, None),
        (294.9, "warning", -0.0051, -0.005),
        (325, None, None, None),
        (325.1, "fault", 0.0001, 0.0),
    ],
)
def test_the_waterline_lies_between_the_crest_and_the_top(found, waterline, severity, measured, limit):
    told = found(waterline=waterline)
    assert [one.severity for one in told] == ([severity] if severity else [])
    for one in told:
        assert one.measured == pytest.approx(measured, abs=1e-9)
        assert one.limit == limit
        assert one.at[2] == pytest.approx(0.300)  # on the crest
        assert "300 mm" in one.remedy
        assert ("is 5.1 mm below" if severity == "warning" else "is 0.1 mm above") in one.message


@pytest.mark.parametrize(
    ("level", "severity"),
    [(275, None), (275.1, "warning"), (299.9, "warning"), (300, "fault"), (301, "fault")],
)
def test_water_falls_into_the_box(found, level, severity):
    """25 mm from the crest at 300 mm are asked for (limit overflow_box_fall)."""
    told = found(level=level)
    assert [one.severity for one in told] == ([severity] if severity else [])
    for one in told:
        assert one.measured == pytest.approx((300 - level) / 1000, abs=1e-9)
        assert one.limit == 0.025
        assert one.parts == ("box",)


STANDPIPES = """
main_in: {PIPE, start: main.inside, route: [{until: up, reach: [0, 0, MAIN]}, open]}
main_out: {PIPE, start: main.outside, route: [{down: 200}, open]}
second_in: {PIPE, start: second.inside, route: [{until: up, reach: [0, 0, SECOND]}, open]}
second_out: {PIPE, start: second.outside, route: [{down: 200}, open]}
"""


@pytest.mark.parametrize(
    ("main", "second", "limit", "fall"),
    [
        (219, 260, None, None),
        (240, 260, 0.240, None),
        (260, 240, 0.240, None),
        (285, 290, 0.285, 0.015),
    ],
)
def test_water_in_the_box_is_set_no_lower_than_its_lowest_drain(found, main, second, limit, fall):
    """Water at 220 mm never gets over a rim at 240; the fall is judged by what the drain holds."""
    more = STANDPIPES.replace("MAIN", str(main)).replace("SECOND", str(second))
    told = found(more=more)
    low = [one for one in told if "lowest drain" in one.message]
    assert [(one.severity, one.measured) for one in low] == [("warning", pytest.approx(0.220))] * bool(limit)
    for one in low:
        assert one.limit == pytest.approx(limit)
        assert f"{1000 * (limit - 0.220):.0f} mm below" in one.message
        assert f"{1000 * limit:.0f} mm or more" in one.remedy
    falls = [one for one in told if "free fall" in one.message]
    assert [one.measured for one in falls] == ([pytest.approx(fall)] if fall else [])


@pytest.mark.parametrize(
    ("rim", "valve", "count"),
    [(204, "", 0), (202, "", 1), (100, "", 1), (100, "{gate_valve: 0.5}, {down: 200}, ", 0)],
)
def test_water_in_the_box_is_set_no_higher_than_an_open_drain_holds_it(found, rim, valve, count):
    """Over the rim of d20 PN 16 water stands no higher than its bore of 17 mm; behind a valve it may."""
    more = STANDPIPES.replace("MAIN", str(rim)).replace("SECOND", "260")
    told = found(
        more=more.replace(
            "start: main.outside, route: [{down: 200}, ",
            f"start: main.outside, route: [{{down: 200}}, {valve}",
        )
    )
    assert [one.limit for one in told] == [pytest.approx((rim + 17) / 1000)] * count
    for one in told:
        assert f"{220 - rim} mm above where its lowest drain lets it in" in one.message


# -- room ---------------------------------------------------------------------------------------------------


def flange(model_of):
    return model_of("", holes=MAIN).tank.holes["main"].flange_diameter * 1000


@pytest.mark.parametrize(
    ("beside", "severity"), [(5.1, None), (4.9, "warning"), (0.1, "warning"), (-0.1, "fault")]
)
def test_a_flange_has_room_beside_it_to_each_pane(found, model_of, beside, severity):
    """Left glass, back glass, the pane of the box at 174 mm and that in front of it, 144 mm from the back."""
    away = flange(model_of) / 2 + beside
    for place in (
        f"left: {away}, back: 60",
        f"left: 50, back: {away}",
        f"left: {174 - away}, back: 60",
        f"left: 120, back: {144 - away}",
    ):
        told = found(f"tight: {{panel: bottom, {place}, bulkhead: d20}}")
        told = [one for one in told if one.unit == "m"]
        assert [one.severity for one in told] == ([severity] if severity else []), place
        for one in told:
            assert one.measured == pytest.approx(beside / 1000, abs=1e-6)
            assert one.limit == 0.005
            assert one.parts == ("box", "tight")


@pytest.mark.parametrize(("beside", "count"), [(5.1, 0), (4.9, 1)])
def test_a_hole_in_the_wall_behind_it_is_judged_by_the_panes_beside_it_and_the_floor(
    found, model_of, beside, count
):
    away = flange(model_of) / 2 + beside
    for place in (
        f"left: {away}, bottom: 100",
        f"left: {174 - away}, bottom: 100",
        f"left: 87, bottom: {away}",
    ):
        told = found(f"tight: {{panel: back, {place}, bulkhead: d20}}")
        told = [one for one in told if one.unit == "m"]
        assert [one.measured for one in told] == pytest.approx([beside / 1000] * count, abs=1e-6), place


@pytest.mark.parametrize(
    ("width", "severity"), [(106.1, None), (105.9, "warning"), (51.1, "warning"), (50.9, "fault")]
)
def test_a_hand_gets_into_it(found, width, severity):
    """Inside it is a pane of 6 mm narrower: 100 mm for a hand, 45 mm for a flat one."""
    told = [one for one in found("", width=width) if one.unit == "m"]
    assert [one.severity for one in told] == ([severity] if severity else [])
    for one in told:
        assert one.measured == pytest.approx((width - 6) / 1000, abs=1e-9)
        assert one.limit == 0.100


def test_a_box_between_two_walls_is_measured_inside_its_own_panes(check):
    """Away from the corners: 200 mm less two panes of 6 wide, 105.9 less one deep; 99.9 for a hand."""
    box = BOX.replace("WIDTH", "200").replace("LEVEL", "220").replace("left: 0", "left: 250")
    told = [
        one
        for one in check(RULE, box.replace("depth: 150", "depth: 105.9"), waterline=300)
        if one.unit == "m"
    ]
    assert [one.measured for one in told] == pytest.approx([0.0999])
    assert [one for one in check(RULE, box, waterline=300) if one.unit == "m"] == []
