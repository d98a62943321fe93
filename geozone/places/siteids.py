"""What a list says of each site besides its position: its id, and the legal zone that it keeps."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..numbers.clock import near_zones, valid_zone
from ..plurals import counted
from .columns import Columns, option
from .headings import rank_of
from .numerals import tidy
from .tables import Table, as_text

#: A column tells sites apart if at least so many of its filled cells are unlike all others.
_NEARLY_UNIQUE = 0.95
_MOST_CANDIDATES = 3
#: Looking for names spelled alike takes some ms each.
_MOST_HINTS = 20


def read_ids(table: Table, columns: Columns) -> tuple[np.ndarray, list[str]]:
    """An id for every row; made from the row number where the list has none, and said."""
    word, column = table.row_word, columns.site_id
    made = np.array([f"{word}-{row}" for row in table.row], dtype=object)
    if column is None:
        return made, [f"{table.where}: no column of ids; ids are made from the {word} numbers" + _candidates(table, columns)]
    text, hidden = tidy(table.frame[column])
    ids = text.to_numpy(dtype=object)
    blank = ids == ""
    notes = []
    if blank.any():
        taken = set(ids)
        made[blank] = [m if m not in taken else m + "-made" for m in made[blank]]
        notes.append(f"{table.where}: {counted(int(blank.sum()), 'row')} without an id; ids are made from their {word} numbers")
    if (hidden & ~blank).any():
        notes.append(f"{table.where}: hidden characters taken out of {counted(int((hidden & ~blank).sum()), 'id')}")
    return np.where(blank, made, ids), notes


def mark_repeats(ids: np.ndarray, table: Table, reason: np.ndarray, shown: dict[int, str]) -> None:
    """Reject every later usable row of an id, naming the row that keeps it."""
    row, word = table.row, table.row_word
    usable = np.flatnonzero(reason == "")
    keys = pd.Series(ids[usable])
    first = pd.Series(row[usable]).groupby(keys, sort=False).transform("first").to_numpy()
    for spot, kept in zip(usable[keys.duplicated().to_numpy()], first[keys.duplicated().to_numpy()]):
        reason[spot] = f"id already used in {word} {kept}"
        shown[spot] = ids[spot]


def _candidates(table: Table, columns: Columns) -> str:
    """Columns that could be the ids: every cell, or nearly every one, filled and unlike the others."""
    if len(table.frame) < 2:
        return ""
    taken = {columns.lat, columns.lon, columns.position, columns.load_w, columns.legal_zone, *columns.lat_parts,
             *columns.lon_parts, *(c for _, pair in columns.others for c in pair)}
    found = []
    for place, column in enumerate(table.frame.columns):
        if column in taken or any(rank_of(column, what) is not None for what in ("lat", "lon", "x", "y", "position")):
            continue
        cells = as_text(table.frame[column]).str.strip()
        filled = cells[cells != ""]
        # a measured number is unlike all others too, and no id; nor is a remark of many words
        if (len(filled) < _NEARLY_UNIQUE * len(cells) or filled.nunique() < _NEARLY_UNIQUE * len(cells)
                or filled.str.fullmatch(r"[+-]?\d+[.,]\d+").mean() > 0.5 or filled.str.len().median() > 40):
            continue
        again = len(cells) - filled.nunique()
        found.append((again, place, column))
    if not found:
        return ""
    said = [f'"{column}"' + (f" ({again} of {len(table.frame)} blank or repeated)" if again else "")
            for again, _, column in sorted(found)[:_MOST_CANDIDATES]]
    return f". These columns tell the rows apart: {', '.join(said)}; state {option('site_id', sorted(found)[0][2])} to use one"


def read_zones(table: Table, column: str | None, reason: np.ndarray) -> tuple[pd.Series, dict[int, str]]:
    """The legal zone that each row names, "" for none; a name that is not in the tz database costs its row.

    Parameters
    ----------
    table : Table
    column : str or None
    reason : ndarray of object, shape (n,)
        Changed in place: why a row cannot be used.

    Returns
    -------
    zones : Series of str
    shown : dict
        By row position what to show of a row rejected here.
    """
    if column is None:
        return pd.Series([""] * len(table.row), dtype="str"), {}
    zones, _ = tidy(table.frame[column])
    shown: dict[int, str] = {}
    whys = {}
    for zone in zones.unique():
        if zone and not valid_zone(zone):
            near = near_zones(zone) if len(whys) < _MOST_HINTS else ()
            whys[zone] = "the legal zone is not in the tz database" + (f"; did you mean {' or '.join(near)}?" if near else "")
    for spot in np.flatnonzero(zones.isin(list(whys)).to_numpy(dtype=bool) & (reason == "")):
        shown[int(spot)] = zones.iloc[spot]
        reason[spot] = whys[zones.iloc[spot]]
    return zones, shown
