"""Lighting zones that are rectangles between meridians and parallels, so that they can be said without a map."""

from __future__ import annotations

import time
from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely

from ..grouping.allowedshifts import AllowedShifts
from ..grouping.keyedcovers import best_setting, within
from ..grouping.keylattice import KeyLattice
from ..numbers import clock
from ..places.zoneshapes import polygons_in
from ..setcover.programs import RelaxedCover, bound_of
from ..sharing.drift import unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting
from .freezones import judged_ground
from .groundcells import cut_ground
from .outlines import border_km, outline_points
from .rectangles import Mesh, Rectangle, fewest_rectangles
from .zones import ROOM_MIN, Zone, ZonePlan, ZonesRefusedError, checked_outlines, overlaps, refuse_wide, tighter

# Sides lie on multiples of the first of these [degree] of which a setting's ground is so many wide, wider ones where the mesh would get too large.
_STEPS_DEG, _ACROSS, _MOST_MESH = (0.1, 0.05, 0.02, 0.01), 20, 12_000_000
_WIDER_DEG = (0.2, 0.5, 1.0)
_MIN_PER_DEG = 4.0
# Shifts that differ by less are one [minute].
_SAME_MIN = 1e-4
# How often a band that no setting of the keypad serves after all is narrowed, by so much of a step.
_TURNS, _NARROWER = 60, 0.5
# Places of the ground that the bound rests on.
_MOST_PLACES = 500


def grid_zones_of(pieces: gpd.GeoDataFrame, basis: Basis, *, time_limit_s: float = 30.0) -> ZonePlan:
    """The fewest rectangles found, each with a setting for all of its ground.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it: area, legal_zone, geometry.
    basis : Basis
    time_limit_s : float [second]
        The search stops then, or soon after.

    Returns
    -------
    ZonePlan
        With `sides` of each zone. `lower_bound` is for rectangles on the same lines.

    Raises
    ------
    InputError
        If there is no outline, one without a surface, or one at a pole; `ZonesRefusedError` for more than 2,000 square degrees, where no
        rectangle of the mesh will do, and where the sun does not cross the threshold on every night, or nights are left out.
    """
    begun = time.monotonic()
    checked_outlines(pieces)
    shapes = pieces.geometry.to_numpy()
    refuse_wide(pieces, "on a grid")
    basis = replace(basis, switch_clock="own")
    keys = [clock.offsets(zone, basis.year).key for zone in pieces["legal_zone"]]
    found: list[tuple[Setting, shapely.Geometry, tuple[float, float, float, float]]] = []
    lower, clocks = 0, list(dict.fromkeys(keys))
    for number, key in enumerate(clocks):
        mine = np.flatnonzero([one == key for one in keys])
        legal_zone = pieces["legal_zone"].iloc[mine[int(np.argmax(shapely.area(shapes[mine])))]]
        seconds = (begun + time_limit_s - time.monotonic()) / (len(clocks) - number)
        rectangles, least = _rectangles(shapely.union_all(shapes[mine]), legal_zone, basis, max(1.0, seconds))
        found += rectangles
        lower += least
    found.sort(key=lambda one: (one[2][0], -one[2][3]))
    zones: tuple[Zone, ...] = tuple(judged_ground(f"Z{number}", setting, outline, pieces, basis) for number, (setting, outline, _) in enumerate(found, start=1))
    return ZonePlan("grid", zones, (), np.full(len(pieces), "", dtype=object), min(lower, len(zones)), border_km([zone.outline for zone in zones]),
                    overlaps(list(pieces["area"]), pieces.geometry), sides=tuple(sides for _, _, sides in found))


def _rectangles(shape, legal_zone: str, basis: Basis, seconds: float) -> tuple[list[tuple[Setting, shapely.Geometry, tuple]], int]:
    """Setting, ground and sides of the fewest rectangles found for a ground of one clock, and how many it needs at least."""
    begun = time.monotonic()
    step = _step_deg(shape, basis)
    mesh = Mesh.of(cut_ground(shape, step))
    settings: dict[tuple, Setting | None] = {}
    surely, at_most = _widest_deg(mesh, legal_zone, basis)
    best = _settled(mesh, surely, settings, legal_zone, basis, np.inf)
    lower = _at_least(mesh, legal_zone, basis, max(1.0, 0.3 * seconds))
    # The keypad's steps cost less where the ground does not begin on a line.
    other = _settled(mesh, at_most, settings, legal_zone, basis, begun + seconds) if best is None or len(best) > lower else None
    best = min((one for one in (best, other) if one is not None), key=len, default=None)
    if best is None:
        raise ZonesRefusedError("no rectangle on lines of latitude and longitude was found that a setting serves everywhere on this ground",
                                 value=f"lines every {step:g} degree", rule="a setting for each rectangle", next_step='allow more minutes, or ask for by = "free"')
    found = []
    for one in best:
        sides = mesh.sides(one.rows, one.columns)
        setting = settings[_ground_box(mesh, one)]
        assert setting is not None
        found.append((setting, shapely.MultiPolygon(polygons_in(shapely.intersection(shape, shapely.box(*sides)))), sides))
    return found, min(lower, len(found))


