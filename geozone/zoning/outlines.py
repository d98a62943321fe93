"""Outlines as points that stand for all ground within them, and their sizes on the ellipsoid.

Dusk and dawn are strictly monotone in longitude, so on every night the extremes over a piece of ground lie on its outline. Between two
points of an edge a time strays from the chord by at most s^2/8 of its second derivative along the edge, which is that of half a night by
latitude: it is taken from the nights themselves, and the points lie as close as it asks for.
"""

from __future__ import annotations

import numpy as np
import pyproj
import shapely

from ..errors import InputError
from ..numbers.crossing import CROSSES
from ..numbers.sun import switch_times
from ..places.zoneshapes import polygons_in
from ..trade.basis import Basis

#: What a time between two points may be off [minute].
STRAY_MIN = 0.001
#: Farthest and nearest that points lie apart [degree]; a plan that asks for nearer ones is not certified.
_WIDEST_DEG, _NARROWEST_DEG = 0.25, 0.01
# Steps in which half a night is followed [degree]; its second derivative may be larger in between by so much.
_LOOK_DEG, _ROOM = 0.02, 1.25
_FEWEST_SAMPLES, _MOST_SAMPLES = 4, 40
# Nearer to a pole longitude says nothing.
_POLE_DEG = 88.9
# Corners of two borders that are nearer to each other are one [degree]: a centimetre.
_SAME_DEG = 1e-7
_GEOD = pyproj.Geod(ellps="WGS84")


def outline_points(shape, basis: Basis) -> tuple[np.ndarray, np.ndarray, bool]:
    """Points of an outline that stand for all ground within it.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
        Degrees.
    basis : Basis

    Returns
    -------
    lat_deg, lon_deg : (n,) float64 [degree]
        Its corners, and points between them; where `certain` is False, 8 to 44 points of it.
    certain : bool
        True if no time on any night strays from the points' by more than `STRAY_MIN` in between. False where the sun does not cross
        the threshold on some night, or where nights are left out (`shallow_deg`): then they are samples.

    Raises
    ------
    InputError
        If it comes within 1.1 degrees of a pole.
    """
    if reaches_pole(shape):
        raise InputError("an outline reaches a pole", value=f"latitude {shape.bounds[1]:.2f} to {shape.bounds[3]:.2f}",
                         rule="zones end at 88.9 degrees north and south: beyond, a longitude says nothing",
                         next_step="cut the outline there, or leave [zones] out")
    south, north = shape.bounds[1], shape.bounds[3]
    step, certain = _step_deg(south, north, basis)
    rings = [ring for part in polygons_in(shape) for ring in (part.exterior, *part.interiors)]
    if not certain:
        return *_samples(rings), False
    points = np.concatenate([shapely.get_coordinates(shapely.segmentize(shapely.LineString(ring), step))[:-1] for ring in rings])
    points = np.unique(points, axis=0)
    return points[:, 1], points[:, 0], certain


def _samples(rings) -> tuple[np.ndarray, np.ndarray]:
    """Points of outlines that can prove nothing: the corners farthest out, and some at even steps; every one is costly beside white nights."""
    corners = np.concatenate([shapely.get_coordinates(ring) for ring in rings])
    farthest = [corners[one] for axis in corners.T for one in (axis.argmin(), axis.argmax())]
    lines = shapely.multilinestrings([shapely.LineString(ring) for ring in rings])
    count = int(np.clip(lines.length / _WIDEST_DEG, _FEWEST_SAMPLES, _MOST_SAMPLES))
    even = shapely.get_coordinates(shapely.line_interpolate_point(lines, np.arange(count) / count, normalized=True))
    points = np.unique(np.concatenate([farthest, even]), axis=0)
    return points[:, 1], points[:, 0]


def reaches_pole(shape) -> bool:
    """Whether an outline comes within 1.1 degrees of a pole, where a longitude says nothing."""
    return max(-shape.bounds[1], shape.bounds[3]) > _POLE_DEG


def _step_deg(south: float, north: float, basis: Basis) -> tuple[float, bool]:
    """How far apart points may lie between two latitudes, and whether that is enough."""
    lat = np.arange(south - 2 * _LOOK_DEG, north + 2.5 * _LOOK_DEG, _LOOK_DEG)
    times = switch_times(lat_deg=lat, lon_deg=np.zeros(lat.size), year=basis.year, altitude_deg=basis.altitude_deg, years=basis.years)
    if (times.state != CROSSES).any() or basis.tolerance.shallow_deg > 0:
        return _WIDEST_DEG, False
    half = 0.5 * (times.dawn_utc_min - times.dusk_utc_min)
    bend = _ROOM * np.abs(half[:-2] - 2 * half[1:-1] + half[2:]).max() / _LOOK_DEG**2
    step = np.sqrt(8 * STRAY_MIN / max(bend, 1e-9))
    return float(np.clip(step, _NARROWEST_DEG, _WIDEST_DEG)), bool(step >= _NARROWEST_DEG)


def area_km2(shape) -> float:
    """Surface on the ellipsoid [km2]."""
    return sum(abs(_GEOD.geometry_area_perimeter(shapely.orient_polygons(part))[0]) for part in polygons_in(shape)) / 1e6


def border_km(shapes) -> float:
    """Length of the borders between outlines, each counted once; coasts and the outer edge are none [km]."""
    shapes = list(shapes)
    if len(shapes) < 2:
        return 0.0
    tree, found = shapely.STRtree(shapes), 0.0
    for i, j in zip(*tree.query(shapes, predicate="intersects"), strict=True):
        if i < j:
            found += geodesic_km(shared_line(shapely.boundary(shapes[i]), shapely.boundary(shapes[j])))
    return found


def geodesic_km(line) -> float:
    """Length of lines on the ellipsoid [km]."""
    return float(_GEOD.geometry_length(line)) / 1e3


def shared_line(one, other) -> shapely.MultiLineString:
    """What two lines have in common, in as few pieces as it has; a corner of one may lie a centimetre beside the other."""
    lines = [part for part in shapely.get_parts(shapely.intersection(one, other, grid_size=_SAME_DEG)) if part.geom_type in ("LineString", "LinearRing")]
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    return merged if merged.geom_type == "MultiLineString" else shapely.MultiLineString([merged] if not merged.is_empty else [])
