"""Archimedes over the area that lies on the glass: V (rho_water - rho) g / A, on the share that is bonded."""

from types import SimpleNamespace

import pytest
from made_bodies import made_body
from made_outages import made_model

from layout3d.catalog import water_density
from layout3d.checks.rules import background_bond as module

RULE = "background-bond"
LIFTED = (water_density(24.0) - 45) * 9.80665  # per cubic metre of rigid foam, [N]


def slab(thickness, more=""):
    flat = "kind: background, panels: [back], relief: {form: flat, depth: 0}"
    return f"wall: {{{flat}, thickness: {thickness}{more}}}"


def test_an_open_gap_behind_it_bonds_nothing(faulty):
    (finding,) = faulty(RULE)
    assert finding.severity == "fault"
    # the beads of silicone in the corners take a little of the slab
    weight_above = 0.1 * 0.6 * 0.06 * 45 * 9.80665
    assert finding.measured == pytest.approx(0.3 * 0.6 * 0.06 * LIFTED - weight_above, rel=0.02)


def test_on_the_glass_or_bedded_it_holds(check):
    assert check(RULE, slab(60), waterline=300) == ()
    assert check(RULE, slab(60, ", gap: 10, bedding: expanding polyurethane foam"), waterline=300) == ()


@pytest.mark.parametrize(("thickness", "severity"), [(215, None), (240, "warning")])
def test_either_side_of_the_limit(check, thickness, severity):
    """Drowned, a slab of thickness t pulls on 0.3 of its back with t (rho - 45) g / 0.3: 7 kPa at 225 mm."""
    found = check(RULE, slab(thickness), waterline=399.9)
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.measured == pytest.approx(thickness / 1000 * LIFTED / 0.3, rel=0.05)  # less the beads


def test_what_is_heavier_than_water_pulls_on_nothing(check):
    assert check(RULE, slab(60, ", gap: 20, material: concrete"), waterline=300) == ()


@pytest.mark.parametrize(
    ("thickness", "more", "severity"),
    [
        (85, "", None),
        (95, "", "warning"),
        (172, "", "warning"),
        (185, "", "fault"),
        (60, ", gap: 10", "fault"),
    ],
)
def test_a_slab_that_hangs_pulls_with_its_weight(check, thickness, more, severity):
    """Of concrete, over the floor, a slab of thickness t pulls with t 2400 g / 0.3: 7 kPa at 89 mm."""
    found = check(RULE, slab(thickness, f", bottom: 100, top: 350, material: concrete{more}"), waterline=90)
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        whole = thickness / 1000 * 2400 * 9.80665
        area = 0.6 * 0.25 if more else 1 / 0.3
        assert one.measured == pytest.approx(whole * area, rel=0.03)  # less the beads
        assert "wall hangs over the floor" in one.message


@pytest.mark.parametrize(("under", "count"), [("", 1), ("bed: {SAND, depth: 100, pitch: 50}", 0)])
def test_what_a_bed_or_a_stone_bears_does_not_hang(check, under, count):
    hung = slab(200, ", bottom: 100, top: 350, material: concrete")
    assert len(check(RULE, f"{under}\n{hung}", waterline=90)) == count
    stone = "stone: {kind: rock, mesh: block.obj, longest: 300, at: [300, 300, 0]TO}"
    assert len(check(RULE, f"{hung}\n{stone.replace('TO', '')}", waterline=90)) == 0
    assert len(check(RULE, f"{hung}\n{stone.replace('TO', ', fixed_to: wall')}", waterline=90)) == 1


def test_a_stone_that_stands_flush_before_a_slab_does_not_bear_it(check):
    """120 mm high, from 10 to 250 mm: the slab's face is at 250, its foot at 100."""
    stone = "stone: {kind: rock, mesh: block.obj, longest: 360, at: [300, 130, 0]}"
    assert (
        len(check(RULE, f"{slab(150, ', bottom: 100, top: 350, material: concrete')}\n{stone}", waterline=90))
        == 1
    )


PANES = {
    "back": SimpleNamespace(name="back", local=lambda points: points[:, [0, 2, 1]]),
    "left": SimpleNamespace(name="left", local=lambda points: points[:, [1, 2, 0]]),
}
"""Panes at y 0 and at x 0."""


def backed(*bodies, panes=("back", "back")):
    data = SimpleNamespace(slabs=tuple(SimpleNamespace(panel=PANES[name]) for name in panes))
    return module._on_glass(data, bodies)


