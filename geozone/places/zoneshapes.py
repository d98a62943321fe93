"""Where the legal zones lie: the boundary data of PyPI ``timezonefinder``, no network.

Everything that knows how that package keeps its data is in this module. The outlines come from
OpenStreetMap and are under the Open Database License: whoever passes on maps or layers made from
them has to give `BOUNDARY_CREDIT`.

Neighbouring zones share their vertices to the last digit almost everywhere (measured over the
whole 2026c data: of 8.2 million segments 46,000 have no twin). `zoneborders` builds on that.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import geopandas
import numpy as np
import shapely

from ..compiled import library_kernels
from .antimeridian import span_deg

with library_kernels():
    from timezonefinder import TimezoneFinder

BOUNDARY_CREDIT = "Legal zone outlines © OpenStreetMap contributors, ODbL 1.0"

# Vertices are stored as whole 1e-7 degrees (about 1 cm).
UNITS_PER_DEG = 10_000_000
# Detail from which on [degree] vertices are thinned before anything else is done with them.
_WIDE_DEG = 0.002
# Outlines round sites are drawn with this many details across the map, and 0.0005 degrees at best.
_ZONE_DETAIL = 10_000


@lru_cache(maxsize=1)
def _finder() -> TimezoneFinder:
    return TimezoneFinder()


@lru_cache(maxsize=1)
def zone_names() -> np.ndarray:
    """Names of all zones in the boundary data, by their number there."""
    return np.array(_finder().timezone_names, dtype=object)


@lru_cache(maxsize=1)
def at_sea() -> np.ndarray:
    """For every zone number whether it is a nautical zone (``Etc/GMT...``) and no country's law."""
    return np.array([str(name).startswith("Etc/GMT") for name in zone_names()])


def boundary_version() -> str:
    """Release of the boundary data, for example ``2026c``."""
    return _finder().data_version


def zone_number_at(lat_deg, lon_deg) -> np.ndarray:
    """Number of the zone at each position, int16, -1 where there is none.

    Longitudes beyond +-180 are wrapped and latitudes beyond the poles held there, so that a probe
    across the antimeridian finds what lies behind it. Where claims overlap the data answers with
    one of them.
    """
    lon_deg = np.asarray(lon_deg, dtype=float)
    outside = np.abs(lon_deg) > 180
    lon_deg = np.where(outside, (lon_deg + 180) % 360 - 180, lon_deg)
    lat_deg = np.clip(np.asarray(lat_deg, dtype=float), -90, 90)
    return _finder().timezone_ids_at(lngs=lon_deg, lats=lat_deg)


@lru_cache(maxsize=1)
def _outlines() -> np.ndarray:
    """A row an outline: zone number and bounding box (w, s, e, n) in stored units."""
    finder = _finder()
    shapes = finder.boundaries
    zone = finder.zone_ids_of(np.arange(finder.nr_of_polygons)).astype(np.int64)
    return np.column_stack([zone, shapes.xmin, shapes.ymin, shapes.xmax, shapes.ymax])


def outlines_in(bounds_units, *, sea: bool) -> Iterator[tuple[int, int, np.ndarray]]:
    """Zone number, outline number and bounding box of the outlines whose box meets `bounds_units`."""
    w, s, e, n = bounds_units
    rows = _outlines()
    meets = (rows[:, 1] <= e) & (rows[:, 3] >= w) & (rows[:, 2] <= n) & (rows[:, 4] >= s)
    if not sea:
        meets &= ~at_sea()[rows[:, 0]]
    for outline in np.flatnonzero(meets):
        yield int(rows[outline, 0]), int(outline), rows[outline, 1:]


def rings_of(outline: int) -> list[np.ndarray]:
    """Exterior and holes of an outline, each closed, int32 of shape (n, 2): lon, lat in stored units."""
    finder = _finder()
    rings = [finder.coords_of(outline)]
    rings += [finder.holes.coords_of(hole) for hole in finder.holes.ids_of(outline)]
    return [np.column_stack([np.append(x, x[0]), np.append(y, y[0])]) for x, y in rings]


