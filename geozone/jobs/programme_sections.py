"""The job file's programme sections, checked and turned into records; every message says where the fault stands."""

from __future__ import annotations

import datetime as dt
import difflib
import re

from ..errors import InputError
from ..numbers.civil import clock_text
from ..switching.tariff import Band, Tariff
from ..trade.programme import ALL_DAYS, DAY_NAMES, DAY_SETS, NIGHT_RULES, SUN_EDGES, Event, Holidays, Programme, Season
from ..trade.switchclock import SAVING_RULES, ClockKeypad, NthWeekday, SavingRule
from .jobplaces import Places

_SHIFT_LIMIT_MIN = 720
_MONTH_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def read_programmes(sections, places: Places = Places()) -> tuple[Programme, ...]:
    """The [[programme]] sections of a job.

    Parameters
    ----------
    sections : list of dict
        As `tomllib` reads them.
    places : Places
        Lines of the file they come from.

    Raises
    ------
    InputError
        Unknown keys, impossible times, unknown days, names used twice, and all that cannot be a programme.
    """
    if not isinstance(sections, list) or not all(isinstance(s, dict) for s in sections):
        raise InputError("programme is no list of sections", where=places.where("programme"),
                         rule="each programme starts with [[programme]]")
    found = []
    for p, section in enumerate(sections):
        path = ("programme", p)
        _known(section, ("name", "night_rule", "areas", "event"), places, path)
        name = section.get("name")
        if not isinstance(name, str) or not name.strip():
            raise InputError("the programme has no name", where=places.where(*path), rule='name = "part-night"')
        if name.strip() in [known.name for known in found]:
            raise InputError("two programmes have the same name", where=places.where(*path, "name"), value=name)
        rule = section.get("night_rule", "night")
        if rule not in NIGHT_RULES:
            raise InputError("unknown night rule", where=places.where(*path, "night_rule"), value=rule,
                             rule='"night": days mean the night that began the evening before; "date": the civil date')
        areas = section.get("areas", [])
        if not isinstance(areas, list) or not all(isinstance(a, str) for a in areas):
            raise InputError("areas is no list of names", where=places.where(*path, "areas"), value=areas,
                             rule='areas = ["North", "South"]')
        events = section.get("event", [])
        if not isinstance(events, list) or not events:
            raise InputError(f"programme {name!r} has no events", where=places.where(*path),
                             next_step="add [[programme.event]] sections with turn and at")
        read = tuple(_event(e, places, path + ("event", i)) for i, e in enumerate(events))
        for turn, other in (("on", "off"), ("off", "on")):
            if all(event.turn == other for event in read):
                raise InputError(f"programme {name.strip()!r} never turns the lamps {turn}", where=places.where(*path),
                                 rule="at least one event that turns on and one that turns off",
                                 next_step="is an event missing, such as off at dawn?")
        found.append(Programme(name.strip(), read, rule, tuple(areas), places.where(*path) or ""))
    return tuple(found)


def read_holidays(section: dict, places: Places = Places()) -> Holidays:
    """The [holidays] section: `dates`, and the weekday that they count as."""
    _known(section, ("dates", "counts_as"), places, ("holidays",))
    day = section.get("counts_as", "sun")
    if day not in DAY_NAMES:
        raise InputError("unknown day", where=places.where("holidays", "counts_as"), value=day,
                         rule=f"one of {', '.join(DAY_NAMES)}")
    dates = []
    for value in _listed(section, "dates", places, ("holidays",), 'dates = ["2027-01-26", "2027-04-26"]'):
        try:
            dates.append(value if type(value) is dt.date else dt.date.fromisoformat(value))
        except (TypeError, ValueError):
            raise InputError("a holiday is no date", where=places.where("holidays", "dates"), value=value,
                             rule='dates = ["2027-01-26", "2027-04-26"]') from None
    return Holidays(tuple(sorted(set(dates))), DAY_NAMES.index(day))


def read_tariff(section: dict, places: Places = Places()) -> Tariff:
    """The [tariff] section: `per_kwh`, `currency` and any [[tariff.band]] with name, per_kwh, from, to, days."""
    _known(section, ("per_kwh", "currency", "band"), places, ("tariff",))
    bands = []
    for i, band in enumerate(_tables(section, "band", places, ("tariff",), "[[tariff.band]]")):
        path = ("tariff", "band", i)
        _known(band, ("name", "per_kwh", "from", "to", "days"), places, path)
        first = minute_of(band.get("from", "00:00"), places.where(*path, "from"))
        last = minute_of(band.get("to", "24:00"), places.where(*path, "to"))
        if first == last:
            raise InputError("the band is empty", where=places.where(*path), value=clock_text(first),
                             rule="from and to differ; a whole day is 00:00 to 24:00")
        bands.append(Band(str(band.get("name", f"band {i + 1}")), _price(band, places, path), first, last,
                          days_of(band.get("days", "all"), places.where(*path, "days"))))
    return Tariff(_price(section, places, ("tariff",)), tuple(bands), str(section.get("currency", "")))


