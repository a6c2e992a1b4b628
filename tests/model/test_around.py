"""What lies close around a thing, with and without leaving out what is surely too far from it."""

import pytest
from plain_scenes import build_text
from shipped import SCENES, coarse_text

from layout3d.keep import forget
from layout3d.model import around as module
from layout3d.model.around import around_body

pytestmark = pytest.mark.usefixtures("memory_alone")


@pytest.mark.parametrize("name", ["gorge", "ledge"])
def test_what_is_left_out_as_too_far_closes_nothing(name, monkeypatch):
    """Each point that is looked at is so near its body that nothing farther can hold it."""
    model = build_text(coarse_text(name), SCENES / f"{name}.yaml")
    bodies = [body for body in model.bodies if body.group in ("plant", "equipment")]
    assert bodies
    forget()
    short = [around_body(model, body) for body in bodies]
    forget()
    monkeypatch.setattr(module, "least_gap", lambda _a, _b: 0.0)
    whole = [around_body(model, body) for body in bodies]
    assert [(each.share, each.bodies) for each in short] == [(each.share, each.bodies) for each in whole]
    assert [each.at for each in short if each.share] == [each.at for each in whole if each.share]
    assert any(each.share for each in whole)
