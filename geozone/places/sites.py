"""The site list: any file in, checked sites out, and every row that could not be used with its reason."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..errors import InputError, PlanCheckError
from ..plurals import counted
from ..schema.site_columns import SITES
from . import coordinates
from .columns import Columns, find_columns, option
from .coordinates import Positions
from .loads import read_loads
from .numerals import as_numbers, check_decimal, find_decimal, tidy
from .placing import placed
from .siteids import mark_repeats, read_ids, read_zones
from .tables import Table, as_text, read_tables

RESERVED = ("site_id", "name", "lat_deg", "lon_deg", "legal_zone_given", "load_w", "row")
# As tables of earlier versions call the result, its share of the tolerance and the proof sites.
EARLIER = ("tolerance_factor", "verdict", "witness")
# What a run adds to the table later; a list that was one of our own tables may have them already.
# "programme" is not among them: it is the user's, who says by it which site runs which.
ADDED = (*(name for name in SITES.names if name not in (*RESERVED, "programme")), "solar_lon_deg", *EARLIER)
REJECT_COLUMNS = ("file", "row", "value", "reason")
#: Page sizes at which data portals and map services cut an answer unless asked for more. Common practice, no source.
_PAGE_SIZES = {1000, 2000, 2500, 3000, 4000, 5000, 10_000, 20_000, 25_000, 32_000, 50_000, 100_000}
#: Rows of a sheet (.xls 65,536; .xlsx 1,048,576), less the headings.
_SHEET_ENDS = {65_535, 1_048_575}
_TOTALS = re.compile(r"\W*(?:grand total|totals?|sum|summe|gesamt|insgesamt|somme|suma|totale|totaal|razem|celkem|összesen|"
                     r"итого|всего|σύνολο|toplam|合計|总计|總計|합계)\b", re.IGNORECASE)
#: Longer cells are cut in the rejects table and in messages.
LONGEST_VALUE = 200


@dataclass(frozen=True)
class SiteReading:
    """How to read a site list; None = find out and say so. Column names are as in the file.

    Attributes
    ----------
    site_id, name, lat, lon, position, legal_zone, load_w : str or None
        Columns. `lat` and `lon` may also be projected y and x; `position` is one column with both or WKT.
    crs : str or None
        Coordinate reference system, "EPSG:7854" or WKT; wins over the file's own.
    encoding, separator, decimal : str or None
        Of a text file.
    layer : str or None
        Sheet of a workbook or layer of a map file.
    """

    site_id: str | None = None
    name: str | None = None
    lat: str | None = None
    lon: str | None = None
    position: str | None = None
    legal_zone: str | None = None
    load_w: str | None = None
    crs: str | None = None
    encoding: str | None = None
    separator: str | None = None
    decimal: str | None = None
    layer: str | None = None


@dataclass(frozen=True)
class SiteList:
    """What was read.

    Attributes
    ----------
    sites : GeoDataFrame, EPSG:4326 points, RangeIndex
        site_id, name, lat_deg, lon_deg, legal_zone_given, load_w [W, NaN unknown], row, then the file's own columns.
    rejects : DataFrame
        file, row, value, reason: one line for each row that was not used.
    notes : tuple of str
        What was found out, guessed or changed, one plain line each.
    separator, decimal : str or None
        How a text file is written; None where it is none, has one column, or no number in it tells.
    """

    sites: gpd.GeoDataFrame
    rejects: pd.DataFrame
    notes: tuple[str, ...]
    separator: str | None = None
    decimal: str | None = None

    @property
    def read(self) -> int:
        """Rows read: used and rejected, nothing else."""
        return len(self.sites) + len(self.rejects)


def read_sites(path: str | Path, reading: SiteReading = SiteReading(), outlines: np.ndarray | None = None) -> SiteList:
    """The sites of a list in any of the file kinds that `tables` reads.

    Row numbers are those that a person sees: the headings of a plain list are row 1; features of a map file
    count from 1. A row is used or rejected, never dropped.

    Parameters
    ----------
    path : path-like
    reading : SiteReading
    outlines : ndarray of shapely geometry, optional
        In degrees, where the sites should lie: coordinate reference systems are tested against them.

    Raises
    ------
    InputError
        If the file cannot be read, its columns cannot be told, its CRS is missing or wrong, or no row is usable.
    """
    check_decimal(reading.decimal)
    return sites_in(read_tables(path, encoding=reading.encoding, separator=reading.separator, layer=reading.layer), reading, outlines)


def sites_in(tables: tuple[Table, ...], reading: SiteReading = SiteReading(), outlines: np.ndarray | None = None) -> SiteList:
    """The sites of the one of a file's tables that holds them; the rest is as for `read_sites`.

    Raises
    ------
    InputError
    """
    decimal = check_decimal(reading.decimal)
    notes: list[str] = [note for table in tables for note in table.notes] if len(tables) == 1 else []
    try:
        return _checked(tables, reading, decimal, outlines, notes)
    except InputError as why:
        raise why.noted(notes) from None


def _checked(tables: tuple[Table, ...], reading: SiteReading, decimal: str | None, outlines: np.ndarray | None,
             notes: list[str]) -> SiteList:
    """The sites of the one table that holds them; `notes` grows as things are found out, also where it ends in an error."""
    table, columns = _choose(tables, reading)
    notes += [*table.notes, *columns.notes]
    positions = positions_of(table, columns, decimal)
    notes += [f"{table.where}: {note}" for note in positions.notes]
    lat, lon, reason, more = placed(table, columns, positions, reading.crs, outlines)
    notes += more
    ids, id_notes = read_ids(table, columns)
    notes += id_notes
    zones, shown = read_zones(table, columns.legal_zone, reason)
    mark_repeats(ids, table, reason, shown)
    mark = decimal or _file_decimal(table, columns)
    load_w, load_notes = read_loads(table, columns.load_w, mark, reason == "")
    notes += load_notes

    used = reason == ""
    notes += _whole(table)
    for spot in np.flatnonzero(reason == "no position").tolist():
        if _TOTALS.match(next(filter(None, (c.strip() for c in as_text(table.frame.iloc[spot]))), "")):
            reason[spot] = "a row of totals, not a site: no position"
        shown[spot] = "" if ids[spot] == f"{table.row_word}-{table.row[spot]}" else ids[spot]
    rejects = _rejects(table, positions, shown, reason)
    if table.filled is not None and int(used.sum()) + len(rejects) != table.filled:
        raise PlanCheckError(f"{table.where}: {table.filled} rows were filled, {int(used.sum())} are used and "
                             f"{len(rejects)} rejected")
    if not used.any():
        raise _nothing_usable(table, rejects)
    name = tidy(table.frame[columns.name])[0] if columns.name else _blank(table)
    first = {"site_id": ids, "name": name, "lat_deg": lat, "lon_deg": lon, "legal_zone_given": zones,
             "load_w": load_w, "row": table.row}
    data = {key: np.asarray(value, dtype=object)[used] if getattr(value, "dtype", None) == object  # noqa: E721 (a dtype, not a class)
            else pd.Series(value)[used].reset_index(drop=True) for key, value in first.items()}
    spent = {columns.site_id, columns.name, columns.legal_zone}
    # a column whose numbers stand in ours already would only be found twice when the result is read again
    for column, values in ((columns.lat, lat), (columns.lon, lon), (columns.load_w, load_w)):
        if column and _same_numbers(table.frame[column], values, used, mark):
            spent.add(column)
    data.update(_own_columns(table, spent, used, notes))
    points = shapely.points(lon[used], lat[used])
    sites = gpd.GeoDataFrame(data, geometry=points, crs="EPSG:4326")
    together = int(sites.duplicated(["lat_deg", "lon_deg"]).sum())
    if together:
        notes.append(f"{table.where}: {counted(together, 'site stands', 'sites stand')} at the position of another site; all are kept")
    return SiteList(sites, rejects, tuple(dict.fromkeys(notes)), table.separator,
                    None if table.separator is None else mark or _other_decimal(table, columns))


def _whole(table: Table) -> list[str]:
    """A question where the number of rows is one at which services, databases and sheets stop."""
    rows = table.filled if table.filled is not None else len(table.frame)
    if rows in _SHEET_ENDS:
        return [f"{table.where}: the list has {rows:,} rows, as many as a sheet of some spreadsheet programs holds under one "
                "row of headings. Look whether sites are missing at its end"]
    if rows in _PAGE_SIZES:
        return [f"{table.where}: the list has exactly {rows:,} rows. Portals and services cut their answers at such numbers: "
                "look whether the list is whole, and fetch the remaining pages if it is not"]
    return []


def _choose(tables: tuple[Table, ...], reading: SiteReading) -> tuple[Table, Columns]:
    """The one table that holds sites; two are refused with both named."""
    stated = {key: getattr(reading, key) for key in ("lat", "lon", "position", "site_id", "name", "legal_zone",
                                                     "load_w")}
    fitting, whys = [], []
    for table in tables:
        try:
            fitting.append((table, find_columns(table, stated)))
        except InputError as why:
            whys.append((len(table.frame), why))
    fitting = [f for f in fitting if len(f[0].frame) or f[0].faults] or fitting
    if len(fitting) > 1:  # a layer of points is the list, an outline beside it is not
        points = [f for f in fitting if f[0].geometry is None or f[0].geometry.geom_type.isin(
            ["Point", "MultiPoint"]).any()]
        fitting = points or fitting
    if len(fitting) > 1:
        names = [t.layer for t, _ in fitting]
        raise InputError(f"several tables may be the site list: {', '.join(map(repr, names[:6]))}",
                         where=tables[0].file, next_step=f"state {option('layer', names[0])} or another of them")
    if not fitting:
        raise max(whys, key=lambda item: item[0])[1]  # the longest table is the likeliest list
    table, columns = fitting[0]
    if not len(table.frame) and not table.faults:
        raise InputError("the list holds no sites", where=table.where, next_step="export it again")
    return table, columns


def positions_of(table: Table, columns: Columns, decimal: str | None) -> Positions:
    """The two numbers of every row, degrees or projected, as its columns or its geometry give them."""
    if columns.position:
        return coordinates.from_text(table.frame[columns.position], columns.position)
    if columns.lat:
        return coordinates.from_columns(_joined(table, columns.lat, columns.lat_parts),
                                        _joined(table, columns.lon, columns.lon_parts), decimal)
    return coordinates.from_geometry(table.geometry)


def _joined(table: Table, column: str, parts: tuple[str, ...]) -> pd.Series:
    """A column of degrees, with its minutes, seconds and hemisphere behind each number where they have columns."""
    if not parts:
        return table.frame[column]
    texts = [as_text(table.frame[c]).str.strip() for c in (column, *parts)]
    # a heading of letters or minutes without degrees is no position
    joined = [" ".join(filter(None, cells)) if cells[0] else "" for cells in zip(*texts)]
    return pd.Series(joined, index=table.frame.index, dtype="str", name=column)


def _file_decimal(table: Table, columns: Columns) -> str | None:
    """The decimal mark that the coordinates show, for the other numbers of the file."""
    if not columns.lat:
        return None
    return find_decimal([table.frame[columns.lat], table.frame[columns.lon]])


def _other_decimal(table: Table, columns: Columns) -> str | None:
    """The decimal mark of loads, or of positions in one column, where no coordinates in columns of their own show one."""
    mark = find_decimal([table.frame[columns.load_w]]) if columns.load_w else None
    if mark is None and columns.position:
        numbers = as_text(table.frame[columns.position]).str.split(r"[;\s]+|,\s+", regex=True).explode()
        mark = find_decimal([numbers.astype("str")])
    return mark


def _rejects(table: Table, positions: Positions, shown: dict[int, str], reason: np.ndarray) -> pd.DataFrame:
    bad = np.flatnonzero(reason != "")
    lines = [(table.file, int(table.row[i]), shown.get(int(i), "") or positions.shown(i), str(reason[i])) for i in bad]
    lines += [(table.file, row, value, why) for row, value, why in table.faults]
    lines.sort(key=lambda line: line[1])
    frame = pd.DataFrame(lines, columns=list(REJECT_COLUMNS))
    frame["value"] = [v if len(v) <= LONGEST_VALUE else v[:LONGEST_VALUE - 1] + "…" for v in frame["value"]]
    return frame.astype({"file": "str", "row": "int64", "value": "str", "reason": "str"})


def _nothing_usable(table: Table, rejects: pd.DataFrame) -> InputError:
    top = Counter(rejects["reason"]).most_common(3)
    exchanged = sum(count for why, count in top if "exchanged" in why) > len(rejects) / 2
    return InputError("the one row cannot be used" if len(rejects) == 1 else f"none of the {len(rejects):,} rows can be used",
                      where=table.where,
                      value=rejects["value"].iloc[0],
                      rule="; ".join(f"{count} x {why}" for why, count in top),
                      next_step=(f"if the two columns are exchanged, state {option('lat')} and {option('lon')}"
                                 if exchanged else "mend the list or state its columns under [columns]"))


def _own_columns(table: Table, spent: set[str | None], used: np.ndarray, notes: list[str]) -> dict[str, pd.Series]:
    """The file's other columns as they are; a clash with one of ours gets the suffix _given."""
    own: dict[str, pd.Series] = {}
    for column in table.frame.columns:
        if column in spent:
            continue
        values = table.frame[column][used].reset_index(drop=True)
        if values.dtype == object:  # cells of several kinds: one kind of text, so that every format can hold them
            values = as_text(values)
        name, before = column, {*RESERVED, *ADDED, "geometry", *own}
        while name.casefold() in {b.casefold() for b in before}:
            name += "_given"
        if name != column:
            notes.append(f'{table.where}: its column "{column}" is kept as "{name}"')
        own[name] = values
    return own


def _same_numbers(column: pd.Series, values: np.ndarray, used: np.ndarray, mark: str | None) -> bool:
    if not (isinstance(column.dtype, pd.StringDtype) or pd.api.types.is_numeric_dtype(column.dtype)):
        return False
    column = column[used]
    read = as_numbers(column, mark or ".")
    return np.array_equal(read, values[used], equal_nan=True) and not as_text(column[np.isnan(read)]).str.strip().any()


def _blank(table: Table) -> pd.Series:
    return pd.Series([""] * len(table.row), dtype="str")
