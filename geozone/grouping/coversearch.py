"""Compiled search for set covers: domination between sets, and an exact decision.

Sets are rows of 64-bit words; bit i says that element i is in the set.
"""

from __future__ import annotations

import numpy as np

from ..compiled import kernel

_M1, _M2 = np.uint64(0x5555555555555555), np.uint64(0x3333333333333333)
_M4, _H01 = np.uint64(0x0F0F0F0F0F0F0F0F), np.uint64(0x0101010101010101)


@kernel()
def _count(word):
    word = word - ((word >> np.uint64(1)) & _M1)
    word = (word & _M2) + ((word >> np.uint64(2)) & _M2)
    word = (word + (word >> np.uint64(4))) & _M4
    return np.int64((word * _H01) >> np.uint64(56))


@kernel()
def _common(a, b):
    total = 0
    for word in range(a.size):
        total += _count(a[word] & b[word])
    return total


@kernel()
def _within(a, b):
    for word in range(a.size):
        if a[word] & ~b[word]:
            return False
    return True


def pack(member) -> np.ndarray:
    """Boolean (n_set, n) as words (n_set, ceil(n / 64)) uint64."""
    member = np.asarray(member, bool)
    n_set, n = member.shape
    padded = np.zeros((n_set, max(1, -(-n // 64)) * 64), bool)
    padded[:, :n] = member
    return np.packbits(padded, axis=1, bitorder="little").view("<u8").astype(np.uint64)


def unpack(sets: np.ndarray, n: int) -> np.ndarray:
    """Words as boolean (n_set, n)."""
    as_bytes = np.ascontiguousarray(sets.astype("<u8")).view(np.uint8)
    return np.unpackbits(as_bytes, axis=1, bitorder="little")[:, :n].astype(bool)


def undominated(sets: np.ndarray, n: int) -> np.ndarray:
    """Indices of sets that lie within no other; of equal ones the first is kept. Largest sets first."""
    if sets.shape[0] == 0:
        return np.empty(0, np.int64)
    as_void = np.ascontiguousarray(sets).view([("", np.uint64)] * sets.shape[1]).ravel()
    _, first = np.unique(as_void, return_index=True)
    size = np.bitwise_count(sets[first]).sum(axis=1, dtype=np.int64)
    order = first[np.lexsort((first, -size))]
    return order[np.flatnonzero(_undominated(np.ascontiguousarray(sets[order]), n))]


@kernel()
def _undominated(sets, n):
    """`sets` are distinct and sorted, largest first. Only kept sets that hold the rarest element need a look."""
    count, words = sets.shape
    held = np.zeros(n, np.int64)
    for c in range(count):
        for i in range(n):
            if sets[c, i >> 6] >> np.uint64(i & 63) & np.uint64(1):
                held[i] += 1
    start = np.zeros(n + 1, np.int64)
    for i in range(n):
        start[i + 1] = start[i] + held[i]
    holders = np.empty(start[n], np.int64)
    filled = np.zeros(n, np.int64)
    keep = np.zeros(count, np.bool_)
    for c in range(count):
        rarest, fewest = -1, count + 1
        for i in range(n):
            if sets[c, i >> 6] >> np.uint64(i & 63) & np.uint64(1) and filled[i] < fewest:
                rarest, fewest = i, filled[i]
        if rarest < 0:
            continue
        inside = False
        for h in range(filled[rarest]):
            if _within(sets[c], sets[holders[start[rarest] + h]]):
                inside = True
                break
        if inside:
            continue
        keep[c] = True
        for i in range(n):
            if sets[c, i >> 6] >> np.uint64(i & 63) & np.uint64(1):
                holders[start[i] + filled[i]] = c
                filled[i] += 1
    return keep


def essential(member: np.ndarray) -> np.ndarray:
    """Elements that need looking after: whoever covers them covers all. Sorted indices.

    An element is left out if some other element's sets all hold it too.
    """
    held = pack(np.ascontiguousarray(member.T))
    order = np.lexsort((np.arange(held.shape[0]), np.bitwise_count(held).sum(axis=1, dtype=np.int64)))
    return np.sort(order[_essential(np.ascontiguousarray(held[order]))])


@kernel()
def _essential(held):
    kept = np.empty(held.shape[0], np.int64)
    count = 0
    for i in range(held.shape[0]):
        needed = True
        for o in range(count):
            if _within(held[kept[o]], held[i]):
                needed = False
                break
        if needed:
            kept[count] = i
            count += 1
    return kept[:count].copy()


@kernel()
def shared_sets(sets, n):
    """(n, words) uint64: bit j of row i says that some set holds both elements."""
    mates = np.zeros((n, sets.shape[1]), np.uint64)
    for c in range(sets.shape[0]):
        for i in range(n):
            if sets[c, i >> 6] >> np.uint64(i & 63) & np.uint64(1):
                for word in range(sets.shape[1]):
                    mates[i, word] |= sets[c, word]
    return mates


@kernel()
def decide(sets, n, k, weight, start, holders, mates, order, node_limit, chosen):
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
            if _within(left, sets[holders[h]]):
                out[0] = holders[h]
                return 1
        return 0
    many = start[row + 1] - start[row]
    gain = np.empty(many, np.int64)
    top = 0
    for h in range(many):
        gain[h] = _common(sets[holders[start[row] + h]], left)
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
