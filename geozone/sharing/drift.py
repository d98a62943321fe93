"""Drift: how far one setting's switching lies from the dusk and dawn that each site should have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers import clock, comparison, shallow
from ..numbers.almanac import almanac
from ..numbers.intervals import EDGES
from ..numbers.sun import checked_positions, nights_of, run_in_parts, sin_threshold, switch_times
from ..trade.basis import Basis, DarkThreshold
from ..trade.keypad import Keypad
from ..trade.setting import Setting, Tolerance

# What the edge codes of comparison.py mean, in their order; the last stands for none. No clock event without a programme.
_EDGES = np.array([*(name for name in EDGES if name != "clock"), ""], dtype=object)
# A drift that equals the tolerance is within it; this much more is lost in the arithmetic of minutes of a year.
_SAME_MIN = 1e-7


@dataclass(frozen=True)
class KeyedTimes:
    """When switches with one setting act, for one clock rule.

    Attributes
    ----------
    dusk_utc_min, dawn_utc_min : (n_night,) float64
        Minutes since 1 January 00:00 UTC, offsets and clock difference included; NaN where the setting's own
        sun does not cross.
    state : (n_night,) int8
        Values of `State` at the keyed position.
    """

    dusk_utc_min: np.ndarray
    dawn_utc_min: np.ndarray
    state: np.ndarray


@dataclass(frozen=True)
class Drift:
    """The year's drift of one setting at n sites. Minutes; nights as index into the year's nights, -1 for none.

    Attributes
    ----------
    worst_dark_min, worst_excess_min : (n,) float64
        The most minutes at any one switching.
    worst_dark_night, worst_excess_night : (n,) int64
    worst_dark_edge, worst_excess_edge : (n,) object
        "dusk", "dawn", "night" (a whole night without or with light, where the sun does not cross), or "".
    nights_beyond : (n,) int64
        Nights on which either tolerance is passed.
    dark_year_min, excess_year_min : (n,) float64
        Sums over all switchings of the year, nights that are not judged included.
    nights_not_judged : (n,) int64
        Nights left out of the worst and of `nights_beyond` by `Tolerance.shallow_deg`.
    dark_not_judged_min, excess_not_judged_min : (n,) float64
        What of the year's sums falls on them.
    """

    worst_dark_min: np.ndarray
    worst_dark_night: np.ndarray
    worst_dark_edge: np.ndarray
    worst_excess_min: np.ndarray
    worst_excess_night: np.ndarray
    worst_excess_edge: np.ndarray
    nights_beyond: np.ndarray
    dark_year_min: np.ndarray
    excess_year_min: np.ndarray
    nights_not_judged: np.ndarray
    dark_not_judged_min: np.ndarray
    excess_not_judged_min: np.ndarray

    def factor(self, tolerance: Tolerance) -> np.ndarray:
        """(n,) float64: worst drift in units of the tolerance, the worse of the two; 1 is just within."""
        return np.maximum(self.worst_dark_min / tolerance.dark_min, self.worst_excess_min / tolerance.excess_min)


def setting_drift(*, lat_deg, lon_deg, setting: Setting, year: int, altitude_deg: float,
          tolerance: Tolerance = Tolerance(), keypad: Keypad = Keypad(), legal_zone=None,
          switch_clock: str = "own") -> Drift:
    """Drift of one setting at every site, after rounding to the keypad.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Longitudes unwrapped as `switch_times` describes, where the legal date needs it.
    setting : Setting
        Its position is rounded to the keypad first.
    year : int
    altitude_deg : float [degree]
        Dark threshold, the same at the sites and in the switch.
    tolerance : Tolerance
    keypad : Keypad
    legal_zone : (n,) array_like of str, optional
        Legal zone of each site; left out: that of the setting.
    switch_clock : {"own", "master"}
        "own": every switch runs its own legal clock, so dusk shifts by the difference of the clocks where the
        keyed zone is not the site's. "master": one switch on the setting's clock commands all.

    Returns
    -------
    Drift

    Notes
    -----
    Sign: switch minus sun, positive is late. Late dusk and early dawn are dark minutes. Each night's delivered
    light is held against the same night's intended light. Nights that `tolerance.shallow_deg` leaves out (see
    `judged_nights`) count in the year's sums only.
    """
    return drift_at(lat_deg, lon_deg, setting, Basis(year, DarkThreshold(altitude_deg), tolerance, keypad, switch_clock), legal_zone)


def drift_at(lat_deg, lon_deg, setting: Setting, basis: Basis, legal_zone=None) -> Drift:
    """The same as `setting_drift`, for a plan's basis.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    setting : Setting
    basis : Basis
    legal_zone : (n,) array_like of str, optional
    """
    year, altitude_deg, tolerance = basis.year, basis.altitude_deg, basis.tolerance
    setting = setting.on_keypad(basis.keypad)
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    n = lat_rad.size
    result = np.empty((comparison.COLUMNS, n))
    table, sin_h = almanac(year, basis.years), sin_threshold(altitude_deg)
    judged = shallow.limits(altitude_deg, tolerance.shallow_deg)
    for zones_clock, rows in _by_clock(legal_zone, setting, year, n, basis.switch_clock):
        keyed = keyed_times(setting, year=year, altitude_deg=altitude_deg, site_clock=zones_clock, years=basis.years)
        lat, lon = (lat_rad, lon_rad) if rows is None else (lat_rad[rows], lon_rad[rows])

        def part(piece: slice):
            reduced = np.empty((comparison.COLUMNS, piece.stop - piece.start))
            comparison.compare(table.hour_angle, table.sin_declination, lat[piece], lon[piece], sin_h,
                               keyed.dusk_utc_min, keyed.dawn_utc_min, keyed.state,
                               tolerance.dark_min + _SAME_MIN, tolerance.excess_min + _SAME_MIN, *judged, reduced)
            return reduced

        reduced = np.concatenate(run_in_parts(part, lat.size), axis=1)
        result[:, slice(None) if rows is None else rows] = reduced
    return _record(result)


def keyed_times(setting: Setting, *, year: int, altitude_deg: float, site_clock=None, years: int = 1) -> KeyedTimes:
    """When a switch with this setting acts, in UTC.

    Parameters
    ----------
    setting : Setting
        As it stands on the keypad.
    year : int
    altitude_deg : float [degree]
    site_clock : OffsetSequence, optional
        The legal clock that the switch really runs on; left out: that of the keyed zone.
    years : int
        Of several years only where both clocks are one: clocks are known year by year.

    Returns
    -------
    KeyedTimes

    Raises
    ------
    ValueError
        For several years on two clocks.

    Notes
    -----
    The switch turns its computed dusk into clock time with the keyed zone and acts when its own clock shows that
    time: it acts late by (keyed offset from UTC) - (offset of the clock on its wall).
    """
    keyed_clock = clock.offsets(setting.legal_zone, year)
    lon = unwrapped_lon_deg(setting.lon_deg, setting.legal_zone, year)
    times = switch_times(lat_deg=setting.lat_deg, lon_deg=lon, year=year, altitude_deg=altitude_deg, years=years)
    dusk = times.dusk_utc_min[0] + setting.dusk_offset_min
    dawn = times.dawn_utc_min[0] + setting.dawn_offset_min
    if site_clock is not None and site_clock.key != keyed_clock.key:
        if years > 1:
            raise ValueError("a switch on another clock than the keyed one is judged year by year")
        dusk = dusk + _clock_difference_min(keyed_clock, site_clock, dusk)
        dawn = dawn + _clock_difference_min(keyed_clock, site_clock, dawn)
    return KeyedTimes(dusk, dawn, times.state[0])


def unwrapped_lon_deg(lon_deg, legal_zone: str, year: int):
    """Longitude plus whole turns, so that local mean time shares its date with the zone's legal time [degree]."""
    legal = legal_lon_deg(legal_zone, year)
    return lon_deg + 360.0 * np.round((legal - np.asarray(lon_deg, dtype=float)) / 360.0)


