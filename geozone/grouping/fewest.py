"""The fewest settings for one field, with the bound that proves them, and the smallest worst drift for a given number."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from .alone import best_alone
from .field import Field
from .groupplans import Plan, best_cell, best_setting, cell_of, exact_factor, plan_of, within
from .relaxation import Relaxed, relaxed as relaxed_at
from .search import Search

# Bisection over the factor stops when the bracket is this narrow on the larger tolerance.
_RESOLUTION_MIN = 0.03
# Rows for which one more turn costs next to nothing.
_SMALL = 5000
# What a curve calls proved: see `CurvePoint.proved`.
PROVED_MIN = 0.1


@dataclass
class Fewest:
    """What is known about one field.

    Attributes
    ----------
    plan : Plan
    lower_bound : int
    relaxed : Relaxed
    search : Search
    settled_by : str
        "weights" if the relaxed problem proves the bound, "search" if an exact search over the active rows does.
    out_of_time : bool
        True if the time limit ended the search before it had found or ruled out all that it looks for.
    """

    plan: Plan
    lower_bound: int
    relaxed: Relaxed
    search: Search
    settled_by: str = "weights"
    out_of_time: bool = False


def fewest(field: Field, rows: np.ndarray, legal_zone: str, seconds: float, tidy: bool = True) -> Fewest:
    """The fewest settings that keep rows within tolerance, or the best found within the time.

    Parameters
    ----------
    rows : (m,) int64
        Rows that one setting each could serve.
    tidy : bool
        Whether to lower the worst drift afterwards, the number of settings staying the same.
    """
    begun = time.monotonic()
    end = begun + 0.85 * seconds
    search = Search(field, rows)
    relaxed = relaxed_at(search, 1.0, begun + 0.2 * seconds)
    lower, settled_by = relaxed.lower_bound, "weights"
    plan = _checked_cover(search, relaxed, None, legal_zone, begun + 0.8 * seconds, steps=3000)[0]
    if plan is None:
        plan = _one_each(field, rows, legal_zone)
    steps, ended = 24_000, False
    # A turn on a large problem overruns its deadline by some seconds: none is begun shortly before it.
    while len(plan.settings) > lower and time.monotonic() < begun + 0.75 * seconds:
        if search.impossible(1.0, len(plan.settings) - 1, relaxed, end):
            lower, settled_by = len(plan.settings), "search"
            break
        # Half of what is left for the bound, the rest for a plan with one setting fewer.
        half = time.monotonic() + 0.5 * (end - time.monotonic())
        further = relaxed_at(search, 1.0, half, enough=len(plan.settings), patience=12)
        if further.value > relaxed.value:
            relaxed, lower = further, max(lower, further.lower_bound)
        if len(plan.settings) <= lower:
            break
        better, settled = _checked_cover(search, relaxed, len(plan.settings) - 1, legal_zone, end, steps=steps)
        if better is not None:
            plan = better
        elif settled:
            # By the extremes there is no smaller plan; what is left is what the bound cannot rule out.
            ended = True
            break
        elif steps > 100_000:
            break
        steps *= 2
    lower = min(lower, len(plan.settings))
    found = Fewest(plan, lower, relaxed, search, settled_by, len(plan.settings) > lower and not ended)
    left = begun + 0.95 * seconds - time.monotonic()
    if tidy and (left > 0.15 * seconds or rows.size <= _SMALL):
        room = max(1.0, min(0.3 * seconds, left))
        found.plan = smallest_factor(search, len(plan.settings), plan, 0.0, legal_zone, time.monotonic() + room)[0]
    return found


def _checked_cover(search: Search, relaxed: Relaxed, most, legal_zone: str, deadline: float, factor: float = 1.0,
                   steps: int = 4000):
    """A cover that the drift kernel confirms: (Plan or None, settled).

    Where the kernel finds a row beyond what its extremes promised (the keyed longitude lies off the site's, by
    hundredths of a minute), that row's box is drawn in and the search goes on. Rows that then have no box left get
    settings of their own.
    """
    field, everyone = search.field, search.rows
    settled = False
    for _ in range(8):
        can = field.servable(factor, False, everyone)
        if not can.all():
            if most is not None:
                return None, False
            search = Search(field, everyone[can])
        found, settled = search.cover(factor, relaxed, most, deadline, steps) if can.any() else (None, False)
        if found is None and can.any():
            return None, settled
        plan, failed, over_min = plan_of(field, found, search.rows, factor, legal_zone) if can.any() else (None,) * 3
        if failed is None:
            rest = everyone[~can]
            own = _one_each(field, rest, legal_zone) if rest.size else None
            return (_joined(plan, own, everyone), settled and own is None)
        field.margin_min[failed] += np.maximum(0.004, 1.2 * over_min)
    return None, False


def _joined(plan: Plan | None, own: Plan | None, rows: np.ndarray) -> Plan:
    if own is None or plan is None:
        return plan or own
    of_row = np.empty(rows.size, np.int64)
    of_row[np.searchsorted(rows, plan.rows)] = plan.of_row
    of_row[np.searchsorted(rows, own.rows)] = own.of_row + len(plan.settings)
    return Plan(plan.settings + own.settings, np.concatenate((plan.cells, own.cells)), rows, of_row,
                max(plan.factor, own.factor))


def _one_each(field: Field, rows, legal_zone: str) -> Plan:
    """Rows one by one, each with its own best setting unless an earlier one serves it."""
    settings, cells_found, of_row = [], [], np.full(rows.size, -1)
    worst = 0.0
    for r in range(rows.size):
        if of_row[r] >= 0:
            continue
        setting, cell, worst_of_it = best_setting(field, rows[r:r + 1], legal_zone)
        if not within(worst_of_it, field).all():
            setting, _ = best_alone(field, int(rows[r]), legal_zone, enough=1.0)
            cell = cell_of(field, setting)
        open_rows = np.flatnonzero(of_row < 0)
        factor = exact_factor(field, setting, rows[open_rows])
        mine = within(factor, field) | (open_rows == r)
        of_row[open_rows[mine]] = len(settings)
        worst = max(worst, float(factor[mine].max()))
        settings.append(setting)
        cells_found.append(cell)
    return Plan(tuple(settings), np.array(cells_found), rows, of_row, worst)


def smallest_factor(search: Search, k: int, plan: Plan, bound: float, legal_zone: str, deadline: float):
    """The smallest worst drift that k settings can reach, by bisection over the factor.

    Parameters
    ----------
    plan : Plan
        A plan with at most k settings.
    bound : float
        A factor known to be out of reach (or 0).
    deadline : float
        On the clock of `time.monotonic`.

    Returns
    -------
    plan : Plan
        The best found.
    bound : float
        No plan with k settings has a smaller factor.
    """
    field = search.field
    larger = max(field.tolerance.dark_min, field.tolerance.excess_min)
    unit, whole = _RESOLUTION_MIN / larger, PROVED_MIN / larger
    if k == 1:
        alone = best_setting(field, search.rows, legal_zone, min(plan.factor, field.factor_cap))
        if alone is not None and alone[2].max() < plan.factor:
            plan = Plan((alone[0],), alone[1][None, :], search.rows, np.zeros(search.rows.size, np.int64),
                        float(alone[2].max()))
        return plan, best_cell(field, search.rows, field.factor_cap, safe=True)[1]
    # Below `floor` a search found nothing; below `bound` it is proved that there is nothing.
    floor = bound
    while plan.factor - floor > unit and time.monotonic() < deadline:
        factor = min(0.5 * (plan.factor + floor) if floor > 0 else 0.8 * plan.factor, field.factor_cap)
        verdict, better = _reach(search, k, factor, legal_zone, deadline)
        if better is not None and better.factor < plan.factor:
            plan = better
        elif verdict is False:
            bound = floor = max(factor, floor)
        else:
            floor = factor
    while floor - bound > 0 and plan.factor - bound > 0.9 * whole and time.monotonic() < deadline:
        # A gap between the two: look for the proof lower down, where it may be easier.
        factor = 0.5 * (bound + min(floor, plan.factor))
        if min(floor, plan.factor) - bound < 0.3 * unit:
            break
        verdict, _ = _reach(search, k, factor, legal_zone, deadline, prove_only=True)
        if verdict is False:
            bound = factor
        else:
            floor = factor
    return plan, bound


def _reach(search: Search, k: int, factor: float, legal_zone: str, deadline: float, prove_only: bool = False):
    """Whether k settings reach a factor: (True, Plan), (False, None) if proved out of reach, else (None, None)."""
    if not search.field.servable(factor, True, search.rows).all():
        return False, None
    relaxed = relaxed_at(search, factor, deadline, enough=k + 1, patience=1)
    if relaxed.lower_bound > k:
        return False, None
    if not prove_only:
        plan, settled = _checked_cover(search, relaxed, k, legal_zone, deadline, factor, steps=1500)
        if plan is not None:
            return True, plan
        if not settled:
            return None, None
    impossible = search.impossible(factor, k, relaxed, deadline)
    return (False, None) if impossible else (None, None)
