"""Invented switches whose lamps are watched through many nights, for the tests of logs: emulated minute by minute of their own clock, by `readings`, which knows
nothing of what a log is concluded from; and an invented sky over light sensors.

The sky is from memory, no source: a share of half-days is clear (85, 55, 30 per cent for a clear, mixed and cloudy sky), cloud takes 0.2 to 1.2 decades of
light, and twilight loses 0.4 decades a degree of the sun's way, so that lamps come on and go off as if the sun were lower.
"""

from __future__ import annotations

import numpy as np

from geozone.auditing.candidates import SettingSlips
from geozone.auditing.nightlog import DAWN, DUSK, OFF, ON, Slot
from geozone.numbers.clock import offset_min_at
from geozone.numbers.sun import switch_times
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display, Keyed, readings
from geozone.trade.switchclock import SAVING_RULES, SwitchClock

YEAR = 2027
DISPLAY = Display(includes_offsets=True, dawn="morning")
SKIES = {"clear": 0.85, "mixed": 0.55, "cloudy": 0.30}
NIGHT = 1440.0


def some_right(rng, lat: float, rule: str | None = None, altitude: float = -0.8333) -> Keyed:
    """A random place with offsets that are not nought, on the clock nearest to its sun."""
    lon = round(float(rng.uniform(-150, 150)), 1)
    rule = rule or str(rng.choice(list(SAVING_RULES)))
    dusk, dawn = (int(rng.choice([-1, 1]) * rng.integers(5, 26)) for _ in range(2))
    return Keyed(round(lat + float(rng.uniform(-0.5, 0.5)), 1), lon, SwitchClock(int(round(lon / 15)) * 60, SAVING_RULES[rule]), altitude, dusk, dawn)


def slips_of_setting(right: Keyed) -> SettingSlips:
    return SettingSlips(right, Keypad(), DISPLAY, YEAR)


def slots_of(right: Keyed, clock_times=()) -> list[Slot]:
    """Dusk to dawn as the right switch does it, with events at clock times [turn, minute of the day] in between."""
    shown = readings([right], YEAR)
    law = right.clock.sequence(YEAR)
    day = np.arange(shown.date.size)
    made = [Slot(ON, DUSK, _instant(shown.dusk_min[0], day, right, law, 0.0)), Slot(OFF, DAWN, _instant(shown.coming_dawn_min[0], day + 1, right, law, 0.0))]
    for turn, minute in clock_times:
        wall = (day + (minute < 720)) * NIGHT + minute
        made.append(Slot(turn, -1, wall - offset_min_at(law, wall - right.clock.standard_min)))
    return made


def _instant(minute, day, keyed: Keyed, law, standing: float):
    """When the switch's own clock shows a minute of the day, nearest to the lamps' evening or morning of that legal day [UTC minute]."""
    wall = day * NIGHT + minute
    return wall - _own_ahead(keyed, wall - keyed.clock.standard_min) - standing


def _own_ahead(keyed: Keyed, utc):
    """What its clock's rule makes of an instant, by the date that it holds."""
    return offset_min_at(keyed.clock.sequence(YEAR), utc + keyed.date_error_days * NIGHT)


def emulated(keyed: Keyed, right: Keyed, *, set_on: int | None, clock_times=()) -> tuple[np.ndarray, list[np.ndarray]]:
    """Dusk and dawn switchings (2, n_night) and events at clock times of a switch [UTC minute].

    set_on: day on which its clock was put to legal time, whatever rule it keeps from then on; None: it is put right whenever legal time changes.
    """
    shown = readings([keyed], YEAR)
    law = right.clock.sequence(YEAR)
    day = np.arange(shown.date.size)

    def ahead_of_own(utc):
        """What its clock shows beyond the keyed clock, because a person put it there."""
        at = np.full_like(utc, set_on * NIGHT + 720.0 - right.clock.standard_min) if set_on is not None else utc
        return offset_min_at(law, at) - _own_ahead(keyed, at) + keyed.clock_error_min

    sun = []
    for minute, on in ((shown.dusk_min[0], day), (shown.coming_dawn_min[0], day + 1)):
        first = _instant(minute, on, keyed, law, 0.0)
        sun.append(_instant(minute, on, keyed, law, ahead_of_own(first)))
    clocks = []
    for _, minute in clock_times:
        wall = (day + (minute < 720)) * NIGHT + minute
        guess = wall - _own_ahead(keyed, wall - keyed.clock.standard_min)
        clocks.append(guess - ahead_of_own(guess))
    return np.stack(sun), clocks


def nights_about(middle: int, count: int) -> np.ndarray:
    """(n_night,) bool: so many nights about one, over New Year too."""
    day = (np.arange(365) - middle + 182) % 365 - 182
    return (day >= -(count // 2)) & (day < count - count // 2)


def logged(rng, times: list[np.ndarray], turns: list[int], nights: np.ndarray, *, n: int = 1, noise_min: float = 2.0, missing: float = 0.1, odd: float = 0.0):
    """What n logs of such a switch hold: site, turn and UTC minute of every switching."""
    site, turn, utc = [], [], []
    for one, its in zip(times, turns, strict=True):
        seen = nights & np.isfinite(one)
        where = np.flatnonzero(seen)
        at = one[where][None, :] + rng.normal(0.0, noise_min, (n, where.size))
        at += np.where(rng.random(at.shape) < odd, rng.uniform(-300, 300, at.shape), 0.0)
        row, place = np.nonzero(rng.random(at.shape) >= missing)
        site.append(row)
        utc.append(at[row, place])
        turn.append(np.full(row.size, its))
    return np.concatenate(site), np.concatenate(turn), np.concatenate(utc)


def sensor_times(rng, lat: float, lon: float, sky: str, n: int, altitude: float = -0.8333, one_sky: bool = True) -> np.ndarray:
    """(n, 2, n_night) when lamps on light sensors at one place switch [UTC minute]; under one sky their cloud is the same but for a third of it."""
    times = [switch_times(lat_deg=[lat], lon_deg=[lon], year=YEAR, altitude_deg=altitude + up) for up in (0.0, 1.0)]
    low, high = (np.stack([one.dusk_utc_min[0], one.dawn_utc_min[0]]) for one in times)
    # Minutes a degree, earlier at dusk and later at dawn.
    rate = high - low
    shape = (1 if one_sky else n, 2, 365)
    decades = np.where(rng.random(shape) > SKIES[sky], rng.uniform(0.2, 1.2, shape), 0.0)
    if one_sky:
        decades = decades * np.clip(1.0 + 0.3 * rng.normal(size=(n, 2, 365)), 0.0, None)
    return low + decades / 0.4 * rate
