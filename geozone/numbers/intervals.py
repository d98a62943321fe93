"""Arithmetic on unions of intervals: what is in one and not in the other, and how much falls where.

A union is four arrays of which the first `n` places count: `start`, `stop` [minutes since 1 January 00:00 UTC],
ascending and apart from each other, and `start_kind`, `stop_kind` (int8), what made each end: a dusk, a dawn or a
clock time. Everything here is compiled and sweeps both lists once.
"""

from __future__ import annotations

import math

import numpy as np

from ..compiled import kernel

# What made an end of an interval.
DUSK, DAWN, CLOCK = 0, 1, 2
# Edge codes of a reduced comparison: code = EDGE_COUNT * night + edge; WHOLE_NIGHT where one side has no light at all.
WHOLE_NIGHT, EDGE_COUNT = 3, 4
EDGES = ("dusk", "dawn", "clock", "night")

# Rows of the reduced comparison, the same ten as in comparison.py: sums of nights that are not judged stand three below.
(WORST_DARK, WORST_DARK_CODE, WORST_EXCESS, WORST_EXCESS_CODE, NIGHTS_BEYOND, DARK_SUM, EXCESS_SUM, NIGHTS_NOT_JUDGED,
 DARK_NOT_JUDGED, EXCESS_NOT_JUDGED) = range(10)


@kernel()
def reduce_difference(a, n_a, b, n_b, a_kinds, b_kinds, noon, limit, row_worst, row_code, row_sum, judged, beyond,
                      out):
    """Measure a without b night by night, and keep worst piece, its night and edge, and the sum.

    Parameters
    ----------
    a, b : (2, capacity) float64
        Starts and stops.
    n_a, n_b : int
    a_kinds, b_kinds : (2, capacity) int8
    noon : (n_night + 1,) float64
        A night runs from noon[k] to noon[k + 1]; pieces are cut there.
    limit : float
        A night with a piece longer than this counts as beyond.
    row_worst, row_code, row_sum : int
        Rows of `out` that are raised.
    judged : (n_night,) bool
        Nights that count for the worst and for `beyond`.
    beyond : (n_night,) uint8
        Set to 1 on nights beyond.
    out : (10,) float64
    """
    n_night = noon.size - 1
    k = 0
    j = 0
    night_first, night_last = noon[0], noon[n_night]
    for i in range(n_a):
        begin = max(a[0, i], night_first)
        end = min(a[1, i], night_last)
        kind = a_kinds[0, i]
        begin_is_own = True
        while begin < end:
            while j < n_b and b[1, j] <= begin:
                j += 1
            if j < n_b and b[0, j] <= begin:
                # Covered from here on: the next bare piece starts where b stops.
                begin = b[1, j]
                kind = b_kinds[1, j]
                begin_is_own = False
                continue
            if j < n_b and b[0, j] < end:
                stop, stop_kind = b[0, j], b_kinds[0, j]
            else:
                stop, stop_kind = end, a_kinds[1, i]
            # b went out too early: the fault lies at the switching that ends the piece, unless b comes back. The same
            # for a piece that b misses altogether and lies before.
            edge = kind
            if stop == end and (not begin_is_own or (j > 0 and (
                    j >= n_b or begin - b[1, j - 1] < b[0, j] - end))):
                edge = stop_kind
            p = begin
            while p < stop:
                while k < n_night - 1 and noon[k + 1] <= p:
                    k += 1
                q = min(stop, noon[k + 1])
                length = q - p
                if not judged[k]:
                    out[row_sum + 3] += length
                elif length > out[row_worst]:
                    out[row_worst] = length
                    out[row_code] = EDGE_COUNT * k + edge
                if length > limit and judged[k]:
                    beyond[k] = 1
                out[row_sum] += length
                p = q
                edge = stop_kind  # beyond a noon the fault is the next switching's
            begin = stop
            kind = stop_kind
            begin_is_own = False


@kernel()
def _lit_in(a, n, begin, end):
    """Whether the union has anything between begin and end (binary search)."""
    low, high = 0, n
    while low < high:
        middle = (low + high) // 2
        if a[1, middle] <= begin:
            low = middle + 1
        else:
            high = middle
    return low < n and a[0, low] < end


