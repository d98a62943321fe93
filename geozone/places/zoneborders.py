"""Borders between neighbouring zones, and how far away they are.

A border segment is found where two zones hold the same pair of vertices. A segment without such a
twin (an outline digitised differently on either side, disputed land in two outlines, a corner in
the middle of the neighbour's straight edge) is decided by looking what lies 30 m to its left and
to its right. So gaps and overlaps along a border up to that width do no harm, and a coast is never
taken for a border.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pyproj
import shapely

from .zoneshapes import UNITS_PER_DEG, outlines_in, rings_of, zone_number_at

# How far to look left and right of a segment that has no twin [m].
PROBE_M = 30.0
# Segments without a twin are judged piece by piece, for several neighbours can share a long one [m].
PROBE_STEP_M = 2000.0
# A border piece of this length is straight, on every map used here, to 0.2 m [m].
STEP_M = 2000.0
BLOCK_DEG = 20
# Bends dropped up to this size [m], for sites farther than this [m]: an error of 0.5 % at most.
DETAIL_M = ((250.0, 50_000.0), (25.0, 5_000.0), (0.0, -1.0))
RADIUS_M = 6_371_000.0
METRES_PER_DEG = 111_320.0


@dataclass(frozen=True, eq=False)
class Borders:
    """Straight pieces of border, one row each.

    Attributes
    ----------
    start_deg, end_deg : ndarray of float64, shape (n, 2)
        lon, lat [degree].
    zone_a, zone_b : ndarray of int64, shape (n,)
        Numbers of the zones on either side, zone_a < zone_b.
    """

    start_deg: np.ndarray
    end_deg: np.ndarray
    zone_a: np.ndarray
    zone_b: np.ndarray

    def __len__(self) -> int:
        return len(self.zone_a)

    def where(self, rows: np.ndarray) -> "Borders":
        """Only the pieces named by a mask or by numbers."""
        return Borders(self.start_deg[rows], self.end_deg[rows], self.zone_a[rows], self.zone_b[rows])


def borders_near(lat_deg: np.ndarray, lon_deg: np.ndarray, within_m: float) -> Borders:
    """Borders of the boundary data, sea borders included, around a list of positions.

    Every border within `within_m` of a position is there; some farther ones are, too. The list may
    be spread over the world: only the neighbourhoods of its positions are read.
    """
    wanted = _degree_cells(lat_deg, lon_deg, within_m)
    # Summed over rows and columns, so that "is any cell of this box wanted" is four look-ups.
    summed = np.pad(wanted.astype(np.int64).cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))

    def any_wanted(w, s, e, n):
        w, e = (np.clip(lon // UNITS_PER_DEG + 180, 0, 359) for lon in (w, e))
        s, n = (np.clip(lat // UNITS_PER_DEG + 90, 0, 179) for lat in (s, n))
        return summed[n + 1, e + 1] - summed[s, e + 1] - summed[n + 1, w] + summed[s, w] > 0

    segments, zones = [np.empty((0, 4), np.int64)], [np.empty(0, np.int64)]
    for zone, outline, box in outlines_in(np.array([-180, -90, 180, 90]) * UNITS_PER_DEG, sea=True):
        if not any_wanted(*box):
            continue
        for ring in rings_of(outline):
            low, high = np.minimum(ring[:-1], ring[1:]), np.maximum(ring[:-1], ring[1:])
            keep = any_wanted(*low.T, *high.T)
            segments.append(np.hstack([ring[:-1][keep], ring[1:][keep]]).astype(np.int64))
            zones.append(np.full(int(keep.sum()), zone))
    return borders_among(np.concatenate(segments), np.concatenate(zones), zone_number_at)


def borders_among(segments: np.ndarray, zone: np.ndarray,
                  zone_at: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> Borders:
    """Borders among the segments of the zones' rings.

    Parameters
    ----------
    segments : ndarray of int64, shape (n, 4)
        lon, lat, lon, lat in units of 1e-7 degree.
    zone : ndarray of int64, shape (n,)
        Number of the zone whose ring the segment belongs to.
    zone_at : callable (lat_deg, lon_deg) -> numbers
        Which zone lies at given positions, negative for none: asked where segments have no twin.
    """
    moves = (segments[:, :2] != segments[:, 2:]).any(axis=1)
    segments, zone = segments[moves], zone[moves]
    points = [(segments[:, i] + 180 * UNITS_PER_DEG << 31) + segments[:, i + 1] + 90 * UNITS_PER_DEG for i in (0, 2)]
    low, high = np.minimum(*points), np.maximum(*points)
    order = np.lexsort((zone, high, low))
    segments, zone, low, high = segments[order], zone[order], low[order], high[order]

    first = np.ones(len(zone), dtype=bool)
    first[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    begin = np.flatnonzero(first)
    members = np.diff(np.append(begin, len(zone)))
    other = np.minimum(begin + 1, max(len(zone) - 1, 0))
    twins = (members == 2) & (zone[begin] != zone[other])
    # One ring touching itself (two members of one zone) is no border. One member, or three and more
    # where claims overlap, are decided by looking.
    doubtful = (members == 1) | (members > 2)

    # Back in the order of the rings, so that pieces that follow each other lie next to each other.
    twins, doubtful = (np.flatnonzero(kind)[np.argsort(order[begin[kind]])] for kind in (twins, doubtful))
    start, end = segments[:, :2] / UNITS_PER_DEG, segments[:, 2:] / UNITS_PER_DEG
    certain = Borders(start[begin[twins]], end[begin[twins]], zone[begin[twins]], zone[other[twins]])
    looked = _look_aside(start[begin[doubtful]], end[begin[doubtful]], zone_at)
    return Borders(*(np.concatenate(pair) for pair in
                     ((certain.start_deg, looked.start_deg), (certain.end_deg, looked.end_deg),
                      (certain.zone_a, looked.zone_a), (certain.zone_b, looked.zone_b))))


def _look_aside(start: np.ndarray, end: np.ndarray, zone_at) -> Borders:
    start, end, _ = _divide(start, end, PROBE_STEP_M)
    middle = (start + end) / 2
    east_m = np.maximum(METRES_PER_DEG * np.cos(np.radians(middle[:, 1])), 1.0)
    step = (end - start) * np.column_stack([east_m, np.full(len(start), METRES_PER_DEG)])
    length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)
    aside_lon, aside_lat = -step[:, 1] / length / east_m * PROBE_M, step[:, 0] / length / METRES_PER_DEG * PROBE_M
    left = zone_at(middle[:, 1] + aside_lat, middle[:, 0] + aside_lon).astype(np.int64)
    right = zone_at(middle[:, 1] - aside_lat, middle[:, 0] - aside_lon).astype(np.int64)
    keep = (left != right) & (left >= 0) & (right >= 0)
    return Borders(start, end, np.minimum(left, right), np.maximum(left, right)).where(keep)


def distance_to(borders: Borders, lat_deg: np.ndarray, lon_deg: np.ndarray,
                within_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Geodesic distance to the nearest border, and which border it is.

    Exact within 5 km; beyond that right to 0.5 %, because from afar a border is looked at with less
    detail (a river seen from 150 km has thousands of bends that are all as near).

    Returns
    -------
    distance_m : ndarray of float64, shape (n,)
        [m], inf where no border lies within `within_m`.
    zone_a, zone_b : ndarray of int64, shape (n,)
        The zones on either side of that border, -1 where there is none.
    """
    lat_deg, lon_deg = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    distance, zone_a, zone_b = np.full(len(lat_deg), np.inf), np.full(len(lat_deg), -1), np.full(len(lat_deg), -1)
    if not len(borders) or not len(lat_deg):
        return distance, zone_a, zone_b
    joined = _joined(borders)
    undecided, reach_m = np.arange(len(lat_deg)), within_m
    for detail_m, trusted_m in DETAIL_M:
        drawn = _coarser(*joined, detail_m) if detail_m else borders
        metres, row = _nearest(drawn, lat_deg[undecided], lon_deg[undecided], reach_m + detail_m)
        found = (metres > trusted_m) & (metres <= within_m)
        rows = undecided[found]
        distance[rows], zone_a[rows], zone_b[rows] = metres[found], drawn.zone_a[row[found]], drawn.zone_b[row[found]]
        undecided, reach_m = undecided[metres <= trusted_m], min(trusted_m + detail_m, within_m)
        if not len(undecided):
            break
    return distance, zone_a, zone_b


