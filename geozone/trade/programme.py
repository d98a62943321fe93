"""Programmes: when lamps are switched on and off, as a switch holds it and as people say it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime

from ..errors import InputError
from ..nearnames import did_you_mean
from ..numbers.civil import DAY_NAMES, clock_text
from .bounds import checked_whole

DAY_SETS = {
    "all": frozenset(range(7)),
    "mon-fri": frozenset(range(5)),
    "weekend": frozenset((5, 6)),
    **{name: frozenset((i,)) for i, name in enumerate(DAY_NAMES)},
}
ALL_DAYS = DAY_SETS["all"]
SUN_EDGES = ("dusk", "dawn")
NIGHT_RULES = ("night", "date")
TURNS = ("on", "off")
# A shift, and a shift with an offset added to it; half a day is more than any keypad holds.
SHIFT_LIMIT_MIN = 720
_MOST_SHIFT_MIN = 2 * SHIFT_LIMIT_MIN
MONTH_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True)
class Season:
    """Part of the year, both days included; it may run over New Year.

    Attributes
    ----------
    first, last : int
        Month and day as one number: 401 is 1 April.
    """

    first: int
    last: int

    def __post_init__(self):
        for name in ("first", "last"):
            value = getattr(self, name)
            checked_whole("season", name, value, 101, 1231, "401 is 1 April, 1231 is 31 December")
            if not 1 <= value // 100 <= 12 or not 1 <= value % 100 <= MONTH_DAYS[value // 100 - 1]:
                raise InputError(f"{name} is no day of the year", where="season", value=value,
                                 rule="month and day as one number", next_step="401 is 1 April, 1231 is 31 December")

    def toml(self) -> str:
        """The season as the job file spells it."""
        return f'{{ from = "{_month_day(self.first)}", to = "{_month_day(self.last)}" }}'


@dataclass(frozen=True)
class Event:
    """One line of a programme.

    Attributes
    ----------
    turn : {"on", "off"}
    at : {"dusk", "dawn"} or int
        The sun's edge, or a clock time as minute of the day (0 to 1440; 1440 is the end of the day).
    shift_min : int
        Whole minutes after dusk or dawn, negative before; 0 for clock times.
    days : frozenset of int
        Weekdays, Monday 0.
    season : Season or None
        None is the whole year.
    place : str
        Where it stands in the job file, for messages.
    """

    turn: str
    at: str | int
    shift_min: int = 0
    days: frozenset = ALL_DAYS
    season: Season | None = None
    place: str = field(default="", compare=False)

    def __post_init__(self):
        where = self.place or "event"
        if self.turn not in TURNS:
            raise _unknown(where, "turn", self.turn, TURNS)
        if isinstance(self.at, str) and self.at not in SUN_EDGES:
            raise InputError("at is neither dusk nor dawn", where=where, value=self.at,
                             rule='"dusk", "dawn" or the minute of the day from 0 to 1440',
                             next_step=did_you_mean(self.at, SUN_EDGES, "23:30 is minute 1410"))
        if not isinstance(self.at, str):
            checked_whole(where, "at", self.at, 0, 1440, "23:30 is minute 1410; 1440 is the end of the day")
        checked_whole(where, "shift_min", self.shift_min, -_MOST_SHIFT_MIN, _MOST_SHIFT_MIN, "whole minutes, positive is later")
        if self.shift_min and not self.by_sun:
            raise InputError("a shift belongs to dusk or dawn", where=where, value=self.shift_min,
                             rule="shift_min = 0 with a clock time", next_step="give the clock time that you mean")
        if not isinstance(self.days, (frozenset, set)) or not self.days or not self.days <= ALL_DAYS:
            raise InputError("days cannot be used", where=where, value=str(self.days),
                             rule="a frozenset of weekdays, 0 for Monday to 6 for Sunday, at least one",
                             next_step='days=frozenset(range(5)) is Monday to Friday')
        if self.season is not None and not isinstance(self.season, Season):
            raise InputError("season is no Season", where=where, value=str(self.season),
                             rule="a Season, or None for the whole year", next_step="Season(1001, 331) is 1 October to 31 March")

    @property
    def by_sun(self) -> bool:
        """Whether it follows the sun and not the clock."""
        return self.at in SUN_EDGES

    def text(self) -> str:
        """The event in plain words.

        Examples
        --------
        >>> Event("off", 1410, days=DAY_SETS["mon-fri"]).text()
        'off at 23:30, Mon-Fri'
        """
        when = str(self.at) if self.by_sun else clock_text(self.at)
        if self.shift_min:
            when = f"{abs(self.shift_min)} min {'after' if self.shift_min > 0 else 'before'} {when}"
            parts = [f"{self.turn} {when}"]
        else:
            parts = [f"{self.turn} at {when}"]
        if self.days != ALL_DAYS:
            parts.append(weekdays_text(self.days))
        if self.season:
            parts.append(f"{_words(self.season.first)} to {_words(self.season.last)}")
        return ", ".join(parts)

    def toml(self) -> str:
        """The event as lines of the job file."""
        lines = ["[[programme.event]]", f'turn = "{self.turn}"',
                 f'at = "{self.at if self.by_sun else clock_text(self.at)}"']
        if self.shift_min:
            lines.append(f"shift_min = {self.shift_min}")
        if self.days != ALL_DAYS:
            named = next((f'"{name}"' for name, days in DAY_SETS.items() if days == self.days), None)
            lines.append(f"days = {named or '[' + ', '.join(f'{chr(34)}{DAY_NAMES[d]}{chr(34)}' for d in sorted(self.days)) + ']'}")
        if self.season:
            lines.append(f"season = {self.season.toml()}")
        return "\n".join(lines)


@dataclass(frozen=True)
class Programme:
    """Events that one switch obeys.

    Attributes
    ----------
    name : str
    events : tuple of Event
        At the same minute the later line wins.
    night_rule : {"night", "date"}
        What the days, seasons and holidays of an event mean: "night", the night it falls in (named by the date of
        its evening; a clock time before 12:00 belongs to the night that began the evening before), or "date", the
        civil date on which it happens.
    areas : tuple of str
        Areas whose sites have this programme; empty when a column or the only programme decides.
    place : str
        Where it stands in the job file.
    """

    name: str
    events: tuple[Event, ...]
    night_rule: str = "night"
    areas: tuple[str, ...] = ()
    place: str = field(default="", compare=False)

    def __post_init__(self):
        where = self.place or "programme"
        if not isinstance(self.name, str) or not self.name.strip():
            raise InputError("the programme has no name", where=where, value=self.name, rule="a text that is not blank",
                             next_step='for example "part-night"')
        events = self.events
        if not isinstance(events, (tuple, list)) or not events or not all(isinstance(event, Event) for event in events):
            raise InputError(f"programme {self.name!r} has no events", where=where, value=str(events),
                             rule="a tuple of Event, at least one", next_step='for example (Event("on", "dusk"), Event("off", "dawn"))')
        if self.night_rule not in NIGHT_RULES:
            raise _unknown(where, "night_rule", self.night_rule, NIGHT_RULES)
        if isinstance(self.areas, str) or not all(isinstance(area, str) for area in self.areas):
            raise InputError("areas are no names", where=where, value=str(self.areas), rule="a tuple of texts",
                             next_step='for example ("North", "South")')

    @property
    def plain(self) -> bool:
        """Whether this is dusk to dawn every night, which `setting_drift` answers faster."""
        bare = {(e.turn, e.at, e.shift_min) for e in self.events}
        return bare == {("on", "dusk", 0), ("off", "dawn", 0)} and all(
            e.days == ALL_DAYS and e.season is None for e in self.events)

    @property
    def night_rule_text(self) -> str:
        """The night rule in plain words."""
        if self.night_rule == "night":
            return "days mean nights: a clock time before 12:00 belongs to the night that began the evening before"
        return "days mean civil dates: a clock time after midnight belongs to the new date"

    def with_events(self, events) -> "Programme":
        """The same programme with other events."""
        return replace(self, events=tuple(events))

    def toml(self) -> str:
        """The programme as lines of the job file."""
        head = ["[[programme]]", f'name = "{self.name}"', f'night_rule = "{self.night_rule}"']
        if self.areas:
            head.append("areas = [" + ", ".join(f'"{_quoted(a)}"' for a in self.areas) + "]")
        head[1] = f'name = "{_quoted(self.name)}"'
        return "\n\n".join(["\n".join(head), *(event.toml() for event in self.events)]) + "\n"


@dataclass(frozen=True)
class Holidays:
    """Dates that count as another weekday.

    Attributes
    ----------
    dates : tuple of datetime.date
    counts_as : int
        Weekday, Monday 0 to Sunday 6.
    """

    dates: tuple[date, ...] = ()
    counts_as: int = 6

    def __post_init__(self):
        checked_whole("holidays", "counts_as", self.counts_as, 0, 6, "the weekday that they count as: Monday is 0, Sunday is 6")
        for one in self.dates:
            if not isinstance(one, date) or isinstance(one, datetime):
                raise InputError("a holiday is no date", where="holidays", value=str(one), rule="dates without a time of day",
                                 next_step="datetime.date(2027, 12, 25) is Christmas Day of 2027")


DUSK_TO_DAWN = Programme("dusk to dawn", (Event("on", "dusk"), Event("off", "dawn")))


def meant_order(events) -> list[int]:
    """Indices of events in the order in which they are meant in a night: dusk, clock times from noon on, dawn.

    A dawn event with a negative shift still comes after every clock time; within dusk and within dawn the
    shift decides, then the line.
    """
    def rank(i):
        event = events[i]
        if event.at == "dusk":
            return 0, event.shift_min, i
        if event.at == "dawn":
            return 2, event.shift_min, i
        return 1, minute_of_night(event.at), i

    return sorted(range(len(events)), key=rank)


def minute_of_night(minute: int) -> int:
    """Minutes from 12:00 at which a clock time comes in the night; 24:00 and 00:00 are both 720."""
    return minute - 720 if minute >= 720 else minute + 720


def days_text(days) -> str:
    """A set of weekdays as a job file spells it, such as "mon-fri" or "mon, wed"."""
    for name, known in DAY_SETS.items():
        if known == days:
            return name
    return ", ".join(DAY_NAMES[d] for d in sorted(days))


def weekday_runs(days) -> list[tuple[int, int]]:
    """Weekdays that follow one another as pairs of the first and the last, over the week's end too: Sunday to Thursday is (6, 3).

    Examples
    --------
    >>> weekday_runs({6, 0, 1, 2, 3}), weekday_runs({0, 2, 3}), weekday_runs(range(7))
    ([(6, 3)], [(0, 0), (2, 3)], [(0, 6)])
    """
    days = set(days)
    if len(days) == 7:
        return [(0, 6)]
    runs = []
    for first in sorted(day for day in days if (day - 1) % 7 not in days):
        last = first
        while (last + 1) % 7 in days:
            last = (last + 1) % 7
        runs.append((first, last))
    return runs


def weekdays_text(days, names=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), to: str = "-") -> str:
    """Weekdays for people: runs of three days and more from the first to the last.

    Examples
    --------
    >>> weekdays_text({6, 0, 1, 2, 3}), weekdays_text({4, 5}), weekdays_text({0, 2})
    ('Sun-Thu', 'Fri, Sat', 'Mon, Wed')
    """
    said = []
    for first, last in weekday_runs(days):
        run = [(first + i) % 7 for i in range((last - first) % 7 + 1)]
        said += [f"{names[first]}{to}{names[last]}"] if len(run) > 2 else [names[day] for day in run]
    return ", ".join(said)


def _unknown(where: str, name: str, value, known: tuple[str, ...]) -> InputError:
    listed = " or ".join(f'"{one}"' for one in known)
    return InputError(f"{name} is not known", where=where, value=value, rule=listed, next_step=did_you_mean(value, known, f"choose {listed}"))


def _month_day(value: int) -> str:
    return f"{value // 100:02d}-{value % 100:02d}"


def _words(value: int) -> str:
    return f"{value % 100} {'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split()[value // 100 - 1]}"


def _quoted(text: str) -> str:
    """Text inside a TOML basic string: backslash, quote and control characters escaped."""
    out = []
    for c in text:
        if c in '"\\':
            out.append("\\" + c)
        elif ord(c) < 32 or ord(c) == 127:
            out.append(f"\\u{ord(c):04x}")
        else:
            out.append(c)
    return "".join(out)
