"""In which corner of the world the sites lie, in one line: a wrong coordinate system is seen at once."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
import pandas as pd
import pyproj

from .antimeridian import span_deg

_GEOD = pyproj.Geod(ellps="WGS84")
_DIRECTIONS = "north north-east east south-east south south-west west north-west".split()
# Countries named on one line; more are counted.
_COUNTRIES_SHOWN = 3


@dataclass(frozen=True)
class Whereabouts:
    """Where a list of sites lies.

    Attributes
    ----------
    countries : tuple of str
        By the legal zone of each position, most sites first; "open sea" where no zone of a country reaches.
    lat_deg, lon_deg : float
        Middle of the sites [degree].
    town, town_km : str, float
        The town that the tz database knows nearest to the middle, in the first country if it has one there, and how
        far from it the middle lies [km, geodesic].
    town_direction : str
        Which way from the town, as one of eight points of the compass; "" within 1 km.
    west_east_km, north_south_km : float
        Extent of the sites [km]; the first along the middle's parallel.
    text : str
        All of it in one line.
    """

    countries: tuple[str, ...]
    lat_deg: float
    lon_deg: float
    town: str
    town_km: float
    town_direction: str
    west_east_km: float
    north_south_km: float
    text: str

    def as_dict(self) -> dict:
        """Plain values for a summary."""
        return {**asdict(self), "countries": list(self.countries)}


def whereabouts(sites: pd.DataFrame) -> Whereabouts:
    """Where sites lie, by their positions alone.

    Parameters
    ----------
    sites : DataFrame
        With `lat_deg`, `lon_deg` [degree] and `legal_zone_there`, as from `add_legal_time`; at least one row.

    Returns
    -------
    Whereabouts

    References
    ----------
    Countries of the legal zones and positions of their towns: ``zone.tab`` and ``iso3166.tab`` of the tz database (public
    domain), as packaged in PyPI ``tzdata``.
    """
    lat, lon = sites["lat_deg"].to_numpy(dtype=float), sites["lon_deg"].to_numpy(dtype=float)
    towns = _towns()
    country_of = towns.set_index("zone")["country"]
    counted = sites["legal_zone_there"].map(country_of).fillna("open sea").value_counts(sort=False)
    countries = tuple(sorted(counted.index, key=lambda name: (-counted[name], name)))
    west, east = span_deg(lon)
    wide_deg = (east - west) % 360.0
    south, north = float(lat.min()), float(lat.max())
    middle_lat, middle_lon = (south + north) / 2, (west + wide_deg / 2 + 180.0) % 360.0 - 180.0
    mine = towns[towns["country"] == countries[0]] if (towns["country"] == countries[0]).any() else towns
    azimuth, _, metres = _GEOD.inv(mine["lon_deg"], mine["lat_deg"], np.full(len(mine), middle_lon), np.full(len(mine), middle_lat))
    nearest = int(np.argmin(metres))
    km = float(metres[nearest]) / 1000.0
    direction = _DIRECTIONS[int(round(azimuth[nearest] / 45.0)) % 8] if km >= 1.0 else ""
    town = str(mine["town"].iloc[nearest])
    # Length of a degree of the parallel and of the meridian, the sphere of equal surface: good to 0.5 %.
    across = wide_deg * 111.195 * float(np.cos(np.radians(middle_lat)))
    along = (north - south) * 111.195
    text = _text(countries, middle_lat, middle_lon, town, km, direction, across, along, len(sites))
    return Whereabouts(countries, round(middle_lat, 4), round(middle_lon, 4), town, round(km, 1), direction, round(across, 1),
                       round(along, 1), text)


@dataclass(frozen=True)
class Place:
    """A place that somebody names because sites lie near it.

    Attributes
    ----------
    words : str
    spots : tuple of (float, float)
        Latitude and longitude [degree]: the place, or a country's towns that the tz database knows.
    country : str
        Where a country was named; "" for a town or a position.
    """

    words: str
    spots: tuple[tuple[float, float], ...]
    country: str = ""


def place_named(text: str) -> Place | None:
    """The place that a text names: latitude and longitude, a town, or a country; None if it names none that is known.

    Examples
    --------
    >>> place_named("-35.1, 140.2").spots, place_named("broken hill").words, place_named("Ghana").country, place_named("nowhere")
    (((-35.1, 140.2),), 'Broken Hill (Australia)', 'Ghana', None)
    """
    text = " ".join(text.split())
    if found := re.fullmatch(r"([-+\u2212]?\d{1,2}(?:\.\d+)?)\s*[,;\s]\s*([-+\u2212]?\d{1,3}(?:\.\d+)?)", text):
        lat, lon = (float(part.replace("\u2212", "-")) for part in found.groups())
        return Place(f"{lat:g}, {lon:g}", ((lat, lon),)) if abs(lat) <= 90 and abs(lon) <= 180 else None
    towns, wanted = _towns(), text.casefold()
    for names, whole in ((_named(towns), False), (towns["town"], False), (towns["country"], True)):
        mine = towns[names.str.casefold() == wanted]
        if len(mine):
            one = mine.iloc[0]
            spots = tuple((float(lat), float(lon)) for lat, lon in zip(mine["lat_deg"], mine["lon_deg"]))
            return Place(str(one["country"]), spots, str(one["country"])) if whole else Place(f"{one['town']} ({one['country']})", spots[:1])
    return None


def place_names() -> tuple[str, ...]:
    """Countries, then towns with theirs, as `place_named` takes them."""
    towns = _towns()
    return (*sorted(set(towns["country"])), *sorted(_named(towns)))


def _named(towns: pd.DataFrame) -> pd.Series:
    return towns["town"] + " (" + towns["country"] + ")"


def country_of(legal_zone: str) -> str:
    """The country that a legal zone belongs to; "" for one of no country, as at sea."""
    mine = _towns().loc[lambda one: one["zone"] == legal_zone, "country"]
    return str(mine.iloc[0]) if len(mine) else ""


def _text(countries, lat, lon, town, km, direction, across, along, count) -> str:
    named = list(countries[:_COUNTRIES_SHOWN])
    more = len(countries) - len(named)
    land = ", ".join(named) + (f" and {more} more countries" if more > 1 else " and 1 more country" if more else "")
    position = f"{abs(lat):.1f}° {'N' if lat >= 0 else 'S'}, {abs(lon):.1f}° {'E' if lon >= 0 else 'W'}"
    beside = f"{_round(km)} km {direction} of {town}" if direction else f"at {town}"
    if count == 1:
        return f"{land}: {position}, {beside}"
    extent = "all at one place" if max(across, along) < 0.05 else f"{_round(across)} km west to east, {_round(along)} km north to south"
    return f"{land}: middle {position}, {beside}; {extent}"


def _round(km: float) -> str:
    """Two figures that count: 3.4, 34, 340, 3,400."""
    if km < 9.95:
        return f"{km:.1f}"
    step = 10.0 ** max(0, int(np.floor(np.log10(km))) - 1)
    return f"{round(km / step) * step:,.0f}"


@lru_cache(maxsize=1)
def _towns() -> pd.DataFrame:
    """zone, country, town, lat_deg, lon_deg of every line of ``zone.tab``."""
    folder = resources.files("tzdata") / "zoneinfo"
    country = dict(line.split("\t")[:2] for line in _lines(folder / "iso3166.tab"))
    rows = []
    for line in _lines(folder / "zone.tab"):
        code, position, zone = line.split("\t")[:3]
        lat, lon = re.fullmatch(r"([+-]\d+)([+-]\d+)", position).groups()
        rows.append((zone, country[code], zone.rsplit("/", 1)[-1].replace("_", " "), _degrees(lat, 2), _degrees(lon, 3)))
    return pd.DataFrame(rows, columns=["zone", "country", "town", "lat_deg", "lon_deg"])


def _lines(path) -> list[str]:
    return [line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]


def _degrees(text: str, whole: int) -> float:
    """±DDMM, ±DDDMM or the same with seconds (ISO 6709) in degrees."""
    sign, digits = -1.0 if text[0] == "-" else 1.0, text[1:]
    rest = digits[whole:]
    return sign * (int(digits[:whole]) + int(rest[:2]) / 60.0 + int(rest[2:] or 0) / 3600.0)
