"""Tables for people with a spreadsheet: CSV and XLSX.

Text from a site list is data, whatever it looks like: no cell may start a formula.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError

# What spreadsheets take for the start of a formula (OWASP, "CSV Injection"), the full-width forms included.
_STARTS_FORMULA = tuple("=+-@\t\r\n＝＋－＠")
_NUMBER = r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?"
# A number, or a position as people write it: "-35.1, 140.2". Neither can call anything.
_HARMLESS = re.compile(rf"{_NUMBER}([,;] ?{_NUMBER})?")
_LONE_SURROGATE = re.compile("[\ud800-\udfff\x00]")

XLSX_CELL_LIMIT = 32767  # characters; the format's own limit
_FIXED_DATE = datetime(2000, 1, 1)  # the same run must give the same bytes

# Decimals by the ending of a column's name: finer than any keypad, coarse enough to read. Six places of a degree are 0.1 m.
_DECIMALS = {"_deg": 6, "_min": 2, "_m": 0, "_factor": 3, "_w": 3, "_h": 2, "kwh": 1, "kwh_per_m2": 3, "cost": 2,
             "_weeks": 1}


def writable(text: str) -> str:
    """The text without what no file can hold (half characters, NUL), each shown as U+FFFD."""
    return _LONE_SURROGATE.sub("\ufffd", text)


def neutral(text: str) -> str:
    """The text, with an apostrophe in front if a spreadsheet could take it for a formula. Numbers and positions stay.

    Examples
    --------
    >>> neutral("=1+1"), neutral("-5"), neutral("Station Street")
    ("'=1+1", '-5', 'Station Street')
    """
    if text.startswith(_STARTS_FORMULA) and not _HARMLESS.fullmatch(text):
        return "'" + text
    return text


def readable(table: pd.DataFrame) -> pd.DataFrame:
    """The table as a person reads it, index-identical.

    No geometry; numbers rounded by the unit in their column's name; True and False as "yes" and "no"; NaN, infinity and
    missing values as None; anything that is neither number nor text as text.
    """
    geometry = getattr(table, "_geometry_column_name", None)
    columns = {name: _readable_column(name, table[name]) for name in table.columns if name != geometry}
    return pd.DataFrame(columns, index=table.index, columns=list(columns))


def _readable_column(name: str, column: pd.Series) -> pd.Series:
    if pd.api.types.is_bool_dtype(column.dtype) and not column.hasnans:
        return pd.Series(np.where(column.to_numpy(dtype=bool), "yes", "no"), index=column.index, dtype=object)
    if pd.api.types.is_integer_dtype(column.dtype) and not column.hasnans:
        return column
    if pd.api.types.is_float_dtype(column.dtype):
        numbers = column.to_numpy(dtype="float64", na_value=np.nan)
        decimals = next((places for ending, places in _DECIMALS.items() if str(name).endswith(ending)), None)
        if decimals is not None:
            numbers = np.round(numbers, decimals) + 0.0
        return pd.Series(np.where(np.isfinite(numbers), numbers, np.nan), index=column.index)
    return each_text(column, _readable_cell)


def each_text(column: pd.Series, change: Callable[[object], object]) -> pd.Series:
    """A column of any cells, each changed, missing ones None; a text that comes again is changed only once."""
    changed: dict[str, object] = {}
    cells = []
    for cell, gone in zip(column.tolist(), column.isna().tolist(), strict=True):
        if gone:
            cells.append(None)
        elif isinstance(cell, str):
            if cell not in changed:
                changed[cell] = change(cell)
            cells.append(changed[cell])
        else:
            cells.append(change(cell))
    return pd.Series(cells, index=column.index, dtype=object)


def _readable_cell(cell: object) -> object:
    if isinstance(cell, str):
        return writable(cell)
    if isinstance(cell, (bool, np.bool_)):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float, np.integer, np.floating)):
        return cell if math.isfinite(cell) else None
    if isinstance(cell, (list, tuple)):
        return writable(", ".join(str(part) for part in cell))
    return writable(str(cell))


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """Write a table as CSV: comma, decimal point, UTF-8 with byte order mark, formulas neutralised.

    The mark is there because a spreadsheet that opens a CSV by double click takes it for the old code page of the country
    otherwise, and turns every accented street name to rubbish. `read_sites`, pandas (``utf-8-sig``), GDAL and R know it.

    Parameters
    ----------
    table : pandas.DataFrame
        Written without index and geometry.
    path : pathlib.Path
        File to write.
    """
    safe = readable(table)
    for place, name in enumerate(safe.columns):
        column = safe[name]
        if column.dtype == object:
            safe.isetitem(place, each_text(column, lambda cell: neutral(cell) if isinstance(cell, str) else cell))
    safe.columns = [neutral(writable(str(name))) for name in safe.columns]
    # CR LF as in RFC 4180; with LF alone Python leaves a lone CR unquoted, and a spreadsheet starts a new row there.
    safe.to_csv(path, index=False, encoding="utf-8-sig", lineterminator="\r\n")


def write_xlsx(sheets: Sequence[tuple[str, pd.DataFrame]], path: Path, title: str = "") -> None:
    """Write tables as sheets of one workbook: headings fixed and filterable, columns as wide as their text.

    Text stays text whatever it starts with, so it needs no apostrophe here; no link is made from it either.

    Parameters
    ----------
    sheets : sequence of (str, pandas.DataFrame)
        Sheet names and tables.
    path : pathlib.Path
        File to write.
    title : str
        Title in the file's properties.
    """
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
               "in_memory": True}  # no file outside the output folder, even for a moment
    try:
        with xlsxwriter.Workbook(str(path), options) as book:
            book.set_properties({"title": writable(title)[:255], "created": _FIXED_DATE})
            heading = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
            for name, table in sheets:
                _write_sheet(book.add_worksheet(name), readable(table), heading)
    except FileCreateError as error:
        raise OSError(f"{path.name}: {error}") from error


def _write_sheet(sheet: xlsxwriter.worksheet.Worksheet, table: pd.DataFrame, heading) -> None:
    names = [writable(str(name)) for name in table.columns]
    for place, name in enumerate(names):
        longest = max((len(str(cell)) for cell in table.iloc[:500, place] if not _blank(cell)), default=0)
        sheet.set_column(place, place, min(max(longest + 2, min(len(name), 14) + 1, 8), 44))
    sheet.freeze_panes(1, 1)
    for place, name in enumerate(names):
        sheet.write_string(0, place, name, heading)
    for row, cells in enumerate(zip(*(table.iloc[:, i].tolist() for i in range(len(names))), strict=True), start=1):
        for place, cell in enumerate(cells):
            if isinstance(cell, str):
                if cell:
                    sheet.write_string(row, place, _short(cell))
            elif not _blank(cell):
                sheet.write_number(row, place, cell)
    if names and len(table):
        sheet.autofilter(0, 0, len(table), len(names) - 1)


def _blank(cell: object) -> bool:
    return cell is None or cell == "" or cell != cell


def _short(text: str) -> str:
    return text if len(text) <= XLSX_CELL_LIMIT else text[: XLSX_CELL_LIMIT - 1] + "…"
