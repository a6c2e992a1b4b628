"""Sizing by hand: what a bar gives is a line of what is varied, and nothing is solved."""

import math
from types import SimpleNamespace

import pytest
from made_circuits import band

from layout3d.errors import BeyondCurve, NoOperatingPoint, NotPossible, NotSettled, OutOfRange, UnknownName
from layout3d.flow import sizing as module
from layout3d.flow.bar import Bar

LITRES = 1e-3 / 3600.0  # an hour, [m³/s]
LIMITS = {"drip_hole_diameter": 0.002, "drip_hole_spacing_diameters": 3.0, "drip_hole_widest": 0.25}


def bar(*, diameters=(0.003,) * 5, pitch=0.03, bore=0.02, heights=None):
    count = len(diameters)
    return Bar(
        positions=tuple(0.05 + pitch * number for number in range(count)),
        diameters=diameters,
        heights=heights or (0.3,) * count,
        length=0.1 + pitch * (count - 1),
        bore=bore,
        coefficient=band(0.6, 0.6, 0.6),
    )


@pytest.fixture
def trial(monkeypatch):
    """Make a trial whose bar gives what ``gives`` says of pump speed and bar, [L/h]."""

    def made(gives, *, wanted=60.0, drilled=None, style="metric"):
        pipe = SimpleNamespace(name="bar.pipe_1", bar=drilled or bar())
        catalog = SimpleNamespace(limit=lambda name: SimpleNamespace(value=LIMITS[name]))
        model = SimpleNamespace(scene=SimpleNamespace(catalog=catalog, style=style))
        laid = SimpleNamespace(at_speeds=lambda speeds: (speeds["pump"], pipe.bar))
        monkeypatch.setattr(module._Trial, "with_bar", lambda self, changed: (1.0, changed))
        monkeypatch.setattr(module._Trial, "gives", lambda self, laid: gives(*laid) * LITRES)
        return module._Trial(model, laid, pipe, wanted * LITRES, wanted * LITRES)

    return made


def refused(call):
    with pytest.raises(NotPossible) as told:
        call()
    return told.value.found


# -- speed --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wanted", "speed"), [(60, 0.6), (100, 1.0), (5, 0.05)])
def test_the_speed_is_found_on_the_line(trial, wanted, speed):
    """100 L/h at full speed, by its share; the ends of what a scene may set belong to it."""
    assert trial(lambda share, bar: 100 * share, wanted=wanted).speed("pump") == pytest.approx(
        speed, rel=1e-8
    )


def test_a_pump_too_weak_or_too_strong_is_told_with_the_miss(trial):
    weak = trial(lambda share, bar: 40 * share)
    assert refused(lambda: weak.speed("pump")) == (
        "even at 100% pump brings 40 L/h of the 60 L/h wanted: 20 L/h short"
    )
    none = trial(lambda share, bar: -3600000.0)  # nothing runs: no less than nothing comes, no more is short
    assert refused(lambda: none.speed("pump")) == (
        "even at 100% pump brings 0 L/h of the 60 L/h wanted: 60 L/h short"
    )
    strong = trial(lambda share, bar: 100 * share + 60)
    assert refused(lambda: strong.speed("pump")) == (
        "pump brings 65 L/h even at 5%, more than the 60 L/h wanted"
    )


# -- diameter -----------------------------------------------------------------------------------------------


def by_area(share, bar):
    """100 L/h for each 100 mm² of holes."""
    return 1e6 * sum(size**2 for size in bar.diameters)


def test_holes_are_scaled_alike_until_they_give_what_is_wanted(trial):
    """Five of 3 mm are 45 mm²; for 60 all are wider by the root of 60 / 45."""
    found = trial(by_area).diameter()
    assert found.diameters == pytest.approx((0.003 * (60 / 45) ** 0.5,) * 5, rel=1e-8)
    mixed = bar(diameters=(0.003, 0.004, 0.003))
    assert trial(by_area, wanted=40, drilled=mixed).diameter().diameters == pytest.approx(
        [size * (40 / 34) ** 0.5 for size in (0.003, 0.004, 0.003)], rel=1e-8
    )


@pytest.mark.parametrize(
    ("given", "widest"),
    [
        (bar(), 5.0),  # a quarter of 20 mm of bore
        (bar(pitch=0.012), 4.0),  # three diameters apart at 12 mm of pitch
        (bar(diameters=(0.003, 0.004, 0.003), pitch=0.012), 4.0),  # the widest of them
    ],
)
def test_the_widest_hole_is_bound_by_bore_and_pitch(trial, given, widest):
    told = refused(trial(by_area, wanted=1000, drilled=given).diameter)
    gives = sum((size / max(given.diameters) * widest) ** 2 for size in given.diameters)
    assert told == f"even holes of {widest:g} mm give {gives:g} L/h of the 1,000 L/h wanted"


