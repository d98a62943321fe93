"""Which hue a group has, on every map and layer: neighbours apart, and no two groups with one look."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely

#: Hues that a map has for groups; further groups share them and differ by a second sign.
HUES = 8


def hues_apart(shapes: list, hues: int = HUES) -> list[tuple[int, int]]:
    """A hue and a cycle for each outline, no pair twice; outlines of one hue lie as far apart as can be arranged.

    Parameters
    ----------
    shapes : list of shapely geometry, length n
        In the order of names.
    hues : int
        How many hues there are. Up to so many outlines have one each.

    Returns
    -------
    list of (int, int), length n
        Hue 0 .. hues - 1, and how many earlier outlines have the same.

    Notes
    -----
    First come, first served: of the hues not used more often than their share, the one whose nearest outline is furthest.
    A hue may be used once more than its share, so that the last outlines are not left with a neighbour's hue.
    """
    return list(_hues_apart(tuple(shapely.to_wkb(np.array(shapes, dtype=object)).tolist()), hues))


@lru_cache(maxsize=4)
def _hues_apart(shapes: tuple[bytes | None, ...], hues: int) -> tuple[tuple[int, int], ...]:
    """`hues_apart` of shapes as bytes: map, legend and layers ask for the same ones."""
    n = len(shapes)
    if n <= hues:
        return tuple((k, 0) for k in range(n))
    outlines = shapely.from_wkb(np.array(shapes, dtype=object))
    one, other = np.triu_indices(n, 1)
    away = np.zeros((n, n))
    away[one, other] = shapely.distance(outlines[one], outlines[other])
    away = np.where(np.isfinite(away), away, 0.0)
    away += away.T
    share = -(-n // hues) + 1
    users: list[list[int]] = [[] for _ in range(hues)]
    looks: list[tuple[int, int]] = []
    for k in range(n):
        open_to = [hue for hue in range(hues) if len(users[hue]) < share]
        hue = max(open_to, key=lambda h: (min((away[k, other] for other in users[h]), default=np.inf), -len(users[h]), -h))
        looks.append((hue, len(users[hue])))
        users[hue].append(k)
    return tuple(looks)
