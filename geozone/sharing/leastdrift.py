"""The smallest worst drift that any setting of the keypad has, by branching and bounding over all its positions."""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np

from ..trade.setting import Tolerance
from .keyranges import KeyedBounds, Keys, keyed_bounds, single, split
from .nightlimits import SHORTEST, OwnTimes, demands, room

_BATCH = 96
# Batches whose bounds are kept: 30 take 45 MB.
_KEPT = 30


@dataclass(frozen=True)
class Keyed:
    """One setting as positions of `Keys` and offsets."""

    i: int
    j: int
    dusk_offset_min: int
    dawn_offset_min: int


class Ranges:
    """The ranges of positions that may still hold a setting good enough, and the questions asked of them."""

    def __init__(self, keys: Keys, own: OwnTimes, tolerance: Tolerance, limit_min: int, most_ranges: int):
        self.keys, self.own, self.tolerance, self.limit_min = keys, own, tolerance, limit_min
        self.left = most_ranges
        self.alive = keys.first_ranges()
        self._strict, self._shortest_min = None, -1.0
        self._known: dict[bytes, KeyedBounds] = {}

    def demand(self, factor: float) -> np.ndarray:
        """What the sites demand at a factor; where no night is short enough to matter it is the same for all factors."""
        dark = factor * self.tolerance.dark_min
        if self._strict is None or not dark < self._shortest_min:
            found = demands(self.own, dark)
            if found[SHORTEST].min() <= dark:
                return found
            self._strict, self._shortest_min = found, float(found[SHORTEST].min())
        return self._strict

    def asked(self, ranges: np.ndarray, factor: float, demand: np.ndarray) -> np.ndarray:
        """`room` of ranges at a factor of both tolerances."""
        # The same ranges are asked at one factor after another.
        name = ranges.tobytes()
        if name not in self._known:
            self.left -= len(ranges)
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[name] = keyed_bounds(self.keys, ranges)
        return room(self._known[name], demand, factor * self.tolerance.dark_min,
                    factor * self.tolerance.excess_min, self.limit_min, single(ranges))

    def _each(self, ranges, factor: float, demand: np.ndarray):
        """Each range with its `room` and whether it is a single position, a batch asked at a time."""
        for first in range(0, len(ranges), _BATCH):
            batch = ranges[first:first + _BATCH]
            yield from zip(batch, self.asked(batch, factor, demand), single(batch))

    def any_at(self, factor: float) -> Keyed | None:
        """Some setting with no more than `factor`, or None if there is none; wide room first.

        Afterwards `alive` holds the ranges that may have settings at this factor, or, where there was none, those that may
        have some at the last factor asked for.
        """
        demand, heap, dead, turn, found = self.demand(factor), [], [], 0, None
        waiting = self.alive
        while True:
            for range_, row, done in self._each(waiting, factor, demand):
                if row[0] < 0:
                    dead.append(range_)
                elif done and found is None:
                    found = Keyed(int(range_[0]), int(range_[2]), int(row[2]), int(row[2] + row[1]))
                    heap.append((0.0, turn, range_))
                else:
                    heapq.heappush(heap, (-row[0], turn, range_))
                turn += 1
            if found is not None or not heap or self.left < 0:
                break
            best = [heapq.heappop(heap)[2] for _ in range(min(len(heap), _BATCH // 4))]
            waiting = split(np.array(best))
        if found is not None or heap:
            self.alive = np.array([item[2] for item in heap] + (dead if found is None else []), np.int64).reshape(-1, 4)
            return found
        self.alive = np.array(dead, np.int64).reshape(-1, 4)
        return None

    def plainest_at(self, factor: float, middle: tuple[float, float]) -> Keyed | None:
        """Of all settings with no more than `factor` the one with the smallest offsets, then nearest to (lat, lon)."""
        demand, heap, turn = self.demand(factor), [], 0
        best: Keyed | None = None
        best_rank: tuple[float, ...] = (np.inf,)
        waiting = self.alive
        while True:
            for range_, row, done in self._each(waiting, factor, demand):
                # The best that a setting of this range could be: the nearest corner or side with the least offsets.
                lat = float(np.clip(middle[0], *self.keys.lat_deg[range_[:2]]))
                lon = float(np.clip(middle[1], *self.keys.lon_deg[range_[2:]]))
                away = np.hypot(lat - middle[0], (lon - middle[1]) * np.cos(np.radians(middle[0])))
                rank: tuple[float, ...] = (round(row[3], 6) - 1e-6, round(away, 6) - 1e-6)
                if done:
                    rank = (round(row[3], 6), round(away, 6), lat, lon)
                if row[0] < 0 or rank >= best_rank:
                    continue
                if done:
                    best, best_rank = Keyed(int(range_[0]), int(range_[2]), int(row[4]), int(row[4] + row[5])), rank
                else:
                    heapq.heappush(heap, (rank, turn, range_))
                    turn += 1
            heap = [item for item in heap if item[0] < best_rank]
            if not heap or self.left < 0:
                return best
            heapq.heapify(heap)
            waiting = split(np.array([heapq.heappop(heap)[2] for _ in range(min(len(heap), _BATCH // 4))]))
