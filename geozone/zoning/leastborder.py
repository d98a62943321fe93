"""Cells given to the settings that serve them, so that the borders between zones are as short as can be.

A Potts model. Relaxed, min sum over neighbours of length x half the difference of their shares is a linear programme; where its solution is
whole, as it mostly is, it is the optimum, proved; else each cell takes its largest share.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from scipy.optimize import linprog
from scipy.sparse import coo_array, vstack
from scipy.sparse.csgraph import connected_components

from .groundcells import GroundCells, squares

_KM_PER_DEG = 111.195


def neighbours(cells: GroundCells) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of cells that share a side, and how long it is.

    Returns
    -------
    pairs : (m, 2) int64
    length_km : (m,) float64
        Only as far as there is ground on both sides.
    """
    box, unit = cells.boxes, cells.unit_deg
    rectangles = squares(box, unit)
    i, j = shapely.STRtree(rectangles).query(rectangles, predicate="intersects")
    i, j = i[i < j], j[i < j]
    low, high = np.maximum(box[i, :2], box[j, :2]), np.minimum(box[i, :2] + box[i, 2:], box[j, :2] + box[j, 2:])
    side = (high - low) * unit
    length = side.max(axis=1)
    whole = cells.whole
    cut = np.flatnonzero((length > 0) & ~(whole[i] & whole[j]))
    # Water may lie between, or the ground may begin half way.
    length[cut] = shapely.length(shapely.intersection(cells.shapes[i[cut]], cells.shapes[j[cut]]))
    upright = side[:, 0] == 0
    lat = 0.5 * (low[:, 1] + high[:, 1]) * unit
    length = length * _KM_PER_DEG * np.where(upright, 1.0, np.cos(np.radians(lat)))
    kept = length > 1e-9
    return np.column_stack([i, j])[kept], length[kept]


def least_border(member: np.ndarray, pairs: np.ndarray, length_km: np.ndarray, seconds: float = 30.0) -> tuple[np.ndarray, bool]:
    """A setting for each cell, with the shortest borders.

    Parameters
    ----------
    member : (n, n_setting) bool
        Settings that serve a cell; each cell has one at least.
    pairs : (m, 2) int64
    length_km : (m,) float64
    seconds : float
        When they are over, each cell takes the first of the settings that serve most cells.

    Returns
    -------
    of_cell : (n,) int64
    proved : bool
        True if no shorter border is possible with these cells.
    """
    n, n_setting = member.shape
    first = (member * (1 + np.argsort(np.argsort(member.sum(axis=0))))).argmax(axis=1)
    free = member.sum(axis=1) > 1
    if not free.any():
        return first, True
    # Variables: the share of a setting in a cell that has several; then, of a pair and a setting, the difference of their shares.
    at = np.full(member.shape, -1)
    at[free] = np.where(member[free], np.cumsum(member[free]).reshape(-1, n_setting) - 1, -1)
    shares = int(member[free].sum())
    here = pairs[free[pairs].any(axis=1)]
    km = length_km[free[pairs].any(axis=1)]
    pair, setting = np.nonzero(member[here[:, 0]] | member[here[:, 1]])
    differences = np.arange(pair.size)
    a, b = here[pair, 0], here[pair, 1]
    variable_a, variable_b = at[a, setting], at[b, setting]
    fixed_a, fixed_b = (np.where(free[cell], 0.0, member[cell, setting].astype(float)) for cell in (a, b))

    def side(sign: float):
        """sign * (share in a - share in b) - difference <= sign * (fixed in b - fixed in a)."""
        has_a, has_b = variable_a >= 0, variable_b >= 0
        rows = np.concatenate([differences, differences[has_a], differences[has_b]])
        columns = np.concatenate([shares + differences, variable_a[has_a], variable_b[has_b]])
        values = np.concatenate([np.full(pair.size, -1.0), np.full(has_a.sum(), sign), np.full(has_b.sum(), -sign)])
        return coo_array((values, (rows, columns)), shape=(pair.size, shares + pair.size)), sign * (fixed_b - fixed_a)

    (one, one_limit), (other, other_limit) = side(1.0), side(-1.0)
    cell, option = np.nonzero(member & free[:, None])
    whole = coo_array((np.ones(cell.size), (np.cumsum(free)[cell] - 1, at[cell, option])), shape=(int(free.sum()), shares + pair.size))
    cost = np.concatenate([np.zeros(shares), 0.5 * km[pair]])
    solved = linprog(cost, A_ub=vstack([one, other]).tocsr(), b_ub=np.concatenate([one_limit, other_limit]), A_eq=whole.tocsr(),
                     b_eq=np.ones(int(free.sum())), bounds=(0, None), method="highs", options={"time_limit": max(seconds, 0.1)})
    if solved.status != 0:
        return first, False
    share = np.zeros(member.shape)
    share[cell, option] = solved.x[at[cell, option]]
    of_cell = np.where(free, share.argmax(axis=1), first)
    return of_cell, bool((share[free].max(axis=1) > 1 - 1e-6).all())


def joined_up(of_cell: np.ndarray, member: np.ndarray, pairs: np.ndarray, length_km: np.ndarray,
              serves: Callable[[int, np.ndarray, np.ndarray], bool] | None = None) -> np.ndarray:
    """The same with strays given to a neighbour that serves them: ground of a zone apart from the rest of it on the same piece of land.

    Parameters
    ----------
    of_cell : (n,) int64
    member : (n, n_setting) bool
    pairs, length_km
        As of `neighbours`.
    serves : callable, optional
        Asked with a setting, the rows of its zone and those of a stray that it does not serve by `member`: whether the zone may have them after
        all. At a slanted coast a setting may serve what there is of a cell, but not the rectangle round it; or another setting serves both.
    """
    of_cell, n = of_cell.copy(), len(of_cell)
    land = _components(pairs, n)
    for _ in range(20):
        same = of_cell[pairs[:, 0]] == of_cell[pairs[:, 1]]
        part = _components(pairs[same], n)
        size = np.bincount(part)
        largest: dict = {}
        for number in np.unique(part, return_index=True)[1]:
            key = (land[number], of_cell[number])
            largest[key] = max(largest.get(key, (0, -1)), (size[part[number]], part[number]))
        moved = False
        for number in np.unique(part, return_index=True)[1]:
            if largest[land[number], of_cell[number]][1] == part[number]:
                continue
            mine = part == part[number]
            rim = mine[pairs[:, 0]] != mine[pairs[:, 1]]
            outer = np.where(mine[pairs[rim, 0]], pairs[rim, 1], pairs[rim, 0])
            shared = np.bincount(of_cell[outer], weights=length_km[rim], minlength=member.shape[1])
            known = member[mine].all(axis=0)
            longest = [one for one in np.argsort(-shared, kind="stable") if shared[one] > 0]
            taken = next((one for one in longest if known[one]), None)
            if taken is None and serves is not None:
                taken = next((one for one in longest if serves(int(one), np.flatnonzero(of_cell == one), np.flatnonzero(mine))), None)
            if taken is not None:
                of_cell[mine], moved = taken, True
                break
        if not moved:
            break
    return of_cell


def _components(pairs: np.ndarray, n: int) -> np.ndarray:
    return connected_components(coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n)), directed=False)[1]
