"""Times of a log, a million at once: local or with what they are ahead of UTC."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from .foundcells import CellError, calendar_date, day_first
from .numerals import narrow

_MIN_PER_DAY = 1440.0
#: Cells looked at together: each takes some 300 bytes meanwhile.
_AT_ONCE = 100_000
_PARTS = re.compile(r"(?:(?P<date>\d{4}-\d{1,2}-\d{1,2}|\d{1,2}\.\s?\d{1,2}\.\s?\d{4}|\d{1,2}/\d{1,2}/\d{4})(?:\s*T\s*|\s+|,\s*))?"
                    r"(?P<hour>\d{1,2})[:.h](?P<minute>\d{2})(?:[:.](?P<second>\d{2})(?:[.,]\d+)?)?\s*(?P<half>am|pm|a\.m\.|p\.m\.)?\s*"
                    r"(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2}|[+-]\d{2})?", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class Times:
    """Times as they stand in a column.

    Attributes
    ----------
    wall_min : (n,) float64
        Minutes from 1 January 1970 as written; of a time without a date, minutes of the day; NaN for a blank or unusable cell.
    ahead_min : (n,) float64
        What the cell says that it is ahead of UTC [minute]; NaN where it says nothing: legal time.
    dated : (n,) bool
    faults : dict of int to CellError
        Cells that cannot be used, by their place.
    """

    wall_min: np.ndarray
    ahead_min: np.ndarray
    dated: np.ndarray
    faults: dict[int, CellError]


def read_times(texts: np.ndarray) -> Times:
    """Times of a column.

    Parameters
    ----------
    texts : (n,) ndarray of str

    Examples
    --------
    >>> read = read_times(np.array(["2027-03-09 19:50", "2027-03-09T19:50:30+10:30", "06:49", "dusk"], dtype=object))
    >>> (float(read.wall_min[1] - read.wall_min[0]), read.ahead_min.tolist(), read.dated.tolist(), list(read.faults))
    (0.5, [nan, 630.0, nan, nan], [True, True, False, False], [3])
    """
    n = texts.size
    wall, ahead, dated = np.full(n, np.nan), np.full(n, np.nan), np.zeros(n, dtype=bool)
    done = np.zeros(n, dtype=bool)
    for begin in range(0, n, _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        done[part] = _of_the_standard_form(texts[part], wall[part], ahead[part], dated[part])
    faults: dict[int, CellError] = {}
    left = np.flatnonzero(~done & (texts != ""))
    if left.size:
        distinct, place = np.unique(texts[left].astype(str), return_inverse=True)
        comes_first = day_first([text.split(" ")[0].split("T")[0] for text in distinct.tolist()])
        found: list = []
        for text in distinct.tolist():
            try:
                found.append(_one(text, comes_first))
            except CellError as why:
                found.append(why)
        for at, which in zip(left.tolist(), place.tolist(), strict=True):
            if isinstance(found[which], CellError):
                faults[at] = found[which]
            else:
                wall[at], ahead[at], dated[at] = found[which]
    return Times(wall, ahead, dated, faults)


def _of_the_standard_form(texts, wall, ahead, dated) -> np.ndarray:
    """Times in the manner of ISO 8601 to the minute or second, filled in together; which those are."""
    try:
        cells = texts.astype("S")
    except UnicodeEncodeError:
        return np.zeros(texts.size, dtype=bool)
    if not cells.size or cells.itemsize < 16:
        return np.zeros(texts.size, dtype=bool)
    signs = np.zeros((cells.size, max(cells.itemsize, 25)), dtype=np.uint8)
    signs[:, :cells.itemsize] = cells.view(np.uint8).reshape(cells.size, cells.itemsize)
    digit = (signs >= 48) & (signs <= 57)
    number = signs.astype(np.int64) - 48
    good = digit[:, [0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15]].all(axis=1) & (signs[:, 4] == 45) & (signs[:, 7] == 45) & (signs[:, 13] == 58)
    good &= (signs[:, 10] == 32) | (signs[:, 10] == 84)
    seconds = (signs[:, 16] == 58) & digit[:, 17] & digit[:, 18]
    begin = np.where(seconds, 19, 16)
    row = np.arange(cells.size)
    behind = np.stack([signs[row, np.minimum(begin + j, signs.shape[1] - 1)] for j in range(7)], axis=1)
    ends, zulu = behind[:, 0] == 0, (behind[:, 0] == 90) & (behind[:, 1] == 0)
    # The width is that of the longest cell: one that fills it has no end mark.
    short = begin + 6 <= signs.shape[1]
    offset = np.isin(behind[:, 0], (43, 45)) & (behind[:, 3] == 58) & ((behind[:, [1, 2, 4, 5]] >= 48) & (behind[:, [1, 2, 4, 5]] <= 57)).all(axis=1) & short
    offset &= (behind[:, 6] == 0) | (begin + 6 == signs.shape[1])
    good &= ends | zulu | offset
    if not good.any():
        return good
    n = number[good]
    year, month, day = n[:, 0] * 1000 + n[:, 1] * 100 + n[:, 2] * 10 + n[:, 3], n[:, 5] * 10 + n[:, 6], n[:, 8] * 10 + n[:, 9]
    hour, minute = n[:, 11] * 10 + n[:, 12], n[:, 14] * 10 + n[:, 15]
    second = np.where(seconds[good], n[:, 17] * 10 + n[:, 18], 0)
    months = (year - 1970) * 12 + month - 1
    first = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    length = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) - first
    sane = (month >= 1) & (month <= 12) & (day >= 1) & (day <= length) & (hour < 24) & (minute < 60) & (second < 60)
    at = np.flatnonzero(good)[sane]
    wall[at] = ((first + day - 1) * _MIN_PER_DAY + hour * 60 + minute + second / 60)[sane]
    shift = behind[good].astype(np.int64) - 48
    stated = np.where(behind[good][:, 0] == 45, -1, 1) * ((shift[:, 1] * 10 + shift[:, 2]) * 60 + shift[:, 4] * 10 + shift[:, 5])
    ahead[at] = np.where(ends[good], np.nan, np.where(zulu[good], 0.0, stated))[sane]
    dated[at] = True
    done = np.zeros(texts.size, dtype=bool)
    done[at] = True
    return done


def _one(text: str, comes_first: bool | None) -> tuple[float, float, bool]:
    whole = narrow(text).strip()
    match = _PARTS.fullmatch(whole)
    hour = int(match["hour"]) if match else 99
    half = match["half"] if match else None
    if half:
        hour = hour % 12 + (12 if half[0] in "pP" else 0) if 1 <= hour <= 12 else 99
    if match is None or hour > 23 or int(match["minute"]) > 59 or int(match["second"] or 0) > 59:
        raise CellError("no date and time", "such as 2027-06-21 17:05, with +09:30 or Z behind it where it is not legal time", "look at the log")
    minutes = hour * 60.0 + int(match["minute"]) + int(match["second"] or 0) / 60
    zone = (match["zone"] or "").upper()
    ahead = np.nan
    if zone:
        digits = zone.lstrip("+-").replace(":", "")
        ahead = 0.0 if zone in ("Z", "UTC", "GMT") else (-1 if zone[0] == "-" else 1) * (int(digits[:2]) * 60.0 + int(digits[2:] or 0))
    if match["date"] is None:
        return minutes, ahead, False
    date = calendar_date(match["date"], comes_first)
    return (np.datetime64(date) - np.datetime64("1970-01-01")).astype(int) * _MIN_PER_DAY + minutes, ahead, True
