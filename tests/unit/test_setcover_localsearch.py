"""Covers from above: the greedy rule, and swapping."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.setcover.greedy import greedy, greedy_columns, plain_greedy
from geozone.setcover.localsearch import improved

COVERS = runpy.run_path(str(Path(__file__).parents[1] / "matrixproblem.py"))
random_cover = COVERS["random_cover"]


def test_local_search_covers_and_never_worsens():
    member = random_cover(5, 300, 120)
    start = greedy(member)
    better = improved(member, start, 500)
    assert member[better].any(axis=0).all() and better.size <= start.size
    assert (better == improved(member, start, 500)).all()


def test_an_element_in_no_set():
    with pytest.raises(ValueError):
        greedy(np.zeros((2, 2), bool))


@pytest.mark.parametrize("families", [1, 4])
def test_the_greedy_rule_is_the_same_from_a_list_and_from_columns_by_weight(matrix_problem, families):
    member = random_cover(6, 40, 60)
    columns = matrix_problem(member, families=families).columns(np.arange(60), False)
    assert plain_greedy(columns)[:, 0].tolist() == greedy(member).tolist()
    more = greedy_columns(columns)
    assert member[more[:, 0]].any(axis=0).all()
