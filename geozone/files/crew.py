"""The crew lead's table: a row a cabinet with what is keyed there, in driving order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..places.driving import driving_order

if TYPE_CHECKING:
    from ..answers import Answers

_KEYED = ("key_lat_deg", "key_lon_deg", "key_legal_zone", "key_dusk_offset_min", "key_dawn_offset_min")


def cabinet_names(answers: "Answers", sites: pd.DataFrame) -> list[str]:
    """Cabinet of each site: the column of the list that keep_together names; "" where there is none.

    Parameters
    ----------
    answers : Answers
    sites : pandas.DataFrame, n rows
        Rows of the site table.

    Returns
    -------
    list of str, n
    """
    column = answers.groups.keep_together if answers.groups is not None else ""
    # A column whose name the run needs itself is kept under another one.
    there = next((name for name in (f"{column}_given", column) if column and name in sites.columns), None)
    return [""] * len(sites) if there is None else ["" if pd.isna(value) else str(value) for value in sites[there]]


def crew_table(answers: "Answers") -> pd.DataFrame:
    """A row a cabinet, or a site that has none, in driving order.

    Returns
    -------
    pandas.DataFrame
        Columns of the declared table "crew". The position is the middle of the cabinet's sites; where its sites run different
        programmes, all are named.
    """
    sites = answers.sites.reset_index(drop=True)
    names = cabinet_names(answers, sites)
    unit = pd.Series([f"cabinet {name}" if name else f"site {i}" for i, name in enumerate(names)])
    first_of, code = np.unique(unit.to_numpy(dtype=object).astype(str), return_inverse=True)
    count = len(first_of)
    lon = sites["lon_deg"].to_numpy(float)
    base = np.full(count, np.nan)
    base[code[::-1]] = lon[::-1]
    # From the cabinet's first site, so that the antimeridian parts no cabinet.
    east = (lon - base[code] + 180) % 360 - 180
    members = np.bincount(code, minlength=count)
    middle_lat = np.bincount(code, sites["lat_deg"].to_numpy(float), count) / members
    middle_lon = (base + np.bincount(code, east, count) / members + 180) % 360 - 180
    by = sites.groupby(code, sort=True)
    table = pd.DataFrame({
        "cabinet": pd.Series(names).groupby(code, sort=True).first().to_numpy(), "sites": members, "lat_deg": middle_lat, "lon_deg": middle_lon,
        "area": by["area"].first().astype(str).to_numpy(), "group": by["group"].first().astype(str).to_numpy() if "group" in sites else "",
    })
    table = pd.concat([table, _to_key(answers, by)], axis=1)
    if answers.groups is not None and "clock_to_key" in answers.groups.settings:
        told = dict(zip(answers.groups.settings["group"].astype(str), answers.groups.settings["clock_to_key"].astype(str), strict=True))
        table["clock_to_key"] = [told.get(group, "") for group in table["group"]]
    for name in ("programme", "key_events"):
        if name in sites:
            table[name] = by[name].agg(lambda values: " | ".join(dict.fromkeys(str(value) for value in values if str(value)))).to_numpy()
    table["site_ids"] = by["site_id"].agg(lambda values: "; ".join(str(value) for value in values)).to_numpy()
    order = driving_order(table["lat_deg"], table["lon_deg"], table["area"])
    table = table.iloc[order].reset_index(drop=True)
    table.insert(0, "drive", np.arange(1, len(table) + 1))
    return table


def _to_key(answers: "Answers", by) -> pd.DataFrame:
    if answers.groups is not None:
        return pd.DataFrame({name: by[name].first().to_numpy() for name in _KEYED})
    one = answers.setting
    values = (one.lat_deg, one.lon_deg, one.legal_zone, one.dusk_offset_min, one.dawn_offset_min)
    return pd.DataFrame({name: [value] * by.ngroups for name, value in zip(_KEYED, values, strict=True)})
