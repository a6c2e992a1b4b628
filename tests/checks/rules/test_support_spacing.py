"""How far pipe runs without a support."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_outages import made_model

from layout3d.checks.rules import support_spacing as module
from layout3d.errors import NotPossible

RULE = "support-spacing"


@pytest.mark.parametrize(
    ("free", "severity", "measured"),
    [
        (850, None, None),
        (850.1, "warning", 0.8501),
        (1275, "warning", 1.275),
        (1275.1, "fault", 1.2751),
        (1400, "fault", 1.4),
    ],
)
def test_either_side_of_each_limit(faulty, free, severity, measured):
    """0.85 m for pipe of 20 mm (table support_spacing), half as much again for a fault."""
    found = faulty(RULE, free=free)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


HOLE = "hole: {panel: bottom, left: 300, front: 200, bulkhead: d20}"


@pytest.mark.parametrize(
    ("over", "severity"), [(420, []), (430, ["warning"]), (630, ["warning"]), (645, ["fault"])]
)
def test_a_level_end_may_hang_over_by_half_the_spacing(check, over, severity):
    """A free end's moment w L² / 2 is that of a span twice as long, w L² / 8: half of 0.85 m."""
    bar = f"bar: {{PIPE, start: [100, 370, 300], route: [{{right: {50 + 500 + over}}}, cap], \
supports: [{{at: [50, 550], against: back}}]}}"
    found = check(RULE, bar, tank="kind: tank, inside: [1800, 400, 400], glass: 12")
    assert [f.severity for f in found] == severity
    for finding in found:
        assert "past its last support" in finding.message
        assert finding.measured == pytest.approx(2 * over / 1000, abs=0.005)


def test_long_ends_on_both_sides_of_one_clip_are_not_held(check):
    """800 mm free on both sides of it were held, for no stretch was over 850 mm."""
    bar = "bar: {PIPE, start: [100, 370, 300], route: [{right: 1600}, cap], \
supports: [{at: [800], against: back}]}"
    (finding,) = check(RULE, bar, tank="kind: tank, inside: [1800, 400, 400], glass: 12")
    assert finding.severity == "fault"
    assert "support (counted as 1,600 mm, limit support_overhang)" in finding.message


@pytest.mark.parametrize(("up", "count"), [(1690, 0), (1710, 1)])
def test_upright_pipe_counts_half(check, up, count):
    """The table's note: upright pipe up to twice the spacing of a level one. The pipe starts at its port."""
    run = f"run: {{PIPE, start: hole.inside, route: [{{up: {up}}}, open]}}"
    found = check(RULE, run, holes=HOLE, tank="kind: tank, inside: [600, 400, 1900], glass: 10")
    assert [f.severity for f in found] == ["warning"] * count
    assert [f.measured for f in found] == pytest.approx([up / 2000] * count, abs=0.005)


def test_an_upright_and_a_level_part_add_up(check):
    """500 mm up count 250, 700 mm across in full: 0.95 m, less what the elbow takes off its corner."""
    run = "run: {PIPE, start: hole.inside, route: [{up: 500}, {right: 705}, open], \
supports: [{at: [1200], against: back}]}"
    tank = "kind: tank, inside: [1500, 400, 900], glass: 10"
    (finding,) = check(RULE, run, holes=HOLE, tank=tank)
    assert finding.measured == pytest.approx(0.95, abs=0.02)
    assert "of it upright" in finding.message


def test_a_pipe_that_nothing_holds_is_a_fault_however_short(check):
    run = "run: {PIPE, start: [200, 200, Z], route: [{right: 100}, open]}"
    (finding,) = check(RULE, run.replace("Z", "100"))
    assert finding.severity == "fault"
    assert "nothing holds run" in finding.message
    for z, count in ((10, 0), (11.4, 0), (11.6, 1)):  # its middle, on the floor or 1.5 mm over it at most
        assert len(check(RULE, run.replace("Z", str(z)))) == count


def test_the_bed_and_the_slab_around_it_hold_a_pipe(check):
    tank = "kind: tank, inside: [1800, 400, 400], glass: 12"
    run = "run: {PIPE, start: [100, 370, 40], route: [{right: 1500}, cap]}"
    sand = "sand: {SAND, depth: 50, pitch: 100}"
    wall = "wall: {kind: background, panels: [back], thickness: 80, relief: {form: flat}, embeds: [run]}"
    assert len(check(RULE, run, tank=tank)) == 1
    assert check(RULE, f"{run}\n{sand}", tank=tank) == ()
    assert check(RULE, f"{run}\n{wall}", tank=tank) == ()