def _settled(mesh: Mesh, widest: np.ndarray, settings: dict[tuple, Setting | None], legal_zone: str, basis: Basis, ends: float) -> list[Rectangle] | None:
    """The fewest rectangles that each have a setting; bands in which one has none are narrowed until it is so. None where it does not come to that."""
    for _ in range(_TURNS):
        layout = fewest_rectangles(mesh, widest)
        if layout is None:
            return None
        grounds = [_ground_box(mesh, one) for one in layout]
        settings |= _settings_for([one for one in grounds if one not in settings], legal_zone, basis)
        failed = [(one, ground) for one, ground in zip(layout, grounds, strict=True) if settings[ground] is None]
        if not failed:
            return layout
        for one, ground in failed:
            narrower = ground[2] - ground[0] - _NARROWER * mesh.step_deg
            # What more rows may have is no more.
            part = widest[:one.rows[0] + 1, one.rows[1] - 1:]
            np.minimum(part, narrower, out=part)
        if time.monotonic() > ends:
            return None
    return None


def _step_deg(shape, basis: Basis) -> float:
    """How far apart lines may be on which sides lie."""
    across = (basis.tolerance.dark_min + basis.tolerance.excess_min) / _MIN_PER_DEG
    finest = next((one for one in _STEPS_DEG if one * _ACROSS <= across), _STEPS_DEG[-1])
    west, south, east, north = shape.bounds
    steps = (finest, *(one for one in (*_STEPS_DEG[::-1], *_WIDER_DEG) if one > finest))
    return next((one for one in steps if ((north - south) / one + 1) * ((east - west) / one + 1) ** 2 <= _MOST_MESH), steps[-1])


def _shifts(lat: np.ndarray, lon: np.ndarray, legal_zone: str, basis: Basis, room_min: float) -> AllowedShifts:
    east = unwrapped_lon_deg(lon, legal_zone, basis.year)
    return AllowedShifts(lat, east, np.arange(lat.size), replace(basis, tolerance=tighter(basis.tolerance, room_min)), KeyLattice.of(basis.keypad, True))


