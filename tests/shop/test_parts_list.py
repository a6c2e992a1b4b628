"""The parts list against counts and amounts worked out by hand."""

import csv
import io
from pathlib import Path

import pytest
from shipped import shipped_coarse

from layout3d.model.build import build_model
from layout3d.report.make import amount_text, make_files, make_lines
from layout3d.scene.reader import read_scene
from layout3d.shop.shop import shop
from layout3d.units import shown_in

SCENES = Path(__file__).resolve().parents[2] / "scenes"

TANK = """\
format: 1
units: mm
waterline: 150
parts:
  tank:
    kind: tank
    inside: [600, 300, 400]
    glass: 8
    silicone: 6
    holes: {feed: {panel: back, left: 200, bottom: 250, bulkhead: d20}}
  wall:
    kind: background
    panels: [left]
    thickness: 40
    gap: 20
    bedding: expanding polyurethane foam
    relief: {form: flat}
    material: xps
"""


def made(text=TANK, more="", **values):
    model = build_model(read_scene(Path("scene.yaml"), text=text + more, overrides=values))
    return model, shop(model)


def rows(item, text=TANK, more=""):
    return [row for row in made(text, more)[1].parts if row.item == item]


def test_a_mat_is_told_where_it_lies():
    more = "  pad: {kind: mat, region: [100, 50, 500, 250]}\n  stand: {kind: stand, height: 800}\n"
    (under,) = rows("mat of xps under the tank", more=more)
    (floor,) = rows("mat of foam rubber in the tank", more=more)
    assert (under.parts, floor.parts) == (("stand",), ("pad",))
    assert floor.amount == pytest.approx(0.4 * 0.2)


def test_silicone_is_beads_and_joints():
    """By hand. Joints 1.5 mm: walls on the bottom 2 (600 + 300) x 8 mm, corners 4 x 400 x 8 mm. Beads of 6 mm
    legs, a² / 2 = 18 mm² in section: four uprights and four along the bottom, less at the corners, where
    three meet: within 3 % of 18 mm² x (4 x 400 + 2 x 900)."""
    (row,) = rows("silicone")
    joints = 1.5e-3 * 8e-3 * (2 * 0.9 + 4 * 0.4)
    beads = 18e-6 * (4 * 0.4 + 2 * 0.9)
    assert row.amount == pytest.approx(joints + beads, rel=0.03)
    assert row.amount < joints + beads
    assert row.wanted == pytest.approx(1.2 * row.amount)
    assert row.packs == 1  # 310 ml
    assert amount_text(row) == f"{row.wanted * 1e6:.1f} mL"
    with shown_in("inch"):
        assert amount_text(row) == f"{row.wanted / (231 * 0.0254**3) * 128:.1f} fl oz"


def test_cement_is_counted_by_sockets():
    """The shipped scene with an overflow box: four pipes of d40 in one socket each (9 ml, the row of
    1-1/4 in), and twelve sockets of d20 (3.2 ml, the row of 1/2 in); 15 % spare; half as much primer."""
    _, of = made((SCENES / "weir.yaml").read_text(encoding="utf-8"))
    cement, primer = (next(r for r in of.parts if r.item == item) for item in ("solvent cement", "primer"))
    assert cement.size == "for PVC-U, 16 joints"
    assert cement.amount == pytest.approx((4 * 9 + 12 * 3.2) * 1e-6)
    assert cement.wanted == pytest.approx(1.15 * cement.amount)
    assert primer.amount == pytest.approx(cement.amount / 2)


def test_a_rubber_coupling_is_clamped_and_takes_no_cement():
    text = (
        "format: 1\nunits: mm\nwaterline: 100\nparts:\n"
        "  tank: {kind: tank, inside: [900, 400, 400], glass: 8}\n"
        "  pipe: {kind: run, pipe: d40 pn 10, start: [100, 200, 200], "
        "route: [{right: 300}, STEP, {right: 300}, cap]}\n"
    )
    glued, clamped = (
        made(text.replace("STEP", step))[1] for step in ("coupling", "{rubber_coupling: d40 pn 10}")
    )
    sizes = [next(r.size for r in of.parts if r.item == "solvent cement") for of in (glued, clamped)]
    assert sizes == ["for PVC-U, 3 joints", "for PVC-U, 1 joint"]


def test_foam_is_the_gap_and_cans_fill_half_of_what_they_rise_to_in_the_open():
    """By hand: 300 x 400 x 20 mm, 2.4 L, less what the beads in the corners take."""
    (row,) = rows("expanding polyurethane foam")
    assert row.amount == pytest.approx(2.4e-3, rel=0.02)
    assert (row.packs, row.spare) == (1, 0.15)


