"""Outlines of groups that do not lie: every point in one is nearer to a site of its group than to any other site."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

from ..places.antimeridian import cut
from ..places.located import located

# Margin of an outline round its outermost sites, as a share of the map's diagonal, and its limits [degree of latitude].
_MARGIN_SHARE = 0.02
_MARGIN_DEG = (0.002, 0.1)


def group_hulls(sites, group) -> gpd.GeoDataFrame:
    """One outline a group: the hull of its sites with a margin, without the ground that lies nearer to other sites.

    A plain hull would swallow a town of another group that lies between two of its own. Here the ground is shared out
    first, each point to its nearest site (Voronoi), so an outline holds no site of another group, nor one of none; it
    falls into pieces where others lie between.

    Parameters
    ----------
    sites : DataFrame
        Points in any coordinate system, or columns lat_deg, solar_lon_deg (or lon_deg).
    group : (n,) array_like of str
        Group of each site; "" for none.

    Returns
    -------
    GeoDataFrame
        EPSG:4326, a row a group in the order of names: group, shared_spots (sites of other groups at the very position
        of one of its own, which no outline can part), geometry (MultiPolygon).
    """
    sites = sites if {"lat_deg", "solar_lon_deg"} <= set(sites.columns) else located(sites)
    group = np.asarray(group, dtype=object)
    lat = sites["lat_deg"].to_numpy(float)
    lon = sites["solar_lon_deg" if "solar_lon_deg" in sites.columns else "lon_deg"].to_numpy(float)
    squeeze = max(float(np.cos(np.radians(lat.mean()))), 0.01)
    xy = np.column_stack([lon * squeeze, lat])
    spots, spot = np.unique(xy, axis=0, return_inverse=True)
    # The first group in the order of names has a spot that several share.
    names = sorted(set(group) - {""}, key=lambda name: (len(name), name))
    rank = np.array([names.index(name) if name else len(names) for name in group])
    owner = np.full(len(spots), len(names))
    np.minimum.at(owner, spot, rank)
    span = np.ptp(spots, axis=0)
    margin = float(np.clip(_MARGIN_SHARE * np.hypot(*span), *_MARGIN_DEG))
    cells = _cells(spots, margin)
    rows = []
    for number, name in enumerate(names):
        # A group whose every spot belongs to an earlier one still gets an outline: its sites must be seen.
        mine = owner == number if (owner == number).any() else np.isin(np.arange(len(spots)), spot[rank == number])
        ground = shapely.union_all(cells[mine])
        hull = shapely.buffer(shapely.convex_hull(shapely.MultiPoint(spots[mine])), margin, quad_segs=6)
        shape = shapely.transform(_polygons(shapely.intersection(ground, hull)), lambda at: at / (squeeze, 1.0))
        rows.append({"group": name, "shared_spots": int(np.isin(spot[rank != number], spot[rank == number]).sum()),
                     "geometry": _polygons(cut(shape))})
    return gpd.GeoDataFrame(rows, columns=["group", "shared_spots", "geometry"], geometry="geometry", crs="EPSG:4326")


def _cells(spots: np.ndarray, margin: float) -> np.ndarray:
    """The ground nearest to each spot, as far as a hull with its margin can reach."""
    frame = shapely.box(*(spots.min(axis=0) - 2 * margin), *(spots.max(axis=0) + 2 * margin))
    if len(spots) == 1:
        return np.array([frame])
    cells = shapely.get_parts(shapely.voronoi_polygons(shapely.MultiPoint(spots), extend_to=frame))
    # The cells come in an order of their own, and two spots a hair apart may share one.
    at, cell = shapely.STRtree(cells).query(shapely.points(spots), predicate="intersects")
    found = np.full(len(spots), shapely.Point(), dtype=object)
    found[at] = cells[cell]
    return found


def _polygons(shape) -> shapely.MultiPolygon:
    return shapely.MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])
