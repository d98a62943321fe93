"""As-found lists: what a crew wrote down at the switches, in any file that a site list comes in, as cells under our own names."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ..errors import InputError
from .headings import plain, rank_of
from .numerals import tidy
from .tables import Table, as_text, read_tables

#: What is read at a switch, and headings that people give it, without case, blanks and signs.
HEADINGS: dict[str, tuple[str, ...]] = {
    "read_on": ("readon", "date", "dateread", "readingdate", "visited", "visitedon", "dateofreading", "datum", "fecha"),
    "dusk_shown": ("duskshown", "dusk", "sunset", "displaydusk", "sunsetshown", "on"),
    "dawn_shown": ("dawnshown", "dawn", "sunrise", "displaydawn", "sunriseshown", "off"),
    "clock_shown": ("clockshown", "clock", "switchclock", "timeshown", "displayedtime"),
    "true_time": ("truetime", "watch", "timebywatch", "realtime", "legaltime", "time"),
    "date_shown": ("dateshown", "displayeddate", "switchdate"),
    "keyed_lat": ("keyedlat", "keyedlatitude", "latkeyed", "latitudekeyed", "keyedlatdeg"),
    "keyed_lon": ("keyedlon", "keyedlongitude", "lonkeyed", "longitudekeyed", "keyedlong", "keyedlondeg"),
    "keyed_zone": ("keyedzone", "zonekeyed", "keyedutcoffset", "keyedtimezone"),
    "keyed_saving": ("keyedsaving", "savingkeyed", "keyeddst", "summertime", "daylightsaving", "keyedsummertime"),
    "keyed_dusk_offset_min": ("keyedduskoffsetmin", "keyedduskoffset", "duskoffset"),
    "keyed_dawn_offset_min": ("keyeddawnoffsetmin", "keyeddawnoffset", "dawnoffset"),
    "keyed_threshold": ("keyedthreshold", "threshold", "keyeddarkthreshold"),
}
#: Read and kept; many nights of them are a log (`loglists`), from one nothing is concluded.
NOT_USED: dict[str, tuple[str, ...]] = {"switched_on": ("switchedon", "lampson"), "switched_off": ("switchedoff", "lampsoff")}


@dataclass(frozen=True)
class FoundList:
    """What stands in an as-found list.

    Attributes
    ----------
    cells : DataFrame of str
        site_id and those of `HEADINGS` and `NOT_USED` that the list has; "" for a blank cell.
    row : (n,) ndarray of int
        Number of each row as a person sees it.
    file : str
    faults : tuple of (int, str, str)
        Rows that are no rows of the list: row, value, reason.
    notes : tuple of str
        Which columns were taken for what.
    """

    cells: pd.DataFrame
    row: np.ndarray
    file: str
    faults: tuple[tuple[int, str, str], ...]
    notes: tuple[str, ...]


def read_found(path: str | Path, tables: tuple[Table, ...] | None = None) -> FoundList:
    """The as-found list in a file of any kind that site lists are read from.

    Parameters
    ----------
    path : path-like
    tables : tuple of Table, optional
        The file's tables, where they were read already.

    Raises
    ------
    InputError
        If the file cannot be read, has no column of ids or none of readings, or two columns have one heading's meaning.
    """
    whys, found = [], []
    for table in read_tables(path) if tables is None else tables:
        try:
            found.append(_of(table))
        except InputError as why:
            whys.append(why)
    if not found:
        raise whys[0]
    if len(found) > 1:
        raise InputError("several tables may be the as-found list", where=str(path), value=f"{len(found)} tables with site ids and readings",
                         rule="one table a file", next_step="save the one that is meant as a file of its own")
    return found[0]


def _of(table: Table) -> FoundList:
    taken: dict[str, str] = {}
    for column in table.frame.columns:
        name = next((name for name, words in {**HEADINGS, **NOT_USED}.items() if plain(column) in words or plain(column) == plain(name)), None)
        if name is None:
            continue
        if name in taken:
            raise InputError(f"two columns may hold {name}", where=table.where, value=f"{taken[name]}, {column}", rule="one column for each thing that is read",
                             next_step=f"rename the one that is meant to {name}, and the other to something else")
        taken[name] = column
    ids = [(rank, column) for column in table.frame.columns if column not in taken.values() and (rank := rank_of(column, "site_id")) is not None]
    best = sorted(ids, key=lambda one: one[0])
    if not best or len(best) > 1 and best[0][0] == best[1][0]:
        raise InputError("the column of site ids cannot be told", where=table.where, value=", ".join(column for _, column in best) or "none",
                         rule="one column with the ids of the job's site list", next_step="name its heading site_id")
    if not taken.keys() & HEADINGS.keys() - {"read_on"}:
        raise InputError("the list holds nothing that was read at a switch", where=table.where, value=", ".join(map(str, table.frame.columns[:12])),
                         rule=f"any of {', '.join(HEADINGS)}", next_step="name the columns so")
    if "read_on" not in taken:
        raise InputError("the list does not say when the switches were read", where=table.where, value=", ".join(map(str, table.frame.columns[:12])),
                         rule="dusk and dawn move from day to day: a column of dates", next_step="name its heading read_on, with dates such as 2027-06-21")
    taken = {"site_id": best[0][1], **taken}
    cells = pd.DataFrame({name: tidy(as_text(table.frame[column]))[0].to_numpy(dtype=object) for name, column in taken.items()})
    said = ", ".join(f'{name} from "{column}"' for name, column in taken.items() if plain(name) != plain(column))
    notes = (*table.notes, *((f"{table.where}: columns guessed: {said}",) if said else ()))
    return FoundList(cells, table.row, table.file, table.faults, notes)
