"""The page of fields: equal to the code, and in step with what the reader takes."""

from importlib import resources
from pathlib import Path

from layout3d.catalog import default
from layout3d.checks.base import rules
from layout3d.fields import field_specs
from layout3d.model.build import build_model
from layout3d.parts.registry import kinds
from layout3d.report.fields_page import fields_page
from layout3d.scene.reader import read_scene

SCENES = Path(__file__).resolve().parents[2] / "scenes"
SHIPPED = resources.files("layout3d.scene").joinpath("FIELDS.md").read_text(encoding="utf-8")


def test_the_shipped_page_is_that_of_the_code():
    assert fields_page() == SHIPPED, "run scripts/regenerate"


def test_it_tells_every_kind_with_every_field_and_dimension():
    for kind, cls in kinds().items():
        section = SHIPPED.split(f"\n### {kind}\n")[1].split("\n### ")[0].split("\n## ")[0]
        for name in (*field_specs(cls), *cls.dimensions):
            assert f"`{name}`" in section, f"{kind}.{name}"


def test_it_tells_every_rule_and_every_limit_with_its_source():
    for name in rules():
        assert f"| `{name}` |" in SHIPPED
    limits = SHIPPED.split("\n## Limits\n")[1].splitlines()
    for name in default().names("limits"):
        (row,) = [line for line in limits if line.startswith(f"| `{name}` | ")]
        assert row.endswith(f"| {default().limit(name).source} |")


def test_tables_have_as_many_cells_in_each_row():
    width = 0
    for line in SHIPPED.splitlines():
        cells = line.replace("\\|", "").count("|") if line.startswith("|") else 0
        if cells and width:
            assert cells == width, line
        width = cells


def test_points_of_a_kind_are_those_that_it_builds():
    """Every port and anchor of the weir's scene bears a name that its kind tells, NAME for one of its own."""
    model = build_model(read_scene(SCENES / "weir.yaml"))
    own = {"tank": model.tank.holes, "sump": {c.name for one in model.sumps for c in one.data.compartments}}
    told = {built.part.name for built in model.built.values() if type(built.part).points}
    assert told == {"tank", "sump", "box", "pump"}
    for name in told:
        built = model.built[name]
        found = {*built.anchors, *(port.name.removeprefix(f"{name}.") for port in built.ports)}
        names = {
            ".".join("NAME" if word in own.get(name, ()) else word for word in one.split("."))
            for one in found
        }
        assert names == set(type(built.part).points)
