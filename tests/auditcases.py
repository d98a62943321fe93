"""Invented switches for the tests of the audit: random sites of three climates, every slip keyed, and only what a display shows handed over."""

from __future__ import annotations

import datetime
from typing import NamedTuple

import numpy as np

from geozone.auditing.asread import AsRead
from geozone.auditing.candidates import SettingSlips
from geozone.auditing.diagnosis import WATCH_MIN
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display, Keyed, readings, wrapped
from geozone.trade.slips import Slip, slips_of
from geozone.trade.switchclock import SAVING_RULES, SwitchClock

YEAR = 2027
DISPLAY = Display(includes_offsets=True, dawn="morning")
#: Latitude and dark threshold [degree].
CLIMATES = ((20.0, -0.8333), (-20.0, -0.8333), (45.0, -0.8333), (-45.0, -0.8333), (62.0, -0.8333), (-62.0, -0.8333))


class Case(NamedTuple):
    """One switch: what is keyed, with which slips, and what was read on one day."""

    setting: SettingSlips
    day: int
    slips: tuple[Slip, ...]
    keyed: Keyed
    dusk_min: float
    dawn_min: float
    clock_fast_min: float
    date_ahead_days: int


def some_setting(rng: np.random.Generator, lat: float, altitude: float, display: Display = DISPLAY) -> SettingSlips:
    """A random place of a climate with offsets that are not nought, on the clock nearest to its sun."""
    lat_deg, lon_deg = round(lat + rng.uniform(-1, 1), 1), round(rng.uniform(-150, 150), 1)
    rules = list(SAVING_RULES)
    rule = rules[rng.integers(len(rules))]
    dusk, dawn = (int(rng.choice([-1, 1]) * rng.integers(5, 26)) for _ in range(2))
    clock = SwitchClock(int(round(lon_deg / 15)) * 60, SAVING_RULES[rule])
    return SettingSlips(Keyed(lat_deg, lon_deg, clock, altitude, dusk, dawn), Keypad(), display, YEAR)


def clock_of(setting: SettingSlips, slips, keyed: Keyed, day: int) -> float:
    """What the switch's clock is ahead of the law, by the law of its rule: one left on standard time is right in winter."""
    if all(slip.key != "saving_off_on_standard" for slip in slips):
        return keyed.clock_error_min
    law = setting.right.clock
    sequence = law.sequence(YEAR)
    place = np.searchsorted(sequence.start_utc_min, day * 1440.0 + 720 - law.standard_min, side="right") - 1
    return float(law.standard_min - sequence.offset_min[place])


def cases_of(setting: SettingSlips, day: int, rng: np.random.Generator, chosen: list[tuple[Slip, ...]], own_sun_min: float = 0.5) -> list[Case]:
    """Displays of wrong switches by `readings`, which knows nothing of diagnosis: seconds cut off, the switch's sun up to `own_sun_min` off."""
    right = setting.right
    keyed = []
    for slips in chosen:
        changes = {}
        for slip in slips:
            changes |= {name: value for name, value in vars(slip.keyed).items() if value != getattr(right, name)}
        keyed.append(right.changed(**changes))
    shown = readings(keyed, YEAR)
    made = []
    for i, (slips, one) in enumerate(zip(chosen, keyed, strict=True)):
        dusk, dawn = (float(np.floor(times[i, day] + rng.uniform(-own_sun_min, own_sun_min)) % 1440) for times in (shown.dusk_min, shown.dawn_min))
        on = datetime.date(YEAR, 1, 1) + datetime.timedelta(day)
        held = on + datetime.timedelta(one.date_error_days)
        if one.year_error:
            held = held.replace(year=held.year + one.year_error)
        made.append(Case(setting, day, slips, one, dusk, dawn, clock_of(setting, slips, one, day), (held - on).days))
    return made


def handed_over(cases: list[Case], clock_and_date: bool) -> AsRead:
    """Only what a crew sees; no time at all where the display shows none."""
    dusk, dawn = (np.array([getattr(case, name) for case in cases]) for name in ("dusk_min", "dawn_min"))
    more = {"clock_fast_min": [case.clock_fast_min for case in cases], "date_ahead_days": [float(case.date_ahead_days) for case in cases]} if clock_and_date else {}
    return AsRead.of([case.day for case in cases], dusk_min=dusk, dawn_min=dawn, dusk_none=np.isnan(dusk), dawn_none=np.isnan(dawn), **more)


def right_fits(case: Case, clock_and_date: bool) -> bool:
    """Whether the right setting reads so as well, worked out apart from the diagnosis: then the slip is invisible."""
    shown = readings([case.setting.right], YEAR)
    fits = DISPLAY.fits(case.dusk_min, shown.dusk_min[0, case.day]) and DISPLAY.fits(case.dawn_min, shown.dawn_min[0, case.day])
    return bool(fits and not (clock_and_date and (abs(wrapped(case.clock_fast_min)) > WATCH_MIN or case.date_ahead_days)))


def harmful(setting: SettingSlips, day: int) -> list[Slip]:
    """Slips of the day that move a switching by three minutes or the clock by two somewhere in the year, by `readings` alone."""
    on = datetime.date(YEAR, 1, 1) + datetime.timedelta(day)
    slips = slips_of(setting.right, setting.keypad, on)
    shown = readings([setting.right, *(slip.keyed for slip in slips)], YEAR)
    times = np.stack([shown.dusk_min, shown.dawn_min], axis=1)
    off = np.abs(wrapped(times[1:] - times[0]))
    gone = np.isnan(times[1:]) != np.isnan(times[0])
    bad = (gone | (off >= 3.0)).any(axis=(1, 2))
    return [slip for slip, harm in zip(slips, bad, strict=True) if harm or abs(slip.keyed.clock_error_min) >= 2.0]
