"""Logs: when lamps were seen to switch on and off, by a crew, a meter or a current logger, in any file that a site list comes in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ..errors import InputError
from .foundlists import HEADINGS as READINGS
from .headings import plain, rank_of
from .logtimes import read_times
from .numerals import tidy
from .tables import Table, as_text, read_tables

#: What a log has, and headings that people give it, without case, blanks and signs. With "utc" behind it a column of times is in UTC.
HEADINGS: dict[str, tuple[str, ...]] = {
    "switched_on": ("switchedon", "lampson", "on", "ontime", "timeon", "litfrom"),
    "switched_off": ("switchedoff", "lampsoff", "off", "offtime", "timeoff", "lituntil"),
    "time": ("time", "switchedat", "timestamp", "datetime", "dateandtime"),
    "state": ("state", "onoff", "turn", "switchedto"),
}
_ON = frozenset("on 1 true lit ein an marche encendido".split())
_OFF = frozenset("off 0 false unlit aus arrêt arret apagado".split())
_TURNS = {"switched_on": 1, "switched_off": 0}


@dataclass(frozen=True, eq=False)
class LogList:
    """What stands in a log, an entry a switching.

    Attributes
    ----------
    ids : list of str
        Ids as they stand in it, each once.
    site : (m,) ndarray of int
        Which of them each switching is of.
    turn : (m,) ndarray of int
        1 on, 0 off.
    wall_min : (m,) float64
        As written, minutes from 1 January 1970.
    ahead_min : (m,) float64
        What the log says that its times are ahead of UTC [minute]; NaN: legal time of the site.
    row : (m,) ndarray of int
        Number of the row as a person sees it.
    file : str
    rows : int
        Filled rows under the headings, the unusable ones too.
    faults : tuple of (int, str, str)
        What cannot be used: row, value, reason.
    notes : tuple of str
    """

    ids: list[str]
    site: np.ndarray
    turn: np.ndarray
    wall_min: np.ndarray
    ahead_min: np.ndarray
    row: np.ndarray
    file: str
    rows: int
    faults: tuple[tuple[int, str, str], ...]
    notes: tuple[str, ...]


def read_log(path: str | Path, tables: tuple[Table, ...] | None = None) -> LogList:
    """The log in a file of any kind that site lists are read from.

    Parameters
    ----------
    path : path-like
    tables : tuple of Table, optional
        The file's tables, where they were read already.

    Raises
    ------
    InputError
        If the file cannot be read, or no table or more than one in it is a log.
    """
    whys, found = [], []
    for table in read_tables(path) if tables is None else tables:
        try:
            taken = _columns(table)
        except InputError as why:
            whys.append(why)
            continue
        found.append((table, taken))
    if not found:
        raise whys[0]
    if len(found) > 1:
        raise InputError("several tables may be the log", where=str(path), value=f"{len(found)} tables with site ids and times", rule="one table a file",
                         next_step="save the one that is meant as a file of its own")
    return _of(*found[0])


def looks_like_a_log(tables: tuple[Table, ...]) -> bool:
    """Whether a file is a log and no as-found list: it holds on and off times, nothing that is read on a display, and rows of a site repeat."""
    for table in tables:
        try:
            taken = _columns(table)
        except InputError:
            continue
        read = {plain(column) for column in table.frame.columns if column not in taken.values()}
        if not any(read & {*words, plain(name)} for name, words in READINGS.items()) and table.frame[taken["site_id"]].duplicated().any():
            return True
    return False


def _columns(table: Table) -> dict[str, str]:
    """Which column holds what; InputError where they make no log."""
    taken: dict[str, str] = {}
    for column in table.frame.columns:
        word = plain(column)
        name = next((name for name, words in HEADINGS.items() if word.removesuffix("utc") in (*words, plain(name))), None)
        if name is None:
            continue
        if name in taken:
            raise InputError(f"two columns may hold {name}", where=table.where, value=f"{taken[name]}, {column}", rule="one column for each",
                             next_step=f"rename the one that is meant to {name}, and the other to something else")
        taken[name] = column
    ids = sorted((rank, place) for place, column in enumerate(table.frame.columns) if column not in taken.values()
                 and (rank := rank_of(column, "site_id")) is not None)
    if not ids or len(ids) > 1 and ids[0][0] == ids[1][0]:
        raise InputError("the column of site ids cannot be told", where=table.where, value=", ".join(str(table.frame.columns[place]) for _, place in ids) or "none",
                         rule="one column with the ids of the job's site list", next_step="name its heading site_id")
    pairs, single = taken.keys() & _TURNS.keys(), {"time", "state"} <= taken.keys()
    if bool(pairs) == single:
        raise InputError("the list holds both pairs of on and off times and single times" if single else "the list holds no on and off times", where=table.where,
                         value=", ".join(map(str, table.frame.columns[:12])),
                         rule="switched_on and switched_off (a row an on and the off after it), or time and state (a row a switching)", next_step="name the columns so")
    wanted = _TURNS if pairs else ("time", "state")
    return {"site_id": str(table.frame.columns[ids[0][1]]), **{name: taken[name] for name in wanted if name in taken}}


def _of(table: Table, taken: dict[str, str]) -> LogList:
    cells = {name: tidy(as_text(table.frame[column]))[0].to_numpy(dtype=object) for name, column in taken.items()}
    site, ids = pd.factorize(cells["site_id"])
    row, n = np.asarray(table.row), site.size
    faults = list(table.faults)
    given = {name: values != "" for name, values in cells.items()}
    empty = ~np.any([values for values in given.values()], axis=0)
    untold = ~empty & ~given["site_id"]
    no_id = "site_id: no site id. Rule: an id of the job's site list, spelled as there. Next: look at the logger's number"
    faults += [(int(row[i]), "", no_id) for i in np.flatnonzero(untold)]
    timed = [name for name in cells if name in ("switched_on", "switched_off", "time")]
    none = ~empty & ~untold & ~np.any([given[name] for name in timed], axis=0)
    faults += [(int(row[i]), str(cells["site_id"][i]), f"{timed[0]}: neither an on nor an off time. Rule: one at least. Next: look at the log, or leave the row out")
               for i in np.flatnonzero(none)]
    usable = ~empty & ~untold & ~none
    parts, before = [], None
    for name in timed:
        times = read_times(np.where(usable, cells[name], "").astype(object))
        wall, ahead = times.wall_min, times.ahead_min
        if plain(taken[name]).endswith("utc"):
            ahead = np.where(np.isnan(ahead), 0.0, ahead)
        bad = {i: str(why) for i, why in times.faults.items()}
        bare = np.isfinite(wall) & ~times.dated
        if before is not None:
            # The off after an on: its date is that of the on, or the next.
            follows = bare & np.isfinite(before[0])
            day = np.floor(before[0] / 1440.0) * 1440.0 + wall
            wall = np.where(follows, day + 1440.0 * (day <= before[0]), wall)
            ahead = np.where(follows & np.isnan(ahead), before[1], ahead)
            bare &= ~follows
        bad |= {int(i): "a time without a date. Rule: date and time, such as 2027-06-21 17:05. Next: write the date before it" for i in np.flatnonzero(bare)}
        turn = np.full(n, _TURNS.get(name, -1))
        if name == "time":
            turn, unknown = _turns(cells["state"], usable)
            bad |= {int(i): f"{str(cells['state'][i]) or 'blank'} is no state. Rule: on or off. Next: look at the log" for i in unknown}
        faults += [(int(row[i]), str(cells[name][i]), f"{name}: {why}") for i, why in bad.items()]
        good = np.isfinite(wall)
        good[list(bad)] = False
        parts.append((np.flatnonzero(good), turn[good], wall[good], ahead[good]))
        before = np.where(good, wall, np.nan), ahead
    at, turn, wall, ahead = (np.concatenate(one) for one in zip(*parts, strict=True))
    said = ", ".join(f'{name} from "{column}"' for name, column in taken.items() if plain(name) != plain(column))
    notes = (*table.notes, *((f"{table.where}: columns guessed: {said}",) if said else ()))
    utc = [taken[name] for name in timed if plain(taken[name]).endswith("utc")]
    if utc or (np.isfinite(ahead) & (ahead == 0)).any():
        notes += (f"{table.where}: times in UTC, as {'the heading ' + ', '.join(utc) if utc else 'they'} say{'s' if utc else ''}.",)
    return LogList([str(one) for one in ids], site[at], turn, wall, ahead, row[at], table.file, int((~empty).sum()) + len(table.faults), tuple(faults), notes)


def _turns(states: np.ndarray, usable: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """1 for on, 0 for off, -1 for neither; and the rows of these."""
    code, words = pd.factorize(states)
    meaning = np.array([1 if (word := str(one).casefold()) in _ON else 0 if word in _OFF else -1 for one in words], dtype=np.int64)
    turn = meaning[code] if meaning.size else np.full(states.size, -1)
    return turn, np.flatnonzero(usable & (turn < 0))
