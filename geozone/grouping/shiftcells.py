"""Compiled search over the keypad's own lattice of shifts: which cell serves which rows.

A *cell* is what one setting does to the switching times: keyed latitude j, phase p (the fraction of a minute that keyed
longitudes can give), and whole minutes I of dusk shift and J of dawn shift, so that x = I + phase, y = J + phase. A row
(a site, or sites that must stay together) allows a box of shifts at each keyed latitude; a cell serves the row when
the shifts lie in the box. On each (latitude, phase) the boxes are rectangles of whole numbers, so weights add up by
four corner marks a row and one running sum over the grid.
"""

from __future__ import annotations

import math

import numpy as np

from ..compiled import kernel

# Bounds that differ from a lattice point by less than this count as reaching it; drift allows as much
# (drift._SAME_MIN); float32 extremes carry 1e-5.
_SAME_MIN = 1e-5
# Wide areas give one good cell for every 12 degrees of longitude, not one for each keyed latitude only.
STRIP_MIN = 48


@kernel()
def _rectangle(bounds, j, i, phase, i0, n_i, j0, n_j):
    """Whole-minute rectangle of row i at latitude j, clipped to the grid: (a, b, c, d), empty if a > b or c > d."""
    low_x = max(bounds[0, j, i] - phase - _SAME_MIN, i0 + 0.0)
    high_x = min(bounds[1, j, i] - phase + _SAME_MIN, i0 + n_i - 1.0)
    low_y = max(bounds[2, j, i] - phase - _SAME_MIN, j0 + 0.0)
    high_y = min(bounds[3, j, i] - phase + _SAME_MIN, j0 + n_j - 1.0)
    return (int(math.ceil(low_x)) - i0, int(math.floor(high_x)) - i0,
            int(math.ceil(low_y)) - j0, int(math.floor(high_y)) - j0)


@kernel()
def span(bounds, j):
    """Whole-minute ranges that hold every row's box at latitude j: (first I, count, first J, count); count 0 if none."""
    x0, x1, y0, y1 = np.inf, -np.inf, np.inf, -np.inf
    for i in range(bounds.shape[2]):
        if bounds[0, j, i] <= bounds[1, j, i] and bounds[2, j, i] <= bounds[3, j, i]:
            x0, x1 = min(x0, bounds[0, j, i]), max(x1, bounds[1, j, i])
            y0, y1 = min(y0, bounds[2, j, i]), max(y1, bounds[3, j, i])
    if not x0 <= x1 or not y0 <= y1:
        return 0, 0, 0, 0
    i0, j0 = int(math.floor(x0)) - 1, int(math.floor(y0)) - 1
    return i0, int(math.ceil(x1)) + 1 - i0, j0, int(math.ceil(y1)) + 1 - j0


@kernel()
def _possible(can, can_i0, can_d0, p, i, j):
    """Whether the keypad can give the cell: `can[p, I - can_i0, (J - I) - can_d0]`."""
    a, d = i - can_i0, j - i - can_d0
    return 0 <= a < can.shape[1] and 0 <= d < can.shape[2] and can[p, a, d]


