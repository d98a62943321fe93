"""The service area: which of the outlines count, and whether outlines, setting and sites belong together.

A job made from an example keeps the example's outlines and setting until somebody takes them out. The answers would then be
about two places at once, so the run stops.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pyproj
import shapely
from scipy.spatial import cKDTree

from ..errors import InputError

_GEOD = pyproj.Geod(ellps="WGS84")
#: A setting farther than this from every site [km] is a mistake: 1,000 km are 36 min of dusk west to east at 45 degrees.
FARTHEST_SETTING_KM = 1000.0
#: A setting farther than this from every site [km] is remarked upon.
REMARKABLE_SETTING_KM = 200.0
#: Outlines that may count without sites lie no farther than this from some site [km].
FARTHEST_OUTLINES_KM = 300.0
#: A backdrop farther than this from every site [km] is not on the map.
FARTHEST_BACKDROP_KM = 300.0
_STEP_DEG = 0.2


def counted_areas(sites: gpd.GeoDataFrame, areas: gpd.GeoDataFrame, *, without_sites: bool,
                  file: str) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """The outlines that make up the service area: those that hold a site, or all of them if the job says so.

    Parameters
    ----------
    sites, areas : GeoDataFrame, EPSG:4326
    without_sites : bool
        Whether outlines without a site count as well.
    file : str
        The file of the outlines, for messages.

    Returns
    -------
    areas : GeoDataFrame
        RangeIndex, order as given.
    notes : tuple of str
        How many outlines were left out.

    Raises
    ------
    InputError
        If no outline holds a site; where outlines without sites count, if all of them lie far from every site.
    """
    tree = shapely.STRtree(areas.geometry.to_numpy())
    _, holding = tree.query(sites.geometry.to_numpy(), predicate="intersects")
    holds = np.isin(np.arange(len(areas)), holding)
    if not holds.any():
        away_km = distance_km(sites, areas.geometry)
        if not without_sites or away_km > FARTHEST_OUTLINES_KM:
            raise _no_site_inside(sites, areas, away_km, without_sites, file)
    if without_sites or holds.all():
        return areas, ()
    left = int((~holds).sum())
    which = _list(areas["area"].to_numpy()[~holds])
    said = "1 outline without sites is" if left == 1 else f"{left:,} outlines without sites are"
    return areas[holds].reset_index(drop=True), (
        f"{file}: {said} left out of the service area ({which}); areas_without_sites = true in [job] counts all",)


def _no_site_inside(sites, areas, away_km: float, without_sites: bool, file: str) -> InputError:
    count = f"{len(sites):,} site{'' if len(sites) == 1 else 's'}"
    turned = shapely.transform(areas.geometry.to_numpy(), lambda at: at[:, ::-1])
    _, exchanged = shapely.STRtree(turned).query(sites.geometry.to_numpy(), predicate="intersects")
    if len(exchanged):
        step = "latitude and longitude of the outlines look exchanged: export them again with longitude first (RFC 7946)"
    else:
        step = ("name the outlines of these sites as areas in [job], or take that line out: the service area is then the "
                "sites' hull" + ("" if without_sites or away_km > FARTHEST_OUTLINES_KM else
                                 "; areas_without_sites = true counts outlines without a site"))
    return InputError("no site lies in any of the outlines", where=file, value=f"{count}, the nearest {_km(away_km)} from an outline",
                      rule="outlines and site list belong to one place" if without_sites
                      else "outlines that hold no site are no service area",
                      next_step=step)


def check_setting_place(sites: gpd.GeoDataFrame, lat_deg: float, lon_deg: float, file: str) -> tuple[str, ...]:
    """A remark on a given setting that lies far from the sites; a refusal where it cannot be meant.

    Parameters
    ----------
    sites : GeoDataFrame
    lat_deg, lon_deg : float
        The setting's position [degree].
    file : str
        The job file, for messages.

    Returns
    -------
    tuple of str

    Raises
    ------
    InputError
        If the position is more than 1,000 km from every site.
    """
    lat, lon = sites["lat_deg"].to_numpy(dtype=float), sites["lon_deg"].to_numpy(dtype=float)
    _, _, metres = _GEOD.inv(lon, lat, np.full(len(lat), lon_deg), np.full(len(lat), lat_deg))
    nearest = int(np.argmin(metres))
    away_km = float(metres[nearest]) / 1000.0
    if away_km > FARTHEST_SETTING_KM:
        raise InputError("the setting's position is far from every site", where=file,
                         value=f"{lat_deg:g}, {lon_deg:g}; the nearest site, {sites['site_id'].iloc[nearest]} at {lat[nearest]:.6g}, "
                               f"{lon[nearest]:.6g}, is {_km(away_km)} away",
                         rule=f"at most {FARTHEST_SETTING_KM:,.0f} km from some site",
                         next_step="put the position that you key into [shared], or take lat_deg, lon_deg and legal_zone out: "
                                   "geozone then finds the best setting")
    if away_km > REMARKABLE_SETTING_KM:
        return (f"The setting's position lies {_km(away_km)} from the nearest site.",)
    return ()


def backdrop_notes(sites: gpd.GeoDataFrame, backdrop: gpd.GeoDataFrame, file: str) -> tuple[str, ...]:
    """A remark on a backdrop that is nowhere near the sites and so shows nothing."""
    away_km = distance_km(sites, backdrop.geometry)
    if away_km <= FARTHEST_BACKDROP_KM:
        return ()
    return (f"{file}: the backdrop lies {_km(away_km)} from the nearest site and does not show on the map: name another, "
            "export it with its coordinate reference system, or leave backdrop out",)


def distance_km(sites: gpd.GeoDataFrame, shapes: gpd.GeoSeries) -> float:
    """How far the nearest site is from the nearest shape [km], to 1 %; 0 if one lies inside."""
    positions = sites.geometry.to_numpy()
    geometry = shapes.to_numpy()
    if len(shapely.STRtree(geometry).query(positions, predicate="intersects")[0]):
        return 0.0
    # Polygons as their outlines: on a map about a site, one around the other side of the world would cover everything.
    lines = np.where(shapely.get_dimensions(geometry) == 2, shapely.boundary(geometry), geometry)
    lines = shapely.segmentize(lines, _STEP_DEG)
    chord, _ = cKDTree(_toward(shapely.get_coordinates(lines))).query(_toward(shapely.get_coordinates(positions)))
    nearest = positions[int(np.argmin(chord))]
    flat = pyproj.Proj(proj="aeqd", lat_0=nearest.y, lon_0=nearest.x, ellps="WGS84")
    drawn = shapely.transform(lines, lambda at: np.column_stack(flat(at[:, 0], at[:, 1])))
    return float(np.min(shapely.distance(drawn, shapely.Point(0.0, 0.0)))) / 1000.0


def _toward(lon_lat: np.ndarray) -> np.ndarray:
    lon, lat = np.radians(lon_lat).T
    return np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def _km(km: float) -> str:
    return f"{km:,.0f} km" if km >= 1.0 else "less than 1 km"


def _list(names: np.ndarray, most: int = 3) -> str:
    return ", ".join(map(str, names[:most])) + (f" and {len(names) - most:,} more" if len(names) > most else "")
