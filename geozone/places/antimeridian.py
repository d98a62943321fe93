"""Areas on both sides of the antimeridian: put together for computing, cut apart for files."""

from __future__ import annotations

import numpy as np
import shapely

_FULL = 360.0


def joined(shape: shapely.Geometry) -> shapely.Geometry:
    """A shape whose parts lie on both sides of the antimeridian in one piece: western longitudes plus 360 degrees.

    Shapes that are narrower as they are stay as they are.
    """
    parts = shapely.get_parts(shape)
    west, _, east, _ = shapely.total_bounds(shape)
    if not len(parts) or east - west <= 180.0:
        return shape
    moved = np.array([part if part.bounds[0] >= 0 else shapely.transform(part, lambda at: at + (_FULL, 0.0)) for part in parts])
    west, _, east, _ = shapely.total_bounds(moved)
    # Pieces that met at the antimeridian are one again.
    return shapely.union_all(moved) if east - west < 180.0 else shape


def cut(shape: shapely.Geometry) -> shapely.Geometry:
    """A shape with longitudes within +-180: what lies beyond is cut off there and put on the other side."""
    west, _, east, _ = shapely.total_bounds(shape)
    if not west < -180.0 and not east > 180.0:
        return shape
    parts = [shapely.intersection(shape, shapely.box(-180, -90, 180, 90))]
    for shift, window in ((_FULL, shapely.box(-540, -90, -180, 90)), (-_FULL, shapely.box(180, -90, 540, 90))):
        beyond = shapely.intersection(shape, window)
        parts.append(shapely.transform(beyond, lambda at, by=shift: at + (by, 0.0)))
    return shapely.union_all([part for part in parts if not part.is_empty])


def span_deg(lon_deg, shapes=()) -> tuple[float, float]:
    """The shortest stretch of longitude that holds all positions and shapes: (west, east), east < west across +-180.

    Parameters
    ----------
    lon_deg : (n,) array_like [degree]
    shapes : iterable of shapely geometry
        Each part counts with its own bounds.
    """
    pieces = [(lon, lon) for lon in np.unique(np.asarray(lon_deg, dtype=float))]
    pieces += [(part.bounds[0], part.bounds[2]) for shape in shapes for part in shapely.get_parts(shape)]
    pieces.sort()
    if not pieces:
        return -180.0, 180.0
    # The largest stretch that holds nothing; the one across +-180 first.
    start, best = pieces[0][0], pieces[0][0] + _FULL - max(east for _, east in pieces)
    end, reach = max(east for _, east in pieces), pieces[0][1]
    for west, east in pieces[1:]:
        if west - reach > best + 1e-9:
            best, start, end = west - reach, west, reach
        reach = max(reach, east)
    return start, end
