"""Legal time: which offset from UTC the law prescribes at which instant.

The rules come from the tz database as packaged on PyPI, never from the operating system: an
operating system's copy can be years old, and a law that changed since then would shift every
switching by an hour without any sign of it.

The one minute scale used throughout is *UTC minutes of the year*: minutes since 1 January
00:00 UTC of the plan's year, negative before it.
"""

from __future__ import annotations

import difflib
import zoneinfo
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone, tzinfo
from functools import lru_cache

import numpy as np

from ..errors import InputError

# The offsets of a year are looked up from 30 December before to 5 January after it: the dawn of
# the last night falls in the next year, and legal dates run up to 14 hours ahead of UTC.
DAYS_BEFORE, DAYS_AFTER = 2, 5

# Two clock changes of one zone within one step would be missed. The closest pair in
# the packaged data since 1972 is weeks apart (Morocco's month of fasting).
_STEP_S = 24 * 3600

YEARS = range(1900, 2201)


@dataclass(frozen=True, eq=False)
class OffsetSequence:
    """The UTC offsets of one clock over a year: an answer to "how late is it there?".

    Attributes
    ----------
    start_utc_min : ndarray of float64, shape (k,)
        When each offset starts [UTC minutes of the year], ascending; the first is -inf.
    offset_min : ndarray of int64 (float64 where an offset is no whole minute), shape (k,)
        Legal time minus UTC [min], positive east of Greenwich.

    Notes
    -----
    True from 30 December of the year before to 5 January of the year after; beyond that the
    first and the last offset go on, whatever the law says. Neighbouring offsets differ.
    """

    start_utc_min: np.ndarray
    offset_min: np.ndarray

    def __post_init__(self):
        for values in (self.start_utc_min, self.offset_min):
            values.flags.writeable = False

    @property
    def key(self) -> tuple:
        """Hashable identity: two legal zones with the same key share a clock rule."""
        return tuple(self.start_utc_min.tolist()), tuple(self.offset_min.tolist())


def use_packaged_tz() -> None:
    """Make `zoneinfo` read the PyPI tz data instead of the operating system's. Idempotent."""
    if zoneinfo.TZPATH:
        zoneinfo.reset_tzpath(to=())
        zoneinfo.ZoneInfo.clear_cache()


def tz_version() -> str:
    """Release of the tz database in use, for example ``2026f``."""
    import tzdata

    return tzdata.IANA_VERSION


@lru_cache(maxsize=1)
def zone_names() -> frozenset[str]:
    use_packaged_tz()
    # "Factory" is the tz database's placeholder for a machine that nobody has set up.
    return frozenset(zoneinfo.available_timezones()) - {"Factory"}


def valid_zone(name: object) -> bool:
    """Whether `name` is a legal zone of the tz database, spelled exactly as there."""
    return isinstance(name, str) and name in zone_names()


def near_zones(name: str, count: int = 3) -> list[str]:
    """Legal zones spelled nearly like `name`, nearest first; empty when nothing is near.

    The part after the last slash counts as well, so that "Adelaide" finds Australia/Adelaide.
    """
    wanted = str(name).strip().replace(" ", "_").casefold()
    if not wanted:
        return []
    spelled: dict[str, list[str]] = {}
    for zone in sorted(zone_names()):
        spelled.setdefault(zone.casefold(), []).append(zone)
        # Short single names (abbreviations such as "EST") would be near to everything.
        place = zone.rsplit("/", 1)[-1].casefold()
        if "/" in zone and len(place) > 3:
            spelled.setdefault(place, []).append(zone)
    # The right place under the wrong heading: "Canada/Moncton" is America/Moncton.
    found = [zone for zone in spelled.get(wanted.rsplit("/", 1)[-1], ()) if "/" in wanted and "/" in zone]
    for match in difflib.get_close_matches(wanted, spelled, n=3 * count, cutoff=0.7):
        found += [zone for zone in spelled[match] if zone not in found]
    return found[:count]


@lru_cache(maxsize=1024)
def offsets(legal_zone: str, year: int) -> OffsetSequence:
    """UTC offsets of a legal zone over a year, every change to the second.

    Parameters
    ----------
    legal_zone : str
        Name in the tz database, for example ``Australia/Adelaide``.
    year : int
        1900 to 2200. For years to come the rules now in force are taken to go on.

    Raises
    ------
    InputError
        If the tz database has no such zone, or the year is out of range.

    References
    ----------
    The tz database (public domain), as packaged in PyPI ``tzdata``; release: `tz_version`.

    Examples
    --------
    >>> offsets("Australia/Adelaide", 2027).offset_min
    array([630, 570, 630])
    """
    if not valid_zone(legal_zone):
        near = near_zones(legal_zone)
        raise InputError("unknown legal zone", value=legal_zone,
                         rule=f"a name of the tz database {tz_version()}, such as Australia/Adelaide",
                         next_step=f"perhaps {' or '.join(near)}" if near else "check the spelling")
    if year not in YEARS:
        raise InputError("year is out of range", value=year,
                         rule=f"a whole year from {YEARS[0]} to {YEARS[-1]}")
    use_packaged_tz()
    return offsets_in(zoneinfo.ZoneInfo(legal_zone), year)