def _joined(borders: Borders) -> tuple[np.ndarray, np.ndarray]:
    """Pieces that follow each other joined to lines, and the pair of zones of each line, shape (n, 2)."""
    follows = ((borders.start_deg[1:] == borders.end_deg[:-1]).all(axis=1)
               & (borders.zone_a[1:] == borders.zone_a[:-1]) & (borders.zone_b[1:] == borders.zone_b[:-1]))
    line = np.append(0, np.cumsum(~follows))
    first = np.flatnonzero(np.append(True, ~follows))
    points = np.insert(borders.end_deg, first, borders.start_deg[first], axis=0)
    lines = shapely.linestrings(points, indices=np.insert(line, first, line[first]))
    return lines, np.column_stack([borders.zone_a[first], borders.zone_b[first]])


def _coarser(lines: np.ndarray, pairs: np.ndarray, detail_m: float) -> Borders:
    """Borders with every bend smaller than `detail_m` drawn straight."""
    drawn = shapely.simplify(lines, detail_m / METRES_PER_DEG, preserve_topology=False)
    point, line = shapely.get_coordinates(drawn, return_index=True)
    joined = np.flatnonzero(line[1:] == line[:-1])
    a, b = pairs[line[joined]].T
    return Borders(point[joined], point[joined + 1], a, b)