@pytest.mark.parametrize(
    ("low", "panes", "area"),
    [
        ((0, 0, 0), ("back", "back"), 0.3 * 0.2),  # each pane once
        ((0, 0, 0), ("back", "left"), 0.3 * 0.2 + 0.05 * 0.2),  # in a corner both
        ((10, 0, 0), ("back", "left"), 0.3 * 0.2),
        ((0, 0.009, 0), ("back",), 0.3 * 0.2),
        ((0, 0.011, 0), ("back",), 0.0),
    ],
)
def test_the_back_that_lies_on_the_glass_bonds(low, panes, area):
    """A slab of 300 by 50 by 200 mm; a hundredth of a millimetre off it lies on it no more."""
    body = made_body("wall", low, (low[0] + 300, low[1] + 50, low[2] + 200), group="background")
    assert backed(body, panes=panes) == pytest.approx(area, rel=1e-6)


def test_pieces_of_a_back_add_up():
    one, two = (
        made_body("wall.a", (0, 0, 0), (100, 50, 100)),
        made_body("wall.b", (200, 0, 0), (250, 50, 100)),
    )
    assert backed(one, two) == pytest.approx(0.01 + 0.005, rel=1e-6)


def judged(monkeypatch, up, area):
    monkeypatch.setattr(module, "lifts", lambda model: [SimpleNamespace(part="wall", net=up)])
    monkeypatch.setattr(module, "_on_glass", lambda data, bodies: area)
    small, large = made_body("a", (0, 0, 0), (10, 10, 10)), made_body("b", (100, 0, 0), (300, 100, 100))
    model = made_model(bond_share=0.3, bond_stress=7000.0, bond_stress_most=20000.0, rest_gap=0.0015)
    other = SimpleNamespace(part=SimpleNamespace(name="other", bottom=0.0), data=None, bodies=(small,))
    wall = SimpleNamespace(part=SimpleNamespace(name="wall", bottom=0.0), data=None, bodies=(small, large))
    model.backgrounds = (other, wall)
    monkeypatch.setattr(module, "holds", lambda model: ())
    return list(module.background_bond.find(model))


@pytest.mark.parametrize(
    ("up", "severity"),
    [(0.0, None), (-5.0, None), (210.0, None), (211.0, "warning"), (600.0, "warning"), (601.0, "fault")],
)
def test_the_lift_over_the_share_of_the_back_that_is_bonded(monkeypatch, up, severity):
    """0.1 m² on the glass, 0.03 of it bonded: 7 kPa are 210 N, and 20 are 600."""
    found = judged(monkeypatch, up, 0.1)
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit, one.unit) == (("wall",), 7000.0, "Pa")
        assert one.measured == pytest.approx(up / 0.03)
        assert one.at == pytest.approx((0.2, 0.05, 0.05))  # the middle of its largest piece


def test_on_no_glass_any_lift_is_a_fault(monkeypatch):
    (one,) = judged(monkeypatch, 0.5, 0.0)
    assert (one.severity, one.measured, one.limit, one.unit) == ("fault", 0.5, 0.0, "N")
    assert judged(monkeypatch, 0.0, 0.0) == []


def test_wood_on_a_background_pulls_on_its_bond_too(check):
    """What the water lifts of a log, told by `floats` where it is loose, is added to the slab's."""
    log = (
        "log: {kind: wood, length: 300, branches: 0, detail: 2000, material: wood pine, at: [300, 100, 0]TO}"
    )

    def lifted(rule, to):
        parts = f"{slab(60, ', gap: 20')}\n{log.replace('TO', to)}"
        return next(
            found for found in check(rule, parts, waterline=399) if rule != RULE or "wall" in found.parts
        )

    loose, alone, tied = lifted("floats", ""), lifted(RULE, ""), lifted(RULE, ", fixed_to: wall")
    assert tied.measured == pytest.approx(alone.measured + loose.measured, rel=1e-6)
    assert "lifts wall and log by" in tied.message


def test_what_is_tied_to_a_log_on_a_background_pulls_on_its_bond_too(check):
    """Three logs, each tied to the one before: the first alone is fixed to the wall, and all pull on it."""
    log = "{kind: wood, length: 200, thickness: 30, branches: 0, detail: 2000, material: wood pine"

    def pulled(*ties):
        logs = (
            f"{'abc'[n]}: {log}, at: [300, {100 + 40 * n}, 50], fixed_to: {to}}}" for n, to in enumerate(ties)
        )
        (found,) = check(RULE, "\n".join((slab(60, ", gap: 20"), *logs)), waterline=399)
        return found

    each, chained = pulled("wall", "wall", "wall"), pulled("wall", "a", "b")
    assert chained.measured == pytest.approx(each.measured, rel=1e-6)
    assert "lifts wall and a and b and c by" in chained.message
