"""Points that stand in for sites where a job has outlines and no site list."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from .sites import SiteList
from .zonepieces import cut_areas
from .zoneshapes import zone_polygons_round

#: What the column of names says of each.
STAND_IN = "stand-in point"


def stand_ins(areas: gpd.GeoDataFrame, year: int) -> SiteList:
    """A point inside each outline; one a side where a legal zone ends in it.

    Parameters
    ----------
    areas : GeoDataFrame, EPSG:4326
        area, geometry.
    year : int
        For the clocks that cut outlines.

    Returns
    -------
    SiteList
        As of a list with a row an outline: site_id is its name, with the legal zone where it has several.
    """
    inside = _points([_largest(shape) for shape in areas.geometry])
    pieces = cut_areas(areas, zone_polygons_round(areas, inside), year)
    several = pieces["area"].duplicated(keep=False).to_numpy()
    names = [f"{row.area} ({row.legal_zone})" if more else str(row.area) for row, more in zip(pieces.itertuples(), several, strict=True)]
    # Two outlines of one name and zone that do not touch have been told apart by their reader; be sure all the same.
    seen: dict[str, int] = {}
    for place, name in enumerate(names):
        seen[name] = seen.get(name, 0) + 1
        names[place] = name if seen[name] == 1 else f"{name} {seen[name]}"
    sites = _points([_largest(shape) for shape in pieces.geometry])
    n = len(sites)
    sites = sites.assign(site_id=np.array(names, dtype=object), name=np.full(n, STAND_IN, dtype=object), legal_zone_given=np.full(n, "", dtype=object),
                         load_w=np.full(n, np.nan), row=np.arange(1, n + 1))
    sites = sites[["site_id", "name", "lat_deg", "lon_deg", "legal_zone_given", "load_w", "row", "geometry"]]
    rejects = pd.DataFrame({name: pd.Series(dtype=object) for name in ("file", "row", "value", "reason")})
    return SiteList(sites, rejects, (f"No site list: {'a point inside the one outline stands' if n == 1 else f'{n:,} points, inside the outlines, stand'} in for sites. "
                                     "Wherever sites are counted, named or judged, these points are meant: no lamps, and no measure of how many there are.",))


def _points(shapes) -> gpd.GeoDataFrame:
    points = shapely.point_on_surface(shapes)
    return gpd.GeoDataFrame({"lat_deg": shapely.get_y(points), "lon_deg": shapely.get_x(points)}, geometry=points, crs="EPSG:4326")


def _largest(shape):
    """The largest polygon of an outline."""
    return max(shapely.get_parts(shape), key=lambda part: part.area)