def _nearest(borders: Borders, lat_deg: np.ndarray, lon_deg: np.ndarray,
             within_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Geodesic distance to the nearest border piece [m], inf if beyond `within_m`, and its row, -1 if none.

    Which point of which piece is nearest is decided on a conformal map centred on the positions
    (one map for every 20 by 20 degrees that have any), so it can be off only by how much the map's
    scale changes on the way: not at all near a border, 0.3 % at 200 km. The distance to that point
    is then measured on the ellipsoid.
    """
    distance, row = np.full(len(lat_deg), np.inf), np.full(len(lat_deg), -1)
    start, end, piece_of = _divide(borders.start_deg, borders.end_deg, STEP_M)
    toward = _direction(start)
    block = np.floor(lat_deg / BLOCK_DEG) * 1000 + np.floor(lon_deg / BLOCK_DEG)
    for number in np.unique(block):
        sites = np.flatnonzero(block == number)
        site_deg = np.column_stack([lon_deg[sites], lat_deg[sites]])
        site_toward = _direction(site_deg)
        centre = site_toward.mean(axis=0)
        centre /= np.linalg.norm(centre)
        reach = np.arccos(np.clip((site_toward @ centre).min(), -1, 1)) + 1.02 * (within_m + STEP_M) / RADIUS_M
        near = np.flatnonzero(toward @ centre > np.cos(min(reach, np.pi)))
        if not len(near):
            continue
        chart = pyproj.Proj(proj="stere", ellps="WGS84", lat_0=np.degrees(np.arcsin(centre[2])),
                            lon_0=np.degrees(np.arctan2(centre[1], centre[0])))
        site = np.column_stack(chart(*site_deg.T))
        line = np.column_stack(chart(*start[near].T))
        beside = _same_neighbourhood(line, site, 1.05 * (within_m + STEP_M))
        near = near[beside]
        line = np.stack([line[beside], np.column_stack(chart(*end[near].T))], axis=1)
        tree = shapely.STRtree(shapely.linestrings(line))
        # The chart's scale grows from 1 at its centre to 1.03 at the farthest corner of a block.
        of, piece = tree.query_nearest(shapely.points(site), max_distance=1.05 * within_m, all_matches=False)
        begin, along = line[piece, 0], line[piece, 1] - line[piece, 0]
        share = ((site[of] - begin) * along).sum(axis=1) / np.maximum((along * along).sum(axis=1), 1e-12)
        piece = near[piece]
        foot = start[piece] + np.clip(share, 0, 1)[:, None] * (end[piece] - start[piece])
        _, _, metres = pyproj.Geod(ellps="WGS84").inv(*site_deg[of].T, *foot.T)
        close = metres <= within_m
        distance[sites[of[close]]] = metres[close]
        row[sites[of[close]]] = piece_of[piece[close]]
    return distance, row


def _same_neighbourhood(points: np.ndarray, around: np.ndarray, within: float) -> np.ndarray:
    """Which points may lie within reach of any of the others, on a plane: a generous mask."""
    cells = [np.floor(xy / within).astype(np.int64) for xy in (points, around)]
    occupied = np.unique(cells[1][:, 0] * 1_000_000 + cells[1][:, 1])
    nine = np.add.outer(occupied, [dx * 1_000_000 + dy for dx in (-1, 0, 1) for dy in (-1, 0, 1)])
    return np.isin(cells[0][:, 0] * 1_000_000 + cells[0][:, 1], nine)


def _divide(start: np.ndarray, end: np.ndarray, step_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Segments cut into equal pieces of at most `step_m`, and which segment each piece is of."""
    east_m = METRES_PER_DEG * np.cos(np.radians((start[:, 1] + end[:, 1]) / 2))
    length = np.hypot((end[:, 0] - start[:, 0]) * east_m, (end[:, 1] - start[:, 1]) * METRES_PER_DEG)
    count = np.maximum(np.ceil(length / step_m), 1).astype(np.int64)
    if (count == 1).all():
        return start, end, np.arange(len(start))
    of = np.repeat(np.arange(len(start)), count)
    number = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    from_, step = start[of], (end - start)[of] / count[of, None]
    return from_ + number[:, None] * step, from_ + (number[:, None] + 1) * step, of


def _direction(deg: np.ndarray) -> np.ndarray:
    """lon, lat as unit vectors, shape (n, 3)."""
    lon, lat = np.radians(deg).T
    return np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def _degree_cells(lat_deg: np.ndarray, lon_deg: np.ndarray, within_m: float) -> np.ndarray:
    """Which one-degree cells (180 x 360) have a point within reach of a position: a generous mask."""
    wanted = np.zeros((180, 360), dtype=bool)
    row = np.clip(np.floor(np.asarray(lat_deg)).astype(int) + 90, 0, 179)
    column = (np.floor(np.asarray(lon_deg)).astype(int) + 180) % 360
    up = int(np.ceil(within_m / 110_000))
    for r, c in (divmod(cell, 360) for cell in np.unique(row * 360 + column)):
        south, north = max(r - up, 0), min(r + up, 179)
        # The cell's reach is widest at its edge nearest to a pole.
        narrowest = np.cos(np.radians(min(max(abs(south - 90), abs(north - 89)), 90)))
        around = min(int(np.ceil(within_m / 110_000 / max(narrowest, 1e-3))), 180)
        wanted[south:north + 1, np.arange(c - around, c + around + 1) % 360] = True
    return wanted
