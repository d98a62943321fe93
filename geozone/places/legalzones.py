"""Which legal zone every site lies in, which sites share a clock, and how near the next zone is.

Boundary data tells the law's lines as volunteers drew them; a place can keep another time than
the law says. So a zone given in the site list wins, and a site close to a line is to be confirmed.
"""

from __future__ import annotations

import geopandas
import numpy as np
import pandas as pd

from ..errors import InputError
from ..numbers.clock import near_zones, offsets, rule_text, tz_version, valid_zone
from .located import located
from .zoneborders import Borders, borders_near, distance_to
from .zonepieces import cut_areas, zone_boundaries
from .zoneshapes import BOUNDARY_CREDIT, at_sea, boundary_version, zone_names, zone_number_at, zone_polygons

__all__ = ["BOUNDARY_CREDIT", "add_legal_time", "boundary_version", "clock_rules", "cut_areas", "legal_time_notes",
           "near_zones", "valid_zone", "with_legal_time", "zone_boundaries", "zone_polygons"]

# Closer to a border than this, a site is to be confirmed on the spot [m].
CONFIRM_M = 2000.0
# No border within this is reported as none [m].
REACH_M = 200_000.0
# A position off the coast (pier, quay, bridge, coarse coordinates) takes the nearest land zone
# within this [m]; about the 12 nautical miles of territorial waters.
OFFSHORE_M = 25_000.0

FROM_DATA, FROM_LIST, FROM_COAST = "boundary data", "site list", "nearest land"


def add_legal_time(sites: geopandas.GeoDataFrame, year: int) -> geopandas.GeoDataFrame:
    """The sites with their legal zone, clock rule and distance to the next zone.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system, or columns lat_deg, lon_deg [degree]; and, if any, legal_zone_given (str,
        blank = none).
    year : int
        The plan's year.

    Returns
    -------
    GeoDataFrame
        A copy with the same index and these columns more:

        legal_zone : str
            Name in the tz database. A given one wins over the boundary data.
        legal_zone_source : str
            "boundary data", "site list", or "nearest land" (position up to 25 km off the coast).
        legal_zone_there : str
            What position alone says; differs from legal_zone where a zone was given.
        clock_rule : int
            Row of `clock_rules`: equal numbers, equal offsets all through the year.
        solar_lon_deg : float
            Longitude, 360 added or taken off where needed, so that the date of local mean solar
            time is the legal date (Samoa: -172 becomes 188).
        boundary_m : float
            Distance to the nearest border of the legal zone there with another land zone
            [m, geodesic]; inf if there is none within 200 km.
        zone_across : str
            The zone beyond that border, "" if none.
        confirm_zone : bool
            To be confirmed on site: closer than 2,000 m to that border, given against the boundary
            data (another clock), taken from the nearest land, or at sea.

    Raises
    ------
    InputError
        If a given zone is unknown. Reject such rows first (`valid_zone`).

    References
    ----------
    Boundary data of PyPI ``timezonefinder``, drawn from OpenStreetMap; release: `boundary_version`.
    """
    sites = located(sites)
    out = sites.copy()
    lat_deg = sites["lat_deg"].to_numpy(dtype=float)
    lon_deg = sites["lon_deg"].to_numpy(dtype=float)
    there = zone_number_at(lat_deg, lon_deg).astype(np.int64)
    borders = borders_near(lat_deg, lon_deg, REACH_M)
    there, from_coast, offshore = _ashore(there, lat_deg, lon_deg, borders)
    boundary_m, across = _to_next_zone(there, lat_deg, lon_deg, borders)

    names = zone_names()
    zone_there = np.where(there >= 0, names[there], "")
    for i in np.flatnonzero(there < 0):
        zone_there[i] = _nautical(lon_deg[i])
    given = _given(sites)
    legal_zone = np.where(given != "", given, zone_there)
    keys = {zone: offsets(zone, year).key for zone in {*legal_zone, *zone_there}}
    other_clock = np.array([keys[a] != keys[b] for a, b in zip(legal_zone, zone_there)], dtype=bool)
    rule_of = _numbered(legal_zone, keys)

    out["legal_zone"] = legal_zone
    out["legal_zone_source"] = np.where(given != "", FROM_LIST, np.where(from_coast, FROM_COAST, FROM_DATA))
    out["legal_zone_there"] = zone_there
    out["clock_rule"] = np.array([rule_of[keys[zone]] for zone in legal_zone], dtype=np.int64)
    out["solar_lon_deg"] = _solar_lon_deg(lon_deg, legal_zone, year)
    out["boundary_m"] = boundary_m
    out["zone_across"] = np.where(across >= 0, names[across], "")
    out["confirm_zone"] = (boundary_m < CONFIRM_M) | other_clock | ((from_coast | offshore) & (given == ""))
    return out


