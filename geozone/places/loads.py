"""The electrical load of each site in watts, from whatever the column holds."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from ..plurals import counted
from .columns import option
from .numerals import as_numbers, find_decimal, tidy
from .tables import Table

_UNITS = r"kw|kilowatts?|квт|w|watts?|вт|ワット|와트|瓦"
_UNIT = re.compile(rf"(?P<number>.*?\d[.,]?)\s*(?P<unit>{_UNITS})", re.IGNORECASE)
#: One number, its unit if any, and words that change nothing in it: 66 (LED), LED 66 W, ca. 66 W.
_ABOUT = re.compile(r"(?P<before>(?:[^\d+\-]*[^\w+\-])?)(?P<number>\d[\d.,' ]*?)\s*(?P<unit>" + _UNITS + r")?\s*(?P<after>[\[(,;][^\d]*|"
                    r"\s[^\W\d][^\d]*)?", re.IGNORECASE)
#: Words that make the number another thing than the load of the site.
_NOT_WATTS = re.compile(r"(?<![^\W\d_])(?:va|kva|kvar|lm|lumen|k|kelvin|v|volt|a|ampere?|m|mm|kwh|wh|h|hz|%|mw|x|je|per|each|pro|bis|"
                        r"to|up|max|min|mind)(?![^\W\d_])|[%<>≤≥/*×±]", re.IGNORECASE)
#: So many different texts are named; what is left is counted.
_MOST_TEXTS = 12
_MOST_ROWS = 5


def read_loads(table: Table, column: str | None, decimal: str | None,
               wanted: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Load of each row [W], NaN where the list says none or nothing readable, and notes.

    A heading in kW is converted; so is a cell with its own unit. A number with words beside it, "66 (LED)", is read;
    of two numbers, "250/85", none is chosen. Both are said row by row. A load that cannot be read does not cost the
    site its place: it is left open.

    Parameters
    ----------
    table : Table
    column : str or None
    decimal : str or None
        The mark found elsewhere in the file.
    wanted : ndarray of bool
        Rows in use; others are not reported.
    """
    if column is None:
        return np.full(len(table.frame), np.nan), []
    cells = table.frame[column]
    mark = decimal or find_decimal([cells]) or "."
    scale = 1000.0 if re.search(r"kw|kilowatt|квт", column, re.IGNORECASE) else 1.0
    load = as_numbers(cells, mark) * scale
    notes = []
    if scale != 1.0:
        notes.append(f'{table.where}: load "{column}" is in kW; turned into W')
    elif not re.search(r"watt|(?<![^\W_])w(?![^\W_])|вт", column, re.IGNORECASE):
        notes.append(f'{table.where}: load "{column}" names no unit; read as W')
    # only the text of what is no plain number is looked at, cell by cell
    odd = np.flatnonzero(np.isnan(load) | (load < 0))
    texts = dict(zip(odd, tidy(cells.iloc[odd])[0]))
    read: dict[str, list[int]] = {}
    unread: dict[str, list[int]] = {}
    for spot, text in texts.items():
        if not text:
            continue
        if np.isnan(load[spot]):
            load[spot], plain = _of_cell(text, mark, scale)
            if not plain and not np.isnan(load[spot]) and wanted[spot]:
                read.setdefault(f'"{text}" is read as {load[spot]:g} W', []).append(spot)
        if wanted[spot] and not load[spot] >= 0:
            unread.setdefault(f'"{text}" {_why(text, load[spot])}', []).append(spot)
    load[load < 0] = np.nan
    if read:
        notes.append(f'{table.where}: loads in "{column}" with words beside the number: ' + _listed(table, read))
    if unread:
        count = sum(map(len, unread.values()))
        notes.append(f'{table.where}: {counted(count, "load")} in "{column}" without a plain number of watts, left open: ' + _listed(table, unread)
                     + f". Write one number of watts there, or state another column as {option('load_w')}")
    return load, notes


def _of_cell(text: str, mark: str, scale: float) -> tuple[float, bool]:
    """The load in a cell that is no bare number [W], and whether it is plain: a number and its unit."""
    match, plain = _UNIT.fullmatch(text), True
    if not match or np.isnan(as_numbers(pd.Series([match["number"]], dtype="str"), mark)[0]):
        match, plain = _ABOUT.fullmatch(text), False
        if not match or _NOT_WATTS.search(match["before"] + " " + (match["after"] or "")):
            return np.nan, False
    number = as_numbers(pd.Series([match["number"].strip()], dtype="str"), mark)[0]
    unit = (match["unit"] or "").lower()
    return number * ((1000.0 if unit.startswith(("k", "к")) else 1.0) if unit else scale), plain


def _why(text: str, load: float) -> str:
    if load < 0:
        return "is negative"
    numbers = len(re.findall(r"\d+(?:[.,]\d+)?", text))
    return "holds no number" if not numbers else (f"holds {numbers} numbers, and which is the load is not said" if numbers > 1
                                                  else "is not plainly a number of watts")


def _listed(table: Table, said: dict[str, list[int]]) -> str:
    parts = []
    for text, spots in list(said.items())[:_MOST_TEXTS]:
        rows = ", ".join(str(table.row[s]) for s in spots[:_MOST_ROWS])
        more = f" and {len(spots) - _MOST_ROWS} more" if len(spots) > _MOST_ROWS else ""
        parts.append(f"{table.row_word} {rows}{more}: {text}")
    rest = sum(map(len, list(said.values())[_MOST_TEXTS:]))
    return "; ".join(parts) + (f"; and {rest} more with other texts" if rest else "")
