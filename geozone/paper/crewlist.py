"""The crew lead's list: a row for each cabinet, or site without one, in driving order, with what its card says to key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..grouping.cabinets import driving_area, listed, middles
from ..places.driving import driving_order
from ..trade.switchclock import ClockKeypad
from .carddata import cabinets_of, keyed_groups
from .cards import keyed_texts
from .phrases import wrong_words
from .words import words_in

if TYPE_CHECKING:
    from ..answers import Answers

#: What stands for the one switch of a master clock.
MASTER = "master switch"


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
        differently has a row for each card. On a master clock with one setting: one row, `MASTER` as its cabinet.
    """
    words, groups, sites = words_in(), keyed_groups(answers, clocks, words_in()), answers.sites.reset_index(drop=True)
    card = np.full(len(sites), -1)
    for number, one in enumerate(groups):
        card[list(one.rows)] = number
    cabinet = np.array(cabinets_of(answers, sites), dtype=object)
    served = np.flatnonzero(card >= 0)
    # On a master clock with one setting there is one switch to key, wherever it stands.
    master = MASTER if answers.clock == "master" and answers.groups is None else ""
    units = [(master or cabinet[row] or row, card[row]) for row in served.tolist()]
    place, first = pd.factorize(pd.Series(units, dtype=object))
    mine, n = sites.iloc[served], len(first)
    card_of = np.array([number for _, number in first], dtype=int)
    lat, lon = middles(mine["lat_deg"].to_numpy(float), mine["lon_deg"].to_numpy(float), place, n)
    area = listed(mine["area"], place, n)
    told = [keyed_texts(one, answers, words) for one in groups]
    table = pd.DataFrame({
        "drive": 0, "cabinet": [name if isinstance(name, str) else "" for name, _ in first], "sites": np.bincount(place, minlength=n),
        "lat_deg": lat, "lon_deg": lon, "area": area, "group": [groups[number].name for number in card_of],
        **{f"key_{name}": [told[number][name] for number in card_of]
           for name in ("position", "degrees_minutes", "digits", "standard_time", "summer_time")},
        "key_clock_off": ["" if groups[number].keying.exact else wrong_words(groups[number].keying, words) for number in card_of],
        **{f"key_{name}": [told[number][name] for number in card_of] for name in ("dusk", "dawn")},
    })
    if answers.programmes is None:
        table["key_events"] = words("card_events_none")
    else:
        table["programme"] = listed(mine["programme"], place, n)
        events = [dict(one.events) for one in groups]
        runs = pd.Series(mine["programme"].astype(str).to_numpy()).groupby(place).unique()
        table["key_events"] = [". ".join(f"{name}: {events[number][name]}" for name in events[number] if name in set(names))
                               for number, names in zip(card_of, runs, strict=True)]
    table["site_ids"] = listed(mine["site_id"], place, n)
    begins = np.unique(place, return_index=True)[1]
    table = table.iloc[driving_order(lat, lon, driving_area(mine["area"], begins))].reset_index(drop=True)
    table["drive"] = np.arange(1, n + 1)
    return table
