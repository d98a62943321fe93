"""Coordinate reference systems: the stated one honoured, a missing one never guessed in silence."""

from __future__ import annotations

import re
import warnings

import numpy as np
import pyproj

from ..errors import InputError

#: Words of PROJ strings that name a file, and addresses; definitions name none of them outside of an authority's own URI.
_OPENS_FILES = re.compile(r"grids\s*=|geoidgrids|init\s*=|\+proj=pipeline|^\s*(?:https?:|ftp:|file:|/|\\|[A-Za-z]:[\\/])|/vsi",
                          re.IGNORECASE)
#: The longest definition in the EPSG data set is some 6 kB of WKT.
LONGEST_CRS = 50_000
WGS84 = pyproj.CRS.from_epsg(4326)
#: People use a grid a little beyond the area that it was made for [degree].
AREA_MARGIN_DEG = 3.0


def as_crs(stated: object, file: str) -> pyproj.CRS:
    """The CRS that the user or a file names; InputError if it is none or has no horizontal position.

    What would make the projection library open a file or an address (a grid, an init file) is refused.
    """
    written = stated if isinstance(stated, str) else stated.to_wkt() if hasattr(stated, "to_wkt") else str(stated)
    if len(written) > LONGEST_CRS or _OPENS_FILES.search(written) or not written.isprintable() and "\x00" in written:
        raise InputError("the coordinate reference system refers to files or addresses, or is no such text", where=file,
                         value=written[:100], rule="an EPSG code, for example EPSG:7854, or WKT",
                         next_step='state it as [job] crs = "EPSG:..."; epsg.io lists the codes')
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            crs = pyproj.CRS.from_user_input(f"EPSG:{stated}" if str(stated).isdigit() else stated)
            if crs.is_compound:
                crs = crs.sub_crs_list[0]
    except pyproj.exceptions.CRSError:
        raise InputError("the coordinate reference system is not known", where=file, value=str(stated),
                         rule="an EPSG code, for example EPSG:7854, or WKT",
                         next_step='state it as [job] crs = "EPSG:..."; epsg.io lists the codes') from None
    if not (crs.is_geographic or crs.is_projected):
        raise InputError("the coordinate reference system has no map position", where=file, value=crs.name,
                         rule="a geographic or projected system", next_step='state one as [job] crs = "EPSG:..."')
    return crs


def named(crs: pyproj.CRS) -> str:
    """For example "EPSG:28354 (GDA94 / MGA zone 54)"."""
    code = crs.to_authority()
    return f"{':'.join(code)} ({crs.name})" if code else crs.name


def to_lon_lat(east: np.ndarray, north: np.ndarray, crs: pyproj.CRS) -> tuple[np.ndarray, np.ndarray]:
    """Longitude and latitude in WGS84 [degree]; NaN where the projection has no answer."""
    if crs == WGS84 or crs.to_authority() in (("OGC", "CRS84"), ("EPSG", "4326")):
        return east.astype(float), north.astype(float)
    moved = pyproj.Transformer.from_crs(crs, WGS84, always_xy=True).transform(east, north, errcheck=False)
    lon, lat = (np.asarray(v, dtype=float) for v in moved)
    off = ~(np.isfinite(lon) & np.isfinite(lat))
    return np.where(off, np.nan, lon), np.where(off, np.nan, lat)


def outside_area(lon: np.ndarray, lat: np.ndarray, crs: pyproj.CRS) -> np.ndarray:
    """True where a position lies more than `AREA_MARGIN_DEG` outside the CRS's own area of use (or is NaN)."""
    area, margin = crs.area_of_use, AREA_MARGIN_DEG
    if area is None:
        return np.isnan(lon) | np.isnan(lat)
    width = (area.east - area.west) % 360 or 360
    inside = ((lon - area.west + margin) % 360 <= width + 2 * margin) | (width + 2 * margin >= 360)
    return ~(inside & (lat >= area.south - margin) & (lat <= area.north + margin))


def looks_projected(east: np.ndarray, north: np.ndarray) -> bool:
    """Whether most of the numbers cannot be degrees."""
    given = ~(np.isnan(east) | np.isnan(north))
    beyond = (np.abs(east[given]) > 400) | (np.abs(north[given]) > 400)
    return bool(given.any()) and beyond.mean() > 0.5
