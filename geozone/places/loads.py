"""The electrical load of each site in watts, from whatever the column holds."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from ..plurals import counted
from .columns import option
from .numerals import as_numbers, find_decimal, tidy
from .tables import Table

_UNIT = re.compile(r"(?P<number>.*?\d[.,]?)\s*(?P<unit>kw|w|watts?|kilowatts?)", re.IGNORECASE)


def read_loads(table: Table, column: str | None, decimal: str | None,
               wanted: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Load of each row [W], NaN where the list says none or nothing readable, and notes.

    A heading in kW is converted; so is a cell with its own unit. A load that cannot be read does not cost the
    site its place: it is left open, counted and named.

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
    scale = 1000.0 if re.search(r"kw|kilowatt", column, re.IGNORECASE) else 1.0
    load = as_numbers(cells, mark) * scale
    notes = []
    if scale != 1.0:
        notes.append(f'{table.where}: load "{column}" is in kW; turned into W')
    elif not re.search(r"watt|(?<![a-z])w(?![a-z])", column, re.IGNORECASE):
        notes.append(f'{table.where}: load "{column}" names no unit; read as W')
    if not pd.api.types.is_numeric_dtype(cells.dtype):
        text = tidy(cells)[0]
        for spot in np.flatnonzero(np.isnan(load) & (text != "").to_numpy()):
            match = _UNIT.fullmatch(text.iloc[spot])
            if match:
                number = as_numbers(pd.Series([match["number"]], dtype="str"), mark)[0]
                load[spot] = number * (1000.0 if match["unit"].lower().startswith("k") else 1.0)
        unread = (np.isnan(load) | (load < 0)) & (text != "").to_numpy() & wanted
    else:
        unread = (load < 0) & wanted
    load[load < 0] = np.nan
    if unread.any():
        rows = ", ".join(map(str, table.row[unread][:5])) + (" ..." if unread.sum() > 5 else "")
        notes.append(f'{table.where}: {counted(int(unread.sum()), "load")} in "{column}" without a figure in watts (row {rows}); left open. '
                     f"State another column as {option('load_w')} if this is the wrong one")
    return load, notes