def with_legal_time(sites: pd.DataFrame, year: int) -> pd.DataFrame:
    """Sites as functions over tables need them: themselves if they have their legal time, else with `add_legal_time` done.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system. A column legal_zone without the others is taken for given zones.
    year : int

    Returns
    -------
    DataFrame
        With lat_deg, lon_deg, solar_lon_deg, legal_zone at least; the same rows in the same order.
    """
    if isinstance(sites, pd.DataFrame) and {"lat_deg", "solar_lon_deg", "legal_zone"} <= set(sites.columns):
        return sites
    found = located(sites)
    if "legal_zone" in found.columns and "legal_zone_given" not in found.columns:
        found = found.assign(legal_zone_given=found["legal_zone"])
    return add_legal_time(found, year)


def clock_rules(sites: geopandas.GeoDataFrame, year: int) -> pd.DataFrame:
    """The clock rules that the sites need, the one with most sites first.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system, or as from `add_legal_time`.
    year : int

    Returns
    -------
    DataFrame, index clock_rule (0 ..)
        text (str, plain words), legal_zones (list of str), sites (int).
    """
    legal_zone = with_legal_time(sites, year)["legal_zone"].to_numpy(dtype=object)
    keys = {zone: offsets(zone, year).key for zone in set(legal_zone)}
    zones: dict[int, list[str]] = {}
    for key, number in _numbered(legal_zone, keys).items():
        zones[number] = sorted(zone for zone in keys if keys[zone] == key)
    counts = pd.Series(legal_zone, dtype=object).value_counts()
    rows = [(rule_text(offsets(zones[i][0], year), year), zones[i], int(sum(counts[zone] for zone in zones[i])))
            for i in range(len(zones))]
    return pd.DataFrame(rows, columns=["text", "legal_zones", "sites"],
                        index=pd.RangeIndex(len(rows), name="clock_rule"))


def legal_time_notes(sites: geopandas.GeoDataFrame) -> tuple[str, ...]:
    """What a reader has to know about the zones of these sites, one sentence each; may be empty.

    Parameters
    ----------
    sites : GeoDataFrame
        As from `add_legal_time`.
    """
    notes = []
    against = (sites["legal_zone_source"] == FROM_LIST) & (sites["legal_zone"] != sites["legal_zone_there"])
    if against.any():
        notes.append(f"{_sites(against)} kept on the legal zone given in the site list although the boundary data "
                     f"says otherwise.")
    coast = sites["legal_zone_source"] == FROM_COAST
    if coast.any():
        notes.append(f"{_sites(coast)} off the coast in the boundary data: the nearest land zone within "
                     f"{OFFSHORE_M / 1000:.0f} km was taken; confirm on site.")
    sea = sites["legal_zone"].str.startswith("Etc/GMT") & (sites["legal_zone_source"] == FROM_DATA)
    if sea.any():
        notes.append(f"{_sites(sea)} at sea, with no land zone within {OFFSHORE_M / 1000:.0f} km: a nautical zone "
                     f"was taken, which is no country's law. Check the position, or give legal_zone.")
    near = sites["boundary_m"] < CONFIRM_M
    if near.any():
        notes.append(f"{_sites(near)} within {CONFIRM_M / 1000:.0f} km of another legal zone; confirm on site.")
    return tuple(notes)


