"""The workbook: every table as a sheet with headings for people, the first sheet says what each column holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import pandas as pd
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError

from ..schema.column import KEYPAD, Column, Table, step_decimals
from ..schema.tables import glossary
from .spreadsheets import readable, writable

XLSX_CELL_LIMIT = 32767  # characters; the format's own limit
_FIXED_DATE = datetime(2000, 1, 1)  # the same run must give the same bytes
_A4 = 9  # paper size by its number in the format

#: Name of the sheet that explains the others.
COLUMNS_SHEET = "columns"
_COLUMNS_HEADINGS = {"table": "Sheet", "heading": "Column", "unit": "Unit", "meaning": "What it holds", "from": "Comes from",
                     "column": "Name in files"}


@dataclass(frozen=True)
class Sheet:
    """One sheet.

    Attributes
    ----------
    name : str
    table : pandas.DataFrame
    declared : Table or None
        What its columns are; None for a sheet that explains itself.
    """

    name: str
    table: pd.DataFrame
    declared: Table | None = None


def write_xlsx(sheets: Sequence[Sheet], path: Path, title: str = "", coordinate_step_deg: float = 0.1) -> None:
    """Write tables as sheets of one workbook.

    Headings are for people, fixed, filterable and repeated on paper; a note on each says the name that the column has in
    files. Text stays text whatever it starts with, so it needs no apostrophe here; no link is made from it either. Dates are
    dates, and keyed positions show the keypad's digits: 140.0, not 140.

    Parameters
    ----------
    sheets : sequence of Sheet
    path : pathlib.Path
        File to write.
    title : str
        Title in the file's properties.
    coordinate_step_deg : float
        The keypad's step [degree].

    Raises
    ------
    OSError
        If the disk refuses.
    """
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
               "in_memory": True}  # no file outside the output folder, even for a moment
    try:
        with xlsxwriter.Workbook(str(path), options) as book:
            book.set_properties({"title": writable(title)[:255], "created": _FIXED_DATE})
            looks = _Looks(book, coordinate_step_deg)
            known = [sheet for sheet in sheets if sheet.declared is not None]
            if known:
                _write_sheet(book.add_worksheet(COLUMNS_SHEET), Sheet(COLUMNS_SHEET, _explained(known)), looks)
            for sheet in sheets:
                _write_sheet(book.add_worksheet(sheet.name), sheet, looks)
    except FileCreateError as error:
        raise OSError(f"{path.name}: {error}") from error


class _Looks:
    """Cell formats, made once each: the library keeps every one that it was ever asked for."""

    def __init__(self, book: xlsxwriter.Workbook, coordinate_step_deg: float):
        self._book, self._made = book, {}
        self._keypad_decimals = step_decimals(coordinate_step_deg)
        self.heading = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.wrapped = book.add_format({"text_wrap": True, "valign": "top"})

    def of(self, column: Column | None):
        """The format of a column's cells, None for the plain one."""
        if column is None or column.kind not in ("number", "date", "whole"):
            return None
        if column.kind == "date":
            code = "yyyy-mm-dd"
        elif column.kind == "whole":
            code = "0"
        else:
            places = self._keypad_decimals if column.decimals == KEYPAD else column.places
            code = "0" + ("." + "0" * places if places else "")
        if code not in self._made:
            self._made[code] = self._book.add_format({"num_format": code})
        return self._made[code]


def _explained(sheets: Sequence[Sheet]) -> pd.DataFrame:
    rows = []
    for sheet in sheets:
        geometry = getattr(sheet.table, "_geometry_column_name", None)
        columns = [column for column in sheet.table.columns if column != geometry]
        rows += [{**row, "table": sheet.name} for row in glossary([(sheet.declared.name, columns)])]
    return pd.DataFrame(rows)[list(_COLUMNS_HEADINGS)].rename(columns=_COLUMNS_HEADINGS)


def _write_sheet(sheet: xlsxwriter.worksheet.Worksheet, what: Sheet, looks: _Looks) -> None:
    table = readable(what.table, what.declared)
    columns = [None if what.declared is None else what.declared.get(name) for name in table.columns]
    headings = [writable(str(name) if column is None else column.heading_with_unit)
                for name, column in zip(table.columns, columns, strict=True)]
    formats = [looks.of(column) for column in columns]
    explains = what.name == COLUMNS_SHEET
    for place, name in enumerate(headings):
        longest = max((len(str(cell)) for cell in table.iloc[:500, place] if not _blank(cell)), default=0)
        wide = min(max(longest + 2, min(len(name), 14) + 1, 8), 90 if explains else 44)
        sheet.set_column(place, place, wide, looks.wrapped if explains else formats[place])
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.set_paper(_A4)
    sheet.fit_to_pages(1, 0)  # all columns on one sheet of paper, as many sheets as the rows take
    sheet.repeat_rows(0)
    sheet.set_footer("&L&F, &A&Rsheet &P of &N")
    for place, (name, column) in enumerate(zip(headings, columns, strict=True)):
        sheet.write_string(0, place, name, looks.heading)
        if column is not None:
            sheet.write_comment(0, place, f"{column.sentence}\nIn files: {column.name}", {"author": "geozone", "x_scale": 1.6})
    dates = [column is not None and column.kind == "date" for column in columns]
    for row, cells in enumerate(zip(*(table.iloc[:, i].tolist() for i in range(len(headings))), strict=True), start=1):
        for place, cell in enumerate(cells):
            if isinstance(cell, str):
                if cell and not (dates[place] and _write_date(sheet, row, place, cell, formats[place])):
                    sheet.write_string(row, place, _short(cell))
            elif not _blank(cell):
                sheet.write_number(row, place, cell, formats[place])
    if headings and len(table):
        sheet.autofilter(0, 0, len(table), len(headings) - 1)


def _write_date(sheet, row: int, place: int, text: str, style) -> bool:
    """Write an ISO date as a date; False if the text is none, or one from before the format's own calendar begins."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return False
    if day.year < 1901:
        return False
    sheet.write_datetime(row, place, datetime(day.year, day.month, day.day), style)
    return True


def _blank(cell: object) -> bool:
    return cell is None or cell == "" or cell != cell


def _short(text: str) -> str:
    return text if len(text) <= XLSX_CELL_LIMIT else text[: XLSX_CELL_LIMIT - 1] + "…"
