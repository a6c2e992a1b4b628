"""What is printed with --json fits the schemas that ship, and a schema refuses what doesn't fit it."""

import json

import jsonschema
import pytest
from schemas import fits

from layout3d.checks.base import Finding
from layout3d.errors import LayoutError, Place, SceneMistake, SceneRefused
from layout3d.report.json import check_json, errors_json, written
from layout3d.report.schemas import SCHEMAS, schema_text
from layout3d.report.volume import volume_json
from layout3d.water.dipstick import dipstick
from layout3d.water.figures import figures

FINDING = Finding(
    rule="hole-edge",
    severity="fault",
    parts=("tank.back", "return_hole"),
    measured=0.021,
    limit=0.035,
    unit="m",
    at=(0.4, 0.6, 0.43),
    message="return_hole is 21 mm from the top edge",
    remedy="lower it by 14 mm",
)
BARE = Finding(rule="pump-curve", severity="note", parts=(), message="the pump has no curve", remedy="")


MORE = {"holds": [], "swim": {"sizes": [], "widest": 0, "front": None, "behind": None, "cell": 1, "give": 0}}


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_are_sound(name):
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text(name)))


def test_check_fits_its_schema(model):
    facts = json.loads(written(check_json(model, [FINDING, BARE], figures(model), cautions=["ask"], **MORE)))
    fits(facts, "check")
    assert (facts["faults"], facts["warnings"]) == (1, 0)
    assert facts["findings"][0]["parts"] == ["tank.back", "return_hole"]
    assert facts["findings"][0]["at"] == [0.4, 0.6, 0.43]
    assert facts["findings"][1]["measured"] is None


@pytest.mark.parametrize(
    "change",
    [{"severity": "grave"}, {"at": [1.0, 2.0]}, {"message": ""}, {"measured": "21 mm"}, {"extra": 1}],
)
def test_the_schema_refuses_what_does_not_fit(model, change):
    facts = json.loads(written(check_json(model, [FINDING], figures(model), **MORE)))
    facts["findings"][0] |= change
    with pytest.raises(jsonschema.ValidationError):
        fits(facts, "check")


def test_volume_fits_its_schema_with_and_without_the_dipstick(model):
    bare, full = (json.loads(written(volume_json(model, marks))) for marks in (None, dipstick(model)))
    fits(bare, "volume")
    fits(full, "volume")
    assert "dipstick" not in bare
    assert full["dipstick"][-1]["gross"] == pytest.approx(figures(model)["tank_inside_volume"])
    water = full["water"]
    assert water["gross"] == pytest.approx(water["net"] + water["displaced"] + water["sealed_pockets"])
    assert water["net"] == pytest.approx(water["free"] + water["pores"])


def test_errors_fit_their_schema():
    place = Place("a.yaml", 4, 7)
    mistakes = [SceneMistake("'x' stands here", expected="a length", path="waterline", place=place)]
    facts = json.loads(written(errors_json(SceneRefused(mistakes))))
    fits(facts, "errors")
    assert facts["errors"][0]["line"] == 4
    alone = errors_json(LayoutError("--set depth", expected="name=value"))
    fits(alone, "errors")


def test_a_figure_that_json_cannot_say_is_not_printed():
    with pytest.raises(ValueError, match="not JSON compliant"):
        written({"format": 1, "figure": float("nan")})
