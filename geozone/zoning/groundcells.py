"""Ground cut into cells so small that their corners tell which settings keep all of a cell within tolerance.

Dusk and dawn are strictly monotone in longitude, so over a cell between two meridians and two parallels the extremes of each night lie on
its two meridians; on these at the ends, but for an earliest dusk or a latest dawn near an equinox, which passes the ends by at most
229 |sin h| (dlat/2)^2 / (2 cos^2 lat cos dec sin H) minutes: 0.00002 for a tenth of a degree at 40 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..places.zoneshapes import polygons_in
from ..sharing.drift import drift_at, unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting
from .outlines import STRAY_MIN

#: How often a cell that no setting serves is quartered.
_SPLITS = 3
# Dusk and dawn of a place are on average as late as its longitude says; half a minute is more than the year's unevenness.
_UNEVEN_MIN = 0.5
# What a time within a cell may pass its corners by, for the square of its side [minute / degree^2]: the formula above at 52 degrees, h = -12.
_STRAY_PER_DEG2 = 0.006
# Ground smaller than this is what rounding left at a border [square degree].
_CRUMB_DEG2 = 1e-13


@dataclass(frozen=True, eq=False)
class GroundCells:
    """Cells of one ground.

    Attributes
    ----------
    unit_deg : float
        Side of the smallest cell [degree].
    boxes : (n, 3) int64
        West and south side and length of side [units]; where 0 is longitude and latitude 0.
    shapes : (n,) array of Polygon or MultiPolygon
        The ground in each, degrees.
    """

    unit_deg: float
    boxes: np.ndarray
    shapes: np.ndarray

    @property
    def whole(self) -> np.ndarray:
        """(n,) bool: cells that are ground all over."""
        return _whole(self.boxes, self.shapes, self.unit_deg)

    def chosen(self, rows) -> "GroundCells":
        return GroundCells(self.unit_deg, self.boxes[rows], self.shapes[rows])

    def corners(self) -> tuple[np.ndarray, np.ndarray]:
        """((n, 4) latitude, (n, 4) longitude) of the rectangle round the ground of each [degree]."""
        west, south, east, north = shapely.bounds(self.shapes).T.reshape(4, -1)
        return np.column_stack([south, south, north, north]), np.column_stack([west, east, west, east])

    def quartered(self) -> "GroundCells":
        """The same ground in cells of half the side."""
        half = self.boxes[:, 2] // 2
        parts = [np.column_stack([self.boxes[:, 0] + dx * half, self.boxes[:, 1] + dy * half, half]) for dy in (0, 1) for dx in (0, 1)]
        boxes, parents = np.concatenate(parts), np.tile(self.shapes, 4)
        shapes = squares(boxes, self.unit_deg)
        cut = ~np.tile(self.whole, 4)
        shapes[cut] = [_surface(one) for one in shapely.intersection(shapes[cut], parents[cut])]
        kept = shapely.area(shapes) > _CRUMB_DEG2
        order = np.lexsort((boxes[kept, 0], boxes[kept, 1]))
        return GroundCells(self.unit_deg, boxes[kept][order], shapes[kept][order])


def squares(boxes: np.ndarray, unit_deg: float) -> np.ndarray:
    """Cells as polygons, whatever ground is in them."""
    west, south, side = boxes.T * unit_deg
    east, north = (boxes[:, 0] + boxes[:, 2]) * unit_deg, (boxes[:, 1] + boxes[:, 2]) * unit_deg
    return shapely.box(west, south, east, north)


def cut_ground(ground, step_deg: float) -> GroundCells:
    """A ground cut along meridians and parallels.

    Parameters
    ----------
    ground : Polygon or MultiPolygon
        Degrees, not across the antimeridian.
    step_deg : float [degree]
        Sides lie on multiples of it.
    """
    unit, side = step_deg / 2**_SPLITS, 2**_SPLITS
    west, south, east, north = ground.bounds
    first = np.floor(np.array([west, south]) / step_deg).astype(int) * side
    reach = max(np.ceil(max(east - first[0] * unit, north - first[1] * unit) / step_deg), 1)
    whole = side * 2 ** int(np.ceil(np.log2(reach)))
    cells = GroundCells(unit, np.array([[*first, whole]], dtype=np.int64), np.array([ground], dtype=object))
    while cells.boxes[0, 2] > side:
        cells = cells.quartered()
    return cells


def serving(cells: GroundCells, settings: list[Setting], basis: Basis) -> np.ndarray:
    """(n, n_setting) bool: settings that keep all ground of a cell within tolerance on every night."""
    return np.asarray(_corners_served(cells, settings, basis).all(axis=1))


def _corners_served(cells: GroundCells, settings: list[Setting], basis: Basis) -> np.ndarray:
    """(n, 4, n_setting) bool."""
    lat, lon = cells.corners()
    points, of = np.unique(np.column_stack([lat.ravel(), lon.ravel()]), axis=0, return_inverse=True)
    of = of.reshape(lat.shape)
    room = max(STRAY_MIN, _STRAY_PER_DEG2 * (float(cells.boxes[:, 2].max()) * cells.unit_deg) ** 2)
    dark, excess = basis.tolerance.dark_min - room, basis.tolerance.excess_min - room
    held = np.zeros((len(points), len(settings)), bool)
    for number, setting in enumerate(settings):
        east = unwrapped_lon_deg(points[:, 1], setting.legal_zone, basis.year)
        keyed = float(unwrapped_lon_deg(setting.lon_deg, setting.legal_zone, basis.year))
        # Late by as much at dusk and at dawn on average: what latitude adds to one it takes from the other.
        late = 4 * (east - keyed) + 0.5 * (setting.dusk_offset_min + setting.dawn_offset_min)
        near = np.flatnonzero(np.abs(late) <= max(dark, excess) + _UNEVEN_MIN)
        if near.size:
            found = drift_at(points[near, 0], east[near], setting, basis)
            held[near, number] = (found.worst_dark_min <= dark) & (found.worst_excess_min <= excess)
    return held[of]


def divided(cells: GroundCells, settings: list[Setting], basis: Basis) -> tuple[GroundCells, np.ndarray, GroundCells]:
    """Cells that a setting serves, quartered where it takes that.

    Returns
    -------
    cells : GroundCells
    member : (n, n_setting) bool
    left : GroundCells
        Cells that none serves: at the smallest side, and larger ones of which none serves so much as a corner.
    """
    done, members, left = [cells.chosen([])], [np.zeros((0, len(settings)), bool)], [cells.chosen([])]
    for split in range(_SPLITS + 1):
        if not len(cells.boxes):
            break
        corners = _corners_served(cells, settings, basis)
        member = np.asarray(corners.all(axis=1))
        served, hopeless = np.asarray(member.any(axis=1)), ~np.asarray(corners.any(axis=(1, 2))) | (split == _SPLITS)
        done.append(cells.chosen(served))
        members.append(member[served])
        left.append(cells.chosen(~served & hopeless))
        cells = cells.chosen(~served & ~hopeless)
        if len(cells.boxes):
            cells = cells.quartered()
    return _joined(done), np.concatenate(members), _joined(left)


def _joined(parts: list[GroundCells]) -> GroundCells:
    return GroundCells(parts[0].unit_deg, np.concatenate([one.boxes for one in parts]), np.concatenate([one.shapes for one in parts]))


def _whole(boxes, shapes, unit_deg: float) -> np.ndarray:
    return shapely.area(shapes) >= (1 - 1e-9) * (boxes[:, 2] * unit_deg) ** 2


def _surface(shape):
    """Its polygons alone: a cell may touch the ground along a line or at a point too."""
    return shape if shape.geom_type in ("Polygon", "MultiPolygon") else shapely.MultiPolygon(list(polygons_in(shape)))
