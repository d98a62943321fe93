"""The plan by cabinet: where it stands, what its switches are told, and which sites belong to it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..places.driving import driving_order
from .siteparts import text_of

#: Mean radius of the Earth [metre], IUGG: good to 0.6 % for the few hundred metres between a cabinet's sites.
EARTH_M = 6_371_008.8

_FROM_SITE = ("group", "key_lat_deg", "key_lon_deg", "key_legal_zone", "key_dusk_offset_min", "key_dawn_offset_min")


def cabinet_names(sites: pd.DataFrame, column: str) -> np.ndarray:
    """The cabinet of each site as the plan understood it; "" where the list names none.

    Parameters
    ----------
    sites : DataFrame, n rows
        The site table of a run.
    column : str
        The column that was named in keep_together; a run keeps it under NAME_given where it needs the name itself.

    Returns
    -------
    ndarray of str, shape (n,)
        All "" if the table has no such column.
    """
    name = next((there for there in (f"{column}_given", column) if there in sites.columns), None)
    return np.array([""] * len(sites) if name is None else [text_of(value) for value in sites[name]], dtype=object)


def cabinets_table(sites: pd.DataFrame, column: str, settings: pd.DataFrame) -> pd.DataFrame:
    """A row a cabinet, in the order in which the site list names them; a site without one has a row of its own.

    Parameters
    ----------
    sites : DataFrame
        The site table with the columns of the plan and, where programmes were asked for, `programme`.
    column : str
        As `cabinet_names`.
    settings : DataFrame
        A row a group: group, clock, clock_to_key.

    Returns
    -------
    DataFrame
        cabinet ("" for a site on its own), sites (how many), lat_deg, lon_deg (middle of its sites), farthest_m (of a site
        from that middle, along the ground), group ("" = no setting serves it), key_lat_deg, key_lon_deg, key_legal_zone,
        key_dusk_offset_min, key_dawn_offset_min, clock, clock_to_key, programme (if there; several parted by "; "), load_w
        [watt, NaN if no site has one], area, site_ids (parted by "; "). No rows if the table lacks the column.
    """
    names = cabinet_names(sites, column)
    if not (names != "").any():
        return pd.DataFrame()
    place, first = _stops(names)
    points = _unit_vectors(sites["lat_deg"].to_numpy(float), sites["lon_deg"].to_numpy(float))
    middle = _middles(points, place, len(first))
    chord = np.linalg.norm(points - middle[place], axis=1)
    middle_lat, middle_lon = _angles(middle)
    by = sites.reset_index(drop=True).groupby(place, sort=True)
    table = pd.DataFrame({
        "cabinet": ["" if name.startswith("\x00") else name for name in first],
        "sites": np.bincount(place),
        "lat_deg": middle_lat,
        "lon_deg": middle_lon,
        "farthest_m": pd.Series(2 * EARTH_M * np.arcsin(np.clip(chord / 2, 0, 1))).groupby(place).max().to_numpy(),
        **{name: by[name].first().to_numpy() for name in _FROM_SITE},
    })
    told = settings.set_index("group")[["clock", "clock_to_key"]]
    table = table.join(told, on="group")
    table[["clock", "clock_to_key"]] = table[["clock", "clock_to_key"]].fillna("")
    if "programme" in sites.columns:
        table["programme"] = listed(sites["programme"], place, len(first))
    table["load_w"] = by["load_w"].sum(min_count=1)
    table["area"] = listed(sites["area"], place, len(first))
    table["site_ids"] = listed(sites["site_id"], place, len(first))
    return table


def driven_rows(sites: pd.DataFrame, names) -> np.ndarray:
    """Places of some sites in driving order, each cabinet driven to once, for all of its sites in the order of the list.

    Parameters
    ----------
    sites : DataFrame
        lat_deg, lon_deg, area.
    names : (n,) array_like of str
        Cabinet of each; "" for a site that is a stop of its own.

    Returns
    -------
    (n,) ndarray of int
        See `driving_order`. A cabinet whose sites lie in several areas is driven to in that of the first.

    Examples
    --------
    >>> sites = pd.DataFrame({"lat_deg": [-35.0, -35.2, -35.1], "lon_deg": [140.0, 140.0, 140.0], "area": [""] * 3})
    >>> driven_rows(sites, ["C1", "C1", "C2"]).tolist()
    [0, 1, 2]
    """
    place, first = _stops(np.asarray(names, dtype=object))
    turn = np.empty(len(first), dtype=np.int64)
    turn[driven_stops(sites, place, len(first))] = np.arange(len(first))
    return np.argsort(turn[place], kind="stable")


def driven_stops(sites: pd.DataFrame, place: np.ndarray, n: int) -> np.ndarray:
    """The `n` stops of sites in driving order; parameters and rule as of `driven_rows`, `place`: the stop of each site."""
    lat, lon = middles(sites["lat_deg"].to_numpy(float), sites["lon_deg"].to_numpy(float), place, n)
    begins = np.unique(place, return_index=True)[1]
    return driving_order(lat, lon, sites["area"].to_numpy(str)[begins])


def _stops(names: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Stop of each site and the stops' names in the order of the list; a site without a cabinet is one with a name that no cell can have."""
    alone = np.array([f"\x00{row}" for row in range(len(names))], dtype=object)
    place, first = pd.factorize(np.where(names == "", alone, names))
    return place, np.asarray(first)


def middles(lat_deg: np.ndarray, lon_deg: np.ndarray, place: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Latitude and longitude of the middle of the sites of each of `n` places [degree]."""
    return _angles(_middles(_unit_vectors(lat_deg, lon_deg), place, n))


def _unit_vectors(lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def _middles(points: np.ndarray, place: np.ndarray, n: int) -> np.ndarray:
    """Middle of the points of each of `n` places, as unit vectors."""
    middle = np.zeros((n, 3))
    np.add.at(middle, place, points)
    return middle / np.linalg.norm(middle, axis=1, keepdims=True)


def _angles(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Latitude and longitude of unit vectors [degree]."""
    return np.degrees(np.arcsin(np.clip(points[:, 2], -1, 1))), np.degrees(np.arctan2(points[:, 1], points[:, 0]))


def listed(values: pd.Series, place: np.ndarray, n: int) -> list[str]:
    """The different texts of each of `n` cabinets, in the order of the list, without blanks."""
    texts: list[dict[str, None]] = [{} for _ in range(n)]
    for k, text in zip(place.tolist(), map(str, values), strict=True):
        if text:
            texts[k][text] = None
    return ["; ".join(some) for some in texts]