def read_clock_keypad(section: dict, places: Places = Places()) -> ClockKeypad:
    """The clocks that [keypad] offers: `utc_offsets` ("+09:30"), `daylight_saving` (names), [[keypad.saving_rule]]."""
    rules = dict(SAVING_RULES)
    for i, rule in enumerate(_tables(section, "saving_rule", places, ("keypad",), "[[keypad.saving_rule]]")):
        path = ("keypad", "saving_rule", i)
        _known(rule, ("name", "start", "end", "saving_min"), places, path)
        if not isinstance(rule.get("name"), str):
            raise InputError("the summer-time rule has no name", where=places.where(*path))
        minutes = rule.get("saving_min", 60)
        if type(minutes) is not int or not 0 < minutes <= 180:
            raise InputError("saving_min cannot be used", where=places.where(*path), value=minutes,
                             rule="whole minutes from 1 to 180")
        rules[rule["name"]] = SavingRule(rule["name"], _change(rule.get("start"), places, path + ("start",)),
                                         _change(rule.get("end"), places, path + ("end",)), minutes)
    named = _listed(section, "daylight_saving", places, ("keypad",), 'daylight_saving = ["none"]', list(rules))
    for name in named:
        if not isinstance(name, str) or name not in rules:
            raise InputError("unknown summer-time rule", where=places.where("keypad", "daylight_saving"),
                             value=name, rule=f"one of {', '.join(rules)}, or a [[keypad.saving_rule]]",
                             next_step=_nearest(name, rules))
    savings = tuple(rules[name] for name in named)
    if "utc_offsets" not in section:
        return ClockKeypad(savings=savings)
    offsets = []
    for value in _listed(section, "utc_offsets", places, ("keypad",), 'utc_offsets = ["+09:30"]'):
        parts = re.fullmatch(r"([+-])(\d\d?):(\d\d)", value) if isinstance(value, str) else None
        minutes = (60 * int(parts[2]) + int(parts[3])) * (-1 if parts[1] == "-" else 1) if parts else None
        if minutes is None or int(parts[3]) > 59 or abs(minutes) > 14 * 60:
            raise InputError("an offset from UTC cannot be used", where=places.where("keypad", "utc_offsets"),
                             value=value, rule='texts such as "+09:30", at most 14 hours')
        offsets.append(minutes)
    return ClockKeypad(tuple(offsets), savings)


def minute_of(value, where: str | None = None) -> int:
    """A clock time as minute of the day, 0 to 1440.

    Raises
    ------
    InputError
        If it is no time of a day in whole minutes.
    """
    if isinstance(value, dt.time) and not value.second and not value.microsecond:
        return value.hour * 60 + value.minute
    parts = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", value) if isinstance(value, str) else None
    if parts and int(parts[2]) < 60 and 60 * int(parts[1]) + int(parts[2]) <= 1440:
        return 60 * int(parts[1]) + int(parts[2])
    raise InputError("impossible time", where=where, value=value if isinstance(value, (str, int, float)) else str(value),
                     rule='"dusk", "dawn" or a clock time in whole minutes from "00:00" to "24:00"')


def days_of(value, where: str | None = None) -> frozenset:
    """Weekdays from "all", "mon-fri", "weekend", a day's name, or a list of these."""
    wanted = [value] if isinstance(value, str) else value
    if not isinstance(wanted, list) or not wanted:
        raise InputError("days cannot be used", where=where, value=value,
                         rule='"all", "mon-fri", "weekend", or a list such as ["mon", "tue"]')
    days = frozenset()
    for name in wanted:
        if not isinstance(name, str) or name not in DAY_SETS:
            raise InputError("unknown day", where=where, value=name, rule=f"one of {', '.join(DAY_SETS)}",
                             next_step=_nearest(name, DAY_SETS))
        days |= DAY_SETS[name]
    return days


def _listed(section: dict, key: str, places: Places, path, rule: str, default=()):
    """A list in square brackets."""
    value = section.get(key, default)
    if not isinstance(value, (list, tuple)):
        raise InputError(f"{key} is no list", where=places.where(*path, key), value=str(value), rule=rule,
                         next_step="put it in square brackets")
    return value


