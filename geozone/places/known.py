"""Where the sites of a list are known to lie, to test a coordinate reference system against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

#: Nothing outside this share of the rows is asked to agree: a list has its strays.
SHARE = 0.8
#: Two positions of one site may differ so much: rounded degrees, another datum [m].
AGREE_M = 3000.0
#: Outlines are drawn coarsely; a site this far outside one still belongs to it [degree].
NEAR_DEG = 0.05
_EARTH_M = 6_371_008.8


@dataclass(frozen=True)
class Known:
    """What tells where the sites lie: a position of each row from other columns, or outlines round all of them.

    Attributes
    ----------
    words : str
        What it is, for messages.
    lon, lat : ndarray of float64, shape (n,), or None
        Position of each row [degree], NaN where it has none.
    outlines : ndarray of shapely geometry, or None
        In degrees.
    """

    words: str
    lon: np.ndarray | None = None
    lat: np.ndarray | None = None
    outlines: np.ndarray | None = None

    @property
    def bounds(self) -> tuple[float, float, float, float] | None:
        """West, south, east, north [degree]; None if it says nothing."""
        if self.outlines is not None:
            west, south, east, north = shapely.total_bounds(self.outlines)
        else:
            given = np.isfinite(self.lon) & np.isfinite(self.lat) & (np.abs(self.lat) <= 90) & (np.abs(self.lon) <= 180)
            if not given.any():
                return None
            # the middle four fifths: a stray of this column must not stretch the search over the globe
            (west, east), (south, north) = (np.quantile(v[given], [0.1, 0.9]) for v in (self.lon, self.lat))
        return (west, south, east, north) if np.isfinite([west, south, east, north]).all() else None

    def at(self, spots: np.ndarray) -> Known:
        """The same for some of the rows."""
        return self if self.lon is None else Known(self.words, self.lon[spots], self.lat[spots])

    def misfit_m(self, lon: np.ndarray, lat: np.ndarray) -> float | None:
        """How far positions lie from what is known: the median distance [m], 0 inside outlines; None = they do not fit."""
        given = np.isfinite(lon) & np.isfinite(lat)
        if self.outlines is not None:
            if not given.any():
                return None
            points = shapely.points(lon[given], lat[given])
            whole = shapely.union_all(shapely.make_valid(self.outlines))
            near = shapely.dwithin(whole, points, NEAR_DEG)
            inside = shapely.dwithin(whole, points, 0.0).mean()
            return float((1.0 - inside) * 1000.0) if near.mean() >= SHARE else None
        given &= np.isfinite(self.lon) & np.isfinite(self.lat)
        if not given.any():
            return None
        far = distance_m(lon[given], lat[given], self.lon[given], self.lat[given])
        return float(np.median(far)) if np.quantile(far, SHARE) <= AGREE_M else None

    def far_m(self, lon: np.ndarray, lat: np.ndarray) -> float:
        """The median distance [m] of positions from what is known, to say how wrong a system is."""
        given = np.isfinite(lon) & np.isfinite(lat)
        if self.outlines is not None:
            west, south, east, north = self.bounds
            return float(np.median(distance_m(lon[given], lat[given], np.clip(lon[given], west, east),
                                              np.clip(lat[given], south, north))))
        given &= np.isfinite(self.lon) & np.isfinite(self.lat)
        return float(np.median(distance_m(lon[given], lat[given], self.lon[given], self.lat[given])))


def distance_m(lon: np.ndarray, lat: np.ndarray, lon_2: np.ndarray, lat_2: np.ndarray) -> np.ndarray:
    """Great-circle distance on a sphere [m], by the haversine formula; degrees in."""
    lon, lat, lon_2, lat_2 = (np.radians(v) for v in (lon, lat, lon_2, lat_2))
    half = np.sin((lat_2 - lat) / 2) ** 2 + np.cos(lat) * np.cos(lat_2) * np.sin((lon_2 - lon) / 2) ** 2
    return 2 * _EARTH_M * np.arcsin(np.sqrt(np.clip(half, 0, 1)))


def said_m(metres: float) -> str:
    """A distance in words: "0.4 m", "320 m", "8,900 km"."""
    if metres < 10:
        return f"{metres:.1f} m"
    return f"{metres:.0f} m" if metres < 2000 else f"{metres / 1000:,.0f} km"