def test_rows_of_holes_at_one_place_bind_no_pitch(trial):
    """Two at each place, 30 mm apart: 10 mm would do, and the quarter of the bore binds."""
    rows = Bar(
        positions=(0.05, 0.05, 0.08, 0.08),
        diameters=(0.003,) * 4,
        heights=(0.3,) * 4,
        length=0.2,
        bore=0.02,
        coefficient=band(0.6, 0.6, 0.6),
    )
    assert "even holes of 5 mm give" in refused(trial(by_area, wanted=1000, drilled=rows).diameter)


def test_the_narrowest_hole_is_what_stays_clear(trial):
    told = refused(trial(by_area, wanted=19).diameter)
    assert told == "holes of 2 mm, the narrowest that stays clear, give 20 L/h, more than the 19 L/h wanted"
    assert trial(by_area, wanted=20).diameter().diameters == pytest.approx((0.002,) * 5)


def test_where_the_bore_allows_none_no_hole_is_sensible(trial):
    """A quarter of 7.6 mm of bore is 1.9: below the 2 mm that stay clear."""
    told = refused(trial(by_area, drilled=bar(bore=0.0076)).diameter)
    assert (
        told == "no hole size is sensible here: under 2 mm it clogs, and the pitch or the bore allows 1.9 mm"
    )


# -- pitch --------------------------------------------------------------------------------------------------


def by_count(share, bar):
    return 10.0 * bar.count


@pytest.mark.parametrize(
    ("wanted", "count"), [(60, 6), (64, 6), (65, 7), (66, 7), (10, 1), (4, 1), (160, 16)]
)
def test_the_nearest_whole_number_of_holes_is_spread_about_the_same_middle(trial, wanted, count):
    """The bar serves 150 mm about its middle at 110 mm; holes of 3 mm may stand 9 mm apart: 16 of them."""
    rising = bar(heights=(0.30, 0.31, 0.32, 0.33, 0.34))
    found = trial(by_count, wanted=wanted, drilled=rising).pitch()
    assert found.count == count
    assert sum(found.positions) / count == pytest.approx(0.110)
    if count > 1:
        steps = [b - a for a, b in zip(found.positions, found.positions[1:], strict=False)]
        assert steps == pytest.approx([0.150 / count] * (count - 1))
    inner = [k for k, place in enumerate(found.positions) if 0.05 <= place <= 0.17]
    assert [found.heights[k] for k in inner] == pytest.approx(
        [0.30 + (found.positions[k] - 0.05) / 3 for k in inner]
    )
    assert set(found.diameters) == {0.003}


def test_more_holes_than_have_room_are_refused(trial):
    told = refused(trial(by_count, wanted=161).pitch)
    assert told == "even 16 holes, 3 diameters apart, give 160 L/h of the 161 L/h wanted"
    with pytest.raises(OutOfRange, match="for equal holes only"):
        trial(by_count, drilled=bar(diameters=(0.003, 0.004))).pitch()


def test_where_nothing_runs_no_size_and_no_pitch_gives_less_than_nothing(trial):
    """A network that finds no flow counts as far below 0."""
    for find in ("diameter", "pitch"):
        told = refused(getattr(trial(lambda share, bar: -3600000.0), find))
        assert " give 0 L/h of the 60 L/h wanted" in told


def test_a_single_hole_serves_its_pipe_about_the_middle(trial):
    """100 mm of pipe: three holes stand 33 mm apart about 50 mm."""
    found = trial(by_count, wanted=30, drilled=bar(diameters=(0.003,))).pitch()
    assert found.positions == pytest.approx((0.05 - 0.1 / 3, 0.05, 0.05 + 0.1 / 3))


# -- drills -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "style", "told"),
    [
        (0.00234, "metric", (0.0023, 0.0024)),
        (0.0023, "metric", (0.0023, 0.0024)),  # one that there is stays, whatever rounding says
        (0.00195, "metric", (0.0020,)),  # 1.9 mm clogs
        (0.00205, "metric", (0.0020, 0.0021)),
        (0.0025, "inch", (6 * 0.0254 / 64, 7 * 0.0254 / 64)),
    ],
)
def test_the_next_drills_are_told(trial, monkeypatch, diameter, style, told):
    """Tenths of a millimetre, or 64ths of an inch."""
    run = SimpleNamespace(body="bar.pipe_1")
    asked = []

    def running_plumbing(model, laid):
        asked.append(laid[1].diameters)
        return SimpleNamespace(bars=(SimpleNamespace(body="other"), run))

    monkeypatch.setattr(module, "running_plumbing", running_plumbing)
    made = trial(by_area, style=style)
    assert list(made.with_drills(diameter)) == [run] * len(told)
    assert asked == [pytest.approx((size,) * 5) for size in told]
    assert list(trial(by_area, drilled=bar(diameters=(0.003, 0.004))).with_drills(0.003)) == []