def _tables(section: dict, key: str, places: Places, path, head: str) -> list:
    """A list of sections."""
    value = section.get(key, [])
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise InputError(f"{key} is no list of sections", where=places.where(*path, key),
                         rule=f"each starts with {head}, in double brackets")
    return value


def _event(section, places: Places, path) -> Event:
    if not isinstance(section, dict):
        raise InputError("the event is no section", where=places.where(*path), value=section)
    _known(section, ("turn", "at", "shift_min", "days", "season"), places, path)
    turn, at, shift = section.get("turn"), section.get("at"), section.get("shift_min", 0)
    if turn not in ("on", "off"):
        raise InputError("turn is neither on nor off", where=places.where(*path, "turn"), value=turn,
                         rule='turn = "on" or turn = "off"')
    if at is None:
        raise InputError("the event has no time", where=places.where(*path),
                         rule='at = "dusk", "dawn" or a clock time such as "23:30"')
    if at not in SUN_EDGES:
        at = minute_of(at, places.where(*path, "at"))
        if shift != 0:
            raise InputError("a shift belongs to dusk or dawn", where=places.where(*path, "shift_min"), value=shift,
                             next_step="write the clock time that you mean")
    if type(shift) is not int or abs(shift) > _SHIFT_LIMIT_MIN:
        raise InputError("the shift cannot be used", where=places.where(*path, "shift_min"), value=shift,
                         rule=f"whole minutes from -{_SHIFT_LIMIT_MIN} to {_SHIFT_LIMIT_MIN}, positive is later")
    return Event(turn, at, shift, days_of(section.get("days", "all"), places.where(*path, "days")) if "days" in section
                 else ALL_DAYS, _season(section.get("season"), places, path), places.where(*path) or "")


def _season(value, places: Places, path) -> Season | None:
    if value is None:
        return None
    where = places.where(*path, "season")
    if not isinstance(value, dict) or set(value) != {"from", "to"}:
        raise InputError("the season cannot be used", where=where, value=str(value),
                         rule='season = { from = "04-01", to = "09-30" } (month-day), both days included')
    return Season(*(_month_day(value[key], where) for key in ("from", "to")))


def _month_day(value, where) -> int:
    parts = re.fullmatch(r"(\d\d)-(\d\d)", value) if isinstance(value, str) else None
    if not parts or not 1 <= int(parts[1]) <= 12 or not 1 <= int(parts[2]) <= _MONTH_DAYS[int(parts[1]) - 1]:
        raise InputError("no such day of the year", where=where, value=value,
                         rule='month-day, such as "04-01" for 1 April')
    return 100 * int(parts[1]) + int(parts[2])


def _change(value, places: Places, path) -> NthWeekday:
    where = places.where(*path)
    rule = '{ month = 4, nth = 1, weekday = "sun", at = "02:00", by = "standard" }; nth = -1 is the last'
    keys = {"month", "nth", "weekday", "at"}
    if not isinstance(value, dict) or not keys <= set(value) <= keys | {"by"} or value["weekday"] not in DAY_NAMES:
        raise InputError("a summer-time change cannot be used", where=where, value=str(value), rule=rule)
    if type(value["month"]) is not int or type(value["nth"]) is not int:
        raise InputError("a summer-time change cannot be used", where=where, value=str(value), rule=rule)
    try:
        return NthWeekday(value["month"], value["nth"], DAY_NAMES.index(value["weekday"]),
                          minute_of(value["at"], where), value.get("by", "standard"))
    except InputError as error:
        raise InputError(error.what, where=where, value=error.value, rule=rule) from None


def _price(section, places: Places, path) -> float:
    price = section.get("per_kwh", 0.0)
    if isinstance(price, bool) or not isinstance(price, (int, float)) or not 0 <= price < 1e6:
        raise InputError("the price cannot be used", where=places.where(*path, "per_kwh"), value=price,
                         rule="a number, 0 or more: the price of one kilowatt-hour")
    return float(price)


def _known(section: dict, keys, places: Places, path) -> None:
    for key in section:
        if key not in keys:
            raise InputError(f"unknown key {key}", where=places.where(*path, key), rule=f"known here: {', '.join(keys)}",
                             next_step=_nearest(key, keys))


def _nearest(name, known) -> str | None:
    near = difflib.get_close_matches(str(name).casefold(), list(known), 1, 0.5)
    return f"did you mean {near[0]}?" if near else None
