"""Which coordinate reference system numbers may be in: looked for, and tested before one is named as advice."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType

from .known import SHARE, Known, distance_m, said_m
from .projections import named, to_lon_lat

#: Grids in wide use, likeliest first. Common practice, no source; the order only sorts a list of suggestions.
_NATIONAL = (27700, 2154, 28992, 31370, 3812, 2056, 21781, 2193, 3006, 2157, 29903, 2180, 5514, 3763, 3067, 3301,
             3059, 3346, 23700, 3844, 3111, 3308, 3107, 5070, 3347, 3577, 3035)
_ZONED = (7854, 25832, 28354, 26918, 32654, 32754, 32632, 31467, 3945, 26718)


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
        families = _families(_one_datum_each(infos.values()), x, y)
    ranked = [family for _, family in sorted(families.items(), key=lambda item: _rank(item[0], item[1], zoned))]
    national = [f for f in ranked if any(int(i.code) in _NATIONAL for i in f)]
    # room for both kinds: a national grid's numbers may also fit any zone of a world-wide one
    others = [f for f in ranked if f not in national]
    return [_family_text(f, x[0], y[0]) for f in (national[:2] + others + national[2:])[:most]]


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


def _family_text(family: list, x: float, y: float) -> str:
    codes = {int(i.code): i for i in family}
    first = next((codes[c] for c in _ZONED + _NATIONAL if c in codes), family[0])
    lon, lat = _degrees(first.code, np.array([x]), np.array([y]))
    text = f"{lat[0]:.2f}, {lon[0]:.2f} under EPSG:{first.code} ({first.name})"
    if len(family) > 1:
        text += f" or another of its {len(family)} zones that fit, EPSG:{min(codes)} to EPSG:{max(codes)}"
    return text


@dataclass(frozen=True)
class Fit:
    """A coordinate reference system that was tested and puts the positions where they are known to lie.

    Attributes
    ----------
    crs : pyproj.CRS
    misfit : float
        Median distance from what is known [m]; for outlines thousandths of the positions outside.
    known : Known
        What it was tested against.
    lon, lat : ndarray of float64
        Where it puts the tested positions [degree].
    exchanged : bool
        Whether it fits only with the two columns exchanged.
    """

    crs: pyproj.CRS
    misfit: float
    known: Known
    lon: np.ndarray
    lat: np.ndarray
    exchanged: bool = False

    def __str__(self) -> str:
        how = (f"within {said_m(max(self.misfit, 0.1))} of {self.known.words}" if self.known.outlines is None else
               f"{100 - self.misfit / 10:.0f} % inside {self.known.words}")
        return f"{named(self.crs)}: {how}"


def tested_crs(east: np.ndarray, north: np.ndarray, known: tuple[Known, ...]) -> list[Fit]:
    """The projected CRSs that put the positions where they are known to lie, best first; none that was not tested.

    Several that fit alike (one grid on several datums) are all given; where none fits the columns are tried exchanged.

    Parameters
    ----------
    east, north : ndarray of float64, shape (n,)
        As read, NaN where unreadable.
    known : tuple of Known
        Tried in this order; the first that any system fits decides.
    """
    given = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
    some = given[np.linspace(0, len(given) - 1, min(200, len(given))).astype(int)] if len(given) else given
    for exchanged in (False, True):
        x, y = (v[some] for v in ((north, east) if exchanged else (east, north)))
        for what in (k.at(some) for k in known):
            fits = _fitting(x, y, what, exchanged)
            if fits:
                best = min(fit.misfit for fit in fits)
                # a share inside outlines tells no grid from its neighbour: all of them stay
                near = [fit for fit in fits if what.outlines is not None or fit.misfit <= 3 * best + 5]
                return sorted(near, key=lambda fit: _commonness(fit.crs))
    return []


# How far beyond its own area of use a system may be offered [degree].
_BEYOND_DEG = 3.0


@dataclass(frozen=True)
class Near:
    """A system that puts positions where they are known to lie, without the shift of its datum: some hundred metres."""

    code: int
    name: str
    lon: np.ndarray
    lat: np.ndarray


def systems_near(east: np.ndarray, north: np.ndarray, known: Known, apart_by_m: float, allowed=lambda lon, lat: True) -> list[Near]:
    """Projected CRSs that put positions where they are known to lie, commoner grids first; of those that lie together the first.

    Quick, for a person to choose from: 0.3 ms a system instead of 20, because no datum is shifted. `tested_crs` is for advice.

    Parameters
    ----------
    east, north : ndarray of float64, shape (n,)
        As read, NaN where unreadable.
    known : Known
        Outlines.
    apart_by_m : float [m]
        Systems that put the positions closer together than this are one.
    allowed : callable
        Asked with the positions of each system that is not one with another: whether they may lie there.
    """
    given = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
    bounds = known.bounds
    if not given.size or bounds is None:
        return []
    some = given[np.linspace(0, len(given) - 1, min(25, len(given))).astype(int)]
    infos = query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=AreaOfInterest(*bounds), contains=False)
    fitting: list[Near] = []
    for info in {one.code: one for one in infos if not one.deprecated and one.area_of_use is not None}.values():
        lon, lat = _degrees(info.code, east[some], north[some])
        own = info.area_of_use
        # Grids are used beyond their own zone, not on another continent.
        inside = ((lon - own.west + _BEYOND_DEG) % 360 <= (own.east - own.west) % 360 + 2 * _BEYOND_DEG) | ((own.east - own.west) % 360 == 0)
        inside &= (lat > own.south - _BEYOND_DEG) & (lat < own.north + _BEYOND_DEG)
        if inside.mean() >= SHARE and known.misfit_m(lon, lat) is not None:
            fitting.append(Near(int(info.code), info.name, lon, lat))
    found: list[Near] = []
    for one in sorted(fitting, key=lambda one: _commonness_of(one.code, one.name)):
        twin = any(float(np.nanmedian(distance_m(one.lon, one.lat, other.lon, other.lat))) <= apart_by_m for other in found)
        if not twin and allowed(one.lon, one.lat):
            found.append(one)
    return found


def apart_m(fits: list[Fit]) -> float:
    """How far the positions lie from each other under these systems [m]: the worst median against the first."""
    return max((float(np.nanmedian(distance_m(fits[0].lon, fits[0].lat, f.lon, f.lat))) for f in fits), default=0.0)


def _fitting(x: np.ndarray, y: np.ndarray, known: Known, exchanged: bool) -> list[Fit]:
    bounds = known.bounds
    if bounds is None:
        return []
    infos = query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=AreaOfInterest(*bounds),
                           contains=False)
    west, south, east, north = (b + grow for b, grow in zip(bounds, (-1, -1, 1, 1)))
    pick = np.linspace(0, len(x) - 1, min(25, len(x))).astype(int) if len(x) else []
    found = []
    for info in {i.code: i for i in infos}.values():  # a system of several areas comes once for each
        # a first look without the shift of datum, which is at most some hundred metres: 0.3 ms instead of 20
        lon, lat = _degrees(info.code, x[pick], y[pick])
        with np.errstate(invalid="ignore"):
            if info.deprecated or not ((lon > west) & (lon < east) & (lat > south) & (lat < north)).mean() >= 0.5:
                continue
        crs = pyproj.CRS.from_epsg(info.code)
        lon, lat = to_lon_lat(x, y, crs)
        misfit = known.misfit_m(lon, lat)
        if misfit is not None:
            found.append(Fit(crs, misfit, known, lon, lat, exchanged))
    return found


def _degrees(code: str, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            lon, lat = pyproj.Proj(f"EPSG:{code}")(x, y, inverse=True)
    except (pyproj.exceptions.ProjError, RuntimeError):
        return np.full(len(x), np.nan), np.full(len(x), np.nan)
    off = ~(np.isfinite(lon) & np.isfinite(lat))
    return np.where(off, np.nan, lon), np.where(off, np.nan, lat)


def _commonness(crs: pyproj.CRS) -> tuple:
    return _commonness_of(crs.to_epsg() or 0, crs.name)


def _commonness_of(code: int, name: str) -> tuple:
    for rank, codes in enumerate(((3857,), _NATIONAL, _ZONED)):
        if code in codes:
            return rank, codes.index(code), code
    family = _family(name)
    return next(((3, spot, code) for spot, zoned in enumerate(_zoned_families()) if zoned == family), (4, 0, code))


@lru_cache(maxsize=1)
def _zoned_families() -> tuple[str, ...]:
    return tuple(_family(pyproj.CRS.from_epsg(code).name) for code in _ZONED)


def agreeing(first: tuple[np.ndarray, np.ndarray], second: tuple[np.ndarray, np.ndarray],
             words: str, quick: bool = False) -> tuple[pyproj.CRS, Fit] | None:
    """Two pairs of columns for the same sites: the systems, one for each, under which they name the same places.

    Web Mercator and its like are tried first, then every system in whose own area the numbers of a pair fall.

    Parameters
    ----------
    first, second : tuple of ndarray, shape (n,)
        East and north numbers as read.
    words : str
        The first pair's columns, for messages.
    quick : bool
        Only the systems of the whole world for the first pair: 0.3 s instead of some seconds.

    Returns
    -------
    crs, fit : CRS of the first pair, and that of the second tested against it; None if none agree.
    """
    for code in (3857, 3395):
        fits = _agree(first, second, pyproj.CRS.from_epsg(code), words)
        if fits:
            return fits
    if quick:
        return None
    places = _first_places(*first)
    others = _first_places(*second, near=list(places.values()))
    for code, (lon, lat) in places.items():
        if any(abs(lon - lon_2) < 0.01 and abs(lat - lat_2) < 0.01 for lon_2, lat_2 in others.values()):
            fits = _agree(first, second, pyproj.CRS.from_epsg(code), words)
            if fits and fits[1].misfit < 100:
                return fits
    return None


def _one_datum_each(infos) -> list:
    """One system of each grid and area, whatever its datums: they lie some hundred metres apart, and half are twins."""
    seen, kept = set(), []
    for info in infos:
        area = info.area_of_use
        key = info.name.rsplit(" / ", 1)[-1], round(area.west), round(area.south), round(area.east), round(area.north)
        if key not in seen:
            seen.add(key)
            kept.append(info)
    return kept


def _first_places(east: np.ndarray, north: np.ndarray, near: list | None = None) -> dict[int, tuple[float, float]]:
    """Where each system in whose own area the numbers fall puts the first of them, commoner systems first.

    With `near` only systems are tried whose area holds one of those places (longitude, latitude).
    """
    given = np.flatnonzero(np.isfinite(east) & np.isfinite(north))[:5]
    infos = query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS)
    zoned = {_family(i.name) for i in infos if int(i.code) in _ZONED}
    spots = np.array(near, dtype=float).reshape(-1, 2).T if near is not None else None
    found = {}
    infos = [i for i in infos if i.area_of_use is not None and not i.deprecated]
    for info in _one_datum_each(sorted(infos, key=lambda i: not (int(i.code) in _NATIONAL or _family(i.name) in zoned))):
        area = info.area_of_use
        if not len(given) or spots is not None and not (
                ((spots[0] - area.west) % 360 <= (area.east - area.west) % 360) & (spots[1] >= area.south)
                & (spots[1] <= area.north)).any():
            continue
        if _fits(info, east[given], north[given]):
            lon, lat = _degrees(info.code, east[given[:1]], north[given[:1]])
            found[int(info.code)] = float(lon[0]), float(lat[0])
    return found


def _agree(first, second, crs, words):
    lon, lat = to_lon_lat(first[0], first[1], crs)
    fits = tested_crs(second[0], second[1], (Known(words, lon, lat),))
    return (crs, fits[0]) if fits and not fits[0].exchanged else None