def _sites(mask) -> str:
    count = int(mask.sum())
    return f"{count:,} site{' is' if count == 1 else 's are'}"


def _given(sites: pd.DataFrame) -> np.ndarray:
    if "legal_zone_given" not in sites:
        return np.full(len(sites), "", dtype=object)
    given = sites["legal_zone_given"].fillna("").astype(str).str.strip().to_numpy(dtype=object)
    for zone in sorted(set(given) - {""}):
        if not valid_zone(zone):
            near = near_zones(zone)
            raise InputError("unknown legal zone in the site list", value=zone,
                             where=f"legal_zone_given, row {np.flatnonzero(given == zone)[0]} of the table",
                             rule=f"a name of the tz database {tz_version()}",
                             next_step=f"perhaps {' or '.join(near)}" if near else "check the spelling")
    return given


def _ashore(there: np.ndarray, lat_deg: np.ndarray, lon_deg: np.ndarray,
            borders: Borders) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Zone numbers with positions off the coast moved to the nearest land zone; which were; which could not be."""
    off = (there < 0) | at_sea()[there]
    from_coast = np.zeros(len(there), dtype=bool)
    if not off.any():
        return there, from_coast, off
    land_a, land_b = ~at_sea()[borders.zone_a], ~at_sea()[borders.zone_b]
    coast = borders.where(land_a | land_b)
    metres, zone_a, zone_b = distance_to(coast, lat_deg[off], lon_deg[off], OFFSHORE_M)
    near = np.isfinite(metres)
    rows = np.flatnonzero(off)[near]
    there = there.copy()
    there[rows] = np.where(at_sea()[zone_a], zone_b, zone_a)[near]
    from_coast[rows] = True
    return there, from_coast, off & ~from_coast


def _to_next_zone(there: np.ndarray, lat_deg: np.ndarray, lon_deg: np.ndarray,
                  borders: Borders) -> tuple[np.ndarray, np.ndarray]:
    """Distance to the nearest border of the own zone with another land zone, and that zone's number."""
    borders = borders.where(~at_sea()[borders.zone_a] & ~at_sea()[borders.zone_b])
    boundary_m, across = np.full(len(there), np.inf), np.full(len(there), -1)
    side = np.concatenate([borders.zone_a, borders.zone_b])
    order = np.argsort(side, kind="stable")
    for zone in np.unique(there[there >= 0]):
        sites = np.flatnonzero(there == zone)
        first, last = np.searchsorted(side, [zone, zone + 1], sorter=order)
        own = borders.where(np.sort(order[first:last] % len(borders)))
        boundary_m[sites], zone_a, zone_b = distance_to(own, lat_deg[sites], lon_deg[sites], REACH_M)
        across[sites] = np.where(zone_a == zone, zone_b, zone_a)
    return boundary_m, across


def _nautical(lon_deg: float) -> str:
    hours = int(np.rint(lon_deg / 15))
    return f"Etc/GMT{-hours:+d}" if hours else "Etc/GMT"


def _numbered(legal_zone: np.ndarray, keys: dict) -> dict:
    """Clock key to its number: most sites first, ties by the first zone's name, so row order does not matter."""
    count, first = {}, {}
    zones, sites = np.unique(legal_zone.astype(str), return_counts=True)
    for zone, n in zip(zones, sites):
        key = keys[zone]
        count[key] = count.get(key, 0) + int(n)
        first.setdefault(key, zone)
    return {key: i for i, key in enumerate(sorted(count, key=lambda key: (-count[key], first[key])))}


def _solar_lon_deg(lon_deg: np.ndarray, legal_zone: np.ndarray, year: int) -> np.ndarray:
    middle = {}
    for zone in set(legal_zone):
        offset_min = offsets(zone, year).offset_min
        # The meridian whose mean time the clock keeps: 4 minutes a degree.
        middle[zone] = (offset_min.min() + offset_min.max()) / 2 / 4
    clock_lon_deg = np.array([middle[zone] for zone in legal_zone], dtype=float)
    return lon_deg + 360 * np.rint((clock_lon_deg - lon_deg) / 360)
