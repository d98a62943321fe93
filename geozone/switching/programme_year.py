"""A programme over a year at many sites: intended and delivered light, their differences, and burning hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers import clock, shallow
from ..numbers.intervals import EDGE_COUNT, EDGES
from ..numbers.sun import checked_positions, sin_threshold, switch_times
from ..sharing.drift import Drift, drift_at, keyed_times, unwrapped_lon_deg
from ..trade.basis import DarkThreshold
from ..trade.duedays import events_on
from ..trade.keypad import Keypad, check_shifts
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme
from ..trade.setting import Setting
from .burning import Union, compare_sites, expand, noons
from .conditions import Conditions
from .tariff import bins_of

# As in drift.py: a drift that equals the tolerance is within it.
_SAME_MIN = 1e-7


@dataclass(frozen=True)
class ProgrammeYear:
    """What a programme does at n sites in a year.

    Attributes
    ----------
    drift : Drift
        Intended against delivered; edges are "dusk", "dawn", "clock" (a clock event) or "night".
    intended_min, lit_min : (n, 12, 1 + bands) float64
        Minutes by month and tariff band, intended and delivered.
    """

    drift: Drift
    intended_min: np.ndarray
    lit_min: np.ndarray


def programme_year(lat_deg, lon_deg, legal_zone, programme: Programme, conditions: Conditions, *, setting: Setting | None = None,
                   keyed_deg=None, delivered_dusk_dawn=None) -> ProgrammeYear:
    """Intended and delivered light of every site over a year, reduced.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Longitudes unwrapped as `switch_times` describes.
    legal_zone : str or (n,) array_like of str
    programme : Programme
    conditions : Conditions
        Whose clock: "own": clock events come in each site's own legal time; "master": at the setting's.
    setting : Setting, optional
        Keyed into every switch; left out: every switch holds its own site's position.
    keyed_deg : (2, n) array_like, optional
        Without `setting`: the latitude and longitude that stand in each switch; left out: exact positions.
    delivered_dusk_dawn : callable, optional
        For switches that know no sun: takes the `OffsetSequence` of their clock, gives (dusk_utc_min, dawn_utc_min, state). That
        clock is each site's own, or with "master" that of `setting`, of which nothing else counts then.

    Returns
    -------
    ProgrammeYear

    Notes
    -----
    Intended is the programme as it is meant, delivered what a switch does that carries out events in the order in
    which they come (see latch.py). Dark minutes are intended and not delivered, excess minutes the reverse; a piece of
    either is booked to the night in which it lies, from solar noon to solar noon at the site.
    """
    check_shifts(programme, conditions.keypad)
    year, altitude_deg, tolerance = conditions.year, conditions.altitude_deg, conditions.tolerance
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    n, bands = lat_rad.size, len(conditions.tariff.bands) + 1
    setting = setting.on_keypad(conditions.keypad) if setting is not None else None
    result = np.empty((10, n))
    intended, lit = np.empty((12 * bands, n)), np.empty((12 * bands, n))
    for legal, rows in sites_by_clock(legal_zone, n, year):
        events = events_on(programme, legal, year, conditions.holidays)
        bins = bins_of(legal, year, conditions.tariff)
        given, key, key_events = None, None, None
        if delivered_dusk_dawn is not None or setting is not None:
            given = delivered(programme, legal, conditions, setting, dusk_dawn=delivered_dusk_dawn)
        else:
            key = _own_keys(lat_rad[rows], lon_rad[rows], None if keyed_deg is None else np.asarray(keyed_deg)[:, rows])
            wall = (conditions.wall_clocks or {}).get(legal.key, legal)
            key_events = events if wall is legal else events_on(programme, wall, year, conditions.holidays)
        result[:, rows], intended[:, rows], lit[:, rows] = compare_sites(
            year=year, lat_rad=lat_rad[rows], lon_rad=lon_rad[rows], sin_h=sin_threshold(altitude_deg), events=events,
            given=given, key=key, key_events=key_events, dark_limit=tolerance.dark_min + _SAME_MIN,
            excess_limit=tolerance.excess_min + _SAME_MIN, bins=bins,
            judged=shallow.limits(altitude_deg, tolerance.shallow_deg))
    return ProgrammeYear(_drift_record(result), intended.T.reshape(n, 12, bands), lit.T.reshape(n, 12, bands))


def programme_drift(lat_deg, lon_deg, setting: Setting, conditions: Conditions, programme: Programme = DUSK_TO_DAWN,
                    legal_zone=None) -> Drift:
    """Drift of one setting that runs a programme, at every site. Plain dusk to dawn goes the fast way of `setting_drift`.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    setting : Setting
    conditions : Conditions
    programme : Programme
    legal_zone : (n,) array_like of str, optional
        Legal zone of each site; left out: that of the setting.

    Examples
    --------
    >>> here = Setting(-35.1, 141.0, "Australia/Adelaide")
    >>> found = programme_drift([-35.1], [141.5], here, Conditions(2027, -4.0))
    >>> print(round(float(found.worst_dark_min[0]), 2), found.worst_dark_edge[0])
    2.0 dusk
    """
    if programme.plain:
        return drift_at(lat_deg, lon_deg, setting, conditions, legal_zone)
    zone = setting.legal_zone if legal_zone is None else legal_zone
    return programme_year(lat_deg, lon_deg, zone, programme, conditions, setting=setting).drift


def lit_hours(*, lat_deg, lon_deg, legal_zone="UTC", programme: Programme = DUSK_TO_DAWN, year: int,
              altitude_deg: float, setting: Setting | None = None, reading: str = "obeyed",
              holidays: Holidays = Holidays(), keypad: Keypad = Keypad()) -> np.ndarray:
    """Burning hours by month: (n, 12) float64 [hour]. A night counts in the month in which it begins.

    Parameters
    ----------
    lat_deg, lon_deg, legal_zone, programme, year, altitude_deg, setting, holidays, keypad
        As in `Conditions` and for `programme_year`.
    reading : {"obeyed", "meant"}
        What the lamps really do, or what the programme's author has in mind (see latch.py).

    Examples
    --------
    >>> h = lit_hours(lat_deg=[40.0], lon_deg=[0.0], year=2025, altitude_deg=-0.8333)
    >>> round(float(h.sum()))
    4306
    """
    if reading not in ("obeyed", "meant"):
        raise ValueError(f"reading is 'obeyed' or 'meant', not {reading!r}")
    conditions = Conditions(year, DarkThreshold(altitude_deg), keypad=keypad, holidays=holidays)
    found = programme_year(lat_deg, lon_deg, legal_zone, programme, conditions, setting=setting)
    minutes = found.lit_min if reading == "obeyed" else found.intended_min
    return minutes.sum(axis=2) / 60.0


def delivered(programme: Programme, legal: clock.OffsetSequence, conditions: Conditions, setting: Setting | None = None, *,
              dusk_dawn=None, reading: str = "obeyed", events=None) -> Union:
    """Lit intervals that one setting (or one table of dusks and dawns) delivers where the law is `legal`.

    Parameters as for `programme_year`; `events` replaces the programme's own arrays.
    """
    year, master, wall_clocks = conditions.year, conditions.switch_clock == "master", conditions.wall_clocks
    if dusk_dawn is not None:
        # A timetable follows what the switch's own clock shows, dusk and dawn included.
        own = clock.offsets(setting.legal_zone, year) if master and setting is not None else legal
        wall = (wall_clocks or {}).get(own.key, own)
        dusk, dawn, state = dusk_dawn(wall)
        offset = float(np.median(clock.offset_min_at(own, np.arange(0.0, 525600.0, 1440.0))))
        lon_deg = offset / 4.0
    else:
        keyed_clock = clock.offsets(setting.legal_zone, year)
        keyed = keyed_times(setting, year=year, altitude_deg=conditions.altitude_deg, site_clock=None if master else legal)
        dusk, dawn, state = keyed.dusk_utc_min, keyed.dawn_utc_min, keyed.state
        wall = keyed_clock if master else legal
        wall = (wall_clocks or {}).get(wall.key, wall)
        lon_deg = float(unwrapped_lon_deg(setting.lon_deg, setting.legal_zone, year))
    if events is None:
        events = events_on(programme, wall, year, conditions.holidays)
    return expand(events, dusk_utc_min=dusk, dawn_utc_min=dawn, state=state, noon_utc_min=noons(lon_deg, year),
                  reading=reading)


def intended(programme: Programme, *, lat_deg: float, lon_deg: float, legal_zone: str, year: int,
             altitude_deg: float, holidays: Holidays = Holidays(), reading: str = "meant") -> Union:
    """Lit intervals of one site at its exact position in legal time."""
    times = switch_times(lat_deg=lat_deg, lon_deg=lon_deg, year=year, altitude_deg=altitude_deg)
    return expand(events_on(programme, clock.offsets(legal_zone, year), year, holidays),
                  dusk_utc_min=times.dusk_utc_min[0], dawn_utc_min=times.dawn_utc_min[0], state=times.state[0],
                  noon_utc_min=noons(lon_deg, year), reading=reading)


def sites_by_clock(legal_zone, n: int, year: int):
    """Pairs of (legal clock, row indices): sites whose zones have the same offsets all year go together."""
    zone = np.broadcast_to(np.asarray(legal_zone, dtype=object), (n,))
    names, inverse = np.unique(zone.astype(str), return_inverse=True)
    by_rule: dict = {}
    for i, name in enumerate(names):
        sequence = clock.offsets(str(name), year)
        by_rule.setdefault(sequence.key, (sequence, []))[1].append(i)
    for sequence, members in by_rule.values():
        yield sequence, np.flatnonzero(np.isin(inverse, members))


def _own_keys(lat_rad, lon_rad, keyed_deg) -> np.ndarray:
    key = np.zeros((4, lat_rad.size))
    key[0], key[1] = (lat_rad, lon_rad) if keyed_deg is None else checked_positions(*keyed_deg)
    return key


def _drift_record(result: np.ndarray) -> Drift:
    dark, dark_code, excess, excess_code, beyond, dark_sum, excess_sum, left_out, dark_out, excess_out = result
    names = np.array([*EDGES, ""], dtype=object)

    def night(code):
        return np.where(code < 0, -1, code // EDGE_COUNT).astype(np.int64)

    def edge(code):
        return names[np.where(code < 0, len(EDGES), code % EDGE_COUNT).astype(np.int64)]

    return Drift(dark, night(dark_code), edge(dark_code), excess, night(excess_code), edge(excess_code),
                 beyond.astype(np.int64), dark_sum, excess_sum, left_out.astype(np.int64), dark_out, excess_out)
