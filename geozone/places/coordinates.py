"""Positions as people write them, turned into two numbers and, where that fails, a reason."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..plurals import counted
from .angles import any_o, o_letter, parse_angle, parse_pair
from .cellkinds import GEOMETRY, HEX, LONE_COMMA
from .headings import rank_of
from .numerals import as_numbers, clean, find_decimal, narrow, tidy
from .tables import as_text, shown


@dataclass(frozen=True)
class Positions:
    """Positions read from a table, index-identical to it, not yet checked against any range.

    Attributes
    ----------
    east, north : ndarray of float64, shape (n,)
        Longitude and latitude [degree], or projected x and y [unit of the CRS]; NaN where unreadable.
    reason : ndarray of object, shape (n,)
        Why a position is unreadable; "" where it was read.
    cells : tuple of Series
        What stands in the file: the columns that were read, for messages.
    crs : str or None
        Named by the values themselves (EWKT) or the file.
    notes : tuple of str
    """

    east: np.ndarray
    north: np.ndarray
    reason: np.ndarray
    cells: tuple[pd.Series, ...]
    crs: object = None
    notes: tuple[str, ...] = ()

    def shown(self, spot: int) -> str:
        """The cells of one row as text; "" if all are blank."""
        cells = [shown(column.iloc[spot]) for column in self.cells]
        return ", ".join(cells) if any(c.strip(" ") for c in cells) else ""


def from_columns(north: pd.Series, east: pd.Series, decimal: str | None = None) -> Positions:
    """Positions from a column of latitude or y and a column of longitude or x."""
    mark = decimal or find_decimal([north, east]) or "."
    reason = np.full(len(north), "", dtype=object)
    values = {"lat": as_numbers(north, mark), "lon": as_numbers(east, mark)}
    mended = _three_decimals(north, east, values)
    todo = np.flatnonzero(np.isnan(values["lat"]) | np.isnan(values["lon"]))  # what is no plain number
    rest = {axis: as_text(column.iloc[todo]).to_numpy(dtype=object) for axis, column in (("lat", north), ("lon", east))}
    letters = [*rest["lat"], *rest["lon"]]
    o_means = o_letter(letters, f"{north.name} {east.name}") if any_o(letters) else None
    for place, spot in enumerate(todo):
        whys = {}
        for axis, column in (("lat", north), ("lon", east)):
            if np.isnan(values[axis][spot]):
                values[axis][spot], why = _one(rest[axis][place], axis, o_means)
                if why:
                    whys[axis] = f"{column.name}: {why}"
        if len(whys) == 2 and all(w.endswith(": no value") for w in whys.values()):
            reason[spot] = "no position"
        elif whys:
            reason[spot] = next(iter(whys.values()))
    odd = np.zeros(len(north), dtype=bool)
    for column in (north, east):
        if not pd.api.types.is_numeric_dtype(column.dtype):
            odd |= tidy(column)[1]
    notes = _hidden_note(int((odd & (reason == "")).sum()))
    if mended:
        notes += (f"{mended} positions such as {_mended_text(north, east)} are read as degrees with three decimals; as "
                  "thousands they would be none",)
    if o_means:
        notes += (f"hemisphere letter O read as {'east' if o_means == 'E' else 'west'}",)
    return Positions(values["lon"], values["lat"], reason, (north, east), None, notes)


#: One comma, point or blank before three digits: a thousand, or three decimals.
_ONE_GROUP = r"[+\-\u2212]?\d{1,3}[.,' ]\d{3}"


def _three_decimals(north: pd.Series, east: pd.Series, values: dict[str, np.ndarray]) -> int:
    """Read 51,533 under a heading of latitude as 51.533 where 51533 would be no degree; `values` is changed in place.

    Returns how many rows were mended. Only whole rows are: both numbers are degrees afterwards.
    """
    if rank_of(north.name, "lat") is None or rank_of(east.name, "lon") is None:
        return 0
    with np.errstate(invalid="ignore"):
        far = np.flatnonzero((np.abs(values["lat"]) > 360) | (np.abs(values["lon"]) > 360))
    if not len(far):
        return 0
    found = {}
    for axis, column, limit in (("lat", north, 90), ("lon", east, 180)):
        numbers = values[axis][far]
        grouped = tidy(column.iloc[far])[0].str.fullmatch(_ONE_GROUP).to_numpy(dtype=bool) & (np.abs(numbers) > limit)
        found[axis] = np.where(grouped, numbers / 1000.0, numbers)
    with np.errstate(invalid="ignore"):
        whole = (np.abs(found["lat"]) <= 90) & (np.abs(found["lon"]) <= 180)
    for axis in found:
        values[axis][far[whole]] = found[axis][whole]
    return int(whole.sum())


def _mended_text(north: pd.Series, east: pd.Series) -> str:
    """The first position written with one group of three digits, as it stands in the list."""
    for a, b in zip(as_text(north), as_text(east)):
        if any(re.fullmatch(_ONE_GROUP, clean(c)) for c in (a, b)):
            return f'"{a}", "{b}"'
    return ""


def _hidden_note(count: int) -> tuple[str, ...]:
    return (f"{counted(count, 'position holds', 'positions hold')} a typographic minus or a hidden blank; read as the number meant",) if count else ()


def _one(cell: str, axis: str, o_means: str | None) -> tuple[float, str]:
    text = clean(cell)
    if text in ("", "-"):
        return np.nan, "only hidden characters or a lone sign" if cell.strip(" ") else "no value"
    if text.lower() in ("nan", "null", "none", "n/a", "na", "#n/a", "inf", "-inf"):
        return np.nan, "no value"
    try:
        return parse_angle(text, axis, o_means)[0], ""
    except ValueError as why:
        return np.nan, str(why)


_PLAIN_PAIR = r"^[\s(\[]*([+-]?\d+(?:\.\d+)?)\s*(?:[,;\s|/]\s*)([+-]?\d+(?:\.\d+)?)[\s)\]]*$"


def from_text(column: pd.Series, heading: str = "") -> Positions:
    """Positions from one column that holds "lat, lon" texts or WKT points.

    The order is lat, lon unless the heading says otherwise ("lon lat", "x, y") or the values cannot be lat first.
    """
    text, hidden = tidy(column)
    if text.str.contains(GEOMETRY, case=False).any():
        return _from_geometry_text(text)
    if not all(map(str.isascii, text)):
        text = text.map(narrow)
    found = text.str.extract(_PLAIN_PAIR)
    first, second = (pd.to_numeric(found[i]).to_numpy(dtype=float, copy=True) for i in (0, 1))
    reason = np.full(len(text), "", dtype=object)
    lettered = np.zeros(len(text), dtype=bool)
    # 51,5333 is as likely one number with a decimal comma: never two numbers without a blank or a point
    lone = text.str.fullmatch(LONE_COMMA).to_numpy(dtype=bool)
    first[lone] = second[lone] = np.nan
    reason[lone] = "one number with a decimal comma, not two coordinates; put a semicolon or a blank between two"
    todo = np.flatnonzero(np.isnan(first) & ~lone)
    o_means = o_letter(list(text), heading) if len(todo) and any_o(list(text)) else None
    for spot in todo:
        try:
            first[spot], second[spot], lettered[spot] = parse_pair(text.iloc[spot], o_means)
        except ValueError as why:
            reason[spot] = str(why) if text.iloc[spot].strip("-") else "no position"
    plain = ~lettered & ~np.isnan(first)
    order = _order_of(heading)
    notes: tuple[str, ...] = ()
    if order is None:
        backward = int(np.sum(plain & (np.abs(first) > 90) & (np.abs(second) <= 90)))
        order = "lon_lat" if backward > 0.5 * max(1, plain.sum()) else "lat_lon"
        if order == "lon_lat":
            notes += ("the first number of most positions cannot be a latitude: read as lon, lat",)
    flip = plain & (order == "lon_lat")
    north, east = np.where(flip, second, first), np.where(flip, first, second)
    notes += _hidden_note(int((hidden & (reason == "")).sum()))
    return Positions(east, north, reason, (column,), None, notes)


def _order_of(heading: str) -> str | None:
    plain = heading.lower()
    lat = re.search(r"lat|breite|breedte|(?<![a-z])y(?![a-z])|north|hoch", plain)
    lon = re.search(r"lon|lng|länge|laenge|lengte|(?<![a-z])x(?![a-z])|east|rechts", plain)
    if not (lat and lon):
        return None
    return "lat_lon" if lat.start() < lon.start() else "lon_lat"


def _from_geometry_text(text: pd.Series) -> Positions:
    """Positions from WKT, EWKT, hexadecimal WKB or EWKB, and GeoJSON geometries, as databases and portals export them."""
    parts = text.str.extract(r"^(?:SRID=(\d+);)?\s*(.*)$", flags=re.IGNORECASE)
    bodies = parts[1].to_numpy(dtype=object)
    kind = np.where(text.str.fullmatch(HEX, case=False), "hex", np.where(text.str.startswith("{"), "json", "wkt"))
    geometry = np.full(len(text), None, dtype=object)
    for name, reader in (("hex", shapely.from_wkb), ("json", shapely.from_geojson), ("wkt", shapely.from_wkt)):
        which = kind == name
        if which.any():
            with np.errstate(all="ignore"):
                geometry[which] = reader(bodies[which], on_invalid="ignore")
    inside = shapely.get_srid(geometry)
    srid = pd.Series(np.where(parts[0].notna(), parts[0], np.where(inside > 0, inside.astype(str), "")), dtype="str")
    ids = list(srid[srid != ""].value_counts().index)  # the commonest first
    read = from_geometry(gpd.GeoSeries(shapely.set_srid(geometry, 0)))
    reason = np.array([("no position" if not t else "not a geometry that can be read") if g is None else r
                       for t, g, r in zip(text, geometry, read.reason)], dtype=object)
    if len(ids) > 1:
        other = ((srid != "") & (srid != ids[0])).to_numpy()
        reason[other & (reason == "")] = f"another SRID than most rows, {ids[0]}"
    return replace(read, reason=reason, cells=(text,), crs=f"EPSG:{ids[0]}" if ids else None)


def _point_inside(shape):
    try:
        return shapely.point_on_surface(shape)
    except (shapely.errors.GEOSException, ValueError):
        return None


def from_geometry(geometry: gpd.GeoSeries) -> Positions:
    """Positions of a map file: points as they are, anything else by a point inside it, and said."""
    shapes = np.asarray(geometry.array, dtype=object)
    kind = shapely.get_type_id(shapes)
    bad = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    corners, spots = shapely.get_coordinates(shapes, return_index=True)
    no_number = np.zeros(len(shapes), dtype=bool)
    no_number[spots[~np.isfinite(corners).all(axis=1)]] = True  # formats of bytes can hold such a "number"
    bad |= no_number
    lone = (kind == 4) & (shapely.get_num_geometries(shapes) == 1)
    shapes = np.where(lone, shapely.get_geometry(shapes, 0), shapes)
    other = ~bad & (kind != 0) & ~lone
    notes = []
    for number, word in ((4, "multi-points"), (1, "lines"), (5, "lines"), (3, "outlines"), (6, "outlines"),
                         (2, "rings"), (7, "collections")):
        count = int(np.sum(other & (kind == number)))
        if count:
            notes.append(f"{counted(count, 'feature')} not of points but of {word}: a point inside each is used")
    points = shapes.copy()
    with np.errstate(all="ignore"):
        points[other] = [_point_inside(shape) for shape in shapes[other]]
    points = np.where(bad, None, points)
    x, y = shapely.get_x(points), shapely.get_y(points)
    nothing = ~bad & ~(np.isfinite(x) & np.isfinite(y))  # collections of nothing, shapes that no point lies in
    x, y = np.where(nothing, np.nan, x), np.where(nothing, np.nan, y)
    reason = np.where(bad | nothing, "no position", "").astype(object)
    reason[no_number] = "a coordinate is not a finite number"
    return Positions(x, y, reason, (pd.Series(y), pd.Series(x)), geometry.crs, tuple(notes))
