"""The fewest lighting zones whatever the outlines: their borders run where they are shortest."""

from __future__ import annotations

import time
from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely

from ..errors import InputError
from ..grouping.groups import fewest_groups
from ..grouping.siteparts import GroupSites
from ..numbers import clock
from ..places.zoneshapes import polygons_in
from ..trade.basis import Basis
from ..trade.setting import Setting
from .diamonds import squares_needed
from .freesearch import Ground, Layout, best_layout
from .groundcells import GroundCells, cut_ground
from .leastborder import joined_up, least_border, neighbours
from .outlines import area_km2, border_km, outline_points
from .straightborders import put_together, straightened, surface
from .zones import ROOM_MIN, UnservedGround, Zone, ZonePlan, checked_outlines, judged_zone, overlaps, tighter

# Sides of cells [degree]: the smallest of these of which no more than so many lie in a ground, however long the search may take.
_SIDES_DEG, _MOST_CELLS, _FEWEST_CELLS = (0.0125, 0.025, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0), 6000, 60
# Cells a second, and cells times keyed latitudes a second, for which there is time; settings may be keyed so far north and south of the ground [degree].
_CELLS_PER_S, _KEYED_PER_S, _KEYED_DEG = 200, 15_000, 2.0
#: Ground of more square degrees than this is too much for borders that are free, and so is what takes more zones.
WIDEST_DEG2, MOST_ZONES = 2000.0, 250
# A border's corner may cut off so much, in sides of a cell; the first that leaves all zones within tolerance is taken.
_STRAIGHT = (4.0, 2.0, 1.0, 0.5, 0.25)
_MOST_SAMPLES = 40
# A piece that a zone touches by less than this share of it is none of its own: rounding.
_SLIVER = 1e-3


class TooMuchGroundError(InputError):
    """Zones with free borders would be too many to be looked for."""


def free_zones_of(pieces: gpd.GeoDataFrame, basis: Basis, *, time_limit_s: float = 60.0) -> ZonePlan:
    """The fewest settings such that each point of the ground has one, and zones of it with short and straight borders.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it: area, legal_zone, geometry.
    basis : Basis
    time_limit_s : float [second]

    Returns
    -------
    ZonePlan
        Of a piece that is not wholly within zones, `unserved` says how much of it is left.

    Raises
    ------
    InputError
        If there is no outline, one without a surface, or one at a pole; `TooMuchGroundError` for more ground than `WIDEST_DEG2`, or of
        more than about `MOST_ZONES` zones.
    """
    begun = time.monotonic()
    checked_outlines(pieces)
    if (wide := float(shapely.area(pieces.geometry.to_numpy()).sum())) > WIDEST_DEG2:
        raise TooMuchGroundError("the ground is too wide for zones with free borders", value=f"{wide:,.0f} square degrees", rule=f"{WIDEST_DEG2:,.0f} at most",
                                 next_step='give the outlines of a part of it, or ask for by = "area"')
    basis = replace(basis, switch_clock="own")
    # Small ones first: time that one leaves over goes to those that follow.
    grounds = sorted(_grounds(pieces, basis, time_limit_s), key=lambda one: len(one.cells.boxes))
    many = 0
    for ground in grounds:
        lat, lon = ground.cells.corners()
        many += squares_needed(lat.ravel(), lon.ravel(), basis)
    if many > MOST_ZONES:
        raise TooMuchGroundError("the tolerance is too small for zones with free borders on this ground", value=f"about {many:,} zones",
                                 rule=f"{MOST_ZONES} at most", next_step='allow more minutes, give the outlines of a part of it, or ask for by = "area"')
    found: list[tuple[Setting, shapely.Geometry]] = []
    left: list[tuple[Ground, GroundCells]] = []
    lower = 0
    for number, ground in enumerate(grounds):
        share = len(ground.cells.boxes) / sum(len(later.cells.boxes) for later in grounds[number:])
        layout, least = best_layout(ground, basis, share * max(1.0, begun + 0.95 * time_limit_s - time.monotonic()))
        found += _zones(layout, ground, basis)
        left.append((ground, layout.left))
        lower += least
    # From west to east, clock by clock.
    found.sort(key=lambda one: (round(one[1].bounds[0], 6), -one[1].bounds[3]))
    zones = tuple(_judged(f"Z{number}", setting, outline, pieces, basis) for number, (setting, outline) in enumerate(found, start=1))
    return ZonePlan("free", zones, tuple(_unserved(pieces, left, basis)), np.full(len(pieces), "", dtype=object), min(lower, len(zones)),
                    border_km([zone.outline for zone in zones]), overlaps(list(pieces["area"]), pieces.geometry),
                    tuple(zone.name for zone in zones if _is_apart(zone.outline, grounds)))