def test_slabs_come_from_layers_of_sheets():
    """By hand: 300 x 400 x 40 mm of xps 1250 x 600 x 50: one sheet, of which 4.8 L of 37.5 L stay."""
    _, of = made()
    (use,) = of.sheets
    assert (use.sheets, dict(use.layers)) == (1, {"wall.left": 1})
    assert use.waste == pytest.approx(1 - 4.8 / 37.5, abs=0.005)
    thin = "shop: {sheets: [{material: xps, length: 350, width: 250, thickness: 20}]}\n"
    # two layers of two strips 300 mm long and up to 250 wide; a sheet gives one of them
    assert made(more=thin)[1].sheets[0].sheets == 4


def test_panes_are_told_with_their_holes_from_the_edges_of_the_glass():
    """The back covers the ends of the sides: 616 mm long, its hole 200 + 8 mm from its edge."""
    model, of = made()
    back = next(pane for pane in of.panes if pane.name == "tank.back")
    assert back.size == pytest.approx((0.616, 0.4, 0.008))
    (hole,) = back.holes
    assert (hole.from_left, hole.from_bottom) == pytest.approx((0.208, 0.25))  # left as seen from inside
    assert dict(back.edges)["top"] == "ground and polished"
    assert sum(pane.area for pane in of.panes) == pytest.approx(
        2 * 0.616 * 0.4 + 2 * 0.3 * 0.4 + 0.616 * 0.316
    )
    assert not any("no edges are told" in line.text for line in make_lines(model, of))
    printed = {line.cells[0]: line.cells for line in make_lines(model, of) if line.cells}
    assert printed["tank.back"][2:4] == (
        "616 mm x 400 mm x 8 mm",
        f"{hole.name} ⌀ {hole.diameter * 1e3:.0f} at 208, 250",
    )
    assert "top: ground and polished" in printed["tank.back"][4]
    assert printed["wall.left"][1:] == ("xps", "300 mm x 400 mm x 40 mm", "1")


def test_a_baffle_goes_in_with_its_joints():
    """By hand: a sump 150 mm deep inside takes a baffle of 147 mm, with 1.5 mm of silicone on either side."""
    sump = (
        "  sump: {kind: sump, at: [50, 50, 0], inside: [400, 150, 200], glass: 6,\n"
        "    compartments: [{name: one, length: 150, baffle: {height: 100}},\n"
        "      {name: two, level: 90}]}\n"
    )
    model, of = made(more=sump)
    baffle = next(pane for pane in of.panes if pane.name == "sump.baffle_one")
    assert baffle.size == pytest.approx((0.147, 0.1, 0.006))
    assert any("glue joints" in line for line in of.not_counted)
    assert any("no edges are told" in line.text for line in make_lines(model, of))


def test_a_bent_pane_is_told_in_the_scene_s_units():
    """A bow of 3 in over 30 in: (15² + 3²) / (2 x 3) = 39 in."""
    bow = "{kind: bow_front_tank, inside: [30, 15, 12], bow: 3, glass: 3/8}"
    _, of = made(f"format: 1\nunits: in\nwaterline: 6\nparts: {{tank: {bow}}}\n")
    front = next(pane for pane in of.panes if pane.name == "tank.front")
    assert front.note.startswith("bent, inside radius 39 in;")


def test_a_clip_on_a_wall_of_the_room_is_counted():
    hose = (
        "  hose: {kind: run, tube: 12/16 mm, start: [-100, 150, 300], route: [{left: 400}, open],\n"
        "    supports: [{at: [100, 300], against: room}]}\n"
    )
    counted = [row.amount for row in rows("clip", more=hose)]
    assert counted == [2]


def test_sand_is_bought_by_bags_of_a_mass():
    """A tenth more than its dry mass is bought: one bag of all of that, or three of a third of it."""
    bed = "  bed: {kind: substrate, depth: 80, region: [0, 0, 500, 300], material: sand}\n"
    pack = "shop: {packs: [{item: 'sand, bed', mass: MASS, price: 12}]}\n"
    model, of = made(more=bed)
    loose = next(row for row in of.parts if row.item == "sand, bed")
    table = list(csv.DictReader(io.StringIO(make_files(model, of)["parts.csv"].decode())))
    assert {row["item"]: row["mass [kg]"] for row in table}["sand, bed"] == f"{loose.mass:.6g}"
    assert loose.mass == pytest.approx(1590 * loose.amount)  # (1 - 0.4) x 2650 kg/m³
    wanted = 1.1 * loose.mass
    for bags in (1, 3):
        more = bed + pack.replace("MASS", f"{1.001 * wanted / bags:.6f} kg")
        (row,) = rows("sand, bed", more=more)
        assert (row.packs, row.cost) == (bags, 12 * bags)


