"""The dual simplex method against a library's, HiGHS through scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from layout3d.hold.programme import cheapest


def programme(seed, rows, columns):
    """A programme that has an answer, and a basis at which no other column is cheaper."""
    draw = np.random.default_rng(seed)
    matrix = draw.normal(size=(rows, columns))
    right = matrix @ draw.uniform(size=columns)
    basis = draw.permutation(columns)[:rows]
    costs = draw.normal(size=rows) @ matrix + draw.uniform(size=columns)
    costs[basis] -= costs[basis] - np.linalg.solve(matrix[:, basis].T, costs[basis]) @ matrix[:, basis]
    over = costs - np.linalg.solve(matrix[:, basis].T, costs[basis]) @ matrix
    return np.where(over < 0.0, costs - 2.0 * over, costs), matrix, right, basis


@given(st.integers(0, 10**6), st.integers(1, 12), st.integers(0, 200))
def test_it_finds_what_a_library_does(seed, rows, more):
    costs, matrix, right, basis = programme(seed, rows, rows + more)
    found = cheapest(costs, matrix, right, basis)
    assert found is not None
    used, shares, dearer = found
    solved = linprog(costs, A_eq=matrix, b_eq=right)
    assert costs[used] @ shares == pytest.approx(solved.fun, rel=1e-6, abs=1e-6)  # HiGHS stops within 1e-7
    assert matrix[:, used] @ shares == pytest.approx(right, abs=1e-8)
    assert shares.min() >= -1e-9
    assert dearer.min() >= -1e-9


def test_where_no_shares_do_it_finds_nothing():
    assert cheapest(np.ones(2), np.array([[1.0, 2.0]]), np.array([-1.0]), np.array([0])) is None


def test_it_begins_at_no_corner_at_which_another_column_is_cheaper_nor_at_none():
    cheaper = np.array([1.0, 1.0]), np.array([[1.0, 2.0]]), np.array([1.0])
    assert cheapest(*cheaper, np.array([0])) is None
    assert cheapest(*cheaper, np.array([1]))[1] == pytest.approx([0.5])
    assert cheapest(np.ones(2), np.zeros((1, 2)), np.ones(1), np.array([0])) is None
