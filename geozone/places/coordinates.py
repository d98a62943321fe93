"""Positions as people write them, turned into two numbers and, where that fails, a reason."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import geopandas as gpd
import lat_lon_parser
import numpy as np
import pandas as pd
import shapely

from .numerals import as_numbers, clean, find_decimal, tidy
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


_SIGNS = str.maketrans({**dict.fromkeys("\u2032\u2018\u2019\u00b4`\u02b9\u02bc", "'"),
                        **dict.fromkeys("\u2033\u201c\u201d\u201e\u02ba", '"'),
                        **dict.fromkeys("\u00ba\u02da\u2218\u1d52", "\u00b0")})
_WORDS = [
    ("degrees|degree|degrés|degré|degr|deg|grados|grado|gradi|graus|grau|graden|graad|grad", "\u00b0"),
    ("minutes|minute|minuten|minutos|minuto|minuti|min", "'"),
    ("seconds|second|secondes|seconde|sekunden|sekunde|segundos|segundo|secondi|seconden|sec|sek|seg", '"'),
    ("north|nördlich|nord|norte|noorden|noord|norden", "N"),
    ("south|südlich|süden|süd|sued|sud|sur|sul|zuiden|zuid", "S"),
    ("west|westlich|westen|ouest|oeste|ovest", "W"),
    ("east|östlich|osten|ost|este|leste|est|oosten|oost", "E"),
]
# a digit may stand against the word (45deg), a letter may not
_WORDS = [(rf"(?<![^\W\d_])(?:{words})(?![^\W\d_])\.?", sign) for words, sign in _WORDS]
_WORDS.append((r"^\s*(?:lat(?:itude)?|lon(?:g(?:itude)?)?|lng)\b\s*[:=]?", ""))
_WORDS = [(re.compile(pattern, re.IGNORECASE), sign) for pattern, sign in _WORDS]
_WORD = re.compile(r"[^\W\d_]{2}")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_UNIT_LETTER = re.compile(r"(?<=\d)\s*[DMdm]")
_ANGLE = re.compile(
    r"(?P<before>[NSEWO])?\s*(?P<sign>[+-])?\s*(?P<deg>\d{1,3}(?:\.\d*)?)\s*"
    r"(?:(?:\u00b0|:|-|\s)\s*(?:(?P<min>\d{1,2}(?:\.\d*)?)\s*(?:'|:|-|\s|$|(?=[NSEWO]))\s*"
    r"(?:(?P<sec>\d{1,2}(?:\.\d*)?)\s*(?:\"|'')?\s*)?)?)?(?P<after>[NSEWO])?")


def parse_angle(text: str, axis: str | None = None, o_means: str | None = None) -> tuple[float, str | None]:
    """Degrees of one written coordinate, and the axis that its hemisphere letter names.

    Reads decimal degrees, degrees and minutes, degrees-minutes-seconds, with the usual signs, letters or words,
    the hemisphere before or behind. The arithmetic is lat-lon-parser's; what it would let pass (1234567, a unit
    letter s taken for south) is refused here first.

    Parameters
    ----------
    text : str
    axis : {"lat", "lon"}, optional
        The axis the value should be of.
    o_means : {"E", "W"}, optional
        What the letter O stands for: east (German, Dutch) or west (French, Spanish, Italian, Portuguese).

    Returns
    -------
    value_deg : float
        North and east positive.
    named : "lat", "lon" or None

    Raises
    ------
    ValueError
        With a reason in plain words.
    """
    value = text.translate(_SIGNS).strip(" ,;").rstrip(". ")
    if _WORD.search(value):
        for pattern, sign in _WORDS:
            value = pattern.sub(sign, value)
    value = _DECIMAL_COMMA.sub(".", value).strip()
    if _UNIT_LETTER.search(value):
        value = _with_unit_signs(value)
    value = value.upper()
    match = _ANGLE.fullmatch(value)
    if not match:
        raise ValueError("not a number or a degree that can be read")
    letters = [c for c in (match["before"], match["after"]) if c]
    if len(letters) == 2:
        raise ValueError("two hemisphere letters")
    letter = letters[0] if letters else ""
    if letter == "O":
        if o_means is None:
            raise ValueError("the letter O means east in some languages and west in others; write E or W")
        letter = o_means
    named = "lat" if letter in ("N", "S") and letter else "lon" if letter else None
    if axis and named and named != axis:
        raise ValueError(f"{'latitude' if axis == 'lat' else 'longitude'} with the hemisphere letter {letter}")
    if match["sign"] == "-" and letter in ("N", "E") and letter:
        raise ValueError(f"a minus sign and the hemisphere letter {letter} contradict each other")
    parts = [p.rstrip(".") for p in (match["deg"], match["min"], match["sec"]) if p]
    if any("." in p for p in parts[:-1]):
        raise ValueError("a fraction must stand in the last part only")
    if any(float(p) > 60 for p in parts[1:]):
        raise ValueError("minutes and seconds go up to 60")
    limit = 90 if (named or axis) == "lat" else 180
    degrees = abs(lat_lon_parser.parse(" ".join(parts))) if float(parts[0]) <= 180 else float(parts[0])
    if degrees > limit and (named or len(parts) > 1):
        raise ValueError(f"{'latitude' if limit == 90 else 'longitude'} outside -{limit}..{limit}")
    return (-degrees if match["sign"] == "-" or letter in ("S", "W") and letter else degrees), named


def _with_unit_signs(value: str) -> str:
    """Units written as letters, as signs: in 45d12m30s the last letter is a unit, in 45 12 30 s a hemisphere."""
    if re.fullmatch(r".*\d\s*D.*\d\s*M.*\d\s*S", value):
        raise ValueError("the letter S may mean seconds or south; write 34 55 12 S or 34d55m12s S")
    units = re.fullmatch(r"(.*\d\s*[dD].*?\d\s*[mM]\s*[\d.]+)\s*[sS]\s*([NSEWOnsewo]?)", value)
    if units:
        value = f'{units[1]}"{units[2]}'
    return re.sub(r"(?<=\d)\s*[Dd]", "\u00b0", re.sub(r"(?<=\d)\s*[Mm]", "'", value))


def parse_pair(text: str, o_means: str | None = None) -> tuple[float, float, bool]:
    """Two written coordinates in one text: first, second, and whether letters say that they are lat, lon.

    With letters the result is always (lat, lon, True); without, the order of the text, False.
    Raises ValueError with a reason.
    """
    value = re.sub(r"^geo:", "", text.translate(_SIGNS).strip().strip("()[]{}").strip(), flags=re.IGNORECASE)
    found = []
    for pattern in (r"[;|/]", r",\s", r"\s,", r",", r"\s"):
        for cut in re.finditer(pattern, value):
            try:
                first = parse_angle(value[:cut.start()], None, o_means)
                second = parse_angle(value[cut.end():], None, o_means)
            except ValueError as why:
                last = why
                continue
            halves = [len(re.findall(r"\d+(?:[.,]\d+)?", v)) for v in (value[:cut.start()], value[cut.end():])]
            if halves[0] == halves[1]:
                found.append((first, second))
        if found:
            break
    if not found:
        lone = re.search(r"letter O", str(locals().get("last", "")))
        raise ValueError(str(last) if lone else "not two coordinates that can be read")
    (first, first_axis), (second, second_axis) = found[0]
    if len({(a[0], b[0]) for a, b in found}) > 1:
        raise ValueError("two coordinates, but not clear where the first ends; put a semicolon between them")
    if first_axis and first_axis == second_axis:
        raise ValueError("two latitudes or two longitudes")
    if first_axis == "lon" or second_axis == "lat":
        return second, first, True
    return first, second, bool(first_axis or second_axis)


def from_columns(north: pd.Series, east: pd.Series, decimal: str | None = None) -> Positions:
    """Positions from a column of latitude or y and a column of longitude or x."""
    mark = decimal or find_decimal([north, east]) or "."
    reason = np.full(len(north), "", dtype=object)
    values = {"lat": as_numbers(north, mark), "lon": as_numbers(east, mark)}
    todo = np.flatnonzero(np.isnan(values["lat"]) | np.isnan(values["lon"]))  # what is no plain number
    rest = {axis: as_text(column.iloc[todo]).to_numpy(dtype=object) for axis, column in (("lat", north), ("lon", east))}
    letters = [*rest["lat"], *rest["lon"]]
    o_means = o_letter(letters, f"{north.name} {east.name}") if _any_o(letters) else None
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
    if o_means:
        notes += (f"hemisphere letter O read as {'east' if o_means == 'E' else 'west'}",)
    return Positions(values["lon"], values["lat"], reason, (north, east), None, notes)


def _hidden_note(count: int) -> tuple[str, ...]:
    return (f"{count} positions hold a typographic minus or a hidden blank; read as the number meant",) if count else ()


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


def _any_o(values: list[str]) -> bool:
    return re.search(r"[\d\s\"'\u2033\u2032]O(?![A-Z])|(?:^|\x1f)O(?![A-Z])", "\x1f".join(values).upper()) is not None


def o_letter(values: list, headings: str = "") -> str | None:
    """What a lone O stands for in this list: by the other letters in it, else by the language of the headings."""
    joined = "\x1f".join(str(v).upper() for v in values)
    west = re.search(r"(?<![A-Z])W(?![A-Z])", joined)
    east = re.search(r"(?<![A-Z])E(?![A-Z])", joined)
    if bool(west) != bool(east):
        return "E" if west else "W"
    if re.search(r"breite|l(?:ä|ae)nge|breedte|lengte", headings, re.IGNORECASE):
        return "E"
    if re.search(r"latitud\b|longitud\b|latitudine|longitudine|coord[eo]n|position géo", headings, re.IGNORECASE):
        return "W"
    return None


_PLAIN_PAIR = r"^[\s(\[]*([+-]?\d+(?:\.\d+)?)\s*(?:[,;\s|/]\s*)([+-]?\d+(?:\.\d+)?)[\s)\]]*$"


def from_text(column: pd.Series, heading: str = "") -> Positions:
    """Positions from one column that holds "lat, lon" texts or WKT points.

    The order is lat, lon unless the heading says otherwise ("lon lat", "x, y") or the values cannot be lat first.
    """
    text, hidden = tidy(column)
    if text.str.contains(r"^(?:SRID=\d+;)?\s*(?:MULTI|POINT|LINESTRING|POLYGON|GEOMETRY)", case=False).any():
        return _from_wkt(text)
    found = text.str.extract(_PLAIN_PAIR)
    first, second = (pd.to_numeric(found[i]).to_numpy(dtype=float, copy=True) for i in (0, 1))
    reason = np.full(len(text), "", dtype=object)
    lettered = np.zeros(len(text), dtype=bool)
    todo = np.flatnonzero(np.isnan(first))
    o_means = o_letter(list(text), heading) if len(todo) and _any_o(list(text)) else None
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


def _from_wkt(text: pd.Series) -> Positions:
    parts = text.str.extract(r"^(?:SRID=(\d+);)?\s*(.*)$", flags=re.IGNORECASE)
    with np.errstate(all="ignore"):
        geometry = shapely.from_wkt(parts[1].to_numpy(dtype=object), on_invalid="ignore")
    ids = list(parts[0].value_counts().index)  # the commonest first
    read = from_geometry(gpd.GeoSeries(geometry))
    reason = np.array([("no position" if not t else "not a WKT geometry that can be read") if g is None else r
                       for t, g, r in zip(text, geometry, read.reason)], dtype=object)
    if len(ids) > 1:
        other = (parts[0].notna() & (parts[0] != ids[0])).to_numpy()
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
            notes.append(f"{count} features are {word}, not points: a point of each, inside it, is used")
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
