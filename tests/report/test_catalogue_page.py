"""The catalogue as tables: every entry is there, its figures are right, its sources listed."""

import re

import pytest

from layout3d.catalog import default
from layout3d.report.catalogue_page import SECTIONS, catalogue_lines, catalogue_page
from layout3d.report.writing import plain
from layout3d.scene.reader import read_scene

PAGE = catalogue_page()
TANK = "parts: {tank: {kind: tank, inside: [900, 450, 500], glass: 10}}\n"


def row(name: str) -> list[str]:
    (line,) = [line for line in PAGE.splitlines() if line.startswith(f"| `{name}` |")]
    return [cell.strip() for cell in line.strip("|").split("|")]


def test_every_entry_has_its_row():
    catalog = default()
    names = [*catalog.names("pipes"), *(n for s in SECTIONS if s != "pipes" for n in catalog.names(s))]
    assert [row(name)[0] for name in names] == [f"`{name}`" for name in names]


def test_figures_are_those_of_the_standards():
    assert row("3/4 in sch 40")[1].startswith("26.7 mm / 1.05 in")  # ASTM D1785: 1.050 in outside
    assert row("d25 pn 10")[1].startswith("25 mm")  # ISO 161-1
    assert row("d25 pn 10")[3].startswith("18.5 mm")  # ISO 727-1: 0.5 d + 6 mm
    assert row("glass")[2].startswith("2,500 kg/m³")  # EN 572-1


def test_every_mark_has_its_source_and_every_source_a_mark():
    tables, sources = PAGE.split("### Sources of the catalogue")
    listed = dict(re.findall(r"^(\d+)\. (.+)$", sources, re.MULTILINE))
    assert set(re.findall(r"\[(\d+)\]", tables)) == set(listed)
    mark = re.search(r"\[(\d+)\]", row("small 300")[-1])
    assert mark is not None
    assert listed[mark[1]] == default().pump("small 300").source


def test_the_entries_of_ones_own_that_it_shows_are_read():
    block = "".join(line[4:] + "\n" for line in PAGE.splitlines() if line.startswith("    "))
    scene = read_scene("own.yaml", text=f"format: 1\nunits: mm\nwaterline: 180\n{TANK}{block}")
    assert scene.catalog.pump("my pump").outlet == pytest.approx(0.0127)
    assert scene.catalog.bulkhead("my bulkhead").hole_diameter == pytest.approx(0.043)
    assert scene.catalog.material("my gravel").porosity == 0.41


@pytest.mark.parametrize("section", SECTIONS)
def test_a_section_is_told_in_a_terminal(section):
    told = plain(catalogue_lines(section))
    assert "[1]" in told
    assert "`" not in told
