"""The dusk and dawn shifts that each site allows at keyed positions, and where most of these boxes meet."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from ..compiled import kernel
from ..numbers.almanac import almanac
from ..numbers.crossing import CROSSES, DAWN_ONLY, DUSK_ONLY, STAYS_ABOVE, STAYS_BELOW, day_of_hour_angle
from ..numbers.sun import run_in_parts
from ..trade.setting import Tolerance
from .keyranges import UNSURE, KeyedBounds, Keys
from .nightlimits import OwnTimes

# Rows of a box: least and most dusk shift, least and most dawn shift, largest dawn minus dusk shift.
X_LOW, X_HIGH, Y_LOW, Y_HIGH, GAP_HIGH = range(5)
# The loop over nights counts in whole ticks, because whole numbers become vector instructions; rounding moves a time by
# 0.2 ms twice over, which is allowed on the side of the site.
_TICKS_PER_MIN = 1 << 16
_NEVER = 1 << 29
_SLACK_MIN = 4.0 / _TICKS_PER_MIN
_MOST_OF_A_DAY_MIN = 700.0
# So few boxes are compared with one another, more are counted on a grid.
_FEW = 48
_MOST_PHASES = 25


class SiteBoxes:
    """Boxes of all sites at one tolerance.

    Boxes are on the safe side: a setting outside a site's box surely passes the tolerance there. One inside keeps to it,
    but for excess on nights so short that what is given might be shorter than the tolerance.
    """

    def __init__(self, own: OwnTimes, tolerance: Tolerance):
        self.own, self.tolerance = own, tolerance
        self._kept = list(self._pieces()) if own.kept else None

    def at(self, bounds: KeyedBounds) -> np.ndarray:
        """(5, m, n) float32 [minute]: the box of each site over each range; none where `GAP_HIGH` is -inf."""
        m = len(bounds.state)
        out = np.empty((5, m, self.own.n), np.float32)
        keyed = self._keyed(bounds)
        e = almanac(self.own.year).hour_angle
        dark, excess = self.tolerance.dark_min + _SLACK_MIN, self.tolerance.excess_min + _SLACK_MIN
        key_other = (bounds.state != CROSSES) & (bounds.state != UNSURE)
        for rows, nights, begin, end, limits, other, _ in self._kept or self._pieces():
            into = out[:, :, rows]
            odd = np.flatnonzero(other | key_other.any(axis=0))

            def part(piece: slice):
                least = np.empty((4, m, piece.stop - piece.start), np.int32)
                _least_differences(keyed, limits[piece], least)
                room = np.where(least >= _NEVER // 2, np.inf, least / _TICKS_PER_MIN)
                into[X_HIGH][:, piece], into[X_LOW][:, piece] = dark + room[0], -(excess + room[1])
                into[Y_HIGH][:, piece], into[Y_LOW][:, piece] = excess + room[2], -(dark + room[3])
                gap = np.full((m, piece.stop - piece.start), np.inf)
                if odd.size:
                    _odd_nights(e, odd, nights.lon_rad[piece], begin[piece], end[piece],
                                nights.state[piece], nights.judged[piece], bounds.state, bounds.times, dark, excess, gap)
                into[GAP_HIGH][:, piece] = gap

            run_in_parts(part, nights.lon_rad.size)
        return out

    def short_nights(self, bounds: KeyedBounds, r: int):
        """What nights ask for on which excess may be cut off by the length given, at a single position.

        Returns
        -------
        starts : (n + 1,) int64
            Where each site's nights begin in the arrays below.
        given, x_low, y_high : (s,) float64 [minute]
            Length of the keyed night without offsets; least dusk and most dawn shift where that is longer than the excess.
        """
        starts, given, x_low, y_high = [np.zeros(1, np.int64)], [], [], []
        excess = self.tolerance.excess_min + _SLACK_MIN
        crosses, times = bounds.state[r] == CROSSES, bounds.times[r]
        for _, _, begin, end, _, _, (short_site, short_night) in self._kept or self._pieces():
            keep = crosses[short_night]
            site, k = short_site[keep], short_night[keep]
            starts.append(starts[-1][-1] + np.searchsorted(site, np.arange(1, len(begin) + 1)))
            given.append(times[4, k])
            x_low.append(begin[site, k] - excess - times[0, k])
            y_high.append(end[site, k] + excess - times[2, k])
        return np.concatenate(starts), *(np.concatenate(part) for part in (given, x_low, y_high))

    def _pieces(self):
        for rows, nights in self.own.pieces():
            begin, end = nights.lit_interval(almanac(self.own.year).hour_angle)
            limits, short = np.empty((begin.shape[0], 4, begin.shape[1]), np.int32), np.empty(begin.shape, bool)

            def part(piece: slice):
                _limits(begin[piece], end[piece], nights.state[piece], nights.judged[piece], self.tolerance.dark_min,
                        self.tolerance.excess_min, limits[piece], short[piece])

            run_in_parts(part, nights.lon_rad.size)
            other = (nights.judged & (nights.state != CROSSES)).any(axis=0)
            yield rows, nights, begin, end, limits, other, np.nonzero(short)

    @staticmethod
    def _keyed(bounds: KeyedBounds) -> np.ndarray:
        """Keyed times as the loop wants them, (m, 4, n_night) int32 ticks; `-_NEVER` where they ask nothing."""
        state = bounds.state
        night = 1440.0 * np.arange(1, state.shape[1] + 1)
        known = (state != UNSURE) & (state != STAYS_ABOVE) & (state != STAYS_BELOW)
        dusk, dawn = known & (state != DAWN_ONLY), known & (state != DUSK_ONLY)
        out = np.empty((state.shape[0], 4, state.shape[1]), np.int32)
        for edge, (row, sign, use) in enumerate(((0, 1, dusk), (1, -1, dusk), (2, 1, dawn), (3, -1, dawn))):
            times = np.where(use, sign * (bounds.times[:, row] - night), 0.0)
            out[:, edge] = np.where(use, np.rint(times * _TICKS_PER_MIN), -_NEVER)
        return out


@kernel()
def _limits(begin, end, state, judged, dark_min, excess_min, limits, short):
    """What each night asks of dusk and dawn as `_least_differences` wants it [tick]; short: its excess may be cut off."""
    for i in range(begin.shape[0]):
        for k in range(begin.shape[1]):
            night, own = (k + 1.0) * 1440.0, end[i, k] - begin[i, k]
            lit = judged[i, k] and state[i, k] != STAYS_ABOVE
            dark = lit and own > dark_min
            # If such a night keeps within dark on both edges, what is given is longer than the tolerance of excess.
            excess = lit and own > 2.0 * dark_min + excess_min
            limits[i, 0, k] = np.int32(np.rint((begin[i, k] - night) * _TICKS_PER_MIN)) if dark else np.int32(_NEVER)
            limits[i, 1, k] = np.int32(np.rint((night - begin[i, k]) * _TICKS_PER_MIN)) if excess else np.int32(_NEVER)
            limits[i, 2, k] = np.int32(np.rint((end[i, k] - night) * _TICKS_PER_MIN)) if excess else np.int32(_NEVER)
            limits[i, 3, k] = np.int32(np.rint((night - end[i, k]) * _TICKS_PER_MIN)) if dark else np.int32(_NEVER)
            short[i, k] = lit and not excess


@kernel()
def _least_differences(keyed, limits, out):
    """out[edge, r, i] = least of limit minus keyed time over the nights [tick]."""
    for i in range(limits.shape[0]):
        for r in range(keyed.shape[0]):
            for edge in range(4):
                least = np.int32(_NEVER)
                for k in range(limits.shape[2]):
                    difference = np.int32(limits[i, edge, k] - keyed[r, edge, k])
                    least = difference if difference < least else least
                out[edge, r, i] = least


@kernel()
def _odd_nights(e, nights, lon_rad, begin, end, state, judged, key_state, times, dark, excess, gap):
    """Largest dawn minus dusk shift from nights on which site or setting does not cross; -inf: no shift will do."""
    for r in range(key_state.shape[0]):
        for i in range(lon_rad.size):
            for k in nights:
                key, own = key_state[r, k], state[i, k]
                if key == UNSURE or not judged[i, k] or (own == CROSSES and key == CROSSES):
                    continue
                if own == STAYS_ABOVE:
                    if key == CROSSES:
                        gap[r, i] = min(gap[r, i], excess - times[r, 4, k])
                    elif key != STAYS_ABOVE and excess < _MOST_OF_A_DAY_MIN:
                        gap[r, i] = -math.inf
                elif key == STAYS_ABOVE:
                    if end[i, k] - begin[i, k] > dark:
                        gap[r, i] = -math.inf
                elif key != CROSSES and excess < _MOST_OF_A_DAY_MIN:
                    if key != DUSK_ONLY and own != STAYS_BELOW and own != DAWN_ONLY:
                        noon = (k + 1.0) * 1440.0 + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 0.0)
                        if begin[i, k] - noon > excess:
                            gap[r, i] = -math.inf
                    if key != DAWN_ONLY and own != STAYS_BELOW and own != DUSK_ONLY:
                        next_noon = (k + 1.0) * 1440.0 + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 2.0 * math.pi)
                        if next_noon - end[i, k] > excess:
                            gap[r, i] = -math.inf
                if gap[r, i] == -math.inf:
                    break


def phases_of(keys: Keys) -> tuple[np.ndarray, float]:
    """What a dusk shift modulo one minute can be, and how far from the truth that is [minute]."""
    steps = np.diff(keys.lon_deg)
    step = 4.0 * (steps[0] if steps.size else 1.0)
    shift = Fraction(float(step)).limit_denominator(_MOST_PHASES)
    if np.allclose(4.0 * steps, step, atol=1e-7) and abs(float(shift) - step) < 1e-7:
        return np.arange(shift.denominator) / shift.denominator, 0.0
    return np.arange(_MOST_PHASES) / _MOST_PHASES, 0.5 / _MOST_PHASES


def deepest(boxes: np.ndarray, phases: np.ndarray, blur_min: float, reach_min: np.ndarray) -> np.ndarray:
    """(m,) int64: in how many boxes one pair of shifts can lie at most, range by range.

    Parameters
    ----------
    boxes : (5, m, n) float32
    phases, blur_min
        As `phases_of` gives them.
    reach_min : (m,) float64
        Largest shift either way.
    """
    out = np.zeros(boxes.shape[1], np.int64)
    run = _few_deepest if boxes.shape[2] <= _FEW else _grid_deepest
    run(boxes, phases, blur_min, reach_min, out)
    return out


@kernel()
def _few_deepest(boxes, phases, blur, reach, out):
    n = boxes.shape[2]
    for r in range(boxes.shape[1]):
        best = 0
        for c in range(n):
            # Where most boxes meet, a corner is the low side of one of them in dusk and of one in dawn.
            x = max(boxes[X_LOW, r, c] - blur, -reach[r])
            if x > min(boxes[X_HIGH, r, c] + blur, reach[r]) or boxes[GAP_HIGH, r, c] == -math.inf:
                continue
            for d in range(n):
                if not _holds(boxes, r, d, x, blur):
                    continue
                y = max(boxes[Y_LOW, r, d] - blur, -reach[r])
                if y > reach[r]:
                    continue
                depth = 0
                for i in range(n):
                    if (_holds(boxes, r, i, x, blur) and boxes[Y_LOW, r, i] - blur <= y + 1e-5
                            and y <= min(boxes[Y_HIGH, r, i], boxes[X_HIGH, r, i] + boxes[GAP_HIGH, r, i]) + 2.0 * blur + 1e-5):
                        depth += 1
                best = max(best, depth)
        out[r] = best


@kernel()
def _holds(boxes, r, i, x, blur):
    return (boxes[GAP_HIGH, r, i] > -math.inf and boxes[X_LOW, r, i] - blur <= x + 1e-5
            and x <= boxes[X_HIGH, r, i] + blur + 1e-5)


@kernel()
def _grid_deepest(boxes, phases, blur, reach, out):
    n = boxes.shape[2]
    for r in range(boxes.shape[1]):
        x0, x1, y0, y1 = math.inf, -math.inf, math.inf, -math.inf
        for i in range(n):
            if (boxes[GAP_HIGH, r, i] > -math.inf and boxes[X_LOW, r, i] <= boxes[X_HIGH, r, i]
                    and boxes[Y_LOW, r, i] <= boxes[Y_HIGH, r, i]):
                x0, x1 = min(x0, boxes[X_LOW, r, i]), max(x1, boxes[X_HIGH, r, i])
                y0, y1 = min(y0, boxes[Y_LOW, r, i]), max(y1, boxes[Y_HIGH, r, i])
        x0, x1, y0, y1 = max(x0, -reach[r]), min(x1, reach[r]), max(y0, -reach[r]), min(y1, reach[r])
        out[r] = 0
        if not x0 <= x1 or not y0 <= y1:
            continue
        i0, j0 = int(math.floor(x0)) - 1, int(math.floor(y0)) - 1
        grid = np.zeros((int(x1) - i0 + 4, int(y1) - j0 + 4), np.int32)
        for p in range(phases.size):
            grid[:, :] = 0
            _mark(boxes, r, phases[p], blur, i0, j0, grid)
            out[r] = max(out[r], _sum_up(grid))


@kernel()
def _mark(boxes, r, phase, blur, i0, j0, grid):
    """Corner marks of every box on a grid of whole minutes plus `phase`, cut where the gap grows too large."""
    n_i, n_j = grid.shape[0] - 1, grid.shape[1] - 1
    for i in range(boxes.shape[2]):
        most = boxes[GAP_HIGH, r, i]
        if most == -math.inf:
            continue
        a = int(math.ceil(max(boxes[X_LOW, r, i] - phase - blur - 1e-5, i0 + 0.0))) - i0
        b = int(math.floor(min(boxes[X_HIGH, r, i] - phase + blur + 1e-5, i0 + n_i - 1.0))) - i0
        c = int(math.ceil(max(boxes[Y_LOW, r, i] - phase - blur - 1e-5, j0 + 0.0))) - j0
        d = int(math.floor(min(boxes[Y_HIGH, r, i] - phase + blur + 1e-5, j0 + n_j - 1.0))) - j0
        if a > b or c > d:
            continue
        if most > d + j0 - a - i0:
            grid[a, c] += 1
            grid[a, d + 1] -= 1
            grid[b + 1, c] -= 1
            grid[b + 1, d + 1] += 1
            continue
        for row in range(a, b + 1):
            end = min(d, int(math.floor(row + i0 + most + 1e-5)) - j0)
            if end >= c:
                grid[row, c] += 1
                grid[row, end + 1] -= 1
                grid[row + 1, c] -= 1
                grid[row + 1, end + 1] += 1


@kernel()
def _sum_up(grid):
    """Turn corner marks into counts; the largest of them."""
    top = 0
    for a in range(grid.shape[0]):
        running = 0
        for c in range(grid.shape[1]):
            running += grid[a, c]
            grid[a, c] = running + (grid[a - 1, c] if a > 0 else 0)
            top = max(top, grid[a, c])
    return top


def counted(box: np.ndarray, limit_min: int, short: tuple, excess_min: float):
    """At one position: (count, dusk offset, dawn offset) of all pairs of offsets that some site allows; exact.

    Parameters
    ----------
    box : (5, n) float32
    limit_min : int
    short : tuple
        `SiteBoxes.short_nights` at the position.
    excess_min : float
    """
    steps = np.zeros((4 * limit_min + 1, 2 * limit_min + 2), np.int32)
    _mark_gaps(box, *short, excess_min + _SLACK_MIN, limit_min, steps)
    count = np.cumsum(steps, axis=1, dtype=np.int32)
    gap, dusk = np.nonzero(count)
    return count[gap, dusk], dusk - limit_min, dusk + gap - 3 * limit_min


@kernel()
def _mark_gaps(box, starts, given, x_low, y_high, excess, limit, steps):
    """For each difference of the offsets, where along the dusk offset each site's interval begins and ends."""
    for i in range(box.shape[1]):
        if box[GAP_HIGH, i] == -math.inf:
            continue
        first = max(-2.0 * limit, math.ceil(box[Y_LOW, i] - box[X_HIGH, i] - 2e-5))
        last = min(min(2.0 * limit, box[GAP_HIGH, i] + 1e-5), box[Y_HIGH, i] - box[X_LOW, i] + 2e-5)
        gap = int(first)
        while gap <= last:
            low, top = box[X_LOW, i] + 0.0, box[Y_HIGH, i] + 0.0
            for s in range(starts[i], starts[i + 1]):
                # Excess is cut off at the length of what is given.
                if given[s] + gap > excess:
                    low, top = max(low, x_low[s]), min(top, y_high[s])
            low = max(math.ceil(max(low, box[Y_LOW, i] - gap) - 1e-5), max(-limit, -limit - gap))
            high = min(math.floor(min(box[X_HIGH, i] + 0.0, top - gap) + 1e-5), min(limit, limit - gap))
            if low <= high:
                steps[gap + 2 * limit, int(low) + limit] += 1
                steps[gap + 2 * limit, int(high) + limit + 1] -= 1
            gap += 1
