"""The fewest columns by the very functions that a run calls, for covers that were written down as a matrix."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.setcover.bracket import fewest_columns
from geozone.setcover.neighbours import Neighbours
from geozone.setcover.relaxation import Relaxation, Relaxed
from geozone.setcover.search import Search

COVERS = runpy.run_path(str(Path(__file__).parents[1] / "matrixproblem.py"))
fewest_by_hand, random_cover = COVERS["fewest_by_hand"], COVERS["random_cover"]


def solved(problem, seconds=20.0):
    return fewest_columns(Search(problem), problem, seconds)


@pytest.mark.parametrize("listable", [True, False])
@pytest.mark.parametrize("seed", range(12))
def test_against_every_choice(matrix_problem, seed, listable):
    member = random_cover(seed)
    best = fewest_by_hand(member)
    found = solved(matrix_problem(member, listable=listable), 20.0 if listable else 5.0)
    assert member[found.cover[:, 0]].any(axis=0).all() and found.lower_bound <= best <= len(found.cover)
    held = member[:, found.relaxed.rows] @ found.relaxed.weight
    assert held.max() <= 1 + 1e-9 and found.relaxed.value == pytest.approx(found.relaxed.weight.sum())
    if listable:
        assert found.proved and len(found.cover) == best


@pytest.mark.parametrize("seed", range(6))
def test_bounds_rest_on_wide_columns_and_covers_on_sure_ones(matrix_problem, seed):
    """Wide sets hold an element or two more: then the bound is theirs, the cover is not."""
    member = random_cover(seed)
    wide = member | (np.random.default_rng(seed + 100).random(member.shape) < 0.15)
    found = solved(matrix_problem(member, wide))
    assert member[found.cover[:, 0]].any(axis=0).all() and len(found.cover) == fewest_by_hand(member)
    assert found.lower_bound <= fewest_by_hand(wide)
    assert not found.out_of_time and found.proved == (len(found.cover) == found.lower_bound)


def test_what_another_check_refuses_is_asked_for_again(matrix_problem):
    """`find` may want more of a cover than the problem says: here, that the first set is not in it."""
    member = np.array([[1, 1, 1, 1], [1, 1, 0, 0], [0, 0, 1, 1]], bool)
    problem, other = matrix_problem(member), matrix_problem(member[1:])
    search, asked = Search(problem), []

    def find(relaxed, most, deadline, steps):
        asked.append(most)
        return Search(other).cover(other, relaxed, most, deadline, steps)

    found = fewest_columns(search, problem, 10.0, find)
    assert len(found.cover) == 2 and found.lower_bound == 1 and asked == [None, 1] and not found.out_of_time


def test_a_fallback_where_there_is_no_cover(matrix_problem):
    problem = matrix_problem(np.eye(3, dtype=bool))
    found = fewest_columns(Search(problem), problem, 10.0, lambda *how: (None, False), lambda: [7, 8, 9])
    assert found.cover == [7, 8, 9] and found.lower_bound == 3 and found.proved


def test_a_problem_that_follows_another_is_helped_not_misled(matrix_problem):
    """The same search at ever narrower sets: bounds and covers are those of a search of its own."""
    at = np.random.default_rng(2).uniform(0, 10, (60, 2))
    far = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    first = matrix_problem(far < 3.0, at=at)
    search = Search(first)
    for reach in (3.0, 2.0, 1.5, 2.5):
        problem = matrix_problem(far < reach, at=at)
        found, alone = fewest_columns(search, problem, 20.0), solved(problem)
        assert problem.sure[found.cover[:, 0]].any(axis=0).all()
        assert len(found.cover) == len(alone.cover) == found.lower_bound == alone.lower_bound


def test_a_row_that_no_known_column_holds_gets_one(matrix_problem):
    member = np.array([[1, 1, 0], [0, 0, 1]], bool)
    problem = matrix_problem(member, listable=False)
    relaxation = Relaxation(problem, np.array([0, 1]), Neighbours(problem.at, problem.near))
    known = Relaxed(1, 1.0, np.array([0]), np.ones(1))
    assert relaxation.raised(known, np.inf).lower_bound == 2 and 2 in relaxation.rows
    assert set(relaxation.pool[:, 0].tolist()) == {0, 1}


def test_weights_of_a_part_of_the_rows():
    whole = Relaxed(3, 2.5, np.array([1, 4, 6]), np.array([1.0, 0.5, 1.0]))
    part = whole.among(np.array([True, True, False, True, False, True, True]))
    assert part.rows.tolist() == [1, 4] and part.weight.tolist() == [1.0, 1.0] and part.lower_bound == 3
    assert part.spread_over(np.arange(5)).tolist() == [0.0, 1.0, 0.0, 0.0, 1.0]
