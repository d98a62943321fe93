"""The sections of a job file about switching programmes; each key with its type, default and sentence."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field, field_validator, model_validator

from ..nearnames import did_you_mean
from ..numbers.civil import DAY_NAMES
from ..trade.programme import DAY_SETS, MONTH_DAYS, SHIFT_LIMIT_MIN, SUN_EDGES
from .keys import Refusal, Section, Text, Whole, key, table

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
_TIME_RULE = '"dusk", "dawn" or a clock time in whole minutes from "00:00" to "24:00"'
_DATES = ["2027-01-01", "2027-12-27"]


def minute_of(value) -> int:
    """A clock time as minute of the day, 0 to 1440; a `Refusal` if it is no time of a day in whole minutes."""
    if isinstance(value, dt.time) and not value.second and not value.microsecond:
        return value.hour * 60 + value.minute
    parts = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", value) if isinstance(value, str) else None
    if parts and int(parts[2]) < 60 and 60 * int(parts[1]) + int(parts[2]) <= 1440:
        return 60 * int(parts[1]) + int(parts[2])
    shown = value if isinstance(value, (str, int, float)) else str(value)
    raise Refusal("impossible time", value=shown, rule=_TIME_RULE, next_step=did_you_mean(shown, SUN_EDGES, 'for example "23:30"'))


def days_of(value) -> frozenset:
    """Weekdays from "all", "mon-fri", "weekend", a day's name, or a list of these; else a `Refusal`."""
    wanted = [value] if isinstance(value, str) else value
    if not isinstance(wanted, list) or not wanted:
        raise Refusal("days cannot be used", value=value, rule='"all", "mon-fri", "weekend", or a list such as ["mon", "tue"]',
                      next_step='for example days = "mon-fri"')
    days = frozenset()
    for i, name in enumerate(wanted):
        if not isinstance(name, str) or name not in DAY_SETS:
            raise Refusal("unknown day", value=name, rule=f"one of {', '.join(DAY_SETS)}", at=(i,) if wanted is value else (),
                          next_step=did_you_mean(name, DAY_SETS, 'for example days = "mon-fri"'))
        days |= DAY_SETS[name]
    return days


def _month_day(value) -> int:
    parts = re.fullmatch(r"(\d\d)-(\d\d)", value) if isinstance(value, str) else None
    if not parts or not 1 <= int(parts[1]) <= 12 or not 1 <= int(parts[2]) <= MONTH_DAYS[int(parts[1]) - 1]:
        raise Refusal("no such day of the year", value=str(value), rule="month-day", next_step='for example "04-01" for 1 April')
    return 100 * int(parts[1]) + int(parts[2])


def _moment(value):
    return value if isinstance(value, str) and value in SUN_EDGES else minute_of(value)


def _date(value) -> dt.date:
    try:
        return value if type(value) is dt.date else dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise Refusal("a holiday is no date", value=str(value), rule="year-month-day",
                      next_step='for example dates = ["2027-01-26", "2027-04-26"]') from None


def _price(value):
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value < 1e6:
        raise Refusal("the price cannot be used", value=value, rule="a number, 0 or more: the price of one kilowatt-hour",
                      next_step="for example per_kwh = 0.30")
    return float(value)


def _unlike(programmes: list) -> list:
    names = [one.name for one in programmes]
    for i, name in enumerate(names):
        if name in names[:i]:
            raise Refusal("two programmes have the same name", value=name, at=(i, "name"), rule="each name once",
                          next_step="give one of them another name")
    return programmes


Clock = Annotated[int, BeforeValidator(minute_of)]
Days = Annotated[Any, BeforeValidator(days_of)]
Price = Annotated[float, BeforeValidator(_price)]
_DAYS = {"kind": '"all", "mon-fri", "weekend", a weekday, or a list of these', "example": "mon-fri", "default": "all"}
_ONE_LINE = ConfigDict(json_schema_extra={"inline": True})


def _days(sentence: str):
    return Field(DAY_SETS["all"], description=sentence, json_schema_extra=_DAYS)


def _clock(sentence: str, spelled: str, default: int):
    text = f"{default // 60:02d}:{default % 60:02d}"
    return Field(default, alias=spelled, description=sentence,
                 json_schema_extra={"kind": 'a clock time such as "23:30"', "example": text, "default": text})


class ClockChange(Section):
    """A change of the clock, on one line."""

    model_config = _ONE_LINE
    month: Whole = key("month", example=10, ge=1, le=12)
    nth: Literal[1, 2, 3, 4, -1] = key("which weekday of the month; -1 is the last", example=1)
    weekday: Weekday = key("weekday", example="sun")
    at: Clock = Field(description="clock time", json_schema_extra={"kind": 'a clock time such as "02:00"', "example": "02:00"})
    by: Literal["standard", "utc", "wall"] = key("the clock that the time is read on", "standard")


class SeasonSection(Section):
    """A part of the year, on one line; both days included."""

    model_config = _ONE_LINE
    first: Annotated[int, BeforeValidator(_month_day)] = Field(alias="from", description="first day",
                                                              json_schema_extra={"kind": "month-day", "example": "10-01"})
    last: Annotated[int, BeforeValidator(_month_day)] = Field(alias="to", description="last day",
                                                             json_schema_extra={"kind": "month-day", "example": "03-31"})


