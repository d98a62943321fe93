"""A switch's own clock: a keyed offset from UTC and a keyed daylight-saving rule, held against the law."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..errors import InputError
from ..numbers import clock
from ..numbers.civil import DAY_NAMES, MIN_PER_DAY, clock_text, dates
from ..numbers.clock import OffsetSequence, offset_min_at, offset_text
from ..numbers.sun import nights_of

_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
# How a table of settings says the published rules.
_SAVING_WORDS = {"none": "no summer time", "united states": "summer time as in the United States",
                 "european union": "summer time as in the European Union",
                 "southern australia": "summer time as in southern Australia"}
_NTH = {1: "first", 2: "second", 3: "third", 4: "fourth", -1: "last"}


@dataclass(frozen=True)
class NthWeekday:
    """A day such as "the first Sunday of April" and the time of it.

    Attributes
    ----------
    month : int
    nth : int
        1 to 4, or -1 for the last of the month.
    weekday : int
        Monday 0 to Sunday 6.
    at_min : int
        Minute of the day.
    by : {"standard", "utc", "wall"}
        The clock that the time is read on: standard time, UTC, or what the switch shows just before.
    """

    month: int
    nth: int
    weekday: int
    at_min: int
    by: str = "standard"

    def __post_init__(self):
        if not (1 <= self.month <= 12 and self.nth in _NTH and 0 <= self.weekday <= 6 and 0 <= self.at_min <= 1440
                and self.by in ("standard", "utc", "wall")):
            raise InputError("a summer-time change cannot be used", value=str(self),
                             rule="month 1 to 12; nth 1 to 4 or -1 (last); weekday mon to sun; a time 00:00 to 24:00; "
                                  "by standard, utc or wall")

    def day(self, year: int) -> int:
        """The day in a year, counted from 1 January of that year."""
        month = np.datetime64(f"{year:04d}-{self.month:02d}", "M")
        first = month.astype("datetime64[D]")
        length = int(((month + 1).astype("datetime64[D]") - first).astype(int))
        to_first = (self.weekday - (int(first.astype(int)) + 3)) % 7
        of_month = to_first + 7 * (self.nth - 1) if self.nth > 0 else to_first + 7 * ((length - 1 - to_first) // 7)
        return int((first - np.datetime64(f"{year:04d}-01-01", "D")).astype(int)) + of_month

    def text(self) -> str:
        """The day in plain words."""
        by = {"standard": "standard time", "utc": "UTC", "wall": "wall time"}[self.by]
        return f"{_NTH[self.nth]} {DAY_NAMES[self.weekday].title()} of {_MONTHS[self.month - 1]}, {clock_text(self.at_min)} {by}"


@dataclass(frozen=True)
class SavingRule:
    """When a switch puts its clock forward and back.

    Attributes
    ----------
    name : str
    start, end : NthWeekday or None
        None for a clock that is never changed.
    saving_min : int
        How far it is put forward.
    """

    name: str
    start: NthWeekday | None = None
    end: NthWeekday | None = None
    saving_min: int = 60

    def text(self) -> str:
        """The rule in plain words."""
        if self.start is None:
            return f"{self.name}: never changed"
        return f"{self.name}: {self.saving_min} min forward from {self.start.text()} to {self.end.text()}"


# Published rules, as the tz database states them (checked with 2026c): United States since 2007 (Energy Policy Act of 2005),
# European Union (Directive 2000/84/EC), southern Australia (New South Wales, Victoria, South Australia, Tasmania).
SAVING_RULES = {
    "none": SavingRule("none"),
    "united states": SavingRule("united states", NthWeekday(3, 2, 6, 120, "wall"), NthWeekday(11, 1, 6, 120, "wall")),
    "european union": SavingRule("european union", NthWeekday(3, -1, 6, 60, "utc"), NthWeekday(10, -1, 6, 60, "utc")),
    "southern australia": SavingRule("southern australia", NthWeekday(10, 1, 6, 120), NthWeekday(4, 1, 6, 120)),
}


@dataclass(frozen=True)
class SwitchClock:
    """What is keyed into a switch's clock.

    Attributes
    ----------
    standard_min : int
        Standard time minus UTC [minute].
    saving : SavingRule
    """

    standard_min: int
    saving: SavingRule = SAVING_RULES["none"]

    def __hash__(self) -> int:
        # Clocks stand in tables by the hundred thousand; all of a rule's days would be counted each time.
        return hash((self.standard_min, self.saving.name))

    def text(self) -> str:
        """The keying in plain words, such as "UTC+09:30, summer time as in southern Australia"."""
        saving = _SAVING_WORDS.get(self.saving.name, f"summer time {self.saving.name}")
        return f"UTC{offset_text(self.standard_min)}, {saving}"

    def sequence(self, year: int) -> OffsetSequence:
        """The offsets that the switch shows over a year, as `clock.offsets` gives them for a legal zone."""
        standard, saving = self.standard_min, self.saving
        if saving.start is None:
            return OffsetSequence(np.array([-np.inf]), np.array([standard]))
        changes = []
        for y in (year - 1, year, year + 1):
            to_year = float((np.datetime64(f"{y:04d}-01-01") - np.datetime64(f"{year:04d}-01-01")).astype(int))
            for change, on in ((saving.start, True), (saving.end, False)):
                wall = (to_year + change.day(y)) * MIN_PER_DAY + change.at_min
                shown = standard if on or change.by == "standard" else standard + saving.saving_min
                changes.append((wall - (0 if change.by == "utc" else shown), on))
        changes.sort()
        first, last = -clock.DAYS_BEFORE * MIN_PER_DAY, (nights_of(year).size + clock.DAYS_AFTER) * MIN_PER_DAY
        starts, values = [-np.inf], [standard]
        for utc, on in changes:
            value = standard + (saving.saving_min if on else 0)
            if utc <= first:
                values[0] = value
            elif utc <= last and value != values[-1]:
                starts.append(utc)
                values.append(value)
        return OffsetSequence(np.array(starts), np.array(values, dtype=np.int64))


@dataclass(frozen=True)
class ClockKeypad:
    """Which clocks a keypad offers.

    Attributes
    ----------
    standard_min : tuple of int
        Offsets from UTC that can be keyed [minute].
    savings : tuple of SavingRule
    """

    standard_min: tuple[int, ...] = tuple(range(-12 * 60, 14 * 60 + 1, 15))
    savings: tuple[SavingRule, ...] = tuple(SAVING_RULES.values())

    def __post_init__(self):
        for name in ("standard_min", "savings"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        if not self.standard_min or not self.savings:
            raise InputError("the keypad offers no clock", where="keypad",
                             rule="at least one offset from UTC and one summer-time rule")


@dataclass(frozen=True)
class WrongSpan:
    """A time in which a switch's clock does not show legal time.

    Attributes
    ----------
    first, last : str
        ISO dates, legal time, both included.
    fast_min : float
        Switch minus legal time: positive when its clock is ahead, and clock events come early by that much.
    weeks : float
        Length.
    """

    first: str
    last: str
    fast_min: float
    weeks: float

    def text(self) -> str:
        """The span in plain words."""
        side = "ahead of" if self.fast_min > 0 else "behind"
        return f"{self.first} to {self.last} ({self.weeks:.1f} weeks): {abs(self.fast_min):g} min {side} legal time"


@dataclass(frozen=True)
class Keying:
    """The clock to key for one clock rule.

    Attributes
    ----------
    switch_clock : SwitchClock
    sequence : OffsetSequence
        What it shows.
    wrong : tuple of WrongSpan
        Empty when it reproduces legal time all year.
    """

    switch_clock: SwitchClock
    sequence: OffsetSequence
    wrong: tuple[WrongSpan, ...]

    @property
    def exact(self) -> bool:
        """Whether legal time is reproduced all year."""
        return not self.wrong

    @property
    def wrong_weeks(self) -> float:
        """Weeks of the year in which the clock is wrong."""
        return sum(span.weeks for span in self.wrong)


def wrong_spans(shown: OffsetSequence, legal: OffsetSequence, year: int) -> tuple[WrongSpan, ...]:
    """When and by how much a clock that shows `shown` differs from legal time in a year.

    The year is the plan's: from noon on 1 January to noon on 1 January of the next in legal time.
    """
    edges, fast = _differences(shown, legal, year)
    spans = []
    for begin, end, value in zip(edges[:-1], edges[1:], fast):
        if value == 0:
            continue
        first, last = (float(np.floor((t + offset_min_at(legal, t)) / MIN_PER_DAY)) for t in (begin, end - 1e-3))
        spans.append(WrongSpan(str(dates(first, year)), str(dates(last, year)), float(value),
                               float(end - begin) / (7 * MIN_PER_DAY)))
    return tuple(spans)


def best_keying(legal: OffsetSequence, year: int, keypad: ClockKeypad = ClockKeypad()) -> Keying:
    """The clock on a keypad that reproduces legal time for most of the year.

    Ties: the smaller sum of minutes by which it is wrong, then the rule and the offset that the keypad names first.

    Examples
    --------
    >>> best_keying(clock.offsets("Australia/Adelaide", 2027), 2027).switch_clock.text()
    'UTC+09:30, summer time as in southern Australia'
    """
    return _best_keying(legal.key, year, keypad)


@lru_cache(maxsize=1024)
def _best_keying(legal_key: tuple, year: int, keypad: ClockKeypad) -> Keying:
    """By what identifies the legal time: a run asks for its few clocks again and again, at some 600 clocks tried each."""
    legal = OffsetSequence(*map(np.array, legal_key))
    best, best_cost = None, None
    for saving in keypad.savings:
        for standard in keypad.standard_min:
            keyed = SwitchClock(standard, saving)
            edges, fast = _differences(keyed.sequence(year), legal, year)
            length = np.diff(edges)
            cost = (float(length[fast != 0].sum()), float((length * np.abs(fast)).sum()))
            if best_cost is None or cost < best_cost:
                best, best_cost = keyed, cost
    sequence = best.sequence(year)
    return Keying(best, sequence, wrong_spans(sequence, legal, year))


def _differences(shown, legal, year):
    """Ends of the pieces in which shown minus legal is constant, and its value in each; neighbours differ."""
    span = np.array([0.5, nights_of(year).size + 0.5]) * MIN_PER_DAY
    begin, end = span - offset_min_at(legal, span)
    marks = np.concatenate([shown.start_utc_min[1:], legal.start_utc_min[1:]])
    edges = np.unique(np.concatenate([[begin], marks[(marks > begin) & (marks < end)], [end]]))
    middle = (edges[1:] + edges[:-1]) / 2
    fast = (offset_min_at(shown, middle) - offset_min_at(legal, middle)).astype(float)
    fresh = np.append(True, fast[1:] != fast[:-1])
    return np.append(edges[:-1][fresh], end), fast[fresh]
