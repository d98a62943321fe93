"""Years at a glance for the map page: lit and dark intervals as whole minutes, night by night, small as text."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np

from ..numbers.clock import OffsetSequence
from ..numbers.sun import nights_of
from ..switching.programmeanswers import YearOfLight
from .mapcolumns import packed

DAY_MIN = 1440


def page_years(years: Sequence[YearOfLight], programmes: Sequence[str], year: int) -> dict:
    """The pictures of a run, ready for JSON.

    Parameters
    ----------
    years : sequence of YearOfLight
    programmes : sequence of str
        Names of the programmes in the order of the page.
    year : int

    Returns
    -------
    dict
        ``nights``, how many the year has; ``darks``, packed darkness that several pictures share (see
        `packed_intervals`); ``pictures``, each with ``programme`` (its place in the list), ``group`` (the setting's
        label, untrusted text), ``sites``, ``clock``, ``clock_text``, ``dark`` (a place in ``darks``) and ``lit``.
    """
    n_night, darks, pictures = nights_of(year).size, {}, []
    for one in years:
        base_min = int(np.rint(one.clock.offset_min[0]))
        dark = json.dumps([base_min, packed_intervals(one.dark, base_min, n_night)])
        pictures.append({"programme": list(programmes).index(one.programme), "group": str(one.group), "sites": int(one.sites),
                         "clock": clock_steps(one.clock), "clock_text": str(one.clock_text),
                         "dark": darks.setdefault(dark, len(darks)), "lit": packed_intervals(one.lit, base_min, n_night)})
    return {"nights": n_night, "darks": [json.loads(text)[1] for text in darks], "pictures": pictures}


def clock_steps(clock: OffsetSequence) -> dict:
    """A legal clock: ``first``, its offset [minute] at the year's beginning, and ``changes`` as [UTC minute, new offset]."""
    utc, offset = (np.asarray(values, dtype=float) for values in (clock.start_utc_min, clock.offset_min))
    return {"first": _plain(offset[0]), "changes": [[_plain(a), _plain(b)] for a, b in zip(utc[1:], offset[1:], strict=True)]}


def packed_intervals(ends, base_min: int, n_night: int) -> dict:
    """Intervals as columns over the nights from -1 to `n_night`, both included.

    Night k begins at 12:00 on a clock that is `base_min` minutes ahead of UTC all year: sun and clock times then move
    little from night to night. Intervals are cut there; they touch where they went on.

    Parameters
    ----------
    ends : (2, n) array_like of float
        Starts and stops in order [minutes since 1 January 00:00 UTC].
    base_min : int
    n_night : int

    Returns
    -------
    dict
        ``count``: how many pieces a night has; ``from`` and ``to``: a column for the first piece of each night, one for
        the second and so on [minutes from the night's beginning, 0 to 1440]. Where a night has fewer pieces, a column
        repeats its last value. All are packed as `mapcolumns.packed` does it.
    """
    rows = n_night + 2
    start, stop = np.clip(np.rint(np.asarray(ends, dtype=float)) + base_min + DAY_MIN / 2, 0, rows * DAY_MIN).astype(np.int64)
    start, stop = start[stop > start], stop[stop > start]
    pieces = [np.empty((0, 3), dtype=np.int64)]
    while start.size:
        row = start // DAY_MIN
        edge = (row + 1) * DAY_MIN
        pieces.append(np.column_stack([row, start - row * DAY_MIN, np.minimum(stop, edge) - row * DAY_MIN]))
        start, stop = edge[stop > edge], stop[stop > edge]
    table = np.concatenate(pieces)
    table = table[np.lexsort((table[:, 1], table[:, 0]))]
    count = np.bincount(table[:, 0], minlength=rows)
    place = np.arange(len(table)) - np.repeat(np.cumsum(count) - count, count)
    found = {"count": packed(count), "from": [], "to": []}
    for nth in range(count.max(initial=0)):
        mine = table[place == nth]
        held = np.maximum(np.searchsorted(mine[:, 0], np.arange(rows), side="right") - 1, 0)
        found["from"].append(packed(mine[held, 1]))
        found["to"].append(packed(mine[held, 2]))
    return found


def _plain(value: float) -> int | float:
    return int(value) if float(value).is_integer() else float(value)
