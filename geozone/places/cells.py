"""Single cells of a table: blank, a number, and how a person sees them."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pandas as pd


def blank(cell: object) -> bool:
    """Whether a person sees nothing in the cell."""
    return cell is None or (isinstance(cell, str) and (not cell or cell.isspace()))


_NUMBER = re.compile(r"\s*[+\-\u2212]?\d+([.,]\d+)?\s*")


def is_number(cell: object) -> bool:
    """Whether a cell is a plain number, typed or written."""
    if isinstance(cell, str):
        return bool(_NUMBER.fullmatch(cell))
    return isinstance(cell, (int, float)) and not isinstance(cell, bool)


def shown(cell: object) -> str:
    """A cell as a spreadsheet shows it: 12.0 as 12, a date without a midnight, blank as ""."""
    if cell is None or cell is pd.NaT:
        return ""
    if isinstance(cell, (float, np.floating)):
        if np.isnan(cell):
            return ""
        return str(int(cell)) if abs(float(cell)) < 1e15 and cell == int(cell) else repr(float(cell))
    if isinstance(cell, (dt.datetime, pd.Timestamp)):
        return cell.date().isoformat() if (cell.hour, cell.minute, cell.second) == (0, 0, 0) else cell.isoformat(" ")
    return str(cell)
