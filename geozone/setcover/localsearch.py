"""Compiled local search for set covers: swap sets until fewer do, weighing what stays uncovered."""

from __future__ import annotations

import threading
import time

import numpy as np

from ..compiled import kernel
from .bits import essential, lists

# Some 8 seconds.
_WORK = 8e9


def improved(member: np.ndarray, chosen: np.ndarray, steps: int, seed: int = 1, weight=None,
             deadline: float | None = None) -> np.ndarray:
    """A cover with at most as many sets as `chosen`, by local search; `deadline` is on the clock of `time.monotonic`."""
    weight = np.ones(member.shape[1]) if weight is None else np.asarray(weight, float)
    needed = essential(member)
    member, weight = np.ascontiguousarray(member[:, needed]), weight[needed]
    n_set = member.shape[0]
    # A step costs about (elements a set) x (sets an element); the same work is given to all problems.
    held = member.sum()
    steps = int(min(steps, max(200, _WORK / max(1.0, held / n_set * held / needed.size))))
    cover = np.zeros(n_set, bool)
    cover[chosen] = True
    best = np.zeros(n_set, bool)
    stop = np.zeros(1, np.uint8)
    # The kernel does not hold the interpreter's lock, so a timer can stop it; when none does, the answer is always the same.
    timer = threading.Timer(max(deadline - time.monotonic(), 0.0), stop.fill, (1,)) if deadline is not None else None
    if timer:
        timer.daemon = True
        timer.start()
    try:
        _local_search(*lists(member), *lists(np.ascontiguousarray(member.T)), cover, steps, seed, weight, best, stop)
    finally:
        if timer:
            timer.cancel()
    return np.flatnonzero(best)


@kernel()
def _flip(c, sign, in_cover, times, weight, score, set_start, set_rows, row_start, row_sets):
    """Put set c into the cover (sign 1) or take it out (-1), keeping every set's score up to date.

    The score of a set outside is the weight that it would newly cover, inside the weight that only it covers.
    """
    in_cover[c] = sign > 0
    fresh = 0.0
    for r in range(set_start[c], set_start[c + 1]):
        i = set_rows[r]
        before = times[i]
        times[i] += sign
        after = times[i]
        if sign > 0 and before == 0:
            fresh += weight[i]
            for h in range(row_start[i], row_start[i + 1]):
                score[row_sets[h]] -= weight[i]
        elif sign > 0 and before == 1:
            for h in range(row_start[i], row_start[i + 1]):
                other = row_sets[h]
                if in_cover[other] and other != c:
                    score[other] -= weight[i]
                    break
        elif sign < 0 and after == 0:
            fresh += weight[i]
            for h in range(row_start[i], row_start[i + 1]):
                score[row_sets[h]] += weight[i]
        elif sign < 0 and after == 1:
            for h in range(row_start[i], row_start[i + 1]):
                other = row_sets[h]
                if in_cover[other]:
                    score[other] += weight[i]
                    break
    score[c] = fresh


@kernel()
def _local_search(set_start, set_rows, row_start, row_sets, cover, steps, seed, weight, best, stop):
    """Covers with ever fewer sets: take one out, and swap until all is covered again, weighing what stays uncovered.

    Parameters
    ----------
    cover : (n_set,) bool
        A full cover to start from; changed.
    weight : (n,) float64
        Start weights; changed.
    best : (n_set,) bool, written
        The smallest full cover met.
    stop : (1,) uint8
        Set to 1 from outside when time is up.

    Returns
    -------
    int
        Sets in `best`.

    References
    ----------
    Row weighting for unicost set cover: Gao, Weise, Li, Computers & Operations Research 2015 (from memory).
    """
    n, n_set = row_start.size - 1, set_start.size - 1
    times, score = np.zeros(n, np.int64), np.zeros(n_set)
    in_cover = np.zeros(n_set, np.bool_)
    for c in range(n_set):
        for r in range(set_start[c], set_start[c + 1]):
            score[c] += weight[set_rows[r]]
    members = np.empty(n_set, np.int64)
    size = 0
    for c in range(n_set):
        if cover[c]:
            _flip(c, 1, in_cover, times, weight, score, set_start, set_rows, row_start, row_sets)
            members[size] = c
            size += 1
    for c in range(n_set):
        best[c] = in_cover[c]
    best_size = size
    moved = np.zeros(n_set, np.int64)
    bare = np.empty(n, np.int64)
    state = np.uint64(seed) * np.uint64(2862933555777941757) + np.uint64(3037000493)
    entered = -1
    for step in range(1, steps + 1):
        if stop[0]:
            break
        n_bare = 0
        for i in range(n):
            if times[i] == 0:
                bare[n_bare] = i
                n_bare += 1
        if n_bare == 0:
            for c in range(n_set):
                best[c] = in_cover[c]
            best_size = size
            if size <= 1:
                break
            size = _take_out(members, size, -1, score, moved, step, in_cover, times, weight, set_start, set_rows,
                             row_start, row_sets)
            continue
        size = _take_out(members, size, entered, score, moved, step, in_cover, times, weight, set_start, set_rows,
                         row_start, row_sets)
        n_bare = 0
        for i in range(n):
            if times[i] == 0:
                bare[n_bare] = i
                n_bare += 1
        state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
        row = bare[np.int64((state >> np.uint64(33)) % np.uint64(n_bare))]
        pick = -1
        for h in range(row_start[row], row_start[row + 1]):
            c = row_sets[h]
            if moved[c] == step:  # was taken out in this very step
                continue
            if pick < 0 or score[c] > score[pick] or (score[c] == score[pick] and moved[c] < moved[pick]):
                pick = c
        if pick < 0:
            pick = row_sets[row_start[row]]
        _flip(pick, 1, in_cover, times, weight, score, set_start, set_rows, row_start, row_sets)
        members[size] = pick
        size += 1
        moved[pick] = step
        entered = pick
        for i in range(n):
            if times[i] == 0:
                weight[i] += 1.0
                for h in range(row_start[i], row_start[i + 1]):
                    score[row_sets[h]] += 1.0
    return best_size


@kernel()
def _take_out(members, size, entered, score, moved, step, in_cover, times, weight, set_start, set_rows, row_start, row_sets):
    """Drop the member whose loss weighs least, oldest first, not the one that has just come in."""
    worst = -1
    for m in range(size):
        c = members[m]
        if c == entered and size > 1:
            continue
        if (worst < 0 or score[c] < score[members[worst]]
                or (score[c] == score[members[worst]] and moved[c] < moved[members[worst]])):
            worst = m
    c = members[worst]
    _flip(c, -1, in_cover, times, weight, score, set_start, set_rows, row_start, row_sets)
    members[worst] = members[size - 1]
    moved[c] = step
    return size - 1
