"""Any file that people keep a list in, as tables with the row numbers that they see."""

from __future__ import annotations

import datetime as dt
import difflib
import errno
import json
import re
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from ..errors import InputError
from . import delimited, geofiles, jsonlists, limits, packedlists, workbooks
from .cells import blank, shown
from .endings import BOOK_ENDINGS, ENDINGS, IN_ZIP, JSON_ENDINGS, MAP_FORMATS, OLD_ENDINGS, TEXT_ENDINGS
from .headingrows import find_headings, heading_again, unique_names, unnamed


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
    filled : int or None
        Rows under the headings that are not blank, counted apart from `frame` and `faults`, which together hold them.
    heading_row : int or None
        Row of the headings, the last of them where they stand in several, as a person counts; None where the file has no rows of headings.
    """

    file: str
    layer: str
    frame: pd.DataFrame
    row: np.ndarray
    geometry: gpd.GeoSeries | None = None
    separator: str | None = None
    faults: tuple[tuple[int, str, str], ...] = ()
    notes: tuple[str, ...] = field(default=())
    filled: int | None = None
    heading_row: int | None = None

    @property
    def where(self) -> str:
        """The file and, if it has several tables, which one."""
        return f"{self.file}, {self.layer!r}" if self.layer else self.file

    @property
    def row_word(self) -> str:
        """What a person counts in this file: features of a map file, rows of a list."""
        return "feature" if self.geometry is not None else "row"


def read_tables(path: str | Path, *, encoding: str | None = None, separator: str | None = None,
                layer: str | None = None) -> tuple[Table, ...]:
    """All tables of a file, or of a GeoDataFrame: one of a text file, one per filled sheet or layer otherwise.

    Raises
    ------
    InputError
        If the file is missing, of an unknown kind, unreadable or empty.
    """
    if isinstance(path, pd.DataFrame):  # a table in memory; features are counted from 1, as those of a map file
        return (_from_layer(path, "the table in memory", "", ()),)
    path = find_file(path)
    ending = path.suffix.lower()
    if ending in TEXT_ENDINGS:
        limits.check_size(path, limits.MOST_TEXT_BYTES)
        data = path.read_bytes()
        _refuse_disguise(data, path.name)
        rows, found, notes = delimited.read_rows(data, path.name, encoding, separator)
        if layer:
            notes += (f"{path.name}: a text file has no layers; the stated layer {layer!r} is not used",)
        try:
            return (_from_rows(rows, path.name, "", found, notes),)
        except InputError as why:
            raise why.noted(notes) from None
    if ending in BOOK_ENDINGS:
        sheets = workbooks.read_sheets(path, layer)
        lists, whys = [], []
        for name, sheet_rows in sheets:
            try:
                lists.append(_from_rows(sheet_rows, path.name, name if len(sheets) > 1 or layer else "", None, ()))
            except InputError as why:  # a sheet of remarks beside the list is no mistake
                whys.append(why)
        if not lists:
            raise whys[0]
        return tuple(lists)
    if ending == ".zip" and (inside := packedlists.lone_list(path, layer, IN_ZIP)):
        with tempfile.TemporaryDirectory(prefix="geozone-") as folder:
            real = packedlists.unpacked(path, inside, Path(folder))
            tables = read_tables(real, encoding=encoding, separator=separator, layer=None if layer == inside else layer)
        return tuple(replace(table, file=f"{path.name}: {real.name}") for table in tables)
    if ending in JSON_ENDINGS:
        tables = _from_json(path, layer, encoding)
        if tables:
            return tables
    layers = geofiles.read_layers(path, layer, encoding)
    return tuple(_from_layer(frame, path.name, name if len(layers) > 1 or layer else "", notes)
                 for name, frame, notes in layers)


def find_file(path: str | Path) -> Path:
    """The path, if it is a file of a kind that can be read; else an InputError that helps.

    Only files on this machine's disk: an address such as https://... is a missing file here.
    """
    path = Path(path)
    if "\x00" in str(path):
        raise InputError("the file name holds a character that no file name can hold", value=str(path), next_step="check the name")
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
        extra = ("save it as .xlsx" if path.suffix.lower() in OLD_ENDINGS else
                 f"export it as CSV, XLSX, {MAP_FORMATS}")
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


def _from_rows(rows: list[list], file: str, layer: str, separator: str | None, notes: tuple[str, ...]) -> Table:
    """A table from the rows of a text file or a sheet.

    Every filled row under the headings is a row of the table or one of its faults.

    Raises
    ------
    InputError
        If there are no headings or nothing under them.
    """
    where = f"{file}, {layer!r}" if layer else file
    block = find_headings(rows, where)
    names, last = list(block.names), len(block.names)
    if block.first > 0:
        notes += (f"{where}: the headings were found in row {block.first + 1}; the rows above are not sites",)
    if block.last > block.first:
        notes += (f"{where}: the headings stand in {block.last - block.first + 1} rows, {block.first + 1} to "
                  f"{block.last + 1}: " + ", ".join(f'"{n}"' for n in names[:12]) + (" ..." if last > 12 else ""),)
    limits.check_table(len(rows), last, where)
    body, row, faults, filled, second = [], [], [], 0, None
    for number in range(block.last + 1, len(rows)):
        cells = rows[number]
        if not any(map(str.strip, cells)) if separator is not None else all(blank(c) for c in cells):
            continue  # a blank line is no site; the numbers of the rows below stay true
        filled += 1
        heading = heading_again(cells, names) if not second and not _holds_digit(cells) else None
        if heading == "another":
            second = number + 1
        if heading or second:
            faults.append((number + 1, (separator or " ").join(map(shown, cells)),
                           "the row of headings again" if heading == "same" else
                           "a second row of headings: another table" if heading else
                           f"stands under a second row of headings, row {second}: another table; put it on a sheet or in "
                           "a file of its own"))
            continue
        if len(cells) != last:
            extra = cells[last:]
            if any(not blank(c) for c in extra):
                if separator is not None:
                    faults.append((number + 1, separator.join(map(str, cells)),
                                   f"{len(cells)} values under {last} headings; a text or a decimal comma that "
                                   "holds the separator must stand in quotation marks"))
                    continue
                limits.check_table(len(rows), len(cells), where)
                # a sheet with data beside the last heading: keep it, unnamed
                names += [unnamed(position) for position in range(last + 1, len(cells) + 1)]
                last = len(cells)
            cells = cells[:last] + [""] * (last - len(cells))
        body.append(cells)
        row.append(number + 1)
    if not body and not faults:
        raise InputError("there are headings but no rows under them", where=where,
                         next_step="export the list again and look that rows are selected")
    if separator == "," and len(faults) > 0.8 * filled and all(
            re.search(r"\d,\d", text) and "values under" in why for _, text, why in faults):
        raise InputError("the comma stands between the columns and is the decimal mark too", where=f"{where}, row {faults[0][0]}",
                         value=faults[0][1], rule=f"{len(faults)} of {filled} rows have more values than the {last} headings",
                         next_step="export the list again with semicolons between the columns, or with decimal points, or with "
                         "numbers in quotation marks")
    body = [cells + [""] * (last - len(cells)) for cells in body] if separator is None else body
    columns = list(zip(*body)) if body else [()] * last
    typed = separator is None and any(not isinstance(c, str) for column in columns for c in column[:200])
    named = [*block.named] + [False] * (last - len(block.named))
    data = {name: (_typed(column) if typed else pd.Series(column, dtype="str"))
            for name, column, has_name in zip(names, columns, named)
            if has_name or not all(blank(c) for c in column)}
    return Table(file, layer, pd.DataFrame(data), np.asarray(row, dtype=np.int64), None, separator,
                 tuple(faults), notes, filled, block.last + 1)


def _holds_digit(cells: list) -> bool:
    try:
        return _DIGIT.search("".join(cells)) is not None
    except TypeError:  # a sheet's row with a number in it
        return True


_DIGIT = re.compile(r"\d")


def _typed(column: tuple) -> pd.Series:
    """A column of sheet cells: numbers as numbers, dates as dates, anything mixed as it is (object)."""
    filled = [c for c in column if not blank(c)]
    if filled and all(isinstance(c, (int, float)) and not isinstance(c, bool) for c in filled):
        values = np.array([np.nan if blank(c) else float(c) for c in column])
        if len(filled) == len(column) and np.all(values == np.rint(values)) and np.all(np.abs(values) < 2**53):
            return pd.Series(values.astype(np.int64))
        return pd.Series(values)
    if filled and all(isinstance(c, (dt.date, dt.datetime)) for c in filled):
        return pd.Series([None if blank(c) else pd.Timestamp(c) for c in column], dtype="datetime64[s]")
    if all(isinstance(c, str) for c in column):
        return pd.Series(column, dtype="str")
    return pd.Series(column, dtype=object)


def as_text(column: pd.Series) -> pd.Series:
    """A column of any type as text; blank and NaN as "", whole numbers without ".0"."""
    if isinstance(column.dtype, pd.StringDtype):
        return column.fillna("").astype("str")
    return pd.Series([shown(c) for c in column], index=column.index, dtype="str", name=column.name)


def _from_json(path: Path, layer: str | None, encoding: str | None) -> tuple[Table, ...]:
    """Tables of JSON other than one GeoJSON collection; none where the GeoJSON reader is to read the file itself."""
    limits.check_size(path, limits.MOST_TEXT_BYTES)
    collections, records, notes = jsonlists.read_json_list(path.read_bytes(), path.name)
    if records:
        names = list(dict.fromkeys(key for record in records for key in record))
        cells = [[_plain_cell(record.get(key)) for key in names] for record in records]
        frame = pd.DataFrame({name: _typed(column) for name, column in zip(unique_names(names), zip(*cells))})
        return (Table(path.name, "", frame, np.arange(1, len(frame) + 1), notes=notes, filled=len(records)),)
    if layer is not None and len(collections) > 1:
        collections = [(name, content) for name, content in collections if name == layer] or collections
    tables = []
    for name, content in collections:
        with tempfile.TemporaryDirectory(prefix="geozone-") as folder:
            real = Path(folder) / (path.stem + ".geojson")
            real.write_text(json.dumps(content), encoding="utf-8")
            (_, frame, more), = geofiles.read_layers(real, None, encoding)
        tables.append(_from_layer(frame, path.name, name if len(collections) > 1 else "", notes + more))
    return tuple(tables)


def _plain_cell(value: object) -> object:
    """A JSON value as a cell: a number or text as it is, a geometry or list as its text, true and false as words."""
    if value is None:
        return ""
    return value if isinstance(value, (str, int, float)) and not isinstance(value, bool) else json.dumps(value, ensure_ascii=False)


def _from_layer(frame: pd.DataFrame, file: str, layer: str, notes: tuple[str, ...]) -> Table:
    geometry = None
    if isinstance(frame, gpd.GeoDataFrame):
        geometry = frame.geometry.reset_index(drop=True)
        frame = pd.DataFrame(frame.drop(columns=frame.geometry.name))
    frame = frame.reset_index(drop=True)
    frame.columns = unique_names(list(frame.columns))
    if frame.shape[0] == 0:
        notes += (f"{file}: layer {layer or file!r} holds no feature",)
    return Table(file, layer, frame, np.arange(1, len(frame) + 1), geometry, None, (), notes)
