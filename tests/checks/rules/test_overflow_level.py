"""The running level against rim, brace and waterline."""

import pytest
from made_outages import band, made_circuit, made_drain, made_model

from layout3d.band import Band
from layout3d.checks.rules import overflow_level as module

RULE = "overflow-level"


@pytest.mark.parametrize(("tall", "severity"), [(312, None), (318, "warning"), (345, "fault")])
def test_to_the_rim(faulty, tall, severity):
    """A rim of 36.2 mm takes 3.7 mm of head for some 250 L/h; the high figure is a millimetre more."""
    found = [f for f in faulty(RULE, tall=tall) if "waterline" not in f.message]
    if severity is None:
        assert found == []
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured <= 0.025


def test_a_scene_says_how_many_slots_leaves_may_stop(faulty_text):
    """A sound scene has room for a third; with every slot stopped the water stands at the rim."""
    sound = ("level: 90", "level: 150")
    assert faulty_text(RULE, sound, scene="fill-line") == ()
    stopped = ("waterline:", "limits: {slots_stopped: 1}\nwaterline:")
    (finding,) = faulty_text(RULE, sound, stopped, scene="fill-line")
    assert "99% of the slots stopped" in finding.message
    assert finding.measured == pytest.approx(0.0)


def test_a_brace_comes_before_the_rim(faulty_text):
    """The brace's lower face lies 40 mm below the rim; the water at its high figure 16 mm below it."""
    brace = ("others: 10}\n", "others: 10}\n    perimeter_brace: {width: 50, thickness: 40}\n")
    raised = ("waterline: 194", "waterline: 394")
    (finding,) = faulty_text(RULE, brace, ("tall: 346", "tall: 290"), raised)
    assert "the lower face of the brace" in finding.message
    assert finding.severity == "warning"
    assert 0.010 < finding.measured < 0.018


def judged(monkeypatch, **more):
    """Run the rule over a drain whose likely level is 300 mm, 307 mm at the high figure, under a rim."""
    made = made_circuit(**more)
    monkeypatch.setattr(module, "circuit", lambda model: made)
    return list(module.overflow_level.find(made_model(overflow_to_rim=0.025, waterline_to_overflow=0.005)))


@pytest.mark.parametrize(
    ("spill", "brace", "severity", "left"),
    [
        (0.332, None, None, None),
        (0.3319, None, "warning", 0.0249),
        (0.3001, None, "warning", -0.0069),
        (0.300, None, "fault", -0.007),
        (0.5, 0.332, None, None),
        (0.5, 0.330, "warning", 0.023),
        (0.330, 0.331, "warning", 0.023),
    ],
)
def test_the_high_figure_warns_and_the_likely_one_is_a_fault(monkeypatch, spill, brace, severity, left):
    """25 mm to be left under the lower of rim and brace."""
    found = judged(monkeypatch, spill=spill, brace=brace, level_stopped=band(0.29, 0.3, 0.4))
    assert [(one.severity, one.measured) for one in found] == (
        [(severity, pytest.approx(left, abs=1e-9))] if severity else []
    )
    for one in found:
        assert (one.parts, one.limit) == (("standpipe", "down"), 0.025)
        assert one.at == pytest.approx((0.7, 0.35, 0.307))
        assert ("the lower face of the brace" in one.message) == (spill == 0.5)


def test_a_level_near_the_rim_is_told_in_full(monkeypatch):
    (one,) = judged(monkeypatch, level=Band.exact(0.3), spill=0.32, level_stopped=Band.exact(0.3))
    assert one.message == (
        "the running level, 300 mm likely and 300 mm at the high figure, leaves 20 mm to the rim of tank: 5 "
        "mm short of 25 mm (limit overflow_to_rim; a weir)"
    )
    assert one.remedy == "set the intake of overflow 5 mm lower, or make it larger"


def test_slots_stopped_count_in_the_margin_to_the_rim(monkeypatch):
    """By hand: 250 mm less 228 mm with one slot in three stopped leaves 22 mm, 3 mm short of 25 mm."""
    levels = {"level": Band.exact(0.200), "spill": 0.250, "waterline": 0.2}
    (one,) = judged(monkeypatch, level_stopped=band(0.21, 0.228, 0.24), **levels)
    assert one.measured == pytest.approx(0.022)
    assert "with 33% of the slots stopped, leaves 22 mm" in one.message
    assert judged(monkeypatch, level_stopped=Band.exact(0.224), **levels) == []
    # no way out at all with them stopped: the water stands at the rim
    (one,) = judged(monkeypatch, level_stopped=None, **levels)
    assert (one.severity, one.measured) == ("warning", 0.0)


SOUND = {"level_stopped": band(0.3, 0.3, 0.3)}


@pytest.mark.parametrize(
    ("waterline", "off"), [(0.2899, 0.0051), (0.290, None), (0.312, None), (0.3121, 0.0051)]
)
def test_a_waterline_outside_the_range_by_more_than_the_limit(monkeypatch, waterline, off):
    """The range is 295 to 307 mm; 5 mm beyond it are let be."""
    found = judged(monkeypatch, waterline=waterline, **SOUND)
    assert [one.measured for one in found] == ([pytest.approx(off, abs=1e-9)] if off else [])


