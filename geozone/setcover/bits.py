"""Sets as rows of 64-bit words: bit i says that element i is in the set. Packing, and which sets lie within others."""

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
def common(a, b):
    total = 0
    for word in range(a.size):
        total += _count(a[word] & b[word])
    return total


@kernel()
def within(a, b):
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


def lists(member: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Boolean (n_set, n) as (start, index) int64: set c holds the elements index[start[c]:start[c + 1]]."""
    start = np.concatenate(([0], np.cumsum(member.sum(axis=1)))).astype(np.int64)
    return start, np.nonzero(member)[1].astype(np.int64)


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
            if within(sets[c], sets[holders[start[rarest] + h]]):
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
            if within(held[kept[o]], held[i]):
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
