"""How far a stand's top board sags under the filled tank."""

import pytest

RULE = "stand-sag"
STAND = "stand: {{kind: stand, height: 800, board: {}, material: {}}}"


@pytest.mark.parametrize(("board", "severity"), [(43, None), (42, "warning"), (37, "warning"), (36, "fault")])
def test_either_side_of_each_limit(faulty, board, severity):
    """A beam on two supports: 5 w l⁴ / 384 E I (Timoshenko, Strength of Materials), against l/500 and l/300.

    Water 1200 x 500 x 400 of 997.3 kg/m³; glass 12 of 2500: bottom 1224 x 524, walls around it, 450 high.
    """
    found = faulty(RULE, board=board)
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    mass = 0.24 * 997.3 + 2500 * (1.224 * 0.524 * 0.012 + (1.224 * 0.524 - 0.6) * 0.45)
    span, t = 1.224 - 2 * board / 1000, board / 1000
    for finding in found:
        sag = 5 / 384 * mass * 9.80665 / 1.224 * span**4 / (7e9 * 0.524 * t**3 / 12)
        assert finding.parts == ("stand.top",)
        assert finding.measured == pytest.approx(sag, rel=0.01)
        assert finding.limit == pytest.approx(span / 500)


def test_softer_boards_sag_more(check):
    """By the modulus alone: 7 over 2 GPa."""
    tank = "kind: tank, inside: [1200, 500, 450], glass: 12"
    (ply,), (mdf,) = (
        check(RULE, STAND.format(25, material), tank=tank, waterline=400) for material in ("plywood", "mdf")
    )
    assert mdf.measured == pytest.approx(3.5 * ply.measured)


def test_a_hole_that_is_cut_for_a_pipe_weakens_the_board(check):
    tank = "kind: tank, inside: [1200, 500, 450], glass: 12"
    hole = "drain: {panel: bottom, left: 600, back: 200, bulkhead: d63, plugged: true}"
    (whole,), (cut,) = (
        check(RULE, STAND.format(25, "plywood"), tank=tank, waterline=400, holes=given)
        for given in ("", hole)
    )
    assert cut.measured > 1.01 * whole.measured


def test_a_board_of_unknown_stiffness_is_a_fault(check):
    (one,) = check(RULE, STAND.format(40, "xps"))
    assert (one.severity, one.parts) == ("fault", ("stand.top",))
    assert "how stiff xps is isn't known here" in one.message


@pytest.mark.parametrize(
    ("mat", "told"),
    [
        ("mat: 0", "without a mat"),
        ("mat: 6, mat_material: granite", "by a mat of granite, which is hard"),
        ("mat: 6, mat_material: foam rubber", None),
    ],
)
def test_glass_stands_on_a_soft_mat(check, mat, told):
    """Common practice, no source."""
    found = check(RULE, f"stand: {{kind: stand, height: 800, {mat}}}")
    assert [one.severity for one in found] == ["warning"] * (told is not None)
    for one in found:
        assert one.parts == ("tank.bottom",)
        assert f"tank.bottom lies on stand.top {told}" in one.message
