"""The fewest lighting zones whatever the outlines: their borders run where they are shortest."""

from __future__ import annotations

import time
from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely

from ..grouping.planrecords import Groups
from ..numbers import clock
from ..places.zoneshapes import polygons_in
from ..sharing.drift import drift_at, unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting
from .diamonds import squares_needed
from .freesearch import Ground, Layout, best_layout, settings_for
from .groundcells import GroundCells, cut_ground
from .leastborder import joined_up, least_border, neighbours
from .outlines import area_km2, border_km, outline_points
from .straightborders import put_together
from .weighedborders import lines_of, split_cells, straightened, weighed
from .zones import ROOM_MIN, UnservedGround, Zone, ZonePlan, ZonesRefusedError, checked_outlines, judged_zone, overlaps, refuse_wide

# Sides of cells [degree]: the smallest of these of which no more than so many lie in a ground, however long the search may take.
_SIDES_DEG, _MOST_CELLS, _FEWEST_CELLS = (0.0125, 0.025, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0), 6000, 60
# Cells a second, and cells times keyed latitudes a second, for which there is time; settings may be keyed so far north and south of the ground [degree].
_CELLS_PER_S, _KEYED_PER_S, _KEYED_DEG = 250, 20_000, 2.0
#: What takes more zones than this is too much for borders that are free.
MOST_ZONES = 250
# A border's corner may cut off so much, in sides of a cell; the first that leaves all zones within tolerance is taken.
_STRAIGHT = (4.0, 2.0, 1.0, 0.5, 0.25)
# A piece that a zone touches by less than this share of it is none of its own: rounding.
_SLIVER = 1e-3


def free_zones_of(pieces: gpd.GeoDataFrame, basis: Basis, *, time_limit_s: float = 60.0, along=None) -> ZonePlan:
    """The fewest settings such that each point of the ground has one, and zones of it with short and straight borders.

    Outlines, and lines given as `along`, weigh borders down: they run there where it makes them little longer.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it: area, legal_zone, geometry.
    basis : Basis
    time_limit_s : float [second]
    along : sequence of shapely geometry, optional
        Degrees; of a surface its outline counts.

    Returns
    -------
    ZonePlan
        Of a piece that is not wholly within zones, `unserved` says how much of it is left.

    Raises
    ------
    InputError
        If there is no outline, one without a surface, or one at a pole; `ZonesRefusedError` for more ground than `zones.WIDEST_DEG2`, or of
        more than about `MOST_ZONES` zones.
    """
    begun = time.monotonic()
    checked_outlines(pieces)
    refuse_wide(pieces, "with free borders")
    basis = replace(basis, switch_clock="own")
    # Small ones first: time that one leaves over goes to those that follow.
    grounds = sorted(_grounds(pieces, basis, time_limit_s), key=lambda one: len(one.cells.boxes))
    many = 0
    for ground in grounds:
        lat, lon = ground.cells.corners()
        many += squares_needed(lat.ravel(), lon.ravel(), basis)
    if many > MOST_ZONES:
        raise ZonesRefusedError("the tolerance is too small for zones with free borders on this ground", value=f"about {many:,} zones",
                                 rule=f"{MOST_ZONES} at most", next_step='allow more minutes, give the outlines of a part of it, or ask for by = "area"')
    found: list[tuple[Setting, shapely.Geometry]] = []
    unserved: list[UnservedGround] = []
    lower, lines = 0, lines_of(pieces.geometry, along)
    for number, ground in enumerate(grounds):
        share = len(ground.cells.boxes) / sum(len(later.cells.boxes) for later in grounds[number:])
        layout, least = best_layout(ground, basis, share * max(1.0, begun + 0.95 * time_limit_s - time.monotonic()))
        more, left = _left_over(layout.left, ground, pieces, basis)
        found += _zones(layout, ground, basis, lines) + more
        unserved += left
        lower += least
    # From west to east, clock by clock.
    found.sort(key=lambda one: (round(one[1].bounds[0], 6), -one[1].bounds[3]))
    zones = tuple(judged_ground(f"Z{number}", setting, outline, pieces, basis) for number, (setting, outline) in enumerate(found, start=1))
    return ZonePlan("free", zones, tuple(sorted(unserved, key=lambda one: one.piece)), np.full(len(pieces), "", dtype=object), min(lower, len(zones)),
                    border_km([zone.outline for zone in zones]), overlaps(list(pieces["area"]), pieces.geometry),
                    tuple(zone.name for zone in zones if _is_apart(zone.outline, grounds)))


def _is_apart(outline, grounds: list[Ground]) -> bool:
    """Whether it has several parts on one piece of land."""
    at = shapely.points([part.representative_point().coords[0] for part in polygons_in(outline)])
    return any(int(shapely.intersects(land, at).sum()) > 1 for ground in grounds for land in polygons_in(ground.shape))


def _grounds(pieces: gpd.GeoDataFrame, basis: Basis, seconds: float) -> list[Ground]:
    keys = [clock.offsets(zone, basis.year).key for zone in pieces["legal_zone"]]
    found, shapes = [], pieces.geometry.to_numpy()
    for key in dict.fromkeys(keys):
        mine = np.flatnonzero([one == key for one in keys])
        shape = shapely.union_all(shapes[mine])
        keyed = (shape.bounds[3] - shape.bounds[1] + 2 * _KEYED_DEG) / basis.keypad.coordinate_step_deg
        cells = float(np.clip(min(_CELLS_PER_S, _KEYED_PER_S / keyed) * seconds, _FEWEST_CELLS, _MOST_CELLS))
        side = min((one for one in _SIDES_DEG if one**2 * cells >= shape.area), default=_SIDES_DEG[-1])
        found.append(Ground(pieces["legal_zone"].iloc[mine[int(np.argmax(shapely.area(shapes[mine])))]], shape, cut_ground(shape, side)))
    return found