def test_two_alike_beds_are_one_row_that_is_bought_by_mass():
    both = "".join(
        f"  bed{k}: {{kind: substrate, material: sand, depth: 80, "
        f"region: [{100 + 200 * k}, 0, {300 + 200 * k}, 300]}}\n"
        for k in (0, 1)
    )
    (row,) = rows("sand, bed", more=both)
    assert row.parts == ("bed0", "bed1")
    assert row.mass == pytest.approx(1590 * row.amount)  # (1 - 0.4) x 2650 kg/m³
    pack = f"shop: {{packs: [{{item: 'sand, bed', mass: {row.mass / 2:.6f} kg}}]}}\n"
    (row,) = rows("sand, bed", more=both + pack)
    assert row.packs == 3  # a tenth more than both


def test_packs_and_prices_of_the_scene_are_counted():
    packs = "{item: silicone, volume: 50 ml, price: 4}, {item: bulkhead, count: 2, price: 9}"
    more = f"shop: {{currency: EUR, packs: [{packs}]}}\n"
    model, of = made(more=more)
    silicone, bulkhead = (next(r for r in of.parts if r.item == item) for item in ("silicone", "bulkhead"))
    assert silicone.packs == -(-silicone.wanted // 50e-6)
    assert silicone.cost == 4 * silicone.packs
    assert (bulkhead.packs, bulkhead.cost) == (1, 9)
    table = list(csv.DictReader(io.StringIO(make_files(model, of)["parts.csv"].decode())))
    assert {row["item"]: row["cost"] for row in table}["bulkhead"] == "9.00"


def test_bars_and_sheets_cost_what_is_bought_of_them():
    """One bar of 2 m gives both pieces of 600 mm; a sheet that is used up, and 15 %, is two."""
    pipe = (
        "  pipe: {kind: run, pipe: d20 pn 16, start: [-200, 150, 300], "
        "route: [{front: 600}, coupling, {front: 600}, cap]}\n"
    )
    prices = "shop: {stocks: [{pipe: d20 pn 16, length: 2 m, price: 7}], sheets: [SHEET]}\n"
    sheet = "{material: xps, length: LONG, width: 400, thickness: 50, price: 9}"
    _, of = made(more=pipe + prices.replace("SHEET", sheet.replace("LONG", "300")))
    costs = {row.item: row.cost for row in of.parts if row.cost is not None}
    assert costs == {"pipe": 7, "sheet of xps": 18}
    (use,) = [row for row in of.parts if row.item == "sheet of xps"]
    assert (use.amount, amount_text(use)) == (1, "2")
    # a strip of 300 mm and 15 % of it, 345 mm, come from one sheet of 345 mm, and not from one of 344 mm
    for long, bought in (("344", "2"), ("345", "1")):
        _, of = made(more=prices.replace("SHEET", sheet.replace("LONG", long)))
        (use,) = [row for row in of.parts if row.item == "sheet of xps"]
        assert amount_text(use) == bought


def test_a_tank_that_is_bought_whole_is_one_row_and_takes_no_silicone():
    of = made(more="shop: {tank: whole}\n")[1]
    assert [row.size for row in of.parts if row.item == "tank"] == ["600 mm x 300 mm x 400 mm inside"]
    assert not [row for row in of.parts if row.item.startswith("pane") or row.item == "silicone"]


def test_every_fitting_of_the_showcase_is_counted():
    """Counted in its file by hand: turns of its runs, and what stands in them."""
    of = shop(shipped_coarse("gorge"))
    counts = {(row.item, row.size): row.amount for row in of.parts if row.measure == "count"}
    assert counts["elbow 90", "d63 pn 10"] == 4  # drain_in up; drain_out down, front, down
    assert (
        counts["elbow 90", "d32 pn 10"] == 7
    )  # supply back, up, left, front; stream_feed; drip_bar up, right
    assert counts["tee", "d32 pn 10"] == counts["ball valve", "d32 pn 10"] == counts["cap", "d32 pn 10"] == 1
    assert counts["bulkhead", "d32"] == 2
    assert counts["clip", "d63 pn 10"] == 2
    assert sum(n for (item, _), n in counts.items() if item.startswith("plant")) == 3  # of the 22
    assert all(row.source for row in of.parts)
