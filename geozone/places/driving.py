"""The order in which a crew drives to sites: by area, then always on to the nearest."""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import KDTree

# Up to so many stops all of them are looked at each time, which is quicker than a tree.
_FEW = 300
#: How many neighbours are asked for at once; most stops have an open one among them.
_NEAR = 16


def driving_order(lat_deg, lon_deg, area) -> np.ndarray:
    """Places of the sites in driving order.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    area : (n,) array_like of str
        Areas are driven one after the other, always on to the one with the nearest site.

    Returns
    -------
    (n,) ndarray of int
        It starts at the northernmost site, of equal ones at the westernmost, and is not the shortest tour. Of sites equally near
        the first of the list comes first.

    Examples
    --------
    >>> driving_order([-35.0, -35.0, -35.0, -34.9], [140.0, 140.2, 140.1, 140.0], ["", "", "", ""]).tolist()
    [3, 0, 2, 1]
    """
    lat, lon = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    if not lat.size:
        return np.zeros(0, dtype=np.int64)
    # Differences from the first, so that the antimeridian parts nothing.
    x = ((lon - lon[0] + 180) % 360 - 180) * np.cos(np.radians(lat.mean()))
    # Sites of an area at one position are one stop: hundreds of lamps on a cabinet would all be equally near.
    _, area_of = np.unique(np.asarray(area, dtype=str), return_inverse=True)
    _, first, stop_of = np.unique(np.column_stack([x, lat, area_of]), axis=0, return_index=True, return_inverse=True)
    in_list = np.argsort(first)
    place = np.empty(len(first), dtype=np.int64)
    place[_driven(np.column_stack([x, lat])[first[in_list]], area_of[first[in_list]])] = np.arange(len(first))
    of_stop = np.empty(len(first), dtype=np.int64)
    of_stop[in_list] = place
    return np.argsort(of_stop[stop_of.ravel()], kind="stable")


def _driven(at: np.ndarray, area: np.ndarray) -> np.ndarray:
    """Stops at different positions of an area in driving order."""
    if len(at) <= _FEW:
        return _driven_few(at, area)
    left = bytearray(b"\x01") * len(at)
    all_stops = _Stops(at, np.arange(len(at)), left)
    of_area = [_Stops(at, np.flatnonzero(area == code), left) for code in range(area.max() + 1)]
    here = int(np.lexsort((at[:, 0], -at[:, 1]))[0])
    order = np.empty(len(at), dtype=np.int64)
    for place in range(len(at)):
        order[place] = here
        left[here] = 0
        mine = of_area[area[here]]
        mine.open -= 1
        all_stops.open -= 1
        if all_stops.open:
            here = (mine if mine.open else all_stops).nearest(here)
    return order


def _driven_few(at: np.ndarray, area: np.ndarray) -> np.ndarray:
    """`_driven` of a few stops."""
    here = int(np.lexsort((at[:, 0], -at[:, 1]))[0])
    left, order = np.ones(len(at), dtype=bool), [here]
    left[here] = False
    for _ in range(len(at) - 1):
        open_to = left & (area == area[here])
        if not open_to.any():
            open_to = left
        away = ((at - at[here]) ** 2).sum(axis=1)
        here = int(np.where(open_to, away, np.inf).argmin())
        left[here] = False
        order.append(here)
    return np.array(order, dtype=np.int64)


class _Stops:
    """Some of the stops, of which the nearest open one is asked for; `open` says how many there are."""

    def __init__(self, at: np.ndarray, members: np.ndarray, left: bytearray):
        self._at, self._left, self.open = at, left, len(members)
        self._plant(members)

    def _plant(self, members: np.ndarray) -> None:
        self._members, self._tree = members, KDTree(self._at[members])
        self._row: dict[int, int] | None = None

    def nearest(self, here: int) -> int:
        if self.open < len(self._members) / 2:
            # Else a search that begins among visited stops would wade through ever more of them.
            self._plant(self._members[np.frombuffer(self._left, dtype=bool)[self._members]])
        if self._row is None:
            # Neighbours of all are asked for in one call, which is ten times as quick.
            self._row = {member: row for row, member in enumerate(self._members.tolist())}
            self._near, self._away = self._neighbours(self._members, _NEAR)
        row, count = self._row.get(here), min(_NEAR, len(self._members))
        near, away = (one[row] for one in (self._near, self._away)) if row is not None else self._neighbours(here, count)
        while True:
            best, least = self._nearest_open(near.tolist(), away.tolist())
            # Further neighbours cannot be as near once the last of these is farther.
            if count == len(self._members) or away[-1] > least * (1 + 1e-9):
                return best
            count = min(4 * count, len(self._members))
            near, away = self._neighbours(here, count)

    def _neighbours(self, stops, count: int) -> tuple[np.ndarray, np.ndarray]:
        """The nearest of each, and how far away they are (squared)."""
        found = self._tree.query(self._at[stops], k=range(1, min(count, len(self._members)) + 1))[1]
        near = self._members[found]
        return near, ((self._at[near] - np.expand_dims(self._at[stops], -2)) ** 2).sum(axis=-1)

    def _nearest_open(self, near: list[int], away: list[float]) -> tuple[int, float]:
        left, best, least = self._left, -1, math.inf
        for stop, far in zip(near, away, strict=True):
            if left[stop] and (far < least or far == least and stop < best):
                best, least = stop, far
        return best, least
