"""Set covers: bounds, plans, domination."""

import itertools

import numpy as np
import pytest

from geozone.grouping.cover import exact, fewest_sets, greedy, improved, mixed_integer
from geozone.grouping.coversearch import essential, pack, undominated, unpack


def fewest_by_hand(member):
    for k in range(1, member.shape[0] + 1):
        for some in itertools.combinations(range(member.shape[0]), k):
            if member[list(some)].any(axis=0).all():
                return k


def random_cover(seed, n_set=14, n=11):
    member = np.random.default_rng(seed).random((n_set, n)) < 0.25
    member[np.arange(n) % n_set, np.arange(n)] = True
    return member


@pytest.mark.parametrize("seed", range(12))
def test_fewest_sets_against_every_choice(seed):
    member = random_cover(seed)
    cover = fewest_sets(member)
    assert member[cover.chosen].any(axis=0).all()
    assert cover.proved and cover.chosen.size == fewest_by_hand(member)
    assert (member @ cover.weight <= 1 + 1e-9).all()


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


def test_local_search_covers_and_never_worsens():
    member = random_cover(5, 300, 120)
    start = greedy(member)
    better = improved(member, start, 500)
    assert member[better].any(axis=0).all() and better.size <= start.size
    assert (better == improved(member, start, 500)).all()


def test_an_element_in_no_set():
    with pytest.raises(ValueError):
        greedy(np.zeros((2, 2), bool))


def test_packing_round_trip():
    member = np.random.default_rng(0).random((7, 130)) < 0.5
    assert (unpack(pack(member), 130) == member).all()


def test_domination():
    member = np.array([[1, 1, 0], [1, 0, 0], [0, 1, 1], [1, 1, 0], [0, 0, 1]], bool)
    assert sorted(undominated(pack(member), 3)) == [0, 2]
    # Whoever covers the first element, or the third, covers the second.
    assert list(essential(member[[0, 2]])) == [0, 2]


def test_nothing_to_cover():
    assert fewest_sets(np.zeros((3, 0), bool)).chosen.size == 0