def test_the_place_is_the_middle_of_the_longest_stretch(faulty):
    (finding,) = faulty(RULE, free=1400)
    assert finding.at == pytest.approx((0.9, 0.36, 0.3))
    assert finding.remedy == "hold it about 800 mm along the run"


def test_each_run_is_judged_by_itself(check):
    """One that nothing holds stands before one that runs too far between its clips."""
    tank = "kind: tank, inside: [1800, 400, 400], glass: 12"
    runs = """
loose: {PIPE, start: [100, 200, 200], route: [{right: 100}, open]}
bar: {PIPE, start: [100, 370, 300], route: [{right: 1100}, cap],
  supports: [{at: [50, 1050], against: back}]}
"""
    loose, bar = check(RULE, runs, tank=tank)
    assert (loose.parts, bar.parts[0]) == (("loose",), "bar.pipe_1")
    assert bar.measured == pytest.approx(1.0, abs=1e-6)
    assert bar.severity == "warning"


def pipe(body, *path, outside=0.02):
    return SimpleNamespace(body=body, path=path, kind="pipe", outside=outside)


BENT = (
    pipe("run.pipe_1", (0.0, 0.0, 0.5), (1.0, 0.0, 0.5)),
    pipe("run.pipe_2", (1.0, 0.0, 0.5), (1.0, 0.0, 1.5)),
)
"""A metre level and a metre upright."""


def longest(monkeypatch, elements=BENT, *, held=(), start="", end="", end_at="", slabs=None, inside=-1.0):
    """Return the longest span of a run, outside of the tank but for what lies left of ``inside``, [m]."""
    monkeypatch.setattr(module, "port_named", lambda model, name: None if name in ("-", "none") else name)
    monkeypatch.setattr(module, "bed_height", lambda model: lambda x, y: np.where(x < 0.2, 0.1, 0.0))
    model = made_model(support_spacing_upright=2.0, support_overhang=0.5, rest_gap=0.0015)
    model.built = {"run": SimpleNamespace(part=SimpleNamespace(end_at=end_at))}
    model.tank.room = lambda points: inside - points[:, 0]
    hides = SimpleNamespace(data=SimpleNamespace(hides=("run",), slabs=slabs or ()))
    other = SimpleNamespace(data=SimpleNamespace(hides=("other",), slabs=(slab(1e9),)))
    model.backgrounds = (other, hides)
    supports = tuple(SimpleNamespace(along=along) for along in held)
    run = SimpleNamespace(elements=elements, supports=supports, start_port=start, end_port=end)
    return module.longest_span(model, "run", run)


def slab(front):
    """A slab over what lies right of 600 mm, so deep; its panel is the plane y = 0, and z is up."""
    return SimpleNamespace(
        holds=lambda points: (points[:, 0] > 0.6) & (points[:, 1] > 0.0) & (points[:, 1] < front)
    )


@pytest.mark.parametrize(
    ("more", "measured", "upright", "begin", "end", "middle", "body", "free"),
    [
        # past a port all of it hangs: 1 / 0.5 level and half of 1 upright
        ({"start": "a"}, 2.5, 1.0, 0.0, 2.0, (1.0, 0.0, 0.5), "run.pipe_1", "past"),
        ({"end": "a"}, 2.5, 1.0, 0.0, 2.0, (1.0, 0.0, 0.5), "run.pipe_1", "before"),
        ({"end_at": "a"}, 2.5, 1.0, 0.0, 2.0, (1.0, 0.0, 0.5), "run.pipe_1", "before"),
        # between supports the level counts as it is: 0.6 + 0.8 / 2
        ({"held": (1.8, 0.4)}, 1.0, 0.8, 0.4, 1.8, (1.0, 0.0, 0.6), "run.pipe_2", ""),
        ({"held": (0.9,)}, 1.8, 0.0, 0.0, 0.9, (0.45, 0.0, 0.5), "run.pipe_1", "before"),
        # held at both ends: 1 + 1 / 2
        ({"start": "a", "end": "b"}, 1.5, 1.0, 0.0, 2.0, (1.0, 0.0, 0.5), "run.pipe_1", ""),
        # a clip past the end holds the end
        ({"start": "a", "held": (2.1,)}, 1.5, 1.0, 0.0, 2.0, (1.0, 0.0, 0.5), "run.pipe_1", ""),
    ],
)
def test_the_longest_span_by_hand(monkeypatch, more, measured, upright, begin, end, middle, body, free):
    found = longest(monkeypatch, **more)
    assert found.measured == pytest.approx(measured)
    assert (found.upright, found.begin, found.end) == pytest.approx((upright, begin, end))
    assert found.middle == pytest.approx(middle)
    assert (found.body, found.free) == (body, free)