# -- what is told of it -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raised", "gives"),
    [(BeyondCurve("too much"), 1.0), (NoOperatingPoint("too little"), -1.0), (None, 0.25)],
)
def test_what_runs_off_the_curve_gives_more_than_anyone_wants(monkeypatch, raised, gives):
    def solve(network, *, water, holds):
        assert holds is False
        if raised:
            raise raised
        return SimpleNamespace(bars={"bar.pipe_1": SimpleNamespace(flow=0.25)})

    monkeypatch.setattr(module, "solve", solve)
    monkeypatch.setattr(module, "water_of", lambda model: None)
    trial = module._Trial(None, None, SimpleNamespace(name="bar.pipe_1"), 1.0, 1.0)
    assert trial.gives(SimpleNamespace(network=None)) == gives
    raised = NotSettled("no end")
    with pytest.raises(NotSettled):
        trial.gives(SimpleNamespace(network=None))


def ran(*, flow=60.0, variation=0.1, still=0, count=5, crest=None):
    return SimpleNamespace(
        body="bar.pipe_1",
        bar=SimpleNamespace(served_length=1.0, count=count, area_ratio=0.4),
        flow=band(flow * LITRES, flow * LITRES, flow * LITRES),
        variation=band(0.0, variation, 1.0),
        count=lambda *states: still if states == ("dry", "holds") else 0,
        crest=crest,
        level=0.3,
        total_head=band(0.4, 0.5, 0.6),
    )


def change(run, varied="speed", after=0.5):
    return SimpleNamespace(run=run, wanted=60.0 * LITRES, varied=varied, after=after)


@pytest.mark.parametrize("more", [{}, {"variation": 0.25}, {"flow": 60.059}, {"flow": 59.941}])
def test_what_is_even_and_gives_what_is_wanted_is_let_be(more):
    module._even_enough(change(ran(**more)), 0.25)


def test_what_is_not_even_or_jumps_past_or_stays_dry_is_refused():
    told = refused(lambda: module._even_enough(change(ran(variation=0.251)), 0.25))
    assert (
        told == "the flow is met but not evenly: variation 25.1%, above 25.0% (hole area is 0.40 of the bore)"
    )
    for flow in (60.061, 59.939):
        told = refused(lambda flow=flow: module._even_enough(change(ran(flow=flow)), 0.25))
        assert told.startswith("no speed gives 60 L/h: about 50.0% the flow jumps past it to ")
    module._even_enough(change(ran(flow=70.0), varied="pitch"), 0.25)  # to the nearest whole hole
    told = refused(lambda: module._even_enough(change(ran(still=2)), 0.25))
    assert told == "60 L/h is wanted, but 2 of 5 holes give nothing at it"


def test_the_change_is_told_with_what_runs_then(trial, monkeypatch):
    made = trial(by_area)
    flow = SimpleNamespace(bars=(SimpleNamespace(body="other"), ran()), failures=lambda: failures)
    failures = [SimpleNamespace(setting="high", message="x", remedy="y")]
    monkeypatch.setattr(module, "running_plumbing", lambda model, laid: flow)
    found = made.told(None, "speed", "pump", 0.8, 0.5)
    assert (found.varied, found.part, found.before, found.after) == ("speed", "pump", 0.8, 0.5)
    assert found.wanted == pytest.approx(60.0 * LITRES)
    assert (found.head, found.run.body, found.flow) == (pytest.approx(0.2), "bar.pipe_1", flow)
    failures.append(SimpleNamespace(setting="likely", message="it stalls", remedy="y"))
    told = refused(lambda: made.told(None, "speed", "pump", 0.8, 0.5))
    assert told == "with pump at 50.0% the flow is met once it runs, but it stalls"
    failures.clear()
    flow.bars = (ran(crest=SimpleNamespace(height=0.45, level=0.42)),)
    told = refused(lambda: made.told(None, "diameter", "bar", 0.003, 0.0025))
    assert told == (
        "with a diameter of 2.5 mm the flow is met once it runs, but it does not start: the water stands 30 "
        "mm below the top of its pipe"
    )


def test_the_pump_behind_a_bar_is_asked_for_where_there_are_several():
    def laid(*names):
        return SimpleNamespace(pumps=[SimpleNamespace(name=name) for name in names])

    assert module._pump(laid("a"), None, "bar", None) == "a"
    assert module._pump(laid("a", "b"), None, "bar", "b") == "b"
    with pytest.raises(OutOfRange, match="several pumps feed bar"):
        module._pump(laid("a", "b"), None, "bar", None)
    with pytest.raises(UnknownName, match="no pump 'c' feeds bar"):
        module._pump(laid("a"), None, "bar", "c")


@pytest.mark.parametrize("root", [0.3, 0.05, 1.0, 0.777])
def test_halving_finds_where_a_law_crosses_nothing(root):
    assert module._halved(lambda x: x - root, 0.05, 1.0) == pytest.approx(root, rel=1e-8)
    # over a jump it comes to where that is
    assert module._halved(lambda x: -1.0 if x < root else 1.0, 0.05, 1.0) == pytest.approx(root, rel=1e-8)


def test_the_figures_of_a_bar_are_those_of_its_mean():
    mixed = bar(diameters=(0.002, 0.003, 0.007), pitch=0.03)
    assert (module._diameter(mixed), module._pitch(mixed)) == pytest.approx((0.004, 0.03))
    assert math.isnan(module._pitch(bar(diameters=(0.003,))))
