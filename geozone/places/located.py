"""Any table of points or outlines as the functions over tables need it: in degrees, with columns of latitude and longitude."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..errors import InputError
from ..nearnames import did_you_mean
from . import projections

_MAKE = "geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(lon, lat), crs=4326) makes one"


def located(sites: pd.DataFrame) -> pd.DataFrame:
    """Sites with `lat_deg` and `lon_deg`: as they are where they have both, else taken from their points in any system.

    Parameters
    ----------
    sites : GeoDataFrame or DataFrame
        Point geometry with a coordinate reference system, or the two columns [degree].

    Returns
    -------
    DataFrame of the same kind
        The table itself, or a copy with the two columns and with its geometry in EPSG:4326.

    Raises
    ------
    InputError
        If it is no table, has neither columns nor points, is empty without them, or has a point that is none.

    Examples
    --------
    >>> points = gpd.GeoDataFrame({"name": ["A"]}, geometry=gpd.points_from_xy([500000.0], [6000000.0]), crs="EPSG:28354")
    >>> located(points)[["lat_deg", "lon_deg"]].round(2).to_numpy().tolist()
    [[-36.14, 141.0]]
    """
    if not isinstance(sites, pd.DataFrame):
        raise InputError("the sites are no table", where="sites", value=type(sites).__name__,
                         rule="a GeoDataFrame of points", next_step=_MAKE)
    if {"lat_deg", "lon_deg"} <= set(sites.columns):
        return sites
    if not len(sites):
        raise InputError("the table holds no sites", where="sites", rule="at least one row", next_step="look how it was made")
    points = table_in_degrees(sites, "sites")
    shapes = points.geometry.to_numpy()
    bad = np.flatnonzero(shapely.is_missing(shapes) | (shapely.get_type_id(shapes) != 0) | shapely.is_empty(shapes))
    if bad.size:
        shape = shapes[bad[0]]
        raise InputError("a site is no point", where=f"sites, row {bad[0] + 1}", value="nothing" if shape is None else shape.geom_type,
                         rule="a point for each site",
                         next_step="take such rows out, or use the middle: sites.set_geometry(sites.representative_point())")
    return points.assign(lat_deg=shapely.get_y(shapes), lon_deg=shapely.get_x(shapes))


def table_in_degrees(table: gpd.GeoDataFrame, called: str) -> gpd.GeoDataFrame:
    """A table with its geometry in EPSG:4326; itself where it is already.

    Parameters
    ----------
    table : GeoDataFrame
    called : str
        What messages call it.

    Raises
    ------
    InputError
        If it has no geometry, no coordinate reference system, or numbers that are not degrees in the end.
    """
    if not isinstance(table, gpd.GeoDataFrame) or table.active_geometry_name is None:
        raise InputError(f"the {called} have no geometry", where=called, value=type(table).__name__,
                         rule="a GeoDataFrame with geometry", next_step=_MAKE if called == "sites" else "geopandas.read_file reads one")
    if table.crs is None:
        raise InputError(f"the {called} have no coordinate reference system", where=called, rule="a GeoDataFrame that says its system",
                         next_step='table.set_crs("EPSG:4326") for degrees, or the system of its metres')
    found = table if table.crs == projections.WGS84 else table.to_crs(projections.WGS84)
    bounds = shapely.bounds(found.geometry.to_numpy())
    with np.errstate(invalid="ignore"):
        off = np.flatnonzero((np.abs(bounds[:, [0, 2]]) > 180.0001).any(axis=1) | (np.abs(bounds[:, [1, 3]]) > 90.0001).any(axis=1)
                             | np.isinf(bounds).any(axis=1))
    if off.size:
        raise InputError(f"the {called} are not where their coordinate reference system says", where=f"{called}, row {off[0] + 1}",
                         value=str(table.geometry.iloc[off[0]].centroid), rule=f"numbers of {projections.named(projections.as_crs(table.crs, called))}",
                         next_step="give the system that the numbers are in: table.set_crs(..., allow_override=True)")
    return found


def column_of(table: pd.DataFrame, name: str, called: str) -> np.ndarray:
    """The values of a column; an `InputError` with the nearest heading where there is none."""
    if name not in table.columns:
        own = [str(column) for column in table.columns if column != "geometry"]
        raise InputError(f"the {called} have no such column", where=called, value=name, rule=f"one of {', '.join(own)}",
                         next_step=did_you_mean(name, own, f"add a column {name}"))
    return table[name].to_numpy()


def with_columns(sites: gpd.GeoDataFrame, columns: pd.DataFrame | None) -> gpd.GeoDataFrame:
    """A table of sites with further columns of the same index; the table itself where there are none."""
    if columns is None:
        return sites
    return gpd.GeoDataFrame(pd.concat([sites, columns], axis=1), geometry="geometry", crs=sites.crs)
