"""What `layout3d kinds` and `layout3d rules` tell, from what kinds and rules declare."""

import pytest

from layout3d.catalog import default
from layout3d.errors import UnknownName
from layout3d.fields import Choice, FieldSpec, Quantity, field_specs
from layout3d.fields_composite import Listing
from layout3d.parts.registry import kinds
from layout3d.report.kinds import inner_records, kind_lines, kinds_lines, need_of
from layout3d.report.rules import limit_text
from layout3d.report.writing import plain, table

LENGTH = Quantity("length")


def spec(type, default) -> FieldSpec:
    return FieldSpec(name="field", type=type, default=default, doc="")


@pytest.mark.parametrize(
    ("type", "default", "told"),
    [
        (LENGTH, 0.006, "6 mm"),
        (LENGTH, 0.0, "0 mm"),
        (Quantity("angle"), 0.0, "0°"),
        (Quantity("number"), 0.5, "0.5"),
        (Choice(("up", "down")), "up", "up"),
        (Choice(("up", "down")), True, "true"),
        (Listing(LENGTH), (0.1, 0.2), "100 mm, 200 mm"),
        (Listing(LENGTH), (), ""),
        (LENGTH, None, ""),
    ],
)
def test_a_default_is_told_as_it_could_be_written(type, default, told):
    assert need_of(spec(type, default)) == told


def test_every_kind_is_listed_and_told():
    listed = plain(kinds_lines()).splitlines()
    assert [line.split()[0] for line in listed] == list(kinds())
    for kind, cls in kinds().items():
        told = plain(kind_lines(kind))
        for name, field in field_specs(cls).items():
            assert f"\n  {name}{'  (needed)' if field.required else ''}" in told


def test_records_inside_records_are_told_once():
    records = inner_records(field_specs(kinds()["sump"]))
    assert list(records) == ["a compartment", "a baffle", "media"]


def test_an_unknown_kind_names_the_nearest():
    with pytest.raises(UnknownName, match="nearest: 'rock'"):
        kind_lines("rok")


def test_limits_are_told_with_their_units():
    catalog = default()
    assert limit_text(catalog.limit("freeboard")) == "25 mm"
    assert limit_text(catalog.limit("floor_load")) == "1.92 kPa"
    assert limit_text(catalog.limit("glass_hole_edge_thicknesses")) == "2 glass thicknesses"
    assert limit_text(catalog.limit("drip_variation")) == "0.1"


def test_a_table_of_nothing_is_nothing():
    assert table([]) == []