def zone_polygons(bounds, simplify_deg: float = 0.0) -> geopandas.GeoDataFrame:
    """Land legal zones, clipped to a rectangle.

    Parameters
    ----------
    bounds : (west, south, east, north)
        [degree]. East may be smaller than west or beyond 180: the rectangle then crosses the
        antimeridian, and the outlines come as parts on either side of it.
    simplify_deg : float
        Drop detail finer than about this [degree]; shared borders stay shared. 0 keeps every vertex,
        0.001 suits a map of a region.

    Returns
    -------
    GeoDataFrame, EPSG:4326, columns legal_zone, geometry (Polygon or MultiPolygon), by name
        Disputed land can be in two outlines at once.
    """
    w, s, e, n = (float(value) for value in bounds)
    if e < w:
        e += 360
    if e - w >= 360:
        rectangles = [(-180.0, s, 180.0, n)]
    else:
        turns = 360 * np.floor((w + 180) / 360)
        w, e = w - turns, e - turns
        rectangles = [(w, s, e, n)] if e <= 180 else [(w, s, 180.0, n), (-180.0, s, e - 360, n)]

    # Wide maps: millions of vertices are first put on a raster finer than the detail wanted. Neighbours' shared vertices
    # land on the same point, so shared borders stay shared.
    grid = int(simplify_deg * UNITS_PER_DEG / 2) if simplify_deg >= _WIDE_DEG else 0
    parts: dict[str, list] = {}
    for rectangle in rectangles:
        for zone, outline, _ in outlines_in(np.array(rectangle) * UNITS_PER_DEG, sea=False):
            clipped = _clip(outline, rectangle, grid)
            if len(clipped):
                parts.setdefault(str(zone_names()[zone]), []).extend(clipped)
    names = sorted(parts)
    shapes = [parts[name][0] if len(parts[name]) == 1 else _together(parts[name]) for name in names]
    if simplify_deg > 0 and shapes:
        shapes = shapely.coverage_simplify(np.array(shapes, dtype=object), simplify_deg)
        kept = [i for i, shape in enumerate(shapes) if not shape.is_empty]
        names, shapes = [names[i] for i in kept], [shapes[i] for i in kept]
    return geopandas.GeoDataFrame({"legal_zone": np.array(names, dtype=object)}, geometry=list(shapes),
                                  crs="EPSG:4326")


def zone_polygons_round(areas, sites):
    """Legal zones over the areas and the sites, with a margin for the map."""
    _, south, _, north = np.array([areas.total_bounds, sites.total_bounds]).T
    south, north = south.min(), north.max()
    west, east = span_deg(sites["lon_deg"], areas.geometry)
    width = (east - west) % 360.0
    margin = max(0.1 * max(width, north - south), 0.05)
    if west <= east:
        west, east = max(west - margin, -180.0), min(east + margin, 180.0)
    else:
        west, east = west - margin, east + margin
    return zone_polygons((west, max(south - margin, -90.0), east, min(north + margin, 90.0)),
                         simplify_deg=max(0.0005, max(width, north - south) / _ZONE_DETAIL))


def _on_raster(ring: np.ndarray, grid: int) -> np.ndarray:
    """A closed ring with its vertices on multiples of `grid`, repeated ones left out."""
    points = np.rint(ring / grid).astype(np.int64) * grid
    return points[np.append(True, (points[1:] != points[:-1]).any(axis=1))]


def _clip(outline: int, rectangle, grid: int = 0) -> list:
    rings = rings_of(outline)
    if grid:
        rings = [_on_raster(ring, grid) for ring in rings]
        if len(rings[0]) < 4:
            return []
        rings = [rings[0], *(ring for ring in rings[1:] if len(ring) >= 4)]
    exterior, *holes = (ring / UNITS_PER_DEG for ring in rings)
    shape = shapely.Polygon(exterior, holes)
    if grid and not shape.is_valid:
        shape = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    clipped = shapely.clip_by_rect(shape, *rectangle)
    if not clipped.is_valid:
        # Fast clipping can leave touching edges; the slow way is always right.
        clipped = shapely.intersection(shapely.make_valid(shape), shapely.box(*rectangle))
    return polygons_in(clipped)


def _together(parts: list):
    whole = shapely.MultiPolygon(parts)
    return whole if whole.is_valid else shapely.union_all(parts)


def polygons_in(shape) -> list:
    """The polygons among the parts of any geometry, empty ones left out."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]
