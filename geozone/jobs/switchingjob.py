"""The job file's sections about switching programmes, read and checked together."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from ..switching.tariff import Tariff
from ..switching.timetable import PERIODS, ROUNDINGS_MIN
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme, check_on_keypad
from ..trade.switchclock import ClockKeypad
from .jobplaces import Places
from .programme_sections import read_clock_keypad, read_holidays, read_programmes, read_tariff

# A job with one of these, but no programme, is about lamps lit from dusk to dawn.
SECTIONS = ("programme", "programmes", "holidays", "tariff", "timetable")
_CLOCK_KEYS = ("utc_offsets", "daylight_saving", "saving_rule")


@dataclass(frozen=True)
class SwitchingJob:
    """What a job says about programmes.

    Attributes
    ----------
    programmes : tuple of Programme
    column : str or None
        Column of the site list that names each site's programme.
    lit_area_column : str or None
        Column with the lit area of each site [square metre].
    holidays : Holidays
    tariff : Tariff
    clock_keypad : ClockKeypad
        The clocks that can be keyed.
    offset_limit_min, event_limit : int
        What the keypad holds; None for any number of events.
    timetable : tuple of (str, int) or None
        Period and rounding [minute] of a dated timetable.
    """

    programmes: tuple[Programme, ...]
    column: str | None
    lit_area_column: str | None
    holidays: Holidays
    tariff: Tariff
    clock_keypad: ClockKeypad
    offset_limit_min: int
    event_limit: int | None
    timetable: tuple[str, int] | None


def read_switching(data: dict, places: Places, *, offset_limit_min: int, event_limit: int | None) -> SwitchingJob | None:
    """The programme sections of a job file.

    Parameters
    ----------
    data : dict
        The whole file as `tomllib` reads it.
    places : Places
    offset_limit_min, event_limit
        From [keypad], already checked.

    Returns
    -------
    SwitchingJob or None
        None if the job has no such section.

    Raises
    ------
    InputError
        With the line of whatever cannot be used.
    """
    keypad = data.get("keypad", {})
    clock_keypad = read_clock_keypad(keypad, places)
    if not any(name in data for name in SECTIONS):
        return None
    for name in SECTIONS[1:]:
        if not isinstance(data.get(name, {}), dict):
            raise InputError(f"{name} is no section", where=places.where(name), rule=f"a section starts with [{name}]")
    programmes = read_programmes(data["programme"], places) if "programme" in data else (DUSK_TO_DAWN,)
    for programme in programmes:
        check_on_keypad(programme, offset_limit_min, event_limit)
    given = _texts(data.get("programmes", {}), ("column", "lit_area_m2"), places, "programmes")
    return SwitchingJob(programmes, given.get("column"), given.get("lit_area_m2"),
                        read_holidays(data.get("holidays", {}), places), read_tariff(data.get("tariff", {}), places),
                        clock_keypad, offset_limit_min, event_limit, _timetable(data.get("timetable"), places))


def _texts(section: dict, keys: tuple, places: Places, name: str) -> dict:
    for key, value in section.items():
        if key not in keys:
            raise InputError(f"unknown key {key}", where=places.where(name, key), rule=f"known here: {', '.join(keys)}")
        if not isinstance(value, str) or not value.strip():
            raise InputError(f"{name}.{key} cannot be used", where=places.where(name, key), value=value,
                             rule="the heading of a column of the site list")
    return section


def _timetable(section: dict | None, places: Places) -> tuple[str, int] | None:
    if section is None:
        return None
    for key in section:
        if key not in ("period", "rounding_min"):
            raise InputError(f"unknown key {key}", where=places.where("timetable", key), rule="known here: period, rounding_min")
    period, rounding = section.get("period", "fortnight"), section.get("rounding_min", 5)
    if period not in PERIODS:
        raise InputError("unknown timetable period", where=places.where("timetable", "period"), value=period,
                         rule=f"one of {', '.join(PERIODS)}")
    if type(rounding) is not int or rounding not in ROUNDINGS_MIN:
        raise InputError("the timetable's rounding cannot be used", where=places.where("timetable", "rounding_min"),
                         value=rounding, rule=f"one of {', '.join(map(str, ROUNDINGS_MIN))} minutes")
    return period, rounding