def _is_apart(outline, grounds: list[Ground]) -> bool:
    parts = polygons_in(outline)
    return any(sum(shapely.intersects(land, shapely.point_on_surface(part)) for part in parts) > 1 for ground in grounds for land in polygons_in(ground.shape)) \
        if len(parts) > 1 else False


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


def _zones(layout: Layout, ground: Ground, basis: Basis) -> list[tuple[Setting, shapely.Geometry]]:
    """Zones of one ground with short and straight borders."""
    cells, member, settings = layout.cells, layout.member.copy(), list(layout.settings)
    if not len(cells.boxes):
        return []
    pairs, length_km = neighbours(cells)

    def serves(number: int, zone: np.ndarray, stray: np.ndarray) -> bool:
        if _holds(settings[number], shapely.union_all(cells.shapes[stray]), basis):
            return True
        both = np.union1d(zone, stray)
        other = _setting_for(shapely.union_all(cells.shapes[both]), ground, basis)
        if other is not None:
            # What else it would serve is not known.
            settings[number], member[:, number] = other, False
            member[both, number] = True
        return other is not None

    of_cell = joined_up(least_border(member, pairs, length_km)[0], member, pairs, length_km, serves)
    shapes = put_together(cells, of_cell)
    side = cells.unit_deg * ground.cells.boxes[0, 2]
    for straight in _STRAIGHT:
        fewer = straightened(shapes, straight * side)
        if fewer is not None and all(_holds(settings[number], shape, basis) for number, shape in fewer.items()):
            shapes = fewer
            break
    return [(settings[number], shape) for number, shape in shapes.items()]


def _setting_for(shape, ground: Ground, basis: Basis) -> Setting | None:
    """One setting for all of some ground, if there is one."""
    lat, lon, _ = outline_points(shape, basis)
    one = GroupSites(lat, lon, basis.year, legal_zone=np.full(lat.size, ground.legal_zone, dtype=object), keep_together=np.full(lat.size, "ground", dtype=object))
    found = fewest_groups(one, replace(basis, tolerance=tighter(basis.tolerance, ROOM_MIN)), time_limit_s=2.0)
    return found.settings[0].setting if found.settings else None


def _holds(setting: Setting, shape, basis: Basis) -> bool:
    points = outline_points(shape, basis)
    zone = judged_zone("", setting, np.empty(0, int), shape, points, basis)
    return zone.certified or (zone.factor <= 1.0 and not points[2])


def _judged(name: str, setting: Setting, outline, pieces: gpd.GeoDataFrame, basis: Basis) -> Zone:
    shapes, same = pieces.geometry.to_numpy(), clock.offsets(setting.legal_zone, basis.year).key
    near = np.sort(shapely.STRtree(shapes).query(outline, predicate="intersects"))
    mine = [one for one in near if clock.offsets(pieces["legal_zone"].iloc[one], basis.year).key == same
            and shapely.intersection(shapes[one], outline).area > min(_SLIVER * shapes[one].area, 0.5 * outline.area)]
    return judged_zone(name, setting, np.array(mine, dtype=int), outline, outline_points(outline, basis), basis)


def _unserved(pieces: gpd.GeoDataFrame, left: list[tuple[Ground, GroundCells]], basis: Basis):
    """What each piece has of the ground that no setting serves, with the one setting that misses it least."""
    keys = {zone: clock.offsets(zone, basis.year).key for zone in pieces["legal_zone"]}
    for ground, cells in left:
        if not len(cells.boxes):
            continue
        rest = surface(cells.shapes)
        for row in np.flatnonzero(shapely.intersects(pieces.geometry.to_numpy(), rest)):
            piece = pieces.geometry.iloc[row]
            shared = shapely.intersection(piece, rest)
            if keys[pieces["legal_zone"].iloc[row]] != keys[ground.legal_zone] or not shared.area > 0:
                continue
            corners = [axis.ravel() for axis in cells.chosen(np.flatnonzero(shapely.intersects(cells.shapes, piece))).corners()]
            lat, lon = np.unique(np.column_stack(corners), axis=0).T
            # Beside white nights every point is costly, and samples are what there is of outlines, too.
            some = slice(None, None, 1 if outline_points(shared, basis)[2] else max(1, -(-lat.size // _MOST_SAMPLES)))
            lat, lon = lat[some], lon[some]
            found = fewest_groups(GroupSites(lat, lon, basis.year, legal_zone=np.full(lat.size, ground.legal_zone, dtype=object),
                                             keep_together=np.full(lat.size, "ground", dtype=object)), basis, time_limit_s=2.0)
            for one in found.unserved:
                yield UnservedGround(int(row), one.setting, one.dark_min, one.excess_min, one.tolerance_factor, one.proved, area_km2(shared))
            for held in found.settings:
                # Within tolerance by less than the room that is kept for what lies between the points.
                yield UnservedGround(int(row), held.setting, held.worst_dark_min, held.worst_excess_min, held.tolerance_factor, False, area_km2(shared))
