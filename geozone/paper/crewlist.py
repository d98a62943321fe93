"""The crew lead's list: a row for each cabinet, or site without one, in driving order, with what its card says to key; or for the one master."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..grouping.cabinets import driven_stops, listed, middles
from ..trade.switchclock import ClockKeypad
from .carddata import KeyedGroup, cabinets_of, keyed_groups
from .cards import SITES_LISTED, keyed_once, keyed_texts, master_sentence
from .phrases import wrong_words
from .words import Words, words_in

if TYPE_CHECKING:
    from ..answers import Answers


#: What stands for the one switch of a master clock.
MASTER = "master switch"
_KEYED = tuple(f"key_{name}" for name in ("position", "degrees_minutes", "digits", "standard_time", "summer_time", "clock_off", "dusk", "dawn"))


def crew_table(answers: "Answers", clocks: ClockKeypad) -> pd.DataFrame:
    """The list of a run, in English as all its tables.

    Parameters
    ----------
    answers : Answers
    clocks : ClockKeypad
        What clocks can be keyed.

    Returns
    -------
    DataFrame
        drive (place in driving order, from 1), cabinet ("" for a site on its own), sites (how many), lat_deg, lon_deg (middle of
        its sites), area, group ("" = the one shared setting), key_position, key_degrees_minutes, key_digits, key_standard_time,
        key_summer_time, key_clock_off ("" = it always shows legal time), key_dusk, key_dawn, programme (if the job has any),
        key_events, site_ids. Sites that no setting serves have no card and no row. A cabinet whose programmes shift dusk or dawn
        differently has a row for each card. Where one master commands all sites, it alone has a row for each card, with master, the
        card's sentence, and without a position, because no list says where it stands.
    """
    words, sites = words_in(), answers.sites.reset_index(drop=True)
    groups = keyed_groups(answers, clocks, words)
    if answers.one_master:
        return _master_table(answers, [one for one in groups if one.rows], sites, words)
    card = np.full(len(sites), -1)
    for number, one in enumerate(groups):
        card[list(one.rows)] = number
    cabinet = np.array(cabinets_of(answers, sites), dtype=object)
    served = np.flatnonzero(card >= 0)
    units = [(cabinet[row] or row, card[row]) for row in served.tolist()]
    place, first = pd.factorize(pd.Series(units, dtype=object))
    mine, n = sites.iloc[served], len(first)
    card_of = np.array([number for _, number in first], dtype=int)
    lat, lon = middles(mine["lat_deg"].to_numpy(float), mine["lon_deg"].to_numpy(float), place, n)
    area = listed(mine["area"], place, n)
    told = [_told(one, answers, words) for one in groups]
    table = pd.DataFrame({
        "drive": 0, "cabinet": [name if isinstance(name, str) else "" for name, _ in first], "sites": np.bincount(place, minlength=n),
        "lat_deg": lat, "lon_deg": lon, "area": area, "group": [groups[number].name for number in card_of],
        **{name: [told[number][name] for number in card_of] for name in _KEYED},
    })
    if answers.programmes is None:
        table["key_events"] = words("card_events_none")
    else:
        table["programme"] = listed(mine["programme"], place, n)
        runs = pd.Series(mine["programme"].astype(str).to_numpy()).groupby(place).unique()
        table["key_events"] = [_events(groups[number], set(names), words) for number, names in zip(card_of, runs, strict=True)]
    table["site_ids"] = listed(mine["site_id"], place, n)
    table = table.iloc[driven_stops(mine, place, n)].reset_index(drop=True)
    table["drive"] = np.arange(1, n + 1)
    return table


def _told(one: KeyedGroup, answers: "Answers", words: Words) -> dict[str, str]:
    """What is keyed of a card, under the names of the list's columns."""
    off = "" if one.keying.exact else wrong_words(one.keying, words)
    return {**{f"key_{name}": text for name, text in keyed_texts(one, answers, words).items()}, "key_clock_off": off}


def _events(one: KeyedGroup, programmes: set[str], words: Words) -> str:
    """What is keyed for some of a card's programmes, and that no shift is keyed twice."""
    return ". ".join([*(f"{name}: {text}" for name, text in one.events if name in programmes), *filter(None, [keyed_once(one, words)])])


def _master_table(answers: "Answers", groups: list[KeyedGroup], sites: pd.DataFrame, words: Words) -> pd.DataFrame:
    """The list where one master commands all: a row a card; of many sites as many are named as on a card."""
    rows = []
    for drive, one in enumerate(groups, start=1):
        mine, told = sites.iloc[list(one.rows)], _told(one, answers, words)
        events = {"key_events": words("card_events_none")} if answers.programmes is None else {
            "programme": "; ".join(one.programmes), "key_events": _events(one, set(one.programmes), words)}
        more = len(mine) - SITES_LISTED
        named = [*mine["site_id"].astype(str).head(SITES_LISTED), *([words("list_more", n=words.number(more))] if more > 0 else [])]
        rows.append({"drive": drive, "master": master_sentence(one, answers, words), "cabinet": MASTER, "sites": len(mine), "lat_deg": np.nan,
                     "lon_deg": np.nan, "area": "; ".join(dict.fromkeys(area for area in mine["area"].astype(str) if area)), "group": one.name,
                     **{name: told[name] for name in _KEYED}, **events, "site_ids": "; ".join(named)})
    return pd.DataFrame(rows)