def _widest_deg(mesh: Mesh, legal_zone: str, basis: Basis) -> tuple[np.ndarray, np.ndarray]:
    """(n_row, n_row) twice: how wide a rectangle of the rows from the first to the second may be, but for the sun's own motion [degree].

    Places on one parallel allow the same shifts but for 4 minutes a degree, so a rectangle's width is what the shifts that all of its
    latitudes allow leave over: beside one that the keypad gives, which is the same from each line on where a step of the mesh is one of the keypad's or
    several; and whatever the keypad gives. Neither proves anything: each rectangle's setting is looked for afterwards.
    """
    n_row, n_column = mesh.west.shape
    line = mesh.south_deg + mesh.step_deg * np.arange(n_row + 1)
    line[0], line[-1] = np.nanmin(mesh.south), np.nanmax(mesh.north)
    middle = mesh.west_deg + mesh.step_deg * (n_column // 2)
    shifts = _shifts(line, np.full(line.size, middle), legal_zone, basis, ROOM_MIN)
    if not (shifts.plain and shifts.steady) or basis.tolerance.shallow_deg > 0:
        raise ZonesRefusedError("zones on a grid are made only where the sun sets and rises past the threshold on every night, and every night is judged",
                                  value=f"latitude {line[0]:.1f} to {line[-1]:.1f}", rule="dusk and dawn on every night", next_step='ask for by = "area"')
    least_dusk, most_dusk, least_dawn, most_dawn = shifts.bounds(1.0, False).box
    found, at_most = np.full((2, n_row, n_row), -1.0)
    for first in range(n_row):
        rows = slice(first, None)
        least = [np.maximum.accumulate(one[:, rows], axis=1) for one in (least_dusk, least_dawn)]
        most = [np.minimum.accumulate(one[:, rows], axis=1) for one in (most_dusk, most_dawn)]
        at_most[first, first:] = np.minimum(most[0] - least[0], most[1] - least[1]).max(axis=0)[1:] / _MIN_PER_DEG
        for phase in shifts.lattice.phases:
            given = [np.ceil(one - phase - _SAME_MIN) + phase for one in least]
            left = np.minimum(most[0] - given[0], most[1] - given[1]).max(axis=0)[1:] / _MIN_PER_DEG
            found[first, first:] = np.maximum(found[first, first:], left)
    return found, at_most


def _ground_box(mesh: Mesh, one: Rectangle) -> tuple[float, float, float, float]:
    """How far the ground in a rectangle reaches: west, south, east, north [degree]."""
    part = (slice(*one.rows), slice(*one.columns))
    return (float(np.nanmin(mesh.west[part])), float(np.nanmin(mesh.south[part])), float(np.nanmax(mesh.east[part])), float(np.nanmax(mesh.north[part])))


def _settings_for(grounds: list[tuple[float, float, float, float]], legal_zone: str, basis: Basis) -> dict[tuple, Setting | None]:
    """The setting with the smallest worst minutes for all of each rectangle, None if it is beyond tolerance."""
    if not grounds:
        return {}
    points = [outline_points(shapely.box(*ground), basis)[:2] for ground in grounds]
    of = np.repeat(np.arange(len(grounds)), [lat.size for lat, _ in points])
    shifts = _shifts(np.concatenate([lat for lat, _ in points]), np.concatenate([lon for _, lon in points]), legal_zone, basis, ROOM_MIN)
    found: dict[tuple, Setting | None] = {}
    for number, ground in enumerate(grounds):
        best = best_setting(shifts, np.flatnonzero(of == number), legal_zone)
        found[ground] = None if best is None or best[0] is None or not within(best[2], shifts).all() else best[0]
    return found


def _at_least(mesh: Mesh, legal_zone: str, basis: Basis, seconds: float) -> int:
    """Rectangles that the ground needs at least.

    All ground of a rectangle has its setting. So of places of the ground on some of the mesh's lines a rectangle holds no more than those between two
    rows and two columns of which all places between have a setting in common; and it takes so many of these at least as the relaxed cover says.
    """
    filled = mesh.filled
    every = next(one for one in range(1, max(filled.shape) + 1) if filled[::one, ::one].sum() <= _MOST_PLACES)
    # The south-western corner of a cell's ground is ground, or within a rounding of it, where the cell is whole; elsewhere any may not be.
    whole = filled & (np.nan_to_num(mesh.east - mesh.west) > mesh.step_deg * (1 - 1e-9)) & (np.nan_to_num(mesh.north - mesh.south) > mesh.step_deg * (1 - 1e-9))
    rows, columns = np.nonzero(whole[::every, ::every])
    if not rows.size:
        return 1
    lat = mesh.south_deg + mesh.step_deg * every * rows
    lon = mesh.west_deg + mesh.step_deg * every * columns
    shifts = _shifts(lat, lon, legal_zone, basis, 0.0)
    box = shifts.bounds(1.0, True).box  # (4, n_lat, n)
    n_row, n_column = int(rows.max()) + 1, int(columns.max()) + 1
    place = np.full((n_row, n_column), -1)
    place[rows, columns] = np.arange(rows.size)
    # Where there is no place nothing is asked for.
    table = np.empty((4, box.shape[1], n_row, n_column), np.float32)
    for kind, value in enumerate(box):
        table[kind] = np.where(place >= 0, value[:, place], -np.inf if kind in (0, 2) else np.inf)
    held: dict[bytes, np.ndarray] = {}
    for first in range(n_row):
        band = table[:, :, first]
        for last in range(first, n_row):
            if last > first:
                band = np.stack([(np.minimum if kind in (1, 3) else np.maximum)(band[kind], table[kind, :, last]) for kind in range(4)])
            begins = np.flatnonzero((place[first:last + 1] >= 0).any(axis=0))
            some = not begins.size
            for begin in begins:
                least_dusk, least_dawn = (np.maximum.accumulate(band[kind][:, begin:], axis=1) for kind in (0, 2))
                most_dusk, most_dawn = (np.minimum.accumulate(band[kind][:, begin:], axis=1) for kind in (1, 3))
                common = ((least_dusk <= most_dusk) & (least_dawn <= most_dawn)).any(axis=0)
                width = int(common.argmin()) if not common.all() else common.size
                if width:
                    some = True
                    member = np.zeros(rows.size, bool)
                    inside = place[first:last + 1, begin:begin + width]
                    member[inside[inside >= 0]] = True
                    held[np.packbits(member).tobytes()] = member
            if not some:
                break
    cover = RelaxedCover(rows.size)
    cover.add_sets(np.array(list(held.values())))
    solved = cover.solve(seconds)
    return 1 if solved is None else max(1, bound_of(solved[0]))
