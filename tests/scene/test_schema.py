"""The scene file's schema: equal to the code, sound, and in step with the reader."""

import json
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from plain_scenes import as_text, as_values

from layout3d.parts.registry import kinds
from layout3d.scene.schema import scene_schema

SCENES = sorted(Path(__file__).resolve().parent.parent.parent.glob("scenes/**/*.yaml"))
SHIPPED = json.loads(
    resources.files("layout3d.scene").joinpath("scene.schema.json").read_text(encoding="utf-8")
)
VALIDATOR = jsonschema.Draft202012Validator(SHIPPED)
"""Made once: `jsonschema.validate` would check the whole schema again each time."""


def test_the_shipped_schema_is_that_of_the_code():
    assert scene_schema() == SHIPPED, "run scripts/regenerate"


def test_the_schema_is_sound_and_knows_every_kind():
    jsonschema.Draft202012Validator.check_schema(SHIPPED)
    assert set(SHIPPED["$defs"]) == set(kinds())


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_every_scene_fits_the_schema(path):
    VALIDATOR.validate(as_values(path.read_text(encoding="utf-8")))


TANK = {"kind": "tank", "inside": [900, 450, 500], "glass": 10}
SCENE = {"format": 1, "units": "mm", "waterline": "tank.inside_height / 2", "parts": {"tank": TANK}}


@pytest.mark.parametrize(
    "change",
    [
        {"format": 2},
        {"units": "cm"},
        {"water": 100},
        {"parts": {"tank": {**TANK, "kind": "tnak"}}},
        {"parts": {"tank": {**TANK, "glas": 10}}},
        {"parts": {"tank": {"kind": "tank", "inside": [900, 450, 500]}}},
        {"parts": {"tank": {**TANK, "inside": [900, 450]}}},
        {"parts": {"my tank": TANK}},
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(change):
    from layout3d.errors import SceneRefused
    from layout3d.scene.reader import read_scene

    VALIDATOR.validate(SCENE)
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate({**SCENE, **change})
    with pytest.raises(SceneRefused):
        read_scene("changed.yaml", text=as_text({**SCENE, **change}))
