"""Coordinate reference systems: the stated one honoured, a missing one never guessed in silence."""

from __future__ import annotations

import re
import warnings

import numpy as np
import pyproj
from pyproj.database import query_crs_info
from pyproj.enums import PJType

from ..errors import InputError

#: Words of PROJ strings that name a file, and addresses; definitions name none of them outside of an authority's own URI.
_OPENS_FILES = re.compile(r"grids\s*=|geoidgrids|init\s*=|\+proj=pipeline|^\s*(?:https?:|ftp:|file:|/|\\|[A-Za-z]:[\\/])|/vsi",
                          re.IGNORECASE)
#: The longest definition in the EPSG data set is some 6 kB of WKT.
LONGEST_CRS = 50_000
WGS84 = pyproj.CRS.from_epsg(4326)
#: Grids in wide use, likeliest first. Common practice, no source; the order only sorts a list of suggestions.
_NATIONAL = (27700, 2154, 28992, 31370, 3812, 2056, 21781, 2193, 3006, 2157, 29903, 2180, 5514, 3763, 3067, 3301,
             3059, 3346, 23700, 3844, 3111, 3308, 3107, 5070, 3347, 3577, 3035)
_ZONED = (7854, 25832, 28354, 26918, 32654, 32754, 32632, 31467, 3945, 26718)
#: People use a grid a little beyond the area that it was made for [degree].
AREA_MARGIN_DEG = 3.0


#: How to state one; a file of outlines carries its own instead.
STATE_CRS = 'whoever made the list knows which; state it as [job] crs = "EPSG:..."'
EXPORT_WITH_CRS = "export the file again together with its coordinate reference system"


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


def plausible_crs(east: np.ndarray, north: np.ndarray, most: int = 5) -> list[str]:
    """Projected CRSs in whose own area of use most of the positions fall, commoner grids first.

    Grids in zones come as one entry, because x and y do not tell the zone: it says which zones fit.
    """
    given = np.flatnonzero(~(np.isnan(east) | np.isnan(north)))
    pick = given[np.linspace(0, len(given) - 1, min(25, len(given))).astype(int)] if len(given) else given
    if not len(pick):
        return []
    x, y = east[pick], north[pick]
    infos = {int(i.code): i for i in query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS)
             if i.area_of_use is not None and not i.deprecated}
    zoned = {_family(infos[code].name): spot for spot, code in enumerate(_ZONED) if code in infos}
    usual = [i for code, i in infos.items() if code in _NATIONAL or _family(i.name) in zoned]
    families = _families(usual, x, y)
    if len(families) < 2:  # all 5,000: 3 s instead of 0.3 s
        families = _families(infos.values(), x, y)
    ranked = sorted(families.items(), key=lambda item: _rank(*item, zoned))
    ranked = [family for _, family in ranked]
    national = [f for f in ranked if any(int(i.code) in _NATIONAL for i in f)]
    # room for both kinds: a national grid's numbers may also fit any zone of a world-wide one
    others = [f for f in ranked if f not in national]
    return [_family_text(f) for f in (national[:2] + others + national[2:])[:most]]


def _family(name: str) -> str:
    return re.sub(r"\bzone \d+[A-Z]?\b|\bCC\d+|\bCM \d+[EW]", "zone", name)


def _families(infos, x: np.ndarray, y: np.ndarray) -> dict[str, list]:
    families: dict[str, list] = {}
    for info in infos:
        if _fits(info, x, y):
            families.setdefault(_family(info.name), []).append(info)
    return families


def _fits(info, x: np.ndarray, y: np.ndarray) -> bool:
    area = info.area_of_use
    width = (area.east - area.west) % 360 or 360
    if width > 180 and info.code != "3857":  # systems of the whole world hold any numbers
        return False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            grid = pyproj.Proj(f"EPSG:{info.code}")
            lon, lat = grid(x, y, inverse=True)
            back_x, back_y = grid(lon, lat)
    except (pyproj.exceptions.ProjError, RuntimeError):
        return False
    with np.errstate(invalid="ignore"):
        inside = np.isfinite(lon) & ((lon - area.west) % 360 <= width) & (lat >= area.south) & (lat <= area.north)
        inside &= (np.abs(back_x - x) < 1) & (np.abs(back_y - y) < 1)  # not reached by going round the world
    return bool(inside.mean() >= 0.8)


def _rank(key: str, family: list, zoned: dict[str, int]) -> tuple:
    codes = [int(i.code) for i in family]
    for spot, code in enumerate(_NATIONAL):
        if code in codes:
            return 0, spot, 0
    if key in zoned:
        return 1, zoned[key], 0
    area = min(((i.area_of_use.east - i.area_of_use.west) % 360) * (i.area_of_use.north - i.area_of_use.south)
               for i in family)
    return 2, round(area, 3), min(codes)


def _family_text(family: list) -> str:
    codes = {int(i.code): i for i in family}
    first = next((codes[c] for c in _ZONED + _NATIONAL if c in codes), family[0])
    text = f"EPSG:{first.code} ({first.name})"
    if len(family) > 1:
        text += f" or another of its {len(family)} zones that fit, EPSG:{min(codes)} to EPSG:{max(codes)}"
    return text


def crs_needed(east: np.ndarray, north: np.ndarray, file: str, columns: str, crs: object = None,
               cure: str = STATE_CRS) -> InputError:
    """The error for numbers that are no degrees and come with no fitting CRS, with plausible ones listed."""
    fits = plausible_crs(east, north)
    sample = next(((x, y) for x, y in zip(east, north) if x == x and y == y), None)
    listed = "; ".join(fits)
    return InputError(
        f"the positions ({columns}) are not degrees and "
        + (f"do not fit the coordinate reference system {crs}" if crs else "no coordinate reference system is stated"),
        where=file, value=None if sample is None else f"x={sample[0]:.12g}, y={sample[1]:.12g}",
        rule=f"numbers like these fit, among others: {listed}" if fits else
             "no common projected system holds numbers like these; degrees without their decimal point?",
        next_step=cure)
