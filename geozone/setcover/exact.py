"""Exact search: whether so many sets cover everything, by depth first with bounds."""

from __future__ import annotations

import numpy as np

from ..compiled import kernel
from .bits import common, lists, shared_sets, unpack, within


def exact(sets: np.ndarray, n: int, k: int, weight, node_limit: int = 200_000):
    """Whether k sets cover everything: (True, chosen), (False, None), or (None, None) if not settled.

    Parameters
    ----------
    sets : (n_set, words) uint64
        As `bits.pack` makes them.
    weight : (n,) float64
        Dual weights, or zeros.
    """
    member = unpack(sets, n)
    if not member.any(axis=0).all():
        return False, None
    start, holders = lists(np.ascontiguousarray(member.T))
    order = np.argsort(np.diff(start), kind="stable")
    chosen = np.full(max(k, 1), -1, np.int64)
    found = _decide(sets, n, k, np.asarray(weight, float), start, holders,
                               shared_sets(sets, n), order, node_limit, chosen)
    return (True, chosen[chosen >= 0]) if found == 1 else (False, None) if found == 0 else (None, None)


@kernel()
def _decide(sets, n, k, weight, start, holders, mates, order, node_limit, chosen):
    """Whether k of the sets cover all n elements: 1 yes (`chosen` is filled), 0 no, -1 not settled within the limit.

    Parameters
    ----------
    weight : (n,) float64
        Weights of which no set holds more than 1 in all (dual values of the relaxed problem): what is left to cover
        needs at least its weight in sets.
    start, holders : int64
        Sets that hold element i: holders[start[i]:start[i + 1]].
    mates : (n, words)
        From `shared_sets`.
    order : (n,) int64
        Elements, those in fewest sets first.
    """
    words = sets.shape[1]
    left = np.zeros((k + 1, words), np.uint64)
    for i in range(n):
        left[0, i >> 6] |= np.uint64(1) << np.uint64(i & 63)
    most = 0
    for i in range(n):
        most = max(most, start[i + 1] - start[i])
    branch = np.zeros((k + 1, most), np.int64)
    branches = np.zeros(k + 1, np.int64)
    at = np.zeros(k + 1, np.int64)
    depth, nodes, fresh = 0, 0, True
    rest = np.empty(words, np.uint64)
    while depth >= 0:
        if fresh:
            nodes += 1
            if nodes > node_limit:
                return -1
            empty = True
            for word in range(words):
                empty = empty and left[depth, word] == np.uint64(0)
            if empty:
                for d in range(k):
                    chosen[d] = branch[d, at[d] - 1] if d < depth else -1
                return 1
            branches[depth] = 0
            at[depth] = 0
            room = k - depth
            for word in range(words):
                rest[word] = left[depth, word]
            apart, first_row, total = 0, -1, 0.0
            for o in range(n):
                i = order[o]
                if left[depth, i >> 6] >> np.uint64(i & 63) & np.uint64(1):
                    total += weight[i]
                    if first_row < 0:
                        first_row = i
                if rest[i >> 6] >> np.uint64(i & 63) & np.uint64(1):
                    apart += 1
                    for word in range(words):
                        rest[word] &= ~mates[i, word]
            if apart <= room and total <= room + 1e-6:
                branches[depth] = _branch_sets(sets, left[depth], start, holders, first_row, room, branch[depth])
        if at[depth] < branches[depth]:
            c = branch[depth, at[depth]]
            at[depth] += 1
            for word in range(words):
                left[depth + 1, word] = left[depth, word] & ~sets[c, word]
            depth += 1
            fresh = True
        else:
            depth -= 1
            fresh = False
    return 0


@kernel()
def _branch_sets(sets, left, start, holders, row, room, out):
    """Sets worth trying for `row`: most of what is left first, none within another. Returns how many."""
    words = sets.shape[1]
    if room == 1:
        for h in range(start[row], start[row + 1]):
            if within(left, sets[holders[h]]):
                out[0] = holders[h]
                return 1
        return 0
    many = start[row + 1] - start[row]
    gain = np.empty(many, np.int64)
    top = 0
    for h in range(many):
        gain[h] = common(sets[holders[start[row] + h]], left)
        top = max(top, gain[h])
    # Sorted by counting, largest first, equals in their order: a library's sort takes seconds to compile.
    place = np.zeros(top + 2, np.int64)
    for h in range(many):
        place[top - gain[h] + 1] += 1
    for g in range(1, top + 2):
        place[g] += place[g - 1]
    by_gain = np.empty(many, np.int64)
    for h in range(many):
        by_gain[place[top - gain[h]]] = h
        place[top - gain[h]] += 1
    kept = 0
    for rank in range(many):
        c = holders[start[row] + by_gain[rank]]
        inside = False
        for other in range(kept):
            inside = True
            for word in range(words):
                if sets[c, word] & left[word] & ~sets[out[other], word]:
                    inside = False
                    break
            if inside:
                break
        if not inside:
            out[kept] = c
            kept += 1
    return kept
