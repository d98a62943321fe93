"""The figures of a run, as summary.json holds them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from . import __version__
from .answers import Answers
from .grouping.grouptables import groups_summary
from .numbers import clock
from .places import zoneshapes
from .places.zonepieces import crossed_areas
from .sharing.shared import FoundSetting
from .switching.programmeanswers import clock_to_key
from .switching.sitedrift import BEYOND, OTHER_CLOCK, WITHIN
from .zoning.zonetables import zones_summary


def summarise(answers: Answers) -> dict:
    """Everything that another program may want to read, under names that stay.

    Returns
    -------
    dict
        Plain Python values, nested one or two deep.
    """
    sites, rejects, setting, basis, manner = answers.sites, answers.rejects, answers.setting, answers.basis, answers.manner
    opinion, spread = answers.opinion, answers.spread
    summary = {
        "job": {"title": answers.title, "year": basis.year, "dark_threshold": basis.dark.words, "altitude_deg": basis.altitude_deg,
                "dark_min": basis.tolerance.dark_min, "excess_min": basis.tolerance.excess_min,
                "shallow_deg": basis.tolerance.shallow_deg, "coordinate_step_deg": basis.keypad.coordinate_step_deg,
                "offset_limit_min": basis.keypad.offset_limit_min},
        "sites": {"read": len(sites) + len(rejects), "used": len(sites), "rejected": len(rejects),
                  "stand_ins": not answers.listed,
                  "confirm_zone": int(sites["confirm_zone"].sum()),
                  "outside_areas": int((sites["area"] == "").sum())},
        "where": answers.where.as_dict(),
        "clock_rules": [{"text": row.text, "legal_zones": list(row.legal_zones), "sites": int(row.sites)}
                        for row in answers.clock_rules.itertuples()],
        "areas_crossed": crossed_areas(answers.area_pieces, basis.year),
        "spread": {**_worst_spread(spread, "dusk"), **_worst_spread(spread, "dawn"),
                   "nights_without": int((spread["points_without"] > 0).sum())},
        "shared": {"lat_deg": setting.lat_deg, "lon_deg": setting.lon_deg, "legal_zone": setting.legal_zone,
                   "dusk_offset_min": setting.dusk_offset_min, "dawn_offset_min": setting.dawn_offset_min,
                   "clock": basis.switch_clock, **_search(answers.search), "clock_to_key": clock_to_key(setting.legal_zone, basis)},
        "drift": {**_worst(sites, "dark"), **_worst(sites, "excess"),
                  "sites_within": _count(sites, WITHIN), "sites_beyond": _count(sites, BEYOND),
                  "sites_other_clock": _count(sites, OTHER_CLOCK),
                  "nights_beyond_most": int(sites["nights_beyond"].max()),
                  "dark_year_h": float(sites["dark_year_min"].sum() / 60.0),
                  "excess_year_h": float(sites["excess_year_min"].sum() / 60.0),
                  **_not_judged(sites), "same_clock": _same_clock(sites)},
        "second_opinion": {"by": "astral", "compared": opinion.compared, "largest_s": opinion.largest_s,
                           "largest_steady_s": opinion.largest_steady_s, "mean_s": opinion.mean_s,
                           "unmatched": opinion.unmatched, "surplus": opinion.surplus},
        "notes": list(answers.notes),
        "versions": answers.versions,
        "csv": {"separator": manner.separator, "decimal": manner.decimal, "encoding": manner.encoding},
    }
    if answers.groups is not None:
        summary["groups"] = groups_summary(answers.groups)
    if answers.zoning is not None:
        summary["zones"] = zones_summary(answers.zoning)
    if answers.programmes is not None:
        summary.update(answers.programmes.summary)
    return summary


def versions() -> dict[str, str]:
    """What a result depends on, by name."""
    from importlib.metadata import version

    return {"geozone": __version__, "tz database": clock.tz_version(),
            "zone boundaries": f"{zoneshapes.boundary_version()} ({zoneshapes.BOUNDARY_CREDIT})",
            "erfa": version("pyerfa"), "astral": version("astral"), "numba": version("numba")}


def _search(search: FoundSetting | None) -> dict:
    """How good the setting is among all, where geozone searched for it; `factor` is in units of the tolerances."""
    if search is None:
        return {"found": False}
    return {"found": True, "searched_for_sites": search.sites, "sites_served": search.served,
            "sites_served_at_most": search.served_at_most, "factor": search.factor, "factor_at_least": search.factor_at_least,
            "words": search.words}


def _worst_spread(spread: pd.DataFrame, edge: str) -> dict:
    minutes = spread[f"{edge}_spread_min"]
    if minutes.isna().all():
        return {f"{edge}_worst_min": None, f"{edge}_worst_night": None}
    row = spread.loc[minutes.idxmax()]
    return {f"{edge}_worst_min": float(row[f"{edge}_spread_min"]), f"{edge}_worst_night": row["night"],
            f"{edge}_earliest_at": _place(row, edge, "earliest"), f"{edge}_latest_at": _place(row, edge, "latest")}


def _place(row: pd.Series, edge: str, which: str) -> dict:
    return {name: round(float(row[f"{edge}_{which}_{name}"]), 4) for name in ("lat_deg", "lon_deg")}


def _worst(sites: pd.DataFrame, kind: str) -> dict:
    row = sites.loc[sites[f"worst_{kind}_min"].idxmax()]
    return {f"worst_{kind}_min": float(row[f"worst_{kind}_min"]), f"worst_{kind}_site": row["site_id"],
            f"worst_{kind}_night": row[f"worst_{kind}_night"], f"worst_{kind}_edge": row[f"worst_{kind}_edge"]}


def _not_judged(sites: pd.DataFrame) -> dict:
    """Nights that `tolerance.shallow_deg` leaves out; nothing where every night is judged."""
    if "nights_not_judged" not in sites:
        return {}
    nights = sites["nights_not_judged"]
    return {"sites_with_nights_not_judged": int((nights > 0).sum()), "nights_not_judged_most": int(nights.max()),
            "dark_not_judged_h": float(sites["dark_not_judged_min"].sum() / 60.0),
            "excess_not_judged_h": float(sites["excess_not_judged_min"].sum() / 60.0)}


def _same_clock(sites: pd.DataFrame) -> dict:
    """The worst among the sites on the setting's own clock: drift of the sun alone, no clock difference in it."""
    mine = sites[sites["result"] != OTHER_CLOCK]
    if mine.empty:
        return {"sites": 0, "worst_dark_min": None, "worst_excess_min": None}
    return {"sites": len(mine), **_worst(mine, "dark"), **_worst(mine, "excess")}


def _count(sites: pd.DataFrame, verdict: str) -> int:
    return int(np.count_nonzero(sites["result"] == verdict))
