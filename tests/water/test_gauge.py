"""The dipstick against the box it stands in, and its table read backwards."""

import pytest

from layout3d.errors import OutOfRange
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.water import gauge
from layout3d.water.cavity import tank_cavity
from layout3d.water.dipstick import dipstick
from layout3d.water.gauge import cavity_table, tank_table


def test_marks_of_an_empty_tank(model_of):
    marks = dipstick(model_of())
    assert len(marks) == 61
    assert [mark.level for mark in marks[:3]] == pytest.approx([0.0, 0.01, 0.02])
    assert marks[-1].level == 0.6
    for mark in marks:
        assert mark.gross == pytest.approx(0.5 * mark.level, abs=1e-12)
        assert mark.net == pytest.approx(mark.gross, abs=1e-12)
        assert mark.surface == pytest.approx(0.5 if mark.level else 0.0)


def test_a_step_that_does_not_divide_the_height_ends_at_the_rim(model_of):
    levels = [mark.level for mark in dipstick(model_of(), step=0.25)]
    assert levels == pytest.approx([0.0, 0.25, 0.5, 0.6])


def test_an_inch_scene_has_marks_each_half_inch(model_of):
    marks = dipstick(model_of(more="style: inch\n"))
    assert marks[1].level == pytest.approx(0.0127)
    assert len(marks) == 49  # 600 mm is 47.2 half inches


def test_a_bed_and_a_stone_in_it(model_of, body_of):
    bed = body_of("bed", box((1.0, 0.5, 0.1)), porosity=0.4)
    stone = body_of("stone", box((0.2, 0.2, 0.3)).solid(Placement.at((0.4, 0.1, 0.0))))
    marks = {round(mark.level, 3): mark for mark in dipstick(model_of([bed, stone]))}
    assert marks[0.05].net == pytest.approx(0.4 * (0.5 - 0.04) * 0.05)
    assert marks[0.05].pores == pytest.approx(marks[0.05].net)
    assert marks[0.05].surface == 0.0
    assert marks[0.2].net == pytest.approx((0.5 - 0.04) * (0.4 * 0.1 + 0.1))
    assert marks[0.2].surface == pytest.approx(0.46)
    assert marks[0.5].surface == pytest.approx(0.5)


@pytest.mark.parametrize("step", [0.0, -0.01, float("nan"), 1e-6])
def test_a_step_of_no_use_is_refused(model_of, step):
    with pytest.raises(OutOfRange, match="a dipstick with a step of"):
        dipstick(model_of(), step=step)


def test_the_level_of_a_volume(model_of, body_of):
    stone = body_of("stone", box((0.2, 0.2, 0.3)).solid(Placement.at((0.4, 0.1, 0.0))))
    table = tank_table(model_of([stone]))
    assert table.level(0.46 * 0.3) == pytest.approx(0.3)
    assert table.level(0.46 * 0.3 + 0.05) == pytest.approx(0.4)
    assert len(table.levels) == 3
    with pytest.raises(OutOfRange, match="a volume in tank of 300 L"):
        table.level(0.3)


@pytest.mark.parametrize("anew", [False, True])
def test_a_table_that_is_filed_is_made_where_that_is_asked_for_and_is_the_same(model_of, monkeypatch, anew):
    model, made, plain = model_of(), [], gauge.level_table
    filed = tank_table(model)

    def noted(*given, **more):
        made.append(plain(*given, **more))
        return made[-1]

    monkeypatch.setattr(gauge, "level_table", noted)
    assert cavity_table(tank_cavity(model), model.tank_name, anew=anew) == filed
    assert [table.volumes for table in made] == [filed.volumes] * anew
