"""What the map page needs to compute dusk and dawn itself: the year's sun in 8 KB, clocks, and what is keyed."""

from __future__ import annotations

import base64

import numpy as np

from ..answers import Answers
from ..numbers import clock, shallow
from ..numbers.almanac import almanac
from ..numbers.sun import sin_threshold
from ..schema.column import step_decimals
from ..sharing.drift import drift_at, legal_lon_deg, unwrapped_lon_deg
from ..switching.sitedrift import same_clock
from ..trade.setting import Setting

#: Where a clock's first offset starts, as a number that JSON has; long before every year's first night.
_LONG_AGO_MIN = -1e9
#: Minutes by which two ways to compute one site's worst may differ and still be one.
_SAME_MIN = 1e-3


def sun_nodes(year: int) -> str:
    """The sun at 0h UT of each day of a year, from the day before it to two days after it, as base64.

    Parameters
    ----------
    year : int

    Returns
    -------
    str
        2 x (n_night + 4) little-endian float64: Greenwich hour angle less 2 pi a day [radian], then the sine of the declination. The
        quartic of night k runs through its nodes k to k + 4, so the page has the kernel's own arithmetic from them.
    """
    table = almanac(year)
    nodes = [np.concatenate([np.polynomial.polynomial.polyval(np.array([-2.0, -1.0]), piece[0]), piece[:, 0],
                             np.polynomial.polynomial.polyval(np.array([1.0, 2.0]), piece[-1])])
             for piece in (table.hour_angle, table.sin_declination)]
    return base64.b64encode(np.concatenate(nodes).astype("<f8").tobytes()).decode("ascii")


def clock_steps(sequence: clock.OffsetSequence) -> list[list[float]]:
    """``[[from UTC minute of the year, offset in minutes], ...]`` of a clock."""
    starts = np.where(np.isfinite(sequence.start_utc_min), sequence.start_utc_min, _LONG_AGO_MIN)
    return [[float(start), float(offset)] for start, offset in zip(starts, sequence.offset_min, strict=True)]


def page_sky(answers: Answers) -> dict:
    """Sun, clocks, keypad and keyed settings of a run, for the page's own arithmetic.

    Parameters
    ----------
    answers : Answers

    Returns
    -------
    dict
        ``nights``, ``nodes`` (as `sun_nodes`), ``sinh``, ``deep``, ``clear`` (sines: threshold, and what midnight may not pass and noon
        must reach on a judged night), ``clock`` and ``clocks`` (of the setting, and of each clock rule of the sites, as `clock_steps`),
        ``legal_lon``, ``step``, ``decimals``, ``offset_limit``, ``setting``, ``groups`` and ``aside`` (see `left_aside`).
    """
    year, keypad, setting = answers.year, answers.keypad, answers.setting
    deep, clear = shallow.limits(answers.altitude_deg, answers.tolerance.shallow_deg)
    rules = [str(zones[0]) for zones in answers.clock_rules["legal_zones"]]
    groups = [] if answers.groups is None else [one.setting for one in answers.groups.plan.settings]
    return {
        "nights": int(almanac(year).n_night), "nodes": sun_nodes(year),
        "sinh": sin_threshold(answers.altitude_deg), "deep": deep, "clear": clear,
        "clock": clock_steps(clock.offsets(setting.legal_zone, year)),
        "clocks": [clock_steps(clock.offsets(zone, year)) for zone in rules],
        "same": [bool(same) for same in same_clock(rules, setting.legal_zone, year)],
        "legal_lon": legal_lon_deg(setting.legal_zone, year),
        "step": float(keypad.coordinate_step_deg), "decimals": step_decimals(keypad.coordinate_step_deg),
        "offset_limit": int(keypad.offset_limit_min),
        "setting": _keyed(setting), "groups": [{**_keyed(one), "lon": _unwrapped(one, year)} for one in groups],
        "aside": left_aside(answers),
    }


def _keyed(setting: Setting) -> dict[str, float]:
    return {"lat": float(setting.lat_deg), "lon": float(setting.lon_deg), "dusk": int(setting.dusk_offset_min), "dawn": int(setting.dawn_offset_min)}


def _unwrapped(setting: Setting, year: int) -> float:
    return float(unwrapped_lon_deg(setting.lon_deg, setting.legal_zone, year))


def solar_lon_deg(answers: Answers) -> np.ndarray:
    """(n,) float64: the sites' longitudes as their nights are named by in this run [degree]."""
    lon_deg = answers.sites["solar_lon_deg"].to_numpy(dtype=float)
    return unwrapped_lon_deg(lon_deg, answers.setting.legal_zone, answers.year) if answers.clock == "master" else lon_deg


def left_aside(answers: Answers) -> dict | None:
    """What it means that the page tries settings with lamps lit from dusk to dawn; None for a run without programmes.

    Returns
    -------
    dict or None
        ``sites``: how many sites have other minutes off under the plan's setting when their programmes are left aside; ``beyond``: how
        many of them have another result.
    """
    if answers.programmes is None:
        return None
    sites = answers.sites
    plain = drift_at(sites["lat_deg"].to_numpy(dtype=float), solar_lon_deg(answers), answers.setting, answers.basis, sites["legal_zone"].to_numpy(dtype=object))
    differs = ((np.abs(plain.worst_dark_min - sites["worst_dark_min"]) > _SAME_MIN)
               | (np.abs(plain.worst_excess_min - sites["worst_excess_min"]) > _SAME_MIN))
    beyond = (sites["result"] != "other clock") & ((plain.nights_beyond > 0) != (sites["result"] == "beyond"))
    return {"sites": int(differs.sum()), "beyond": int(beyond.sum())}
