"""The fewest settings for one part of the sites, with the bound that proves them, and the smallest worst drift for a given number."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from ..setcover.bracket import fewest_columns
from ..setcover.relaxation import Relaxed
from ..setcover.search import Search
from .allowedshifts import AllowedShifts
from .alone import best_alone
from .keyedcovers import KeyedCover, best_cell, best_setting, cell_of, exact_factor, keyed_cover, within
from .settingcover import SettingCover

# Bisection over the factor stops when the bracket is this narrow on the larger tolerance.
_RESOLUTION_MIN = 0.03
# Rows for which one more turn costs next to nothing.
_SMALL = 5000
# What a curve calls proved: see `CurvePoint.proved`.
PROVED_MIN = 0.1


@dataclass(frozen=True)
class Fewest:
    """What is known about one part.

    Attributes
    ----------
    cover : KeyedCover
    lower_bound : int
    relaxed : Relaxed
        Its rows are those of `problem`.
    search : Search or None
    problem : SettingCover or None
        The rows that settings were looked for, as they are known at the end. Both are None for a plan in a hurry: see `hurried`.
    settled_by : str
        "weights" if the relaxed problem proves the bound, "search" if an exact search over the active rows does.
    out_of_time : bool
        True if the time limit ended the search before it had found or ruled out all that it looks for.
    """

    cover: KeyedCover
    lower_bound: int
    relaxed: Relaxed
    search: Search | None
    problem: SettingCover | None
    settled_by: str = "weights"
    out_of_time: bool = False


def fewest(shifts: AllowedShifts, rows: np.ndarray, legal_zone: str, seconds: float, tidy: bool = True) -> Fewest:
    """The fewest settings that keep rows within tolerance, or the best found within the time.

    Parameters
    ----------
    rows : (m,) int64
        Rows that one setting each could serve.
    tidy : bool
        Whether to lower the worst drift afterwards, the number of settings staying the same.
    """
    begun = time.monotonic()
    problem = SettingCover(shifts, np.asarray(rows))
    search = Search(problem)
    one = best_setting(shifts, problem.rows, legal_zone)
    if one is not None and within(one[2], shifts).all():
        # What one setting does needs no search, and no proof that fewer will not do.
        cover = KeyedCover((one[0],), one[1][None, :], problem.rows, np.zeros(problem.rows.size, np.int64), float(one[2].max()))
        if tidy and not shifts.steady:
            cover = _lowered(shifts, cover, legal_zone)
        return Fewest(cover, 1, Relaxed(1, 1.0, np.zeros(1, np.int64), np.ones(1)), search, problem)

    def find(relaxed, most, deadline, steps):
        nonlocal problem
        cover, settled, problem = _checked_cover(search, problem, relaxed, most, legal_zone, deadline, steps)
        return cover, settled

    found = fewest_columns(search, problem, seconds, find, lambda: _one_each(shifts, rows, legal_zone))
    cover = found.cover
    left = begun + 0.95 * seconds - time.monotonic()
    if tidy and (left > 0.15 * seconds or rows.size <= _SMALL and left > 0):
        room = max(min(1.0, 0.1 * seconds), min(0.3 * seconds, left))
        cover, _, problem = smallest_factor(search, problem, len(cover), cover, 0.0, legal_zone, time.monotonic() + room)
    return Fewest(cover, found.lower_bound, found.relaxed, search, replace(problem, factor=1.0), found.settled_by, found.out_of_time)


def _checked_cover(search: Search, problem: SettingCover, relaxed: Relaxed, most, legal_zone: str, deadline: float, steps: int):
    """A cover that the drift kernel confirms: (KeyedCover or None, settled, the problem as it is known now).

    Where the kernel finds a row beyond what its extremes promised (the keyed longitude lies off the site's, by
    hundredths of a minute), that row's box is drawn in and the search goes on. Rows that then have no box left get
    settings of their own.
    """
    shifts, rows = problem.shifts, problem.rows
    settled = False
    for _ in range(8):
        can = problem.servable(False)
        if not can.all() and most is not None:
            return None, False, problem
        # What is left of the problem is another one, without a past.
        left, known = (problem, relaxed) if can.all() else (replace(problem, rows=rows[can]), relaxed.among(can))
        search = search if can.all() else Search(left)
        found, settled = search.cover(left, known, most, deadline, steps) if can.any() else (None, False)
        if found is None and can.any():
            return None, settled, problem
        cover, failed, over_min = keyed_cover(shifts, found, left.rows, left.factor, legal_zone) if can.any() else (None,) * 3
        if failed is None:
            rest = rows[~can]
            own = _one_each(shifts, rest, legal_zone) if rest.size else None
            return _joined(cover, own, rows), settled and own is None, problem
        problem = problem.drawn_in(failed, np.maximum(0.004, 1.2 * over_min))
    return None, False, problem


def _joined(cover: KeyedCover | None, own: KeyedCover | None, rows: np.ndarray) -> KeyedCover:
    if own is None or cover is None:
        return own if cover is None else cover
    of_row = np.empty(rows.size, np.int64)
    of_row[np.searchsorted(rows, cover.rows)] = cover.of_row
    of_row[np.searchsorted(rows, own.rows)] = own.of_row + len(cover.settings)
    return KeyedCover(cover.settings + own.settings, np.concatenate((cover.cells, own.cells)), rows, of_row,
                max(cover.factor, own.factor))


def _one_each(shifts: AllowedShifts, rows, legal_zone: str) -> KeyedCover:
    """Rows one by one, each with its own best setting unless an earlier one serves it."""
    settings, cells_found, of_row = [], [], np.full(rows.size, -1)
    worst = 0.0
    for r in range(rows.size):
        if of_row[r] >= 0:
            continue
        setting, cell, worst_of_it = best_setting(shifts, rows[r:r + 1], legal_zone)
        if not within(worst_of_it, shifts).all():
            setting, _ = best_alone(shifts, int(rows[r]), legal_zone, enough=1.0)
            cell = cell_of(shifts, setting)
        open_rows = np.flatnonzero(of_row < 0)
        factor = exact_factor(shifts, setting, rows[open_rows])
        mine = within(factor, shifts) | (open_rows == r)
        of_row[open_rows[mine]] = len(settings)
        worst = max(worst, float(factor[mine].max()))
        settings.append(setting)
        cells_found.append(cell)
    return KeyedCover(tuple(settings), np.array(cells_found), rows, of_row, worst)


def smallest_factor(search: Search, problem: SettingCover, k: int, cover: KeyedCover, bound: float, legal_zone: str, deadline: float):
    """The smallest worst drift that k settings can reach, by bisection over the factor.

    Parameters
    ----------
    search : Search
    problem : SettingCover
        Its shifts and rows count, not its factor.
    cover : KeyedCover
        A cover with at most k settings.
    bound : float
        A factor known to be out of reach (or 0).
    deadline : float
        On the clock of `time.monotonic`.

    Returns
    -------
    cover : KeyedCover
        The best found.
    bound : float
        No cover with k settings has a smaller factor.
    problem : SettingCover
        As it is known now.
    """
    shifts, rows = problem.shifts, problem.rows
    larger = max(shifts.tolerance.dark_min, shifts.tolerance.excess_min)
    unit, whole = _RESOLUTION_MIN / larger, PROVED_MIN / larger
    if k == 1:
        return _lowered(shifts, cover, legal_zone), best_cell(shifts, rows, shifts.factor_cap, safe=True)[1], problem
    # Below `floor` a search found nothing; below `bound` it is proved that there is nothing.
    floor = bound
    while cover.factor - floor > unit and time.monotonic() < deadline:
        factor = min(0.5 * (cover.factor + floor) if floor > 0 else 0.8 * cover.factor, shifts.factor_cap)
        verdict, better, problem = _reach(search, replace(problem, factor=factor), k, legal_zone, deadline)
        if better is not None and better.factor < cover.factor:
            cover = better
        elif verdict is False:
            bound = floor = max(factor, floor)
        else:
            floor = factor
    while floor - bound > 0 and cover.factor - bound > 0.9 * whole and time.monotonic() < deadline:
        # A gap between the two: look for the proof lower down, where it may be easier.
        factor = 0.5 * (bound + min(floor, cover.factor))
        if min(floor, cover.factor) - bound < 0.3 * unit:
            break
        verdict, _, problem = _reach(search, replace(problem, factor=factor), k, legal_zone, deadline, prove_only=True)
        if verdict is False:
            bound = factor
        else:
            floor = factor
    return cover, bound, problem


def _lowered(shifts: AllowedShifts, cover: KeyedCover, legal_zone: str) -> KeyedCover:
    """One setting for all rows of a cover, with its worst drift as small as it gets: the smaller the factor, the other nights count."""
    while True:
        alone = best_setting(shifts, cover.rows, legal_zone, min(cover.factor, shifts.factor_cap))
        if alone is None or not alone[2].max() < cover.factor - 1e-9:
            return cover
        cover = KeyedCover((alone[0],), alone[1][None, :], cover.rows, np.zeros(cover.rows.size, np.int64), float(alone[2].max()))
        if shifts.steady:
            return cover


def _reach(search: Search, problem: SettingCover, k: int, legal_zone: str, deadline: float, prove_only: bool = False):
    """Whether k settings solve a problem: (True, KeyedCover), (False, None) if it is proved that they cannot, else (None, None); and
    the problem as it is known now."""
    if not problem.servable(True).all():
        return False, None, problem
    relaxed = search.bound(problem, deadline, enough=k + 1, patience=1)
    if relaxed.lower_bound > k:
        return False, None, problem
    if not prove_only:
        cover, settled, problem = _checked_cover(search, problem, relaxed, k, legal_zone, deadline, steps=1500)
        if cover is not None:
            return True, cover, problem
        if not settled:
            return None, None, problem
    impossible = search.impossible(problem, k, relaxed, deadline)
    return (False if impossible else None), None, problem
