"""The solar lattice: a regular grid of places over the service area, and lines drawn through values on it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely

from .antimeridian import joined
from .located import table_in_degrees

# Points along the longer side. Dusk over a few hundred kilometres is smooth; at 120 the lines lie within a tenth
# of a millimetre of their true place on an A3 sheet.
_POINTS_ACROSS = 120
_OUTLINE_POINTS = 2000


@dataclass(frozen=True)
class Lattice:
    """A grid that covers an outline with one cell to spare.

    Attributes
    ----------
    lat_deg : (n_lat,) float64 [degree], ascending
    lon_deg : (n_lon,) float64 [degree], ascending
    inside : (n_lat, n_lon) bool
        Points within the outline.
    outline : shapely geometry
        EPSG:4326.
    """

    lat_deg: np.ndarray
    lon_deg: np.ndarray
    inside: np.ndarray
    outline: shapely.Geometry

    @property
    def grid(self) -> tuple[np.ndarray, np.ndarray]:
        """Latitude and longitude of all points, flat: two (n_lat * n_lon,) arrays [degree]."""
        lat, lon = np.meshgrid(self.lat_deg, self.lon_deg, indexing="ij")
        return lat.ravel(), lon.ravel()

    def points_within(self) -> tuple[np.ndarray, np.ndarray]:
        """Latitude and longitude of the points inside and of points along the outline [degree].

        The extremes of dusk over an area lie on its edge, so the edge is sampled too.
        """
        lat, lon = self.grid
        keep = self.inside.ravel()
        spacing = max(self.outline.boundary.length / _OUTLINE_POINTS, 1e-9)
        edge = shapely.get_coordinates(shapely.segmentize(self.outline.boundary, spacing))
        return np.concatenate([lat[keep], edge[:, 1]]), np.concatenate([lon[keep], edge[:, 0]])


def solar_lattice(areas: gpd.GeoDataFrame, points_across: int = _POINTS_ACROSS) -> Lattice:
    """A grid over the service area; longitudes run on beyond 180 degrees where it lies across the antimeridian.

    Parameters
    ----------
    areas : GeoDataFrame
        Polygons in any coordinate system; their union is the service area.
    points_across : int
        Points along the longer side.

    Returns
    -------
    Lattice
    """
    outline = joined(table_in_degrees(areas, "areas").geometry.union_all())
    west, south, east, north = outline.bounds
    across = max(east - west, north - south, 1e-4)
    step = across / max(points_across - 3, 2)
    lat = np.arange(south - step, north + 1.5 * step, step)
    lon = np.arange(west - step, east + 1.5 * step, step)
    shapely.prepare(outline)
    grid_lon, grid_lat = np.meshgrid(lon, lat)
    return Lattice(np.clip(lat, -90, 90), lon, shapely.intersects_xy(outline, grid_lon, grid_lat), outline)


def level_lines(lattice: Lattice, values, levels, *, clip: bool = True) -> gpd.GeoDataFrame:
    """Lines of equal value over the area.

    Parameters
    ----------
    lattice : Lattice
    values : (n_lat * n_lon,) or (n_lat, n_lon) array_like
        NaN where there is none: no line passes there.
    levels : sequence of float
    clip : bool
        Cut the lines to the outline.

    Returns
    -------
    GeoDataFrame
        Columns `level`, `geometry` (MultiLineString, EPSG:4326); levels that no line reaches are left out.
    """
    from contourpy import contour_generator

    field = np.ma.masked_invalid(np.asarray(values, float).reshape(lattice.inside.shape))
    generator = contour_generator(lattice.lon_deg, lattice.lat_deg, field)
    rows = []
    for level in levels:
        lines = shapely.MultiLineString([shapely.linestrings(line) for line in generator.lines(float(level))
                                          if len(line) > 1])
        if clip and not lines.is_empty:
            lines = shapely.intersection(lines, lattice.outline)
        # A line that only touches a grid point has no length, and merging would leave nothing of it.
        parts = [part for part in shapely.get_parts(lines) if part.geom_type == "LineString" and part.length > 0]
        if parts:
            merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(parts)))
            rows.append({"level": float(level), "geometry": shapely.MultiLineString(list(merged))})
    return gpd.GeoDataFrame(rows, columns=["level", "geometry"], geometry="geometry", crs="EPSG:4326")
