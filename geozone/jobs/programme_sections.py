"""The job file's programme sections turned into the records that the rest of the program knows."""

from __future__ import annotations

from dataclasses import fields

from ..numbers.civil import DAY_NAMES
from ..switching.tariff import Band, Tariff
from ..trade.keypad import Keypad
from ..trade.programme import Event, Holidays, Programme, Season
from ..trade.switchclock import SAVING_RULES, ClockKeypad, NthWeekday, SavingRule
from .jobmessages import checked
from .jobplaces import Places
from .programme_models import ClockChange, EventSection, HolidaysSection, ProgrammeSection, SwitchingSections, TariffSection
from .sections import KeypadSection, offset_minutes


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
    return programmes_of(checked(SwitchingSections, {"programme": sections}, places).programme, places)


def read_holidays(section: dict, places: Places = Places()) -> Holidays:
    """The [holidays] section: `dates`, and the weekday that they count as."""
    return holidays_of(checked(SwitchingSections, {"holidays": section}, places).holidays)


def read_tariff(section: dict, places: Places = Places()) -> Tariff:
    """The [tariff] section: `per_kwh`, `currency` and any [[tariff.band]] with name, per_kwh, from, to, days."""
    return tariff_of(checked(SwitchingSections, {"tariff": section}, places).tariff)


def read_clock_keypad(section: dict, places: Places = Places()) -> ClockKeypad:
    """The clocks that [keypad] offers: `utc_offsets` ("+09:30"), `daylight_saving` (names), [[keypad.saving_rule]]."""
    return clock_keypad_of(checked(KeypadSection, section, places, ("keypad",)))


def programmes_of(sections: list[ProgrammeSection], places: Places) -> tuple[Programme, ...]:
    """Programmes with the line that each, and each event, stands on."""
    return tuple(Programme(one.name, tuple(_event(event, places.where("programme", p, "event", i) or "") for i, event in enumerate(one.event)),
                           one.night_rule, tuple(one.areas), places.where("programme", p) or "")
                 for p, one in enumerate(sections))


def holidays_of(section: HolidaysSection) -> Holidays:
    """Each date once, in order."""
    return Holidays(tuple(sorted(set(section.dates))), section.weekday)


def tariff_of(section: TariffSection) -> Tariff:
    """Prices; a band without a name is called by its place."""
    return Tariff(section.per_kwh, tuple(Band(one.name or f"band {i}", one.per_kwh, one.first, one.last, one.days)
                                         for i, one in enumerate(section.band, 1)), section.currency)


def clock_keypad_of(section: KeypadSection) -> ClockKeypad:
    """The clocks that can be keyed; a rule of the job's own replaces a known one of its name."""
    rules = dict(SAVING_RULES)
    for rule in section.saving_rule:
        rules[rule.name] = SavingRule(rule.name, _change(rule.start), _change(rule.end), rule.saving_min)
    savings = tuple(rules[name] for name in (rules if section.daylight_saving is None else section.daylight_saving))
    if section.utc_offsets is None:
        return ClockKeypad(savings=savings)
    return ClockKeypad(tuple(map(offset_minutes, section.utc_offsets)), savings)


def keypad_of(section: KeypadSection) -> Keypad:
    """All that can be keyed into the job's switches: keys of one name with the record's fields, and the clocks."""
    named = {one.name: getattr(section, one.name) for one in fields(Keypad) if one.name != "clocks"}
    return Keypad(**named, clocks=clock_keypad_of(section))


def _event(section: EventSection, place: str) -> Event:
    season = section.season
    return Event(section.turn, section.at, section.shift_min, section.days,
                 None if season is None else Season(season.first, season.last), place)


def _change(section: ClockChange) -> NthWeekday:
    return NthWeekday(section.month, section.nth, DAY_NAMES.index(section.weekday), section.at, section.by)
