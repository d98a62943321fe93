"""Which part of the ground a map frame shows: projection, round scale, and where a position lies on paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from pyproj import CRS, Geod, Transformer
from pyproj.exceptions import CRSError

from ..errors import InputError
from .sizes import Box

#: Ground metres per paper metre. ISO 5455 has 1, 2 and 5 times powers of ten (from memory); national map series use 25,000 too.
SCALES = (500, 1_000, 2_000, 2_500, 5_000, 10_000, 20_000, 25_000, 50_000, 100_000, 200_000, 250_000, 500_000, 1_000_000,
          2_000_000, 2_500_000, 5_000_000, 10_000_000, 20_000_000, 50_000_000)
# A transverse Mercator zone of 6 degrees is stretched by less than 0.1 %; as far as this from its middle [degree] by 0.3 %, which
# no ruler on paper shows.
_ZONE_REACH_DEG = 4.5
_GEOD = Geod(ellps="WGS84")
# Space left between the outermost thing on the map and the frame, as a part of the frame.
_MARGIN = 0.06


@dataclass(frozen=True)
class Projection:
    """A projected coordinate system and what a sheet calls it.

    Attributes
    ----------
    crs : pyproj.CRS
    name : str
    epsg : int or None
    """

    crs: CRS
    name: str
    epsg: int | None

    def forward(self, lon_deg, lat_deg):
        """Eastings and northings [m]."""
        return _between("EPSG:4326", self.crs).transform(lon_deg, lat_deg)

    def inverse(self, x, y):
        """Longitudes and latitudes [degree]."""
        return _between(self.crs, "EPSG:4326").transform(x, y)


@lru_cache(maxsize=64)
def _between(one, other) -> Transformer:
    return Transformer.from_crs(one, other, always_xy=True)


def projection_for(bounds: tuple[float, float, float, float], wanted: str | None = None) -> Projection:
    """A projection for an area: the one that is asked for, the zone of transverse Mercator that holds it, or one of its own.

    Parameters
    ----------
    bounds : (west, south, east, north) [degree]
        East may exceed 180 where the area crosses the antimeridian.
    wanted : str, optional
        Such as "EPSG:32754".

    Raises
    ------
    InputError
        If the wanted one is not known, or is not projected in metres.
    """
    west, south, east, north = bounds
    lon, lat = (west + east) / 2, (south + north) / 2
    if wanted:
        try:
            crs = CRS.from_user_input(wanted)
        except CRSError:
            raise InputError("sheet.crs is not known", value=wanted, rule='a projected system such as "EPSG:32754"') from None
        if not crs.is_projected or abs(crs.axis_info[0].unit_conversion_factor - 1) > 1e-12:
            raise InputError("sheet.crs is not projected in metres", value=wanted, rule='a projected system such as "EPSG:32754"',
                             next_step="leave it out, and geozone chooses one")
        return Projection(crs, crs.name, crs.to_epsg())
    if max(east - west, 0) <= 2 * _ZONE_REACH_DEG and -80 <= south and north <= 84:
        zone = int(((lon + 180) % 360) // 6) + 1
        epsg = (32600 if lat >= 0 else 32700) + zone
        crs = CRS.from_epsg(epsg)
        return Projection(crs, crs.name, epsg)
    middle = (lon + 180) % 360 - 180
    if abs(lat) > 70 or south < -60 < 60 < north or (south < 0 < north and north - south > 40):
        crs = CRS.from_proj4(f"+proj=laea +lat_0={lat:.1f} +lon_0={middle:.1f} +datum=WGS84 +units=m")
        return Projection(crs, f"Lambert azimuthal equal area, centred on {lat:.1f}, {middle:.1f} (WGS 84)", None)
    if south < 2 and north > -2:  # a cone that is true at the equator is a cylinder
        crs = CRS.from_proj4(f"+proj=merc +lon_0={middle:.1f} +lat_ts={lat:.1f} +datum=WGS84 +units=m")
        return Projection(crs, f"Mercator, true at {abs(lat):.1f} degrees, middle {middle:.1f} (WGS 84)", None)
    low, high = south + (north - south) / 6, north - (north - south) / 6
    crs = CRS.from_proj4(f"+proj=lcc +lat_1={low:.1f} +lat_2={high:.1f} +lat_0={lat:.1f} +lon_0={middle:.1f} +datum=WGS84 +units=m")
    return Projection(crs, f"Lambert conformal conic, true at {low:.1f} and {high:.1f}, middle {middle:.1f} (WGS 84)", None)


@dataclass(frozen=True)
class MapView:
    """A map frame on paper and the ground that it shows.

    Attributes
    ----------
    box : Box
        The frame [mm on the sheet].
    projection : Projection
    scale : int
        Projected metres per paper metre.
    x0, y0 : float
        Projected coordinates of the frame's lower left corner [m].
    """

    box: Box
    projection: Projection
    scale: int
    x0: float
    y0: float

    @property
    def width_m(self) -> float:
        return self.box.width * self.scale / 1000

    @property
    def height_m(self) -> float:
        return self.box.height * self.scale / 1000

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Projected bounds of the frame [m]: west, south, east, north."""
        return self.x0, self.y0, self.x0 + self.width_m, self.y0 + self.height_m

    def on_sheet(self, lon_deg, lat_deg) -> tuple[np.ndarray, np.ndarray]:
        """Where positions lie on the sheet [mm from its upper left corner]."""
        x, y = self.projection.forward(np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float))
        return self.box.x + (np.asarray(x) - self.x0) * 1000 / self.scale, \
            self.box.bottom - (np.asarray(y) - self.y0) * 1000 / self.scale

    def ground(self, x_mm, y_mm) -> tuple[np.ndarray, np.ndarray]:
        """Longitude and latitude [degree] of points of the sheet."""
        return self.projection.inverse(self.x0 + (np.asarray(x_mm, dtype=float) - self.box.x) * self.scale / 1000,
                                       self.y0 + (self.box.bottom - np.asarray(y_mm, dtype=float)) * self.scale / 1000)

    def corners_deg(self) -> list[tuple[float, float]]:
        """Longitude and latitude of the frame's corners: lower left, lower right, upper right, upper left."""
        b = self.box
        lon, lat = self.ground([b.x, b.right, b.right, b.x], [b.bottom, b.bottom, b.y, b.y])
        return list(zip(map(float, lon), map(float, lat), strict=True))

    def bounds_deg(self, margin: float = 0.05) -> tuple[float, float, float, float]:
        """Geographic bounds of the ground in the frame with a margin; longitudes run on over 180."""
        side = np.linspace(0, 1, 9)
        x = self.box.x + self.box.width * np.concatenate([side, side, np.zeros(9), np.ones(9)])
        y = self.box.y + self.box.height * np.concatenate([np.zeros(9), np.ones(9), side, side])
        lon, lat = self.ground(x, y)
        middle, _ = self.ground(self.box.x + self.box.width / 2, self.box.y + self.box.height / 2)
        lon = (np.asarray(lon) - middle + 180) % 360 - 180 + middle
        grow_x, grow_y = margin * np.ptp(lon), margin * np.ptp(lat)
        return float(lon.min() - grow_x), float(max(lat.min() - grow_y, -90)), float(lon.max() + grow_x), float(min(lat.max() + grow_y, 90))

    def bar(self, longest_mm: float) -> tuple[float, float, str]:
        """A scale bar that is true on the ground at the middle of the map: ground length [m], its length on paper [mm], words."""
        middle_x, middle_y = self.box.x + self.box.width / 2, self.box.y + self.box.height / 2
        lon, lat = self.ground([middle_x - longest_mm / 2, middle_x + longest_mm / 2], [middle_y, middle_y])
        ground_m = _GEOD.inv(lon[0], lat[0], lon[1], lat[1])[2]
        power = 10 ** math.floor(math.log10(ground_m))
        length = next(step * power for step in (5, 2, 1) if step * power <= ground_m)
        words = f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
        return float(length), float(longest_mm * length / ground_m), words

    def convergence_deg(self) -> float:
        """True north minus grid north at the middle of the map [degree], positive where true north lies east of grid north."""
        lon, lat = self.ground(self.box.x + self.box.width / 2, self.box.y + self.box.height / 2)
        x, y = self.projection.forward([lon, lon], [lat, lat + 1e-4])
        return math.degrees(math.atan2(x[1] - x[0], y[1] - y[0]))