def test_a_waterline_off_the_level_is_told_in_full(monkeypatch):
    level = band(0.299, 0.3, 0.301)
    (above,) = judged(monkeypatch, waterline=0.35, level=level, **SOUND)
    (below,) = judged(monkeypatch, waterline=0.26, level=level, **SOUND)
    assert (above.severity, above.parts, above.limit) == ("warning", ("standpipe", "down"), 0.005)
    assert (above.measured, below.measured) == pytest.approx((0.049, 0.039))
    assert above.at == pytest.approx((0.7, 0.35, 0.3))
    assert above.message == (
        "the waterline of 350 mm lies 49 mm above the range of the running level over overflow, 299 mm to "
        "301 mm (limit waterline_to_overflow, 5 mm; a weir)"
    )
    assert above.remedy == "set the waterline to 300 mm, or the intake of overflow 50 mm higher"
    assert "lies 39 mm below the range" in below.message
    assert below.remedy == "set the waterline to 300 mm, or the intake of overflow 40 mm lower"


def test_what_does_not_get_into_the_drain_runs_over(monkeypatch):
    """The crest at 290 mm, the rim at 500: 210 mm; 0.15 L/s are 540 L/h."""
    (one,) = judged(monkeypatch, overflows=True)
    assert (one.severity, one.parts, one.limit) == ("fault", ("standpipe", "down"), None)
    assert one.measured == pytest.approx(0.21)
    assert one.at == pytest.approx((0.7, 0.35, 0.5))
    assert one.message == (
        "540 L/h do not get into the drain 'overflow', whose rim of 36 mm has 210 mm from its crest to the "
        "rim of tank: the water runs over"
    )


def test_a_crest_over_the_rim_stands_over_it(monkeypatch):
    """The crest at 290 mm, the rim at 270."""
    (one,) = judged(monkeypatch, overflows=True, spill=0.27)
    assert one.measured == pytest.approx(-0.02)
    assert "whose rim of 36 mm stands 20 mm over the rim of tank: the water runs over" in one.message


@pytest.mark.parametrize("more", [{"flow": None}, {"flow": Band.exact(0.0)}, {"drains": ()}])
def test_without_flow_or_drain_it_says_nothing(monkeypatch, more):
    assert judged(monkeypatch, overflows=True, **more) == []


@pytest.mark.parametrize(("crest", "over"), [(0.499, None), (0.5, 0.0), (0.515, 0.015)])
def test_a_drain_that_begins_over_the_rim_takes_nothing(monkeypatch, crest, over):
    """The first one carries all, under a rim at 500 mm; the second was meant for the day that it blocks."""
    more = {"parts": ("pipe",), "at": (0.2, 0.3, crest), "crest": crest, "siphon_level": crest}
    drains = made_drain(), made_drain("second", **more)
    found = judged(monkeypatch, drains=drains, **SOUND)
    hangs = made_drain("hose", **more | {"siphon_level": 0.2})
    assert judged(monkeypatch, drains=(made_drain(), hangs), **SOUND) == []
    assert [(one.severity, one.parts) for one in found] == [("fault", ("pipe",))] * (over is not None)
    for one in found:
        assert one.measured == pytest.approx(-over)
        assert "over the rim of tank: it never takes any water" in one.message


@pytest.mark.parametrize(("waterline", "severity"), [(0.364, "warning"), (0.366, "fault")])
def test_a_waterline_whose_water_the_sump_has_no_room_for(monkeypatch, waterline, severity):
    """0.32 m² over the crest at 290 mm against 54 L less 30 L in the sump: 24 L, 75 mm."""
    (one,) = judged(monkeypatch, waterline=waterline, **SOUND)
    assert one.severity == severity
    assert one.message.endswith("run down to sump, which has room for 24 L") is (severity == "fault")


@pytest.mark.parametrize(("waterline", "severity"), [(0.234, "warning"), (0.231, "fault")])
def test_a_waterline_that_the_return_chamber_cannot_fill_up_from(monkeypatch, waterline, severity):
    """0.32 m² up to 295 mm against 20 L over the pumps' inlets: 62.5 mm."""
    (one,) = judged(monkeypatch, waterline=waterline, **SOUND)
    assert one.severity == severity
    assert ("and sump.return has 20 L over the pumps' inlets" in one.message) is (severity == "fault")


def test_a_tank_whose_drain_has_no_standpipe(faulty_text):
    """The hole lies 94 mm under the water: 0.48 m² or so of it run down, and the sump runs over."""
    bare = ("route: [{front: 140}, {up: 75}, strainer]", "route: [{front: 140}, open]")
    (finding,) = (
        one for one in faulty_text(RULE, bare, scene="sump-drain-back") if "waterline" in one.message
    )
    assert finding.severity == "fault"
    assert "run down to sump" in finding.message
