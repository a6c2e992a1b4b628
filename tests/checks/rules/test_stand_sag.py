"""How far a stand's top board and the rails of its frame sag under the filled tank."""

import math

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


@pytest.mark.parametrize(
    ("frame", "member", "span", "share", "inertia"),
    [
        # along 1.224 - 2 x 0.025, less the legs of 20 front and back; half of the tank each
        (
            "width: 20, height: 20, wall: 2, across: 9",
            "stand.rail_front",
            1.174 - 2 * 0.02,
            0.5 / 1.224,
            (0.02**4 - 0.016**4) / 12,
        ),
        # the middle one of three rails across bears a bay, spread over the stand's depth
        (
            "width: 15, height: 10, legs: 12, material: aluminium",
            "stand.across_2",
            0.524 - 2 * 0.015,
            ((1.174 - 3 * 0.015) / 2 + 0.015) / 1.224 / 0.524,
            0.015 * 0.01**3 / 12,
        ),
        # the board between three rails
        (
            "width: 40, height: 60, wall: 3, legs: 3",
            "stand.top",
            (1.174 - 3 * 0.04) / 2,
            1 / 1.224,
            0.524 * 0.01**3 / 12,
        ),
    ],
)
def test_each_member_of_a_frame_is_a_beam_on_two_supports(check, frame, member, span, share, inertia):
    """5 w l⁴ / 384 E I (Timoshenko, Strength of Materials); I is b h³ / 12, less a hollow bar's inside."""
    tank = "kind: tank, inside: [1200, 500, 450], glass: 12"
    board = 10 if member == "stand.top" else 25
    stand = f"stand: {{kind: stand, height: 800, board: {board}, frame: {{{frame}}}}}"
    told = check(RULE, stand, tank=tank, waterline=400)
    found = {one.parts[0]: one for one in told if " sags " in one.message}
    mass = 0.24 * 997.3 + 2500 * (1.224 * 0.524 * 0.012 + (1.224 * 0.524 - 0.6) * 0.45)
    span += (0.025 - board / 1000) * (member == "stand.top")  # two bays between thinner side boards
    stiffness = {"stand.top": 7e9, "stand.rail_front": 210e9, "stand.across_2": 70e9}[member]
    sag = 5 / 384 * mass * 9.80665 * share * span**4 / (stiffness * inertia)
    assert set(found) == {member}
    assert found[member].measured == pytest.approx(sag, rel=0.01)
    assert found[member].limit == pytest.approx(span / 500)


def test_a_frame_that_bears_the_tank_is_no_finding(check):
    tank = "kind: tank, inside: [1200, 500, 450], glass: 12"
    stand = "stand: {kind: stand, height: 800, board: 25, frame: {width: 40, height: 40, wall: 3, legs: 3}}"
    assert not check(RULE, stand, tank=tank, waterline=400)


def test_a_bar_of_unknown_stiffness_is_a_fault(check):
    frame = "{width: 60, height: 60, legs: 3, material: granite}"
    found = check(RULE, f"stand: {{kind: stand, height: 800, frame: {frame}}}")
    assert {one.parts[0] for one in found} == {"stand.rail_front", "stand.across_2"}
    assert all("how stiff granite is isn't known here" in one.message for one in found)


@pytest.mark.parametrize(
    ("height", "severity"), [(1085, None), (1092, "warning"), (1510, "warning"), (1520, "fault")]
)
def test_thin_legs_buckle(check, height, severity):
    """Euler, one end held and the other free: π² E I / (2 l)² (Timoshenko, Theory of Elastic Stability)."""
    tank = "kind: tank, inside: [1200, 500, 450], glass: 12"
    frame = "{width: 10, height: 10, legs: 12, across: 12}"
    found = check(
        RULE, f"stand: {{kind: stand, height: {height}, board: 25, frame: {frame}}}", tank=tank, waterline=400
    )
    mass = 0.24 * 997.3 + 2500 * (1.224 * 0.524 * 0.012 + (1.224 * 0.524 - 0.6) * 0.45)
    tall = height / 1000 - 0.05 - 0.01
    times = math.pi**2 * 210e9 * 0.01**4 / 12 / (2 * tall) ** 2 / (mass * 9.80665 / 2 / 11)
    found = [one for one in found if one.parts == ("stand.leg_front_7",)]
    assert [one.severity for one in found] == [severity] * (severity is not None)
    for one in found:
        assert one.measured == pytest.approx(times, rel=0.01)
