"""Tables for people with a spreadsheet: cells as people read them, and CSV.

Text from a site list is data, whatever it looks like: no cell may start a formula.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from ..places.manners import PLAIN, Manner
from ..schema.column import KEYPAD, Column, Table, step_decimals

# What spreadsheets take for the start of a formula (OWASP, "CSV Injection"), the full-width forms included.
_STARTS_FORMULA = tuple("=+-@\t\r\n＝＋－＠")
_NUMBER = r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?"
# A number, or a position as people write it: "-35.1, 140.2". Neither can call anything.
_HARMLESS = re.compile(rf"{_NUMBER}([,;] ?{_NUMBER})?")
_LONE_SURROGATE = re.compile("[\ud800-\udfff\x00]")


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


def readable(table: pd.DataFrame, declared: Table | None = None) -> pd.DataFrame:
    """The table as a person reads it, index-identical.

    No geometry; numbers rounded as their column is declared, whole ones without a point also beside missing ones, the user's own left as they
    are; True and False as "yes" and "no"; NaN,
    infinity and missing values as None; anything that is neither number nor text as text.
    """
    geometry = getattr(table, "_geometry_column_name", None)
    columns = {name: _readable_column(None if declared is None else declared.get(name), table[name]) for name in table.columns
               if name != geometry}
    return pd.DataFrame(columns, index=table.index, columns=list(columns))


def _readable_column(declared: Column | None, column: pd.Series) -> pd.Series:
    if pd.api.types.is_bool_dtype(column.dtype) and not column.hasnans:
        return pd.Series(np.where(column.to_numpy(dtype=bool), "yes", "no"), index=column.index, dtype=object)
    if pd.api.types.is_integer_dtype(column.dtype) and not column.hasnans:
        return column
    if pd.api.types.is_float_dtype(column.dtype):
        numbers = column.to_numpy(dtype="float64", na_value=np.nan)
        if whole_numbers(declared, numbers):
            return pd.Series([int(number) if math.isfinite(number) else None for number in numbers.tolist()], index=column.index, dtype=object)
        if declared is not None and declared.kind == "number":
            numbers = np.round(numbers, declared.places) + 0.0
        return pd.Series(np.where(np.isfinite(numbers), numbers, np.nan), index=column.index)
    return each_text(column, _readable_cell)


def whole_numbers(declared: Column | None, numbers: np.ndarray) -> bool:
    """True for a declared column of whole numbers that came as floats, because some are missing; a broken number is shown as it is."""
    known = numbers[np.isfinite(numbers)]
    return declared is not None and declared.kind == "whole" and bool((known == np.rint(known)).all())


def each_text(column: pd.Series, change: Callable[[object], object]) -> pd.Series:
    """A column of any cells, each changed, missing ones None; of texts, and of numbers, one that comes again is changed only once."""
    if pd.api.types.is_float_dtype(column.dtype) or pd.api.types.infer_dtype(column, skipna=True) == "string":
        place, different = pd.factorize(column)
        # The place of a missing one is -1, the last.
        changed = np.array([*(change(cell) for cell in different.tolist()), None], dtype=object)
        return pd.Series(changed[place], index=column.index, dtype=object)
    cells = [None if gone else change(cell) for cell, gone in zip(column.tolist(), column.isna().tolist(), strict=True)]
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


def write_csv(table: pd.DataFrame, path: Path, declared: Table | None = None, manner: Manner = PLAIN,
              coordinate_step_deg: float | None = None) -> None:
    """Write a table as CSV, formulas neutralised; cells that hold the separator or a quotation mark stand in quotation marks.

    The byte order mark is there because a spreadsheet that opens a CSV by double click takes it for the old code page of the country
    otherwise, and turns every accented street name to rubbish. `read_sites`, pandas (``utf-8-sig``), GDAL and R know it.

    Parameters
    ----------
    table : pandas.DataFrame
        Written without index and geometry.
    path : pathlib.Path
        File to write.
    declared : Table, optional
        What its columns are.
    manner : Manner
        Separator, decimal sign and encoding.
    coordinate_step_deg : float, optional
        The keypad's step [degree]: keyed positions are written with its digits.
    """
    safe = readable(table, declared)
    digits = 0 if coordinate_step_deg is None else step_decimals(coordinate_step_deg)
    for place, name in enumerate(safe.columns):
        column, known = safe.iloc[:, place], None if declared is None else declared.get(name)
        if column.dtype == object:
            safe.isetitem(place, each_text(column, lambda cell: neutral(cell) if isinstance(cell, str) else _number_text(cell, manner)))
        elif coordinate_step_deg is not None and known is not None and known.decimals == KEYPAD:
            safe.isetitem(place, each_text(column, lambda cell: f"{cell:.{digits}f}".replace(".", manner.decimal)))
        elif manner.decimal != "." and pd.api.types.is_float_dtype(column.dtype):
            safe.isetitem(place, each_text(column, lambda cell: _number_text(cell, manner)))
    safe.columns = [neutral(writable(str(name))) for name in safe.columns]
    # CR LF as in RFC 4180; with LF alone Python leaves a lone CR unquoted, and a spreadsheet starts a new row there.
    safe.to_csv(path, index=False, sep=manner.separator, encoding=manner.encoding, lineterminator="\r\n")


def _number_text(cell: object, manner: Manner) -> object:
    return repr(float(cell)).replace(".", manner.decimal) if isinstance(cell, float) else cell
