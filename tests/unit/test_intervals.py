"""Arithmetic on unions of intervals: worked by hand, then against plain sampling."""

import numpy as np
import pytest

from geozone.numbers import intervals as iv

NOON = np.array([0.0, 1440.0, 2880.0])


def compared(a, b, kinds=None, limit=5.0):
    a, n_a, ka = iv.union_of(*zip(*a)) if a else iv.union_of([], [])
    b, n_b, kb = iv.union_of(*zip(*b)) if b else iv.union_of([], [])
    for k in (ka, kb):
        if k.size:
            k[0], k[1] = iv.DUSK, iv.DAWN
    out = np.empty(10)
    iv.compare_unions(a, n_a, ka, b, n_b, kb, NOON, limit, limit, np.ones(2, bool), np.zeros(2, np.uint8), out)
    return out


def test_late_dusk_and_late_dawn():
    out = compared([(300, 1000)], [(310, 1004)])
    assert out.tolist() == [10, 0 * 4 + iv.DUSK, 4, 0 * 4 + iv.DAWN, 1, 10, 4, 0, 0, 0]


def test_night_without_any_delivered_light_is_a_whole_night():
    out = compared([(300, 1000), (1740, 2440)], [(300, 1000)])
    assert out[0] == 700 and out[1] == 4 * 1 + iv.WHOLE_NIGHT and out[5] == 700


def test_pieces_are_cut_at_noon():
    out = compared([(300, 2000)], [])
    assert out[0] == 1140 and out[5] == 1700 and out[4] == 2


def test_disjoint_intervals_are_booked_to_the_edges_that_cause_them():
    out = compared([(300, 310)], [(320, 330)])
    assert out[0] == 10 and out[1] % 4 == iv.DUSK
    assert out[2] == 10 and out[3] % 4 == iv.DAWN


def test_equal_unions_differ_by_nothing():
    out = compared([(300, 900), (950, 1000)], [(300, 900), (950, 1000)])
    assert out.tolist() == [0, -1, 0, -1, 0, 0, 0, 0, 0, 0]


def test_a_piece_of_exactly_the_limit_is_not_beyond():
    assert compared([(300, 1000)], [(305, 1000)])[4] == 0
    assert compared([(300, 1000)], [(305.1, 1000)])[4] == 1


def test_union_of_merges_and_drops_empty_and_nan():
    union, n, kinds = iv.union_of([5, 0, 3, np.nan, 9, 20], [6, 4, 5, 7, 9, 21])
    assert n == 2 and union.tolist() == [[0, 20], [6, 21]] and kinds.shape == (2, 2)


def test_bins_by_hand():
    union, n, _ = iv.union_of([10, 50], [30, 70])
    out = np.zeros(2)
    iv.add_by_bin(union, n, np.array([0.0, 20.0, 60.0, 65.0]), np.array([0, 1, 0]), out)
    assert out.tolist() == [10 + 5, 10 + 10]


@pytest.mark.parametrize("seed", range(20))
def test_against_sampling_of_whole_minutes(seed):
    rng = np.random.default_rng(seed)

    def random_union():
        start = rng.integers(0, 2800, 6)
        return iv.union_of(start, start + rng.integers(0, 400, 6))[0]

    a, b = random_union(), random_union()
    middle = np.arange(0, 3300) + 0.5
    in_a, in_b = (((u[0][:, None] <= middle) & (middle < u[1][:, None])).any(0) for u in (a, b))
    assert iv.minus(a, b) == (in_a & ~in_b).sum()
    assert iv.lit_minutes(a) == in_a.sum()
    night = np.zeros(2)
    iv.by_night(a, a.shape[1], b, b.shape[1], NOON, night)
    assert night.tolist() == [(in_a & ~in_b)[:1440].sum(), (in_a & ~in_b)[1440:2880].sum()]
