"""What the phone's page needs to say any day's reading and to tell slips by what a display reads: no network, no table of days.

The page computes dusk and dawn itself, from the same positions of the sun as the cards: a line and a parabola a night.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..numbers.almanac import almanac
from ..numbers.sun import sin_threshold
from ..trade.readings import Display, Keyed
from ..trade.slips import Slip
from ..trade.switchclock import SwitchClock
from .carddata import GroupCard, cabinets_of, slip_values
from .cards import card_sites, checks, master_sentence, to_key, with_card_columns
from .phrases import wrong_words
from .words import Words

if TYPE_CHECKING:
    from ..answers import Answers

_FIRST_YEAR, _LAST_YEAR = 1972, 2098
#: Slips whose date hangs on the day of the visit; the page works these out.
BY_VISIT = ("day_and_month", "power_lost")


def sun_nights(year: int) -> dict:
    """Positions of the sun for every night of the plan's year, the year before and the first weeks after it.

    Returns
    -------
    dict
        ``first``: day of the first night, from 1 January of the plan's year; ``angle``: hour angle at Greenwich at the night's
        middle and how it moves in a day [radian, beyond one turn]; ``sine``: of the declination, its change and the half of
        that's change, a day.
    """
    angle, sine, first = [], [], 0
    for y in (year - 1, year, year + 1):
        if not _FIRST_YEAR <= y <= _LAST_YEAR:
            continue
        table = almanac(y)
        if y < year:
            first = -table.n_night
        take = slice(0, 62) if y > year else slice(None)
        angle += np.round(table.hour_angle[take, :2], 7).tolist()
        sine += np.round(table.sin_declination[take, :3], 8).tolist()
    return {"first": first, "angle": angle, "sine": sine}


def phone_data(answers: "Answers", cards: list[GroupCard], display: Display, words: Words) -> dict:
    """Everything that the phone's page shows, ready for JSON; every text in it is shown as text only."""
    clocks: dict[SwitchClock, int] = {}
    answers = with_card_columns(answers)
    return {
        "title": str(answers.title), "year": int(answers.year), "language": words.language, "words": dict(words.texts),
        "versions": words("versions", geozone=answers.versions.get("geozone", ""), tz=answers.versions.get("tz database", "")),
        "cautions": [words(f"caution_{key}") for key in ("supply", "unlit", "levels", "horizon")],
        "display": {"offsets": display.includes_offsets, "dawn": display.dawn, "error": display.error_min, "hours": display.hours},
        "months": [words.date(_month(m), "MMMM") for m in range(1, 13)],
        "sun": sun_nights(answers.year),
        "unserved": _unserved(answers),
        "groups": [_group(card, answers, clocks, display, words) for card in cards],
        "clocks": [_steps(one, answers.year) for one in clocks],
    }


def _month(month: int):
    from datetime import date

    return date(2027, month, 1)


def _group(card: GroupCard, answers: "Answers", clocks: dict[SwitchClock, int], display: Display, words: Words) -> dict:
    sites, right = card_sites(card, answers), _keyed(card.keyed, clocks)
    return {
        "name": card.name, "programmes": list(card.programmes), "key": to_key(card, answers, words), "checks": checks(card, display, words),
        "master": master_sentence(card, answers, words),
        "wrong_clock": "" if card.keying.exact else words("readings_clock_keyed", when=wrong_words(card.keying, words)),
        "right": right,
        "slips": [_slip(slip, right, clocks, words) for slip in card.slips],
        "sites": _named(sites, answers),
    }


def _unserved(answers: "Answers") -> list[list[str]]:
    """Sites of no group, which no setting serves."""
    if answers.groups is None:
        return []
    return _named(answers.sites[answers.sites["group"].astype(str) == ""], answers)


def _named(sites, answers: "Answers") -> list[list[str]]:
    return [[str(site), str(name) if str(name) != str(site) else "", str(which)]
            for site, name, which in zip(sites["site_id"], sites["name"], cabinets_of(answers, sites), strict=True)]


def _keyed(one: Keyed, clocks: dict[SwitchClock, int]) -> dict:
    return {"lat": one.lat_deg, "lon": one.lon_deg, "sinh": sin_threshold(one.altitude_deg), "clock": clocks.setdefault(one.clock, len(clocks)),
            "dusk": one.dusk_offset_min, "dawn": one.dawn_offset_min, "days": one.date_error_days, "years": one.year_error,
            "off": one.clock_error_min}


def _slip(slip: Slip, right: dict, clocks: dict[SwitchClock, int], words: Words) -> dict:
    """A slip with what it changes only; `right` as `_keyed` gives it."""
    changed = {name: value for name, value in _keyed(slip.keyed, clocks).items() if value != right[name]}
    if slip.key in BY_VISIT:
        changed.pop("days", None)
    return {"key": slip.key, "about": slip.about, "class": slip.likelihood, "values": slip_values(slip, words), "lamps": slip.right_lamps,
            "keyed": changed}


def _steps(one: SwitchClock, year: int) -> list[list[float]]:
    """Starts [UTC minutes of the plan's year] and offsets [minute] of a keyed clock over three years."""
    steps: list[list[float]] = []
    for y in range(max(year - 1, _FIRST_YEAR), min(year + 1, _LAST_YEAR) + 1):
        begin = float((np.datetime64(f"{y}-01-01") - np.datetime64(f"{year}-01-01")).astype(int)) * 1440
        length = float((np.datetime64(f"{y + 1}-01-01") - np.datetime64(f"{y}-01-01")).astype(int)) * 1440
        sequence = one.sequence(y)
        for start, offset in zip(sequence.start_utc_min, sequence.offset_min, strict=True):
            inside = max(float(start), 0.0)
            later = sequence.start_utc_min[sequence.start_utc_min > start]
            if start < length and (not later.size or later[0] > 0):
                moment = -1e9 if not steps else begin + inside
                if not steps or steps[-1][1] != float(offset):
                    steps.append([moment, float(offset)])
    return steps