@pytest.mark.parametrize("end_at", ["", "none"])
def test_a_run_that_nothing_holds_has_no_span(monkeypatch, end_at):
    assert longest(monkeypatch, end_at=end_at) is None


@pytest.mark.parametrize(("z", "begin"), [(0.1114, 0.195), (0.1116, None), (0.0115, 0.5), (-0.001, None)])
def test_a_pipe_is_held_as_far_as_it_lies_on_the_ground_in_the_tank(monkeypatch, z, begin):
    """10 mm from its middle to its lower side; a bed of 100 mm left of 200, the floor up to 500 mm.

    It may stand off it by 1.5 mm, and is looked at every 5 mm. Below the floor it lies on nothing.
    """
    flat = (pipe("run.pipe_1", (0.0, 0.0, z), (1.0, 0.0, z)),)
    found = longest(monkeypatch, flat, inside=0.5025)
    if begin is None:
        assert found is None
    else:
        assert (found.begin, found.end) == pytest.approx((begin, 1.0), abs=1e-9)
        assert found.free == "past"


@pytest.mark.parametrize(("y", "held"), [(0.05, True), (0.0, False), (0.1, False), (0.0999, True)])
def test_a_pipe_is_held_where_its_middle_lies_in_a_slab_that_hides_it(monkeypatch, y, held):
    """The slab is 100 mm deep and covers what lies right of 600 mm."""
    flat = (pipe("run.pipe_1", (0.0, y, 0.5), (1.0, y, 0.5)),)
    found = longest(monkeypatch, flat, slabs=(slab(0.1),))
    assert (found is not None) == held
    if held:
        assert (found.begin, found.end, found.free) == (0.0, pytest.approx(0.605), "before")


@pytest.mark.parametrize(("rise", "counted"), [(0.979, 1.0), (0.981, 0.5)])
def test_a_leg_counts_as_upright_from_a_share_of_its_length_on(monkeypatch, rise, counted):
    leaning = (pipe("run.pipe_1", (0.0, 0.0, 0.5), ((1.0 - rise**2) ** 0.5, 0.0, 0.5 + rise)),)
    found = longest(monkeypatch, leaning, start="a", end="b")
    assert found.measured == pytest.approx(counted)


def test_a_pipe_of_a_size_that_no_table_has_is_a_warning(monkeypatch):
    def unknown(size):
        raise NotPossible("no row for d999")

    runs = [
        ("hose", SimpleNamespace(flexible=True)),
        ("line", SimpleNamespace(flexible=False, size="d999")),
        ("loose", SimpleNamespace(flexible=False, size="d20", start=(0.1, 0.2, 0.3))),
    ]
    monkeypatch.setattr(module, "runs", lambda model: runs)
    monkeypatch.setattr(module, "longest_span", lambda *_: None)
    model = made_model(support_spacing_share=1.5)
    tables = {"d999": unknown, "d20": lambda size: (0.85, "a table")}
    model.scene.catalog.support_spacing = lambda size: tables[size](size)
    line, loose = module.support_spacing.find(model)
    assert (line.severity, line.parts, line.measured) == ("warning", ("line",), None)
    assert line.message == "how often d999 of line has to be held is not known: no row for d999"
    assert (loose.severity, loose.parts, loose.at) == ("fault", ("loose",), (0.1, 0.2, 0.3))


@pytest.mark.parametrize(
    ("free", "words"),
    [
        ("", "1,600 mm without a support"),
        ("past", "1,600 mm free past its last support"),
        ("before", "1,600 mm free before its first support"),
    ],
)
def test_a_long_span_is_told_in_full(monkeypatch, free, words):
    """From 200 to 1,800 mm along the run, counted as 1,400 where 850 are allowed."""
    span = module.Span(
        measured=1.4, upright=0.4, begin=0.2, end=1.8, middle=(1.0, 0.0, 0.5), body="run.pipe_1", free=free
    )
    run = SimpleNamespace(flexible=False, size="d20")
    monkeypatch.setattr(module, "runs", lambda model: [("run", run)])
    monkeypatch.setattr(module, "longest_span", lambda *_: span)
    model = made_model(support_spacing_share=1.5)
    model.scene.catalog.support_spacing = lambda size: (0.85, "a table")
    (one,) = module.support_spacing.find(model)
    assert (one.severity, one.parts, one.at) == ("fault", ("run.pipe_1",), (1.0, 0.0, 0.5))
    counted = " (counted as 1,400 mm, limit support_overhang)" if free else ""
    assert one.message == (
        f"run runs {words}, 400 mm of it upright{counted}: 550 mm over 850 mm for d20 (a table)"
    )
    assert one.remedy == "hold it about 1,000 mm along the run"