def legal_lon_deg(legal_zone: str, year: int) -> float:
    """The longitude whose local mean time is nearest to a zone's legal time over the year [degree]."""
    days = np.arange(0.0, 525600.0, 1440.0)
    return float(np.median(clock.offset_min_at(clock.offsets(legal_zone, year), days))) / 4.0


def night_label(index, year: int, years: int = 1) -> np.ndarray:
    """(n,) object: ISO date of each night index, "" for -1."""
    names = np.append(nights_of(year, years).astype(str).astype(object), "")
    return names[np.asarray(index)]


def _clock_difference_min(keyed_clock, site_clock, utc_min):
    at = np.where(np.isnan(utc_min), 0.0, utc_min)
    return clock.offset_min_at(keyed_clock, at) - clock.offset_min_at(site_clock, at)


def _by_clock(legal_zone, setting: Setting, year: int, n: int, switch_clock: str):
    if legal_zone is None or switch_clock == "master":
        yield None, None
        return
    zone = np.broadcast_to(np.asarray(legal_zone, dtype=object), (n,))
    clocks = {name: clock.offsets(name, year) for name in sorted(set(zone))}
    by_rule = {}
    for name, sequence in clocks.items():
        by_rule.setdefault(sequence.key, (sequence, []))[1].append(name)
    for sequence, names in by_rule.values():
        yield sequence, np.flatnonzero(np.isin(zone, names)) if len(by_rule) > 1 else None


def _record(result: np.ndarray) -> Drift:
    def nights(code):
        return np.where(code < 0, -1, code // 3).astype(np.int64)

    def edges(code):
        return _EDGES[np.where(code < 0, 3, code % 3).astype(np.int64)]

    dark, dark_code, excess, excess_code, beyond, dark_sum, excess_sum, left_out, dark_out, excess_out = result
    return Drift(dark, nights(dark_code), edges(dark_code), excess, nights(excess_code), edges(excess_code),
                 beyond.astype(np.int64), dark_sum, excess_sum, left_out.astype(np.int64), dark_out, excess_out)

