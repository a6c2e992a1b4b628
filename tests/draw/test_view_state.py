from __future__ import annotations

from dataclasses import replace

import pytest

from layout3d.draw.stage import set_stage
from layout3d.draw.view_state import KEYS, VIEW_KEYS, group_keys, state_of


@pytest.fixture(scope="module")
def state(model, findings):
    return state_of(set_stage(model), findings)


def test_groups_are_those_of_the_scene_in_the_house_order(state):
    assert state.groups == ("glass", "plumbing", "wood", "rock", "substrate", "equipment", "water")
    assert all(state.shown(group) for group in state.groups)


def test_a_digit_hides_its_group_and_shows_it_again(state):
    hidden = state.pressed("4")
    assert hidden.hidden == {"rock"}
    assert hidden.pressed("4") == state
    assert hidden.pressed("1").pressed("a") == state
    assert state.pressed("9") == state
    with pytest.raises(KeyError):
        state.toggled("plant")


def test_ten_groups_have_digits_and_an_eleventh_has_its_box_only():
    keys = group_keys([f"g{k}" for k in range(11)])
    assert keys["1"] == "g0"
    assert keys["0"] == "g9"
    assert "g10" not in keys.values()


def test_findings_go_round_both_ways(state):
    told = [state]
    for _ in range(4):
        told.append(told[-1].pressed("n"))
    assert [s.current for s in told] == [None, 0, 1, 2, 0]
    assert state.pressed("p").current == 2
    assert state.pressed("p").pressed("p").current == 1
    assert state.pressed("n").pressed("Escape").current is None
    with pytest.raises(IndexError):
        state.at_finding(3)


def test_without_findings_there_is_nothing_to_step_to(state, model):
    stage = set_stage(model)
    none = replace(state, findings=())
    assert none.pressed("n") == none
    assert none.message() == ("no findings",)
    unchecked = state_of(stage, None)
    assert unchecked.pressed("n").message() == ("not checked",)


def test_the_message_tells_the_finding_with_its_number_and_remedy(state):
    assert state.message() == ("3 findings: press n",)
    assert state.pressed("n").message() == (
        "1 of 3  fault  overlap",
        "stone_1 and stone_2 do not go together by 3.14 mm",
        "move one of them",
    )


def test_a_cut_starts_in_the_middle_moves_in_steps_and_stays_inside(state):
    cut = state.pressed("y")
    assert cut.cut == ("y", pytest.approx((state.low[1] + state.high[1]) / 2))
    assert cut.towards == -1.0
    assert cut.pressed("Up").cut[1] == pytest.approx(cut.cut[1] + (state.high[1] - state.low[1]) / 50)
    assert cut.pressed("Up").pressed("Down").cut[1] == pytest.approx(cut.cut[1])
    assert cut.moved_cut(99.0).cut == ("y", state.high[1])
    assert cut.moved_cut(-99.0).cut == ("y", state.low[1])
    assert cut.pressed("v").towards == 1.0
    assert cut.pressed("y").cut is None
    assert cut.pressed("z").cut[0] == "z"
    assert state.pressed("Up") == state.moved_cut(1.0) == state


def test_keys_that_mean_nothing_change_nothing(state):
    for key in ("w", "s", "e", "j", "3D", "Return", ""):
        assert state.pressed(key) == state
    assert not state.pressed("h").help
    assert state.pressed("q").closed


def test_every_key_of_the_help_means_something_and_views_do_not_clash(state):
    words = " ".join(keys for keys, _ in KEYS)
    for key in ("a", "n", "p", "x", "y", "z", "Up", "Down", "v", "h", "q", *VIEW_KEYS):
        assert key in words
    for key in VIEW_KEYS:
        assert state.pressed(key) == state
    assert len(state.help_lines()) == len(KEYS)
