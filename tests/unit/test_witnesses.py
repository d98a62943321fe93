"""Lists that prove a bound."""

import time

import numpy as np

from geozone.grouping.witnesses import _clique, _thinned
from geozone.setcover.bits import pack, shared_sets
from geozone.setcover.exact import exact

# Five elements in a ring, a set for every two neighbours: 3 sets are needed, yet only 2 elements are apart.
RING = np.array([[i in (k, (k + 1) % 5) for i in range(5)] for k in range(5)])


def test_elements_apart():
    sets = pack(np.array([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 0, 1]], bool))
    found = _clique(shared_sets(sets, 4), 4, 3)
    assert sorted(found) == [0, 2, 3]


def test_a_ring_has_no_three_apart_but_needs_three():
    sets = pack(RING)
    assert _clique(shared_sets(sets, 5), 5, 3) is None
    assert list(_thinned(sets, 5, 3, time.monotonic() + 10)) == [0, 1, 2, 3, 4]


def test_idle_elements_are_thinned_out():
    """Two elements more, held by all sets: the ring alone is the reason."""
    sets = pack(np.concatenate((RING, np.ones((5, 2), bool)), axis=1))
    few = _thinned(sets, 7, 3, time.monotonic() + 10)
    assert list(few) == [0, 1, 2, 3, 4]
    assert exact(pack(RING[:, few]), 5, 2, np.zeros(5))[0] is False


def test_what_fewer_sets_cover_proves_nothing():
    assert _thinned(pack(RING), 5, 4, time.monotonic() + 10) is None
