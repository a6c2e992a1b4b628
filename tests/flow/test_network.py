import pytest

from layout3d.errors import LayoutError, NetworkMistake, OutOfRange
from layout3d.fittings.losses import Loss
from layout3d.flow.network import (
    Junction,
    Network,
    Outlet,
    Pipe,
    Pump,
    Reservoir,
)
from layout3d.flow.pump import Curve

TANK, CAP = Reservoir(name="tank", level=1.0), Junction(name="cap", elevation=0.0)
PIPE = Pipe(name="pipe", start="tank", end="cap", length=1.0, bore=0.02)


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(NetworkMistake) as caught:
        Network(
            nodes=(TANK, TANK, CAP),
            links=(
                PIPE,
                PIPE,
                Pipe(name="loop", start="cap", end="cap", length=1, bore=0.02),
                Pipe(name="v", start="tank", end="attic", length=0, bore=0.02),
            ),
        )
    for words in (
        "node name 'tank' is used twice",
        "link name 'pipe' is used twice",
        "link loop goes from node 'cap' to itself",
        "link v goes to node 'attic', which is not there",
    ):
        assert words in str(caught.value)


def test_a_network_without_links_is_refused():
    with pytest.raises(NetworkMistake, match="no link"):
        Network(nodes=(TANK,), links=())


def test_an_outlet_under_water_flows_against_that_level():
    assert Outlet(name="o", elevation=0.5, bore=0.02, level=0.8).back_head == 0.8
    assert Outlet(name="o", elevation=0.5, bore=0.02, level=0.2).back_head == 0.5
    assert Outlet(name="o", elevation=0.5, bore=0.02).back_head == 0.5


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: Pipe(name="p", start="a", end="b", length=-1, bore=0.02),
            "length of p must be 0 or more, got -1,000 mm",
        ),
        (lambda: Pipe(name="p", start="a", end="b", length=1, bore=0.0), "bore of p"),
        (lambda: Pipe(name="p", start="a", end="b", length=1, bore=0.001, roughness=0.001), "roughness of p"),
        (lambda: Reservoir(name="r", level=float("nan")), "level of r must be a finite number"),
        (lambda: Outlet(name="o", elevation=0, bore=0.02, loss=Loss.exact(0.0)), "exit loss of o"),
        (
            lambda: Pump(name="p", start="a", end="b", curve=Curve(flows=(0, 1e-3), heads=(1, 0)), speed=-1),
            "speed of p",
        ),
    ],
)
def test_bad_parts_are_refused_by_name(call, words):
    with pytest.raises(OutOfRange, match=words) as caught:
        call()
    assert isinstance(caught.value, LayoutError)
