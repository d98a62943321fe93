"""Sets as words: packing and domination."""

import numpy as np

from geozone.setcover.bits import essential, lists, pack, undominated, unpack


def test_packing_round_trip():
    member = np.random.default_rng(0).random((7, 130)) < 0.5
    assert (unpack(pack(member), 130) == member).all()


def test_lists_name_the_elements_of_each_set():
    start, index = lists(np.array([[0, 1, 1], [0, 0, 0], [1, 0, 0]], bool))
    assert start.tolist() == [0, 2, 2, 3] and index.tolist() == [1, 2, 0]


def test_domination():
    member = np.array([[1, 1, 0], [1, 0, 0], [0, 1, 1], [1, 1, 0], [0, 0, 1]], bool)
    assert sorted(undominated(pack(member), 3)) == [0, 2]
    # Whoever covers the first element, or the third, covers the second.
    assert list(essential(member[[0, 2]])) == [0, 2]


def test_domination_against_every_pair():
    member = np.random.default_rng(8).random((60, 70)) < 0.04
    kept = set(undominated(pack(member), 70).tolist())
    for c in range(60):
        inside = [d for d in range(60) if d != c and (member[d] | ~member[c]).all() and (member[d].sum() > member[c].sum() or d < c)]
        assert (c in kept) == (not inside and bool(member[c].any()))