@kernel()
def heaviest(bounds, longest_lit, phases, can, can_i0, can_d0, weight, first, last, best_weight, best_cell):
    """For each latitude from `first` to `last`, each phase and each strip of dusk shifts the heaviest cell.

    Parameters
    ----------
    bounds : (4, n_lat, n) float32 [minute]
        Least and most dusk shift, least and most dawn shift.
    longest_lit : (n_lat, n) float32 [minute], or of shape (0, 0)
        Largest dawn minus dusk shift allowed.
    phases : (n_phase,) float64 [minute]
    can : (n_phase, n_i, n_d) bool
    weight : (n,) float64
    best_weight : (n_lat, n_phase, n_strip) float64, written
        Strips are `STRIP_MIN` wide and counted from `can_i0`.
    best_cell : (n_lat, n_phase, n_strip, 2) int64, written
    """
    with_lit = longest_lit.shape[0] > 0
    for j in range(first, last):
        i0, n_i, j0, n_j = span(bounds, j)
        best_weight[j, :, :] = 0.0
        if n_i == 0:
            continue
        grid = np.empty((n_i + 1, n_j + 1))
        for p in range(phases.size):
            grid[:, :] = 0.0
            for i in range(weight.size):
                w = weight[i]
                if w == 0.0:
                    continue
                a, b, c, d = _rectangle(bounds, j, i, phases[p], i0, n_i, j0, n_j)
                if a > b or c > d:
                    continue
                if with_lit and longest_lit[j, i] < 1000.0:
                    _mark_under(grid, a, b, c, d, int(math.floor(longest_lit[j, i] + _SAME_MIN)) + i0 - j0, w)
                else:
                    grid[a, c] += w
                    grid[a, d + 1] -= w
                    grid[b + 1, c] -= w
                    grid[b + 1, d + 1] += w
            for a in range(n_i):
                running, top, top_j = 0.0, 0.0, 0
                for c in range(n_j):
                    running += grid[a, c]
                    grid[a, c] = running + (grid[a - 1, c] if a > 0 else 0.0)
                    if grid[a, c] > top + 1e-12 and _possible(can, can_i0, can_d0, p, a + i0, c + j0):
                        top, top_j = grid[a, c], c + j0
                strip = min(max((a + i0 - can_i0) // STRIP_MIN, 0), best_weight.shape[2] - 1)
                if top > best_weight[j, p, strip] + 1e-12:
                    best_weight[j, p, strip] = top
                    best_cell[j, p, strip, 0] = a + i0
                    best_cell[j, p, strip, 1] = top_j


@kernel()
def _mark_under(grid, a, b, c, d, most, w):
    """Corner marks of a rectangle cut by the rule (column - row) <= most, row by row."""
    for row in range(a, b + 1):
        end = min(d, row + most)
        if end >= c:
            grid[row, c] += w
            grid[row, end + 1] -= w
            grid[row + 1, c] -= w
            grid[row + 1, end + 1] += w


@kernel()
def serves(bounds, longest_lit, phases, cells, rows, out):
    """out[c, i] = whether cell c serves row rows[i]; cells (n_cell, 4) int64: latitude index, phase index, I, J."""
    with_lit = longest_lit.shape[0] > 0
    for c in range(cells.shape[0]):
        j, p = cells[c, 0], cells[c, 1]
        x, y = cells[c, 2] + phases[p], cells[c, 3] + phases[p]
        gap = cells[c, 3] - cells[c, 2]
        for i in range(rows.size):
            r = rows[i]
            out[c, i] = (bounds[0, j, r] <= x + _SAME_MIN and x <= bounds[1, j, r] + _SAME_MIN
                         and bounds[2, j, r] <= y + _SAME_MIN and y <= bounds[3, j, r] + _SAME_MIN
                         and (not with_lit or gap <= longest_lit[j, r] + _SAME_MIN))


@kernel()
def servable(bounds, longest_lit, phases, can, can_i0, can_d0, out):
    """out[i] = whether some cell serves row i."""
    with_lit = longest_lit.shape[0] > 0
    for i in range(bounds.shape[2]):
        out[i] = False
        for j in range(bounds.shape[1]):
            if out[i] or bounds[0, j, i] > bounds[1, j, i] or bounds[2, j, i] > bounds[3, j, i]:
                continue
            for p in range(phases.size):
                a = int(math.ceil(bounds[0, j, i] - phases[p] - _SAME_MIN))
                b = int(math.floor(bounds[1, j, i] - phases[p] + _SAME_MIN))
                c = int(math.ceil(bounds[2, j, i] - phases[p] - _SAME_MIN))
                d = int(math.floor(bounds[3, j, i] - phases[p] + _SAME_MIN))
                for row in range(a, b + 1):
                    for column in range(c, d + 1):
                        if with_lit and column - row > longest_lit[j, i] + _SAME_MIN:
                            break
                        if _possible(can, can_i0, can_d0, p, row, column):
                            out[i] = True
                            break
                    if out[i]:
                        break
                if out[i]:
                    break


@kernel()
def _subset(grid, a, c, e, f):
    """0: cell (a, c) has a row that (e, f) has not; 1: a proper subset; 2: the same rows."""
    same = True
    for word in range(grid.shape[2]):
        mine, other = grid[a, c, word], grid[e, f, word]
        if mine & ~other:
            return 0
        same = same and mine == other
    return 2 if same else 1


@kernel()
def _dominated(grid, ok, a, c):
    n_i, n_j = grid.shape[0], grid.shape[1]
    for step in range(4):
        e = a + (1 if step == 0 else -1 if step == 1 else 0)
        f = c + (1 if step == 2 else -1 if step == 3 else 0)
        if 0 <= e < n_i and 0 <= f < n_j and ok[e, f]:
            how = _subset(grid, a, c, e, f)
            if how == 1 or (how == 2 and (step == 1 or step == 3)):
                return True
    return False


@kernel()
def fullest(bounds, longest_lit, phases, can, can_i0, can_d0, weight, threshold, first, last, cells, sets):
    """Cells that serve at least `threshold` weight and no less than their neighbours, with the rows they serve.

    Parameters
    ----------
    cells : (room, 4) int64, written
    sets : (room, words) uint64, written
        Bit i of the row's words: whether row i is served.

    Returns
    -------
    int
        How many cells there are; if more than the room, only the first are written.
    """
    with_lit = longest_lit.shape[0] > 0
    n, words = weight.size, sets.shape[1]
    found = 0
    for j in range(first, last):
        i0, n_i, j0, n_j = span(bounds, j)
        if n_i == 0:
            continue
        grid = np.empty((n_i, n_j, words), np.uint64)
        total = np.empty((n_i, n_j))
        ok = np.empty((n_i, n_j), np.bool_)
        for p in range(phases.size):
            grid[:, :, :] = np.uint64(0)
            total[:, :] = 0.0
            for i in range(n):
                a, b, c, d = _rectangle(bounds, j, i, phases[p], i0, n_i, j0, n_j)
                bit = np.uint64(1) << np.uint64(i & 63)
                for row in range(a, b + 1):
                    end = d
                    if with_lit:
                        end = min(d, row + i0 - j0 + int(math.floor(min(longest_lit[j, i], 2000.0) + _SAME_MIN)))
                    for column in range(c, end + 1):
                        grid[row, column, i >> 6] |= bit
                        total[row, column] += weight[i]
            for a in range(n_i):
                for c in range(n_j):
                    ok[a, c] = total[a, c] >= threshold and _possible(can, can_i0, can_d0, p, a + i0, c + j0)
            for a in range(n_i):
                for c in range(n_j):
                    if ok[a, c] and not _dominated(grid, ok, a, c):
                        if found < cells.shape[0]:
                            cells[found, 0], cells[found, 1] = j, p
                            cells[found, 2], cells[found, 3] = a + i0, c + j0
                            for word in range(words):
                                sets[found, word] = grid[a, c, word]
                        found += 1
    return found
