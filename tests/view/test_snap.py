"""What a dragged part holds on to."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid.placement import Placement
from layout3d.view.looks import Heights, Thing
from layout3d.view.snap import snapped

GROUND = Heights(x=np.array([0.0, 0.5, 1.0]), y=np.array([0.0, 0.5]), heights=np.full((3, 2), 0.05))


def thing(name, group, low, high, *ports):
    where = {"shape": name, "stands": Placement.identity(), "box": (low, high)}
    where |= {"ports": {f"{name}.{number}": at for number, at in enumerate(ports)}}
    return Thing(name=name, part=name, group=group, kind=group, **where)


STONE = thing("stone", "rock", (0.4, 0.2, 0.05), (0.5, 0.3, 0.15))
LEDGE = thing("ledge", "rock", (0.6, 0.1, 0.05), (0.9, 0.4, 0.20))
PUMP = thing("pump", "equipment", (0.1, 0.1, 0.0), (0.2, 0.2, 0.2), (0.15, 0.15, 0.2))
HOSE = thing("hose", "plumbing", (0.3, 0.3, 0.3), (0.31, 0.31, 0.4), (0.3, 0.3, 0.3))
ALL = (STONE, LEDGE, PUMP, HOSE)


@pytest.mark.parametrize(
    ("part", "offset", "lifts", "expected", "words"),
    [
        ("stone", (-0.395, 0.06, 0.0), False, (-0.4, 0.06, 0.0), "at the left"),
        ("stone", (0.492, 0.195, 0.0), False, (0.5, 0.2, 0.0), "at the right, at the back"),
        ("stone", (-0.195, -0.06, 0.0), False, (-0.2, -0.06, 0.0), "at pump"),
        ("stone", (-0.195, 0.1, 0.0), False, (-0.195, 0.1, 0.0), ""),  # past it
        ("stone", (0.0, 0.0, 0.004), True, (0.0, 0.0, 0.0), "on the ground"),
        ("stone", (0.25, 0.0, 0.146), True, (0.25, 0.0, 0.15), "on ledge"),
        ("stone", (0.0, 0.0, 0.146), True, (0.0, 0.0, 0.146), ""),  # beside it
        ("hose", (-0.148, -0.149, -0.099), False, (-0.15, -0.15, -0.1), "to a port of pump"),
        ("nothing", (0.1, 0.0, 0.0), False, (0.1, 0.0, 0.0), ""),
    ],
)
def test_what_is_within_reach_is_held_on_to(part, offset, lifts, expected, words):
    found, told = snapped(part, np.array(offset), ALL, GROUND, reach=0.01, axes=(2,) if lifts else (0, 1))
    assert found == pytest.approx(expected, abs=1e-9)
    assert told == words


@given(
    offset=st.tuples(*[st.floats(-1, 1)] * 3),
    lifts=st.booleans(),
    part=st.sampled_from(["stone", "pump", "hose"]),
)
def test_nothing_goes_farther_than_the_reach_and_what_holds_stays(offset, lifts, part):
    found, told = snapped(part, np.array(offset), ALL, GROUND, reach=0.01, axes=(2,) if lifts else (0, 1))
    assert np.abs(found - offset).max() <= 0.01 + 1e-12
    assert bool(told) or (found == offset).all()
    again, _ = snapped(part, found, ALL, GROUND, reach=1e-6, axes=(2,) if lifts else (0, 1))
    assert again == pytest.approx(found, abs=2e-6)
