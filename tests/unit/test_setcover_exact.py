"""Whether so many sets are enough: by branching, and by HiGHS, against every choice."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.setcover.bits import pack
from geozone.setcover.exact import exact
from geozone.setcover.programs import RelaxedCover, bound_of, mixed_integer

COVERS = runpy.run_path(str(Path(__file__).parents[1] / "matrixproblem.py"))
fewest_by_hand, random_cover = COVERS["fewest_by_hand"], COVERS["random_cover"]


@pytest.mark.parametrize("seed", range(6))
def test_exact_and_mixed_integer_agree(seed):
    member = random_cover(seed)
    best = fewest_by_hand(member)
    none = np.zeros(member.shape[1])
    assert exact(pack(member), member.shape[1], best, none)[0] is True
    assert exact(pack(member), member.shape[1], best - 1, none) == (False, None)
    chosen, _ = mixed_integer(member, best + 1, 10)
    assert chosen.size == best and member[chosen].any(axis=0).all()
    assert mixed_integer(member, best, 10) == (None, best)


def test_exact_gives_up_when_told_to():
    member = random_cover(3, 40, 60)
    assert exact(pack(member), 60, 7, np.zeros(60), node_limit=1) == (None, None)


def test_relaxed_programs_grow_to_what_they_would_be_at_once():
    member = random_cover(4, 30, 20)
    whole, grown = RelaxedCover(20), RelaxedCover(12)
    whole.add_sets(member)
    grown.add_sets(member[:18, :12])
    grown.solve()
    grown.add_rows(member[:18, 12:].T)
    grown.add_sets(member[18:])
    objective, dual, value = grown.solve()
    assert objective == pytest.approx(whole.solve()[0], abs=1e-9)
    # Weak duality, from both sides: no set holds more than 1, and all elements are covered.
    assert (member @ dual <= 1 + 1e-7).all() and (value @ member >= 1 - 1e-7).all() and dual.sum() == pytest.approx(value.sum())


def test_bounds_forgive_the_noise_of_the_solver_only():
    assert [bound_of(v) for v in (4.0, 4.0 + 1e-7, 4.0 + 1e-5, 3.2)] == [4, 4, 5, 4]