def view_of(box: Box, bounds_deg: tuple[float, float, float, float], projection: Projection, scale: int | None = None) -> MapView:
    """The ground in the middle of a frame, at the largest round scale at which all of it has room.

    Raises
    ------
    InputError
        If a wanted scale is too large for the ground to have room.
    """
    west, south, east, north = bounds_deg
    outline = shapely.segmentize(shapely.box(west, south, max(east, west + 1e-6), max(north, south + 1e-6)), max(east - west, north - south, 1e-6) / 20)
    x, y = projection.forward(*shapely.get_coordinates(outline).T)
    x, y = np.asarray(x), np.asarray(y)
    width, height = max(float(np.ptp(x)), 100.0), max(float(np.ptp(y)), 100.0)
    needed = max(width / (box.width / 1000 * (1 - 2 * _MARGIN)), height / (box.height / 1000 * (1 - 2 * _MARGIN)))
    if scale is None:
        scale = next((one for one in SCALES if one >= needed), SCALES[-1])
    elif scale < needed * (1 - 2 * _MARGIN):
        fits = next((one for one in SCALES if one >= needed), SCALES[-1])
        raise InputError("sheet.scale is too large for the area to have room", value=f"1:{scale}", rule=f"1:{fits} or smaller",
                         next_step=f"scale = {fits}, or a larger sheet")
    mid_x, mid_y = (x.min() + x.max()) / 2, (y.min() + y.max()) / 2
    # Whole metres, so that the same area gives the same frame to the last digit.
    return MapView(box, projection, int(scale), float(round(mid_x - box.width * scale / 2000)), float(round(mid_y - box.height * scale / 2000)))
