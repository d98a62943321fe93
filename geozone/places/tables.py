"""Any file that people keep a list in, as tables with the row numbers that they see."""

from __future__ import annotations

import datetime as dt
import difflib
import errno
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from ..errors import InputError
from . import delimited, geofiles, limits, workbooks

TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".ods")
ENDINGS = TEXT_ENDINGS + BOOK_ENDINGS + tuple(geofiles.DRIVERS)
#: Rows looked at to find the headings: lists carry a title, a date and a blank line above them.
HEADING_ROWS = 25


@dataclass(frozen=True)
class Table:
    """One table of a file.

    Attributes
    ----------
    file : str
        File name, without its folder.
    layer : str
        Sheet or layer; "" for a file that has none.
    frame : DataFrame
        A column per heading. Cells of text files are str; typed cells keep their type; blank is "" or NaN.
    row : ndarray of int
        For each row of `frame` the number that a person sees: the row in the spreadsheet
        (the headings of a plain list are row 1), or the number of the feature counted from 1.
    geometry : GeoSeries or None
        Positions of a map file, with its coordinate reference system where it names one.
    separator : str or None
        Of a text file.
    faults : tuple of (int, str, str)
        Rows that cannot belong to `frame`: row, what stood there, reason.
    notes : tuple of str
    """

    file: str
    layer: str
    frame: pd.DataFrame
    row: np.ndarray
    geometry: gpd.GeoSeries | None = None
    separator: str | None = None
    faults: tuple[tuple[int, str, str], ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def where(self) -> str:
        """The file and, if it has several tables, which one."""
        return f"{self.file}, {self.layer!r}" if self.layer else self.file


def read_tables(path: str | Path, *, encoding: str | None = None, separator: str | None = None,
                layer: str | None = None) -> tuple[Table, ...]:
    """All tables of a file: one of a text file, one per filled sheet or layer otherwise.

    Raises
    ------
    InputError
        If the file is missing, of an unknown kind, unreadable or empty.
    """
    path = find_file(path)
    ending = path.suffix.lower()
    if ending in TEXT_ENDINGS:
        limits.check_size(path, limits.MOST_TEXT_BYTES)
        data = path.read_bytes()
        _refuse_disguise(data, path.name)
        rows, found, notes = delimited.read_rows(data, path.name, encoding, separator)
        if layer:
            notes += (f"{path.name}: a text file has no layers; the stated layer {layer!r} is not used",)
        return (_from_rows(rows, path.name, "", found, notes),)
    if ending in BOOK_ENDINGS:
        sheets = workbooks.read_sheets(path, layer)
        tables, whys = [], []
        for name, rows in sheets:
            try:
                tables.append(_from_rows(rows, path.name, name if len(sheets) > 1 or layer else "", None, ()))
            except InputError as why:  # a sheet of remarks beside the list is no mistake
                whys.append(why)
        if not tables:
            raise whys[0]
        return tuple(tables)
    layers = geofiles.read_layers(path, layer, encoding)
    return tuple(_from_layer(frame, path.name, name if len(layers) > 1 or layer else "", notes)
                 for name, frame, notes in layers)


def find_file(path: str | Path) -> Path:
    """The path, if it is a file of a kind that can be read; else an InputError that helps.

    Only files on this machine's disk: an address such as https://... is a missing file here.
    """
    path = Path(path)
    if "\x00" in str(path):
        raise InputError("the file name holds a character that no file name can hold", value=str(path))
    try:
        path.lstat()
    except OSError as why:
        if why.errno in (errno.ENAMETOOLONG, errno.ELOOP, errno.EACCES, errno.EINVAL):
            raise InputError("there can be no such file", where=str(path)[:200], value=why.strerror,
                             next_step="check the name") from None
    if path.is_dir():
        inside = sorted(p.name for p in path.iterdir() if p.suffix.lower() in ENDINGS)[:5]
        raise InputError("this is a folder, not a file", where=str(path),
                         next_step="name the file in it" + (": " + ", ".join(inside) if inside else ""))
    if not path.exists():
        raise InputError("there is no such file", where=str(path), next_step=_suggest(path))
    if not path.is_file():
        raise InputError("this is not a plain file", where=str(path), next_step="copy the list into a file of its own")
    if path.suffix.lower() not in ENDINGS:
        extra = ("save it as .xlsx" if path.suffix.lower() == ".xls" else
                 "export it as CSV, XLSX, GeoJSON, GeoPackage, Shapefile or FlatGeobuf")
        raise InputError("files of this kind are not read", where=path.name, value=path.suffix or "no extension",
                         rule="one of " + " ".join(ENDINGS), next_step=extra)
    try:
        with path.open("rb") as stream:
            empty = not stream.read(1)
    except OSError as why:
        raise InputError("the file cannot be opened", where=str(path), value=why.strerror,
                         next_step="close it in other programs and check who may read it") from None
    if empty:
        raise InputError("the file is empty", where=path.name, next_step="export it again")
    return path


def _suggest(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"the folder {folder} does not exist either"
    names = sorted(p.name for p in folder.iterdir() if p.is_file() and p.suffix.lower() in ENDINGS)
    lower = {name.lower(): name for name in names}
    near = difflib.get_close_matches(path.name.lower(), lower, n=3, cutoff=0.5)
    if near:
        return "did you mean " + " or ".join(lower[n] for n in near) + "?"
    if names:
        return "files there: " + ", ".join(names[:5]) + (" ..." if len(names) > 5 else "")
    return f"the folder {folder.resolve()} holds no list or map file"


def _refuse_disguise(data: bytes, file: str) -> None:
    kinds = ((workbooks.OLE_MAGIC, "an old .xls workbook", "save it as .xlsx"),
             (b"PK\x03\x04", "a workbook or an archive", "give it the extension .xlsx or .zip, whichever it is"),
             (b"%PDF", "a PDF", "ask for the list itself as CSV or XLSX"),
             (b"SQLite format 3\x00", "a GeoPackage or database", "give it the extension .gpkg"))
    for magic, kind, cure in kinds:
        if data.startswith(magic):
            raise InputError(f"this is {kind}, not text", where=file, next_step=cure)
    if re.match(rb"\s*<(!doctype|html|table|\?xml)", data[:200], re.IGNORECASE):
        raise InputError("this is a web page or XML, not a CSV", where=file,
                         next_step="open it in the spreadsheet program and save it as CSV or .xlsx")


def _blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and (not cell or cell.isspace()))


_NUMBER = re.compile(r"\s*[+\-\u2212]?\d+([.,]\d+)?\s*")


def _is_number(cell: object) -> bool:
    if isinstance(cell, str):
        return bool(_NUMBER.fullmatch(cell))
    return isinstance(cell, (int, float)) and not isinstance(cell, bool)


def _from_rows(rows: list[list], file: str, layer: str, separator: str | None, notes: tuple[str, ...]) -> Table:
    where = f"{file}, {layer!r}" if layer else file
    filled = [i for i, row in enumerate(rows[:HEADING_ROWS * 4]) if not all(_blank(c) for c in row)]
    if not filled:
        raise InputError("there is nothing in the table", where=where, next_step="export the list again")
    width = Counter(sum(not _blank(c) for c in rows[i]) for i in filled[:100]).most_common(1)[0][0]
    head = next((i for i in filled[:HEADING_ROWS]
                 if sum(not _blank(c) for c in rows[i]) >= max(1, 0.6 * width)), filled[0])
    cells = [c for c in rows[head] if not _blank(c)]
    numbers = [c for c in cells if _is_number(c)]
    if len(numbers) > 0.5 * len(cells) or sum("." in str(c) or "," in str(c) for c in numbers) >= 2:
        raise InputError("the first row holds numbers, not the names of the columns", where=f"{where}, row {head + 1}",
                         value=" ".join(str(c) for c in cells[:6]),
                         next_step="put a row of names above the list, for example: site_id, lat, lon")
    if head:
        notes += (f"{where}: the headings were found in row {head + 1}; the rows above are not sites",)
    last = max(i for i, c in enumerate(rows[head]) if not _blank(c)) + 1
    limits.check_table(len(rows), last, where)
    body, row, faults = [], [], []
    for number in range(head + 1, len(rows)):
        cells = rows[number]
        if len(cells) != last:
            extra = cells[last:]
            if any(not _blank(c) for c in extra):
                if separator is not None:
                    faults.append((number + 1, separator.join(map(str, cells)),
                                   f"{len(cells)} values under {last} headings; a text or a decimal comma that "
                                   "holds the separator must stand in quotation marks"))
                    continue
                limits.check_table(len(rows), len(cells), where)
                last = len(cells)  # a sheet with data beside the last heading: keep it, unnamed
            cells = cells[:last] + [""] * (last - len(cells))
        if not any(map(str.strip, cells)) if separator is not None else all(_blank(c) for c in cells):
            continue  # a blank line is no site; the numbers of the rows below stay true
        body.append(cells)
        row.append(number + 1)
    if not body and not faults:
        raise InputError("there are headings but no rows under them", where=where,
                         next_step="export the list again and look that rows are selected")
    names = _headings(list(rows[head][:last]) + [""] * (last - len(rows[head])))
    body = [cells + [""] * (last - len(cells)) for cells in body] if separator is None else body
    columns = list(zip(*body)) if body else [()] * last
    typed = separator is None and any(not isinstance(c, str) for column in columns for c in column[:200])
    named = [not _blank(c) for c in rows[head][:last]] + [False] * (last - len(rows[head]))
    data = {name: (_typed(column) if typed else pd.Series(column, dtype="str"))
            for name, column, has_name in zip(names, columns, named)
            if has_name or not all(_blank(c) for c in column)}
    return Table(file, layer, pd.DataFrame(data), np.asarray(row, dtype=np.int64), None, separator,
                 tuple(faults), notes)


def _headings(cells: list) -> list[str]:
    """Headings as unique, visible text: blank ones are numbered, repeated ones get (2)."""
    names: dict[str, int] = {}  # and how often it stood there
    for position, cell in enumerate(cells, 1):
        name = " ".join(re.sub(r"[\u200b-\u200f\u2060\ufeff\u00ad]", "", shown(cell)).split()) or f"column {position}"
        base = name
        while name in names:
            names[base] += 1
            name = f"{base} ({names[base]})"
        names[name] = 1
    return list(names)


def _typed(column: tuple) -> pd.Series:
    """A column of sheet cells: numbers as numbers, dates as dates, anything mixed as it is (object)."""
    filled = [c for c in column if not _blank(c)]
    if filled and all(isinstance(c, (int, float)) and not isinstance(c, bool) for c in filled):
        values = np.array([np.nan if _blank(c) else float(c) for c in column])
        if len(filled) == len(column) and np.all(values == np.rint(values)) and np.all(np.abs(values) < 2**53):
            return pd.Series(values.astype(np.int64))
        return pd.Series(values)
    if filled and all(isinstance(c, (dt.date, dt.datetime)) for c in filled):
        return pd.Series([None if _blank(c) else pd.Timestamp(c) for c in column], dtype="datetime64[s]")
    if all(isinstance(c, str) for c in column):
        return pd.Series(column, dtype="str")
    return pd.Series(column, dtype=object)


def shown(cell: object) -> str:
    """A cell as a spreadsheet shows it: 12.0 as 12, a date without a midnight, blank as ""."""
    if cell is None or cell is pd.NaT:
        return ""
    if isinstance(cell, (float, np.floating)):
        if np.isnan(cell):
            return ""
        return str(int(cell)) if abs(cell) < 1e15 and cell == int(cell) else repr(float(cell))
    if isinstance(cell, (dt.datetime, pd.Timestamp)):
        return cell.date().isoformat() if (cell.hour, cell.minute, cell.second) == (0, 0, 0) else cell.isoformat(" ")
    return str(cell)


def as_text(column: pd.Series) -> pd.Series:
    """A column of any type as text; blank and NaN as "", whole numbers without ".0"."""
    if isinstance(column.dtype, pd.StringDtype):
        return column.fillna("").astype("str")
    return pd.Series([shown(c) for c in column], index=column.index, dtype="str", name=column.name)


def _from_layer(frame: pd.DataFrame, file: str, layer: str, notes: tuple[str, ...]) -> Table:
    geometry = None
    if isinstance(frame, gpd.GeoDataFrame):
        geometry = frame.geometry.reset_index(drop=True)
        frame = pd.DataFrame(frame.drop(columns=frame.geometry.name))
    frame = frame.reset_index(drop=True)
    frame.columns = _headings(list(frame.columns))
    if frame.shape[0] == 0:
        notes += (f"{file}: layer {layer or file!r} holds no feature",)
    return Table(file, layer, frame, np.arange(1, len(frame) + 1), geometry, None, (), notes)
