"""Slips, wrong dates and pairs of slips that a log leaves possible, put together as a reader wants them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..trade.slips import Slip
from .diagnosis import Explanation
from .logslips import Costs, Evidence, Kept, LogSlips, clock_slip, of_one


def dated_ways(slips: LogSlips, square: np.ndarray, limit: float) -> list[tuple[Kept, float]]:
    """The best of all wrong dates, if it fits: by a loss of power, and by day and month exchanged where a day of the year makes that difference."""
    ways, _ = slips.dates()
    fits = np.flatnonzero(square <= limit)
    if not fits.size:
        return []
    best = int(fits[np.argmin(square[fits])])
    found = [(ways[best], float(square[best]))]
    exchanged = _exchanged_days(slips.setting.year)
    swapped = [k for k in fits.tolist() if ways[k].keyed.date_error_days in exchanged]
    if swapped:
        way = ways[min(swapped, key=lambda k: square[k])]
        found.append((replace(way, slip=Slip("day_and_month", "date", 4.0, way.keyed)), float(square[best])))
    return found


def _exchanged_days(year: int) -> set[int]:
    first = np.datetime64(f"{year}-01-01")
    day = {(month, number): int((np.datetime64(f"{year}-{month:02d}-{number:02d}") - first).astype(int)) for month in range(1, 13) for number in range(1, 13)}
    return {(day[b, a] - day[a, b] + 182) % 365 - 182 for a, b in day if a != b}


def explained(ways: list[tuple[Kept, float]]) -> list[Explanation]:
    """Slips that are the same for the reader put together, the likeliest first."""
    heads: dict[int, list[Slip]] = {}
    for way, _ in ways:
        mine = heads.setdefault(way.alike, [])
        if way.slip not in mine:
            mine.append(way.slip)
    made = []
    for mine in heads.values():
        head = max(mine, key=lambda slip: slip.weight)
        made.append(Explanation((head,), head.keyed, len(mine) - 1, sum(slip.weight for slip in mine)))
    return in_order(made)


def in_order(made: list[Explanation]) -> list[Explanation]:
    return sorted(made, key=lambda one: (-one.weight, [(slip.key, slip.values) for slip in one.slips]))


def pair_ways(slips: LogSlips, day: int) -> dict:
    """Every pair of slips in different keyed values, as ways of holding them."""
    candidates = slips.setting.on(day)
    places = np.flatnonzero((candidates.second >= 0) & ~candidates.clock_only)
    ways, moves = slips.ways_of_keyed([candidates.record(int(place)) for place in places])
    named = [tuple(candidates.slips[s] for s in (int(candidates.first[place]), int(candidates.second[place]))) for place in places]
    alike = [tuple(sorted(int(candidates.alike[s]) for s in (int(candidates.first[place]), int(candidates.second[place])))) for place in places]
    return {"ways": ways, "moves": moves, "named": named, "alike": alike}


def pairs_of(i: int, slips: LogSlips, evidence: Evidence, paired: dict, loose: Costs, limit: float) -> list[Explanation]:
    """Pairs that fit, among them a slip together with a clock that is off."""
    square = slips.costs(of_one(evidence, i), paired["ways"], paired["moves"]).square[0]
    found: dict[tuple, list[Explanation]] = {}
    for way, cost in zip(paired["ways"], square.tolist(), strict=True):
        if cost <= limit:
            named = paired["named"][way.alike]
            found.setdefault(paired["alike"][way.alike], []).append(Explanation(named, way.keyed, 0, named[0].weight * named[1].weight))
    for way, cost, same in zip(slips.ways[1:], loose.square[i, 1:].tolist(), loose.sum_min[i, 1:].tolist(), strict=True):
        clock = clock_slip(way.keyed, same) if cost <= limit else None
        if clock is not None:
            found.setdefault((way.alike, -1), []).append(Explanation((way.slip, clock), clock.keyed, 0, way.slip.weight * clock.weight))
    made = []
    for mine in found.values():
        head = max(mine, key=lambda one: one.weight)
        distinct = {tuple((slip.key, slip.values) for slip in one.slips) for one in mine}
        made.append(replace(head, alternatives=len(distinct) - 1, weight=sum(one.weight for one in mine)))
    return in_order(made)
