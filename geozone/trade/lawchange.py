"""Two laws of legal time held against each other: from when a keyed clock goes wrong, by how much, and which clock is then right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..numbers.civil import MIN_PER_DAY, dates
from ..numbers.clock import OffsetSequence, offset_min_at
from .switchclock import ClockKeypad, SwitchClock, best_keying

#: A year that begins on any day [minute].
_YEAR_MIN = 365.0 * MIN_PER_DAY
_WEEK_MIN = 7.0 * MIN_PER_DAY
#: Lengths that differ by less are equal: sums of minutes [minute].
_SAME_MIN = 1e-6

STATES = ("visit", "stays", "same")


@dataclass(frozen=True)
class LawChange:
    """What a change of law means for switches that keep one legal zone's time.

    Attributes
    ----------
    state : {"visit", "stays", "same"}
        "visit": another clock is to be keyed; "stays": legal time changes, but no clock of the keypad follows it better for a year than
        the one that is keyed; "same": legal time is the same.
    before : SwitchClock
        Right by the earlier law.
    after : SwitchClock
        To key by the later one.
    from_date : str
        ISO date from which the keyed clock is wrong by the later law, read on the clock before it is changed; "" for "same".
    right_from : str
        With "visit" the first date from which the clock to key shows legal time without a break until it must: a visit from then on does.
    since_before : bool
        The laws differ already where the span that is compared begins: both dates are then its first day, and it may have been earlier.
    fast_min : float
        The keyed clock minus legal time at that date, positive when it is ahead [minute].
    wrong_weeks : float
        Weeks of the year from that date in which the keyed clock is wrong if nothing is done.
    after_wrong_weeks : float
        The same for the clock to key: above 0 where the keypad cannot follow the law.
    """

    state: str
    before: SwitchClock
    after: SwitchClock
    from_date: str = ""
    right_from: str = ""
    since_before: bool = False
    fast_min: float = 0.0
    wrong_weeks: float = 0.0
    after_wrong_weeks: float = 0.0


def joined(of_year: Callable[[int], OffsetSequence], years: range) -> OffsetSequence:
    """The offsets of several years as one sequence [UTC minutes since 1 January of the first].

    Parameters
    ----------
    of_year : callable
        The sequence of one year, as `clock.offsets` gives it.
    years : range
    """
    starts, values = [-np.inf], []
    for year in years:
        sequence = of_year(year)
        begin, end = (float((np.datetime64(f"{y:04d}-01-01") - np.datetime64(f"{years[0]:04d}-01-01")).astype(int)) * MIN_PER_DAY for y in (year, year + 1))
        if not values:
            values.append(offset_min_at(sequence, 0.0).item())
        for start, value in zip(sequence.start_utc_min.tolist(), sequence.offset_min.tolist(), strict=True):
            if 0 <= start < end - begin and value != values[-1]:
                starts.append(start + begin)
                values.append(value)
    return OffsetSequence(np.array(starts), np.array(values))


def law_change(old: Callable[[int], OffsetSequence], new: Callable[[int], OffsetSequence], year: int, keypad: ClockKeypad = ClockKeypad()) -> LawChange:
    """How a switch's clock that is right by one law fares by another.

    Parameters
    ----------
    old, new : callable
        The offsets of a year by either law, as `clock.offsets` gives them.
    year : int
        The plan's. Compared are this year, the one before and the one after.
    keypad : ClockKeypad

    Returns
    -------
    LawChange

    Notes
    -----
    The clock that is keyed, and the one to key, are those that show the earlier and the later law for most of the year from the date
    of the change; of equally good ones the one that is keyed stays.

    Examples
    --------
    >>> from ..numbers.clock import offsets
    >>> law_change(lambda y: offsets("Europe/Paris", y), lambda y: offsets("Africa/Algiers", y), 2027).from_date
    '2026-03-29'
    """
    years = range(year - 1, year + 3)
    earlier, later = joined(old, years), joined(new, years)
    last = float((np.datetime64(f"{year + 2:04d}-01-01") - np.datetime64(f"{year - 1:04d}-01-01")).astype(int)) * MIN_PER_DAY
    changes = [begin for begin, _, value in _pieces(earlier, later, 0.0, last) if value]
    found: LawChange | None = None
    for begin in changes:
        clocks = _clocks(keypad, years)
        before, shown = _best(earlier, clocks, begin)
        after, to_show = _best(later, clocks, begin, (before, shown))
        # Where the keypad cannot follow the earlier law either, the keyed clock may go wrong some days before that law ends.
        wrong = [piece for piece in _pieces(shown, later, 0.0, begin + _YEAR_MIN) if piece[2] and piece[1] > begin]
        if not wrong:
            continue
        first, fast = wrong[0][0], wrong[0][2]
        weeks, left = (_cost(one, later, first)[0] / _WEEK_MIN for one in (shown, to_show))
        if after == before:
            found = found or LawChange("stays", before, after, _date(first, later, years[0]), "", first == 0.0, fast, weeks, left)
            continue
        back = [end for _, end, value in _pieces(to_show, later, 0.0, first) if value] if first > 0 else []
        right_from = back[-1] if back else 0.0
        return LawChange("visit", before, after, _date(first, later, years[0]), _date(right_from, later, years[0]), first == 0.0, fast, weeks, left)
    if found is not None:
        return found
    keyed = best_keying(new(year), year, keypad).switch_clock
    return LawChange("same", keyed, keyed)


@lru_cache(maxsize=4)
def _clocks(keypad: ClockKeypad, years: range) -> list[tuple[SwitchClock, OffsetSequence]]:
    """What each clock of a keypad shows."""
    clocks = [SwitchClock(standard, saving) for saving in keypad.savings for standard in keypad.standard_min]
    return [(one, joined(one.sequence, years)) for one in clocks]


def _best(law: OffsetSequence, clocks, begin: float, keyed=None):
    """The clock that shows a law for most of a year, and what it shows; the keyed one where none is better."""
    best, least = keyed, _cost(keyed[1], law, begin) if keyed else None
    for one in clocks:
        cost = _cost(one[1], law, begin)
        if least is None or cost[0] < least[0] - _SAME_MIN or (cost[0] < least[0] + _SAME_MIN and cost[1] < least[1] - _SAME_MIN):
            best, least = one, cost
    return best


def _cost(shown: OffsetSequence, law: OffsetSequence, begin: float) -> tuple[float, float]:
    wrong = [(end - start, abs(value)) for start, end, value in _pieces(shown, law, begin, begin + _YEAR_MIN) if value]
    return sum(length for length, _ in wrong), sum(length * value for length, value in wrong)


def _pieces(one: OffsetSequence, other: OffsetSequence, begin: float, end: float) -> list[tuple[float, float, float]]:
    """Begin, end and difference of each piece of a span in which one clock minus the other is constant; neighbours differ."""
    marks = np.concatenate([one.start_utc_min[1:], other.start_utc_min[1:]])
    edges = np.unique(np.concatenate([[begin], marks[(marks > begin) & (marks < end)], [end]]))
    if edges.size < 2:
        return []
    value = (offset_min_at(one, edges[:-1]) - offset_min_at(other, edges[:-1])).astype(float)
    fresh = np.flatnonzero(np.append(True, value[1:] != value[:-1]))
    ends = np.append(edges[fresh[1:]], edges[-1])
    return list(zip(edges[fresh].tolist(), ends.tolist(), value[fresh].tolist(), strict=True))


def _date(utc_min: float, law: OffsetSequence, first_year: int) -> str:
    """The date of a change on the clock before it is changed; of the span's beginning its first day."""
    if utc_min <= 0:
        return f"{first_year:04d}-01-01"
    return str(dates(np.floor((utc_min + offset_min_at(law, utc_min - _SAME_MIN)) / MIN_PER_DAY), first_year))