@kernel()
def compare_unions(a, n_a, a_kinds, b, n_b, b_kinds, noon, dark_limit, excess_limit, judged, beyond, out):
    """Intended `a` against delivered `b`: ten numbers, rows as named above; codes are -1 where there is nothing."""
    out[:] = 0.0
    out[WORST_DARK_CODE] = -1.0
    out[WORST_EXCESS_CODE] = -1.0
    beyond[:] = 0
    reduce_difference(a, n_a, b, n_b, a_kinds, b_kinds, noon, dark_limit, 0, 1, 5, judged, beyond, out)
    reduce_difference(b, n_b, a, n_a, b_kinds, a_kinds, noon, excess_limit, 2, 3, 6, judged, beyond, out)
    for row in (WORST_DARK_CODE, WORST_EXCESS_CODE):
        if out[row] >= 0.0:
            k = int(out[row]) // EDGE_COUNT
            if not (_lit_in(a, n_a, noon[k], noon[k + 1]) and _lit_in(b, n_b, noon[k], noon[k + 1])):
                out[row] = EDGE_COUNT * k + WHOLE_NIGHT
    total = 0.0
    for k in range(beyond.size):
        total += beyond[k]
    out[NIGHTS_BEYOND] = total
    for k in range(judged.size):
        if not judged[k]:
            out[NIGHTS_NOT_JUDGED] += 1.0


@kernel()
def add_by_bin(a, n_a, edge, bin_of, out):
    """Add the minutes of a union to bins of time.

    Parameters
    ----------
    a : (2, capacity) float64
    n_a : int
    edge : (m + 1,) float64
        Piece i of time runs from edge[i] to edge[i + 1]; what lies outside is left out.
    bin_of : (m,) int64
        The bin that each piece belongs to.
    out : (n_bin,) float64, added to
    """
    i = 0
    last = bin_of.size - 1
    for j in range(n_a):
        begin = max(a[0, j], edge[0])
        end = min(a[1, j], edge[last + 1])
        while begin < end:
            while i < last and edge[i + 1] <= begin:
                i += 1
            stop = min(end, edge[i + 1])
            out[bin_of[i]] += stop - begin
            begin = stop


@kernel()
def by_night(a, n_a, b, n_b, noon, out):
    """Minutes of `a` without `b` in each night, added to `out` (n_night,)."""
    n_night = noon.size - 1
    k = 0
    j = 0
    for i in range(n_a):
        begin = max(a[0, i], noon[0])
        end = min(a[1, i], noon[n_night])
        while begin < end:
            while j < n_b and b[1, j] <= begin:
                j += 1
            if j < n_b and b[0, j] <= begin:
                begin = b[1, j]
                continue
            stop = min(end, b[0, j]) if j < n_b else end
            while k < n_night - 1 and noon[k + 1] <= begin:
                k += 1
            stop = min(stop, noon[k + 1])
            out[k] += stop - begin
            begin = stop


def union_of(start, stop, kind: int = CLOCK) -> tuple[np.ndarray, int, np.ndarray]:
    """Any intervals as a union that the functions above take: sorted, merged, empty and NaN ones left out.

    Returns
    -------
    ends : (2, n) float64
    n : int
    kinds : (2, n) int8, all `kind`
    """
    start, stop = np.asarray(start, float).ravel(), np.asarray(stop, float).ravel()
    keep = stop > start
    start, stop = start[keep], stop[keep]
    order = np.argsort(start, kind="stable")
    start, stop = start[order], stop[order]
    reach = np.maximum.accumulate(stop) if stop.size else stop
    fresh = np.ones(start.size, bool)
    fresh[1:] = start[1:] > reach[:-1]
    begins = np.flatnonzero(fresh)
    ends = np.append(begins[1:], start.size) - 1
    union = np.ascontiguousarray(np.stack([start[begins], reach[ends]])) if start.size else np.empty((2, 0))
    return union, union.shape[1], np.full(union.shape, kind, np.int8)


def lit_minutes(union: np.ndarray, n: int | None = None, *, first: float = -math.inf, last: float = math.inf) -> float:
    """Total minutes of a union between two instants."""
    n = union.shape[1] if n is None else n
    return float(np.maximum(np.minimum(union[1, :n], last) - np.maximum(union[0, :n], first), 0.0).sum())


def minus(a: np.ndarray, b: np.ndarray) -> float:
    """Minutes of `a` not covered by `b`, as one number: the plainest form of the measure, for one pair of unions."""
    out = np.zeros(1)
    span = np.array([-1e12, 1e12])
    by_night(a, a.shape[1], b, b.shape[1], span, out)
    return float(out[0])
