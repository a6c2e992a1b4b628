import pytest

from layout3d.band import Band
from layout3d.errors import NotPossible, OutOfRange
from layout3d.fittings.losses import Loss
from layout3d.flow.bar import Bar
from layout3d.flow.bar_design import bar_band, bar_outlet, design_bar
from layout3d.flow.drip_bar import solve_bar
from layout3d.flow.network import Junction, Network, Pipe, Pump, Reservoir
from layout3d.flow.pump import Curve
from layout3d.flow.steady import solve
from layout3d.flow.water import water_at

WATER = water_at(25.0)
LPH = 1 / 3.6e6
START = Bar.even(16, pitch=0.05, diameter=0.003, bore=0.02057, coefficient=Band.exact(0.62))


@pytest.mark.parametrize("far", [False, True])
@pytest.mark.parametrize(("vary", "head"), [("head", None), ("diameter", 0.3), ("pitch", 0.3)])
def test_the_design_gives_what_was_wanted(vary, head, far):
    wanted = 300 * LPH
    found = design_bar(START, flow_per_metre=wanted, vary=vary, head=head, far=far, water=WATER)
    served = START.served_length
    again = solve_bar(found.bar, found.head, kind="total", far_head=found.head if far else None, water=WATER)
    assert again.flow == pytest.approx(found.result.flow, rel=1e-9)
    # by pitch the flow comes in whole holes
    hole = found.result.flow / found.bar.count
    assert found.result.flow == pytest.approx(wanted * served, abs=0.6 * hole if vary == "pitch" else 1e-9)
    assert found.bar.served_length == pytest.approx(served, rel=1e-6)
    assert found.result.variation <= 0.10


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        ({"vary": "head", "flow_per_metre": 9000 * LPH}, r"even 5 m of head gives .* of the 7200 L/h wanted"),
        ({"vary": "diameter", "head": 0.1, "flow_per_metre": 20000 * LPH}, r"even holes of 10\.3 mm give"),
        ({"vary": "diameter", "head": 0.3, "flow_per_metre": 20 * LPH}, "narrowest that stays clear"),
        ({"vary": "pitch", "head": 0.05, "flow_per_metre": 9000 * LPH}, "even 88 holes, 3 diameters apart"),
        ({"vary": "head", "flow_per_metre": 300 * LPH, "variation": 1e-5}, "met but not evenly"),
        ({"vary": "head", "flow_per_metre": 20 * LPH}, "16 of 16 holes give nothing"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(ask, words):
    with pytest.raises(NotPossible, match=words):
        design_bar(START, water=WATER, **ask)


def test_a_tilted_bar_that_leaves_holes_dry_is_refused():
    tilted = Bar.even(16, pitch=0.05, diameter=0.003, bore=0.02057, rise=0.2)
    with pytest.raises(NotPossible, match="give nothing"):
        design_bar(tilted, flow_per_metre=50 * LPH, vary="head", water=WATER)


def test_bad_asks():
    with pytest.raises(OutOfRange, match="can't vary 'bore'"):
        design_bar(START, flow_per_metre=1e-4, vary="bore")
    with pytest.raises(OutOfRange, match="a head is needed"):
        design_bar(START, flow_per_metre=1e-4, vary="pitch")
    with pytest.raises(OutOfRange, match="flow per metre"):
        design_bar(START, flow_per_metre=0.0, vary="head")


def test_the_band_holds_the_likely_and_grows_with_the_coefficient():
    unknown = Bar.even(16, pitch=0.05, diameter=0.003, bore=0.02057)
    band = bar_band(unknown, 0.3, kind="total", water=WATER)
    likely = solve_bar(unknown, 0.3, kind="total", water=WATER)
    assert band.flow.likely == likely.flow
    assert band.flow.high / band.flow.low > 1.3  # 0.80 over 0.55, less what the pipe takes
    for hole, flow in zip(band.holes, likely.flows, strict=True):
        assert hole.low < flow < hole.high


def test_a_bar_in_a_network_agrees_with_the_bar_alone():
    """Pump, riser and bar by samples; then the bar alone at the head that the network found."""
    lifted = Bar.even(16, pitch=0.05, diameter=0.004, bore=0.02057, height=1.0, coefficient=Band.exact(0.62))
    net = Network(
        nodes=(
            Reservoir(name="sump", level=0.0),
            Junction(name="out", elevation=0.0),
            bar_outlet(lifted, name="bar", highest_head=2.5, water=WATER),
        ),
        links=(
            Pump(name="pump", start="sump", end="out", curve=Curve.from_two_points(2.5, 3000 * LPH)),
            Pipe(name="riser", start="out", end="bar", length=1.5, bore=0.02057, loss=Loss.exact(4.0)),
        ),
    )
    steady = solve(net, water=WATER)
    alone = solve_bar(lifted, steady.node("bar").head, kind="total", water=WATER)
    assert alone.flow == pytest.approx(steady.node("bar").outflow, rel=1e-3)
    with pytest.raises(NotPossible, match="no hole of the bar lies below"):
        bar_outlet(lifted, name="bar", highest_head=0.9)
