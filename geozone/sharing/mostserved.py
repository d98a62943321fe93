"""How many sites one setting of the keypad can keep within tolerance, by branching and bounding over all positions.

At a keyed position a site allows a box of dusk and dawn shifts, so the question is where most boxes meet. Ranges of
positions give boxes that are too wide, and so a number that none of their settings can pass; at single positions what the
boxes promise is checked night by night.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np

from .keyranges import Keys, keyed_bounds, single, split
from .leastdrift import Keyed
from .siteboxes import X_HIGH, X_LOW, Y_HIGH, Y_LOW, SiteBoxes, counted, deepest, phases_of

_BATCH = 48
# Where the nights of all sites are computed again for each batch, batches are larger: 120 take 120 MB at 50,000 sites.
_LARGE_BATCH = 120
# So many settings that serve most sites are held against each other, and so many are tried at one position.
_ENOUGH = 40
_TRIED = 8


@dataclass(frozen=True)
class MostServed:
    """What the search found: settings that serve `served` sites, and the number that none can pass."""

    settings: list[Keyed]
    served: int
    at_most: int


def most_served(keys: Keys, boxes: SiteBoxes, limit_min: int, served_by, known: int, middle_lon_deg: float,
                most_work: float) -> MostServed:
    """The largest number of sites that one setting keeps within tolerance.

    Parameters
    ----------
    keys : Keys
    boxes : SiteBoxes
    limit_min : int
        Largest offset either way.
    served_by : callable
        Of a `Keyed`: how many sites it serves, checked night by night.
    known : int
        So many are served by a setting that is known already.
    middle_lon_deg : float
        Among equals, positions near it are looked at first.
    most_work : float
        Sites times ranges to be looked at; then the answer is what was found, with a bound.
    """
    best, found, heap, left, turn, unkept = known, [], [], max(most_work / max(boxes.own.n, 1), 200), 0, 0
    phases, blur = phases_of(keys)
    size = _BATCH if boxes.own.kept else _LARGE_BATCH
    # Each trial goes through all nights of all sites.
    enough, tried = (int(np.clip(most * 3000 // boxes.own.n, 3, most)) for most in (_ENOUGH, _TRIED))
    waiting = keys.first_ranges()
    while True:
        for first in range(0, len(waiting), size):
            batch = waiting[first:first + size]
            left -= len(batch)
            bounds = keyed_bounds(keys, batch)
            at = boxes.at(bounds)
            one = single(batch)
            depth = np.empty(len(batch), np.int64)
            # At a single position a shift is an offset, and offsets are whole minutes.
            depth[one] = deepest(at[:, one], np.zeros(1), 0.0, np.full(one.sum(), float(limit_min)))
            depth[~one] = deepest(at[:, ~one], phases, blur, limit_min + bounds.half_min[~one])
            for r, (range_, done) in enumerate(zip(batch, one)):
                if depth[r] < max(best, 1) or (depth[r] == best and len(found) >= enough):
                    continue
                if not done:
                    away = np.abs(np.clip(middle_lon_deg, *keys.lon_deg[range_[2:]]) - middle_lon_deg)
                    heapq.heappush(heap, (-int(depth[r]), float(away), turn, range_))
                    turn += 1
                    continue
                for promise, dusk, dawn in _promises(counted(at[:, r], limit_min, boxes.short_nights(bounds, r),
                                                             boxes.tolerance.excess_min), at[:, r], max(best, 1), tried):
                    if promise < best or (promise == best and len(found) >= enough):
                        break
                    keyed = Keyed(int(range_[0]), int(range_[2]), dusk, dawn)
                    served = served_by(keyed)
                    if served < promise:
                        unkept = max(unkept, promise)
                    if served > best:
                        best, found = served, []
                    if served == best:
                        found.append(keyed)
        heap = [item for item in heap if -item[0] > best or (-item[0] == best > 0 and len(found) < enough)]
        heapq.heapify(heap)
        if not heap or left < 0:
            return MostServed(found, best, max(best, unkept, -heap[0][0] if heap else 0))
        waiting = split(np.array([heapq.heappop(heap)[3] for _ in range(min(len(heap), size // 4))]))


def _promises(pairs, box: np.ndarray, least: int, tried: int):
    """Offsets at one position that lie in at least so many boxes: (count, dusk, dawn), most first, then mildest."""
    count, dusk, dawn = pairs
    keep = count >= least
    count, dusk, dawn = count[keep], dusk[keep], dawn[keep]
    # How far the worst site is from its box, were it alone to decide.
    x_low, x_high, y_low, y_high = (np.where(np.isfinite(row), row, 0.0) for row in box[[X_LOW, X_HIGH, Y_LOW, Y_HIGH]])
    beyond = np.maximum.reduce((dusk - x_high.min(), x_low.max() - dusk, dawn - y_high.min(), y_low.max() - dawn)) \
        if len(dusk) else dusk
    order = np.lexsort((np.abs(dusk) + np.abs(dawn), beyond, -count))[:tried]
    return [(int(count[o]), int(dusk[o]), int(dawn[o])) for o in order]