def _zones(layout: Layout, ground: Ground, basis: Basis, lines: np.ndarray) -> list[tuple[Setting, shapely.Geometry]]:
    """Zones of one ground with short and straight borders."""
    if not len(layout.cells.boxes):
        return []
    cells, member = split_cells(layout.cells, layout.member, lines)
    settings, (pairs, length_km) = list(layout.settings), neighbours(cells)
    length_km = weighed(cells, pairs, length_km, lines)

    def serves(number: int, zone: np.ndarray, stray: np.ndarray) -> bool:
        if _holds(settings[number], shapely.union_all(cells.shapes[stray]), basis):
            return True
        both = np.union1d(zone, stray)
        other = _all_of(shapely.union_all(cells.shapes[both]), ground, basis, ROOM_MIN).settings
        if other:
            # What else it would serve is not known.
            settings[number], member[:, number] = other[0].setting, False
            member[both, number] = True
        return bool(other)

    of_cell = joined_up(least_border(member, pairs, length_km)[0], member, pairs, length_km, serves)
    shapes = put_together(cells, of_cell)
    side = cells.unit_deg * ground.cells.boxes[0, 2]
    for straight in _STRAIGHT:
        fewer = straightened(shapes, straight * side, lines)
        if fewer is not None and all(_holds(settings[number], shape, basis) for number, shape in fewer.items()):
            shapes = fewer
            break
    return [(settings[number], shape) for number, shape in shapes.items()]


def _all_of(shape, ground: Ground, basis: Basis, slack_min: float) -> Groups:
    """The one setting for all of some ground, or, as unserved, that which misses it least."""
    lat, lon, _ = outline_points(shape, basis)
    return settings_for(np.column_stack([lat, lon]), ground, basis, slack_min, 2.0, np.full(lat.size, "all", dtype=object))


def _holds(setting: Setting, shape, basis: Basis) -> bool:
    points = outline_points(shape, basis)
    zone = judged_zone("", setting, np.empty(0, int), shape, points, basis)
    return zone.certified or (zone.factor <= 1.0 and not points[2])


def judged_ground(name: str, setting: Setting, outline, pieces: gpd.GeoDataFrame, basis: Basis) -> Zone:
    """A zone whose borders are not those of pieces: with the pieces in which it lies, and the worst that its setting does in it."""
    shapes, same = pieces.geometry.to_numpy(), clock.offsets(setting.legal_zone, basis.year).key
    near = np.sort(shapely.STRtree(shapes).query(outline, predicate="intersects"))
    mine = [one for one in near if clock.offsets(pieces["legal_zone"].iloc[one], basis.year).key == same
            and shapely.intersection(shapes[one], outline).area > min(_SLIVER * shapes[one].area, 0.5 * outline.area)]
    return judged_zone(name, setting, np.array(mine, dtype=int), outline, outline_points(outline, basis), basis)


def _left_over(cells: GroundCells, ground: Ground, pieces: gpd.GeoDataFrame, basis: Basis) -> tuple[list[tuple[Setting, shapely.Geometry]], list[UnservedGround]]:
    """Ground that the search has left: zones of what one setting serves after all, and of each piece that which none serves, as one."""
    zones: list[tuple[Setting, shapely.Geometry]] = []
    unserved: list[UnservedGround] = []
    rest = shapely.union_all(cells.shapes)
    same = clock.offsets(ground.legal_zone, basis.year).key
    for row in np.flatnonzero(shapely.intersects(pieces.geometry.to_numpy(), rest)):
        shared = shapely.MultiPolygon(polygons_in(shapely.intersection(pieces.geometry.iloc[row], rest)))
        if clock.offsets(pieces["legal_zone"].iloc[row], basis.year).key != same or not shared.area > 0:
            continue
        # That no setting serves it must hold for the tolerance itself; one that holds at samples beside white nights must at the cells' corners.
        found = _all_of(shared, ground, basis, 0.0)
        unserved += [UnservedGround(int(row), one.setting, one.dark_min, one.excess_min, one.tolerance_factor, one.proved, area_km2(shared))
                     for one in found.unserved]
        for one in found.settings:
            dark, excess, factor = _worst_of(cells.chosen(shapely.intersects(cells.shapes, shared)), one.setting, basis)
            if factor <= 1 or _holds(one.setting, shared, basis) and outline_points(shared, basis)[2]:
                zones.append((one.setting, shared))
            else:
                unserved.append(UnservedGround(int(row), one.setting, dark, excess, factor, False, area_km2(shared)))
    return zones, unserved


def _worst_of(cells: GroundCells, setting: Setting, basis: Basis) -> tuple[float, float, float]:
    """Worst dark and excess minutes at the corners of cells, and the larger of them in units of the tolerance."""
    lat, lon = (axis.ravel() for axis in cells.corners())
    found = drift_at(lat, unwrapped_lon_deg(lon, setting.legal_zone, basis.year), setting, basis)
    return float(found.worst_dark_min.max()), float(found.worst_excess_min.max()), float(found.factor(basis.tolerance).max())
