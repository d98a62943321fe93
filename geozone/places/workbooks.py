"""Sheets of a workbook (.xlsx, .xlsm, .ods) as rows of typed cells."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path

import python_calamine as calamine

from ..errors import InputError
from . import limits
from .packed import check_zip
from .worksheets import check_extent

OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def read_sheets(path: Path, sheet: str | None = None) -> list[tuple[str, list[list[object]]]]:
    """Every visible, filled sheet: its name and its rows, row 1 of the sheet first.

    Cells are str, float, bool, date, datetime, time or timedelta; a blank cell is "".
    A hidden sheet is read only when it is named.

    Raises
    ------
    InputError
        If the file is no workbook, is protected by a password, or has no such sheet.
    """
    file = path.name
    limits.check_size(path, limits.MOST_TEXT_BYTES)
    with path.open("rb") as stream:
        start = stream.read(8)
    if start == OLE_MAGIC:
        raise InputError("this is an old .xls workbook or one protected by a password, not .xlsx", where=file,
                         next_step="open it in the spreadsheet program and save it as .xlsx without a password")
    if not start.startswith(b"PK"):
        raise InputError("this is not a workbook, whatever its name says", where=file, value=repr(start),
                         next_step="give it the extension of its real format (.csv if it is text)")
    try:
        with zipfile.ZipFile(path) as packed:
            check_zip(packed, file)
            check_extent(packed, file)
        book = calamine.load_workbook(str(path))
    except (calamine.CalamineError, zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError,
            ValueError) as why:
        raise InputError("the workbook is damaged and cannot be opened", where=file, value=str(why),
                         next_step="open and save it again in the spreadsheet program") from None
    sheets = {m.name: m.visible == calamine.SheetVisibleEnum.Visible for m in book.sheets_metadata
              if m.typ == calamine.SheetTypeEnum.WorkSheet}
    if sheet is not None and sheet not in sheets:
        raise InputError("the workbook has no such sheet", where=file, value=sheet,
                         rule="its sheets: " + ", ".join(repr(name) for name in sheets),
                         next_step="state one of them as [reading] layer")
    wanted = [sheet] if sheet is not None else [name for name, visible in sheets.items() if visible]
    found: list[tuple[str, list[list[object]]]] = []
    try:
        for name in wanted:
            rows: list = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            if any(cell != "" for row in rows for cell in row):
                found.append((name, rows))
    except (calamine.CalamineError, OSError, ValueError, OverflowError) as why:
        raise InputError("a sheet is damaged and cannot be read", where=f"{file}, sheet {name!r}", value=str(why),
                         next_step="open and save it again in the spreadsheet program") from None
    if not found:
        raise InputError("the workbook holds no filled sheet", where=file,
                         next_step="put the list, with a row of headings, on a visible sheet")
    return found