def offsets_in(zone: tzinfo, year: int) -> OffsetSequence:
    """UTC offsets of any zone over a year, every change to the second: `offsets` for a zone of another tz database.

    Parameters
    ----------
    zone : datetime.tzinfo
    year : int
        1900 to 2200.
    """
    new_year = datetime(year, 1, 1, tzinfo=timezone.utc)

    def offset_s(second: int) -> float:
        return (new_year + timedelta(seconds=second)).astimezone(zone).utcoffset().total_seconds()

    days = (datetime(year + 1, 1, 1) - datetime(year, 1, 1)).days + DAYS_AFTER
    starts, values = [-np.inf], [offset_s(-DAYS_BEFORE * 86400)]
    for end in range(-DAYS_BEFORE * 86400 + _STEP_S, days * 86400 + 1, _STEP_S):
        value = offset_s(end)
        if value == values[-1]:
            continue
        before, after = end - _STEP_S, end
        while after - before > 1:
            middle = (before + after) // 2
            if offset_s(middle) == values[-1]:
                before = middle
            else:
                after = middle
        starts.append(after / 60)
        values.append(value)
    offset_min = np.array(values) / 60
    whole = np.rint(offset_min)
    return OffsetSequence(np.array(starts), whole.astype(np.int64) if (whole == offset_min).all() else offset_min)


def offset_min_at(sequence: OffsetSequence, utc_min) -> np.ndarray:
    """Legal time minus UTC at given instants [min]; same shape as `utc_min`.

    Parameters
    ----------
    sequence : OffsetSequence
    utc_min : array_like of float
        UTC minutes of the year; at a clock change the new offset holds. NaN gives the last
        offset, so that ``utc_min + offset`` stays NaN.
    """
    index = np.searchsorted(sequence.start_utc_min, np.asarray(utc_min, dtype=float), side="right") - 1
    return sequence.offset_min[index]


def wall_time(utc_min, sequence: OffsetSequence, year: int) -> np.ndarray:
    """What a clock that follows `sequence` shows, to the nearest minute (datetime64[m]); NaN gives NaT."""
    utc_min = np.asarray(utc_min, dtype=float)
    shown = utc_min + offset_min_at(sequence, utc_min)
    known = np.isfinite(shown)
    minutes = np.where(known, np.floor(np.where(known, shown, 0) + 0.5), 0).astype("timedelta64[m]")
    return np.where(known, _new_year(year) + minutes, np.datetime64("NaT", "m"))


def to_legal(utc_min, legal_zone: str, year: int) -> np.ndarray:
    """Legal wall time of UTC minutes of the year, to the nearest minute (datetime64[m]); NaN gives NaT.

    Examples
    --------
    >>> str(to_legal(0.0, "Australia/Adelaide", 2027))
    '2027-01-01T10:30'
    """
    return wall_time(utc_min, offsets(legal_zone, year), year)


def offset_text(offset_min: float) -> str:
    """An offset as people write it: ``+09:30``, ``-03:30``; seconds only where there are any."""
    seconds = round(abs(float(offset_min)) * 60)
    text = f"{'-' if offset_min < 0 else '+'}{seconds // 3600:02d}:{seconds // 60 % 60:02d}"
    return text + (f":{seconds % 60:02d}" if seconds % 60 else "")


def rule_text(sequence: OffsetSequence, year: int) -> str:
    """The clock over the legal year in plain words, dates in legal time.

    Examples
    --------
    >>> rule_text(offsets("Australia/Adelaide", 2027), 2027)
    'UTC+09:30, +10:30 to 4 Apr and from 3 Oct'
    >>> rule_text(offsets("Australia/Brisbane", 2027), 2027)
    'UTC+10:00 all year'
    """
    first, last = _legal_year(sequence, year)
    changes = [_day(sequence, i, year) for i in range(first + 1, last + 1)]
    texts = [offset_text(value) for value in sequence.offset_min[first:last + 1]]
    if not changes:
        return f"UTC{texts[0]} all year"
    if len(texts) == 3 and texts[0] == texts[2]:
        a, b = sequence.offset_min[first], sequence.offset_min[first + 1]
        if b > a:
            return f"UTC{texts[0]}, {texts[1]} from {changes[0]} to {changes[1]}"
        return f"UTC{texts[1]}, {texts[0]} to {changes[0]} and from {changes[1]}"
    parts = [f"{text} to {day}" for text, day in zip(texts, changes)]
    return "UTC" + ", ".join(parts) + f", then {texts[-1]}"


def _new_year(year: int) -> np.datetime64:
    return np.datetime64(f"{year:04d}-01-01T00:00", "m")


def _legal_year(sequence: OffsetSequence, year: int) -> tuple[int, int]:
    """Index of the first and of the last offset in force between legal New Year and New Year."""
    length_min = (_new_year(year + 1) - _new_year(year)).astype(float)
    begin = sequence.start_utc_min + sequence.offset_min
    end = np.append(sequence.start_utc_min[1:] + sequence.offset_min[:-1], np.inf)
    inside = np.flatnonzero((end > 0) & (begin < length_min))
    return int(inside[0]), int(inside[-1])


def _day(sequence: OffsetSequence, index: int, year: int) -> str:
    """Legal date of a clock change, read on the clock before it is changed: ``4 Apr``."""
    shown = sequence.start_utc_min[index] + sequence.offset_min[index - 1]
    date = (_new_year(year) + np.timedelta64(int(shown), "m")).astype(datetime)
    return f"{date.day} {'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split()[date.month - 1]}"