class EventSection(Section):
    """[[programme.event]]: one switching."""

    turn: Literal["on", "off"] = key("what the lamps do", example="on")
    at: Annotated[str | int, BeforeValidator(_moment)] = Field(
        description="when", json_schema_extra={"kind": '"dusk", "dawn" or a clock time such as "23:30"', "example": "dusk"})
    shift_min: Whole = key("whole minutes after dusk or dawn, negative before", 0, ge=-SHIFT_LIMIT_MIN, le=SHIFT_LIMIT_MIN)
    days: Days = _days("on which weekdays; left out: all")
    season: SeasonSection | None = Field(None, description="in which part of the year; left out: all of it",
                                         json_schema_extra={"example": {"from": "10-01", "to": "03-31"}})

    @model_validator(mode="after")
    def _shifted(self):
        if self.shift_min and self.at not in SUN_EDGES:
            raise Refusal("a shift belongs to dusk or dawn", at=("shift_min",), value=self.shift_min,
                          rule='at = "dusk" or at = "dawn" with a shift', next_step="write the clock time that you mean")
        return self


class ProgrammeSection(Section):
    """[[programme]]: a switching programme; without any the lamps are on from dusk to dawn."""

    name: Text = key("what the programme is called", example="part-night")
    night_rule: Literal["night", "date"] = key("night: days mean the night that began the evening before; date: the civil date", "night")
    areas: list[str] = key("the areas whose sites run it, instead of a column", [], example=["North", "South"])
    event: list[EventSection] = table("its switchings", [])

    @model_validator(mode="after")
    def _both_ways(self):
        if not self.event:
            raise Refusal(f"programme {self.name!r} has no events", rule="at least one event that turns on and one that turns off",
                          next_step="add [[programme.event]] sections with turn and at")
        for turn, other in (("on", "off"), ("off", "on")):
            if all(event.turn == other for event in self.event):
                raise Refusal(f"programme {self.name!r} never turns the lamps {turn}",
                              rule="at least one event that turns on and one that turns off",
                              next_step="is an event missing, such as off at dawn?")
        return self


class ProgrammesSection(Section):
    """[programmes]: columns of the site list about programmes."""

    column: Text | None = key("column of the site list that names each site's programme", None, example="programme")
    lit_area_m2: Text | None = key("column with lit areas in square metres", None, example="lit_area")


class HolidaysSection(Section):
    """[holidays]: dates that count as another weekday."""

    dates: list[Annotated[Any, BeforeValidator(_date)]] = key("the dates", [], example=_DATES)
    counts_as: Weekday = key("the weekday that they count as", "sun")

    @property
    def weekday(self) -> int:
        """The weekday as a number, Monday 0."""
        return DAY_NAMES.index(self.counts_as)


class BandSection(Section):
    """[[tariff.band]]: another price at some hours; where bands overlap the first holds."""

    name: Text | None = key("what the band is called", None, example="night")
    per_kwh: Price = Field(0.0, description="price of a kilowatt-hour", json_schema_extra={"kind": "a number, 0 or more", "example": 0.2})
    first: Clock = _clock("from this clock time", "from", 0)
    last: Clock = _clock("to this clock time; over midnight where it is the earlier", "to", 1440)
    days: Days = _days("weekdays of the date; left out: all")

    @model_validator(mode="after")
    def _some_time(self):
        if self.first == self.last:
            raise Refusal("the band is empty", value=f"{self.first // 60:02d}:{self.first % 60:02d}",
                          rule="from and to differ; a whole day is 00:00 to 24:00", next_step="mend from or to, or take the band out")
        return self


class TariffSection(Section):
    """[tariff]: what a kilowatt-hour costs."""

    per_kwh: Price = Field(0.0, description="price of a kilowatt-hour where no band holds",
                           json_schema_extra={"kind": "a number, 0 or more", "example": 0.3})
    currency: str = key("the currency", "", example="EUR")
    band: list[BandSection] = table("prices at some hours", [])


class TimetableSection(Section):
    """[timetable]: clock times for switches that know no sun."""

    period: Literal["week", "fortnight", "month"] = key("how long one line of the timetable holds", "fortnight")
    rounding_min: Literal[1, 5, 10] = key("clock times are whole multiples of this", 5)


Programmes = Annotated[list[ProgrammeSection], AfterValidator(_unlike)]


class SwitchingSections(Section):
    """What a job file says about programmes."""

    programmes: ProgrammesSection | None = table("columns of the site list about programmes", None)
    programme: Programmes | None = table("switching programmes", None)
    holidays: HolidaysSection | None = table("dates that count as another weekday", None)
    tariff: TariffSection | None = table("prices", None)
    timetable: TimetableSection | None = table("clock times for switches that know no sun", None)

    @field_validator("programme")
    @classmethod
    def _some(cls, value):
        if value == []:
            raise Refusal("there is no programme", rule="at least one [[programme]]", next_step="take the key out, or add one")
        return value
