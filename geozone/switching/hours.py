"""Burning hours, energy and cost of sites that run programmes, and the comparison of ways to set their switches."""

from __future__ import annotations

import difflib

import numpy as np
import pandas as pd

from ..errors import InputError
from ..nearnames import did_you_mean
from ..places.legalzones import with_legal_time
from ..sharing.drift import night_label
from ..trade.keypad import Keypad
from ..trade.programme import DUSK_TO_DAWN
from .assigned import Assigned
from .conditions import Conditions
from .programme_year import programme_year
from .tariff import energy_kwh

_DRIFT_NUMBERS = ("worst_dark_min", "worst_excess_min", "dark_year_min", "excess_year_min", "nights_beyond")


def assigned_programmes(sites: pd.DataFrame, programmes, column: str | None = None, where: str | None = None) -> pd.Series:
    """The name of each site's programme.

    Parameters
    ----------
    sites : DataFrame
        With `site_id` and `row`; `area` where programmes name areas.
    programmes : sequence of Programme
    column : str, optional
        Column of the site list that names the programme. Left out: by the programmes' areas; a single programme
        without areas goes to every site.
    where : str, optional
        What messages call the job file.

    Returns
    -------
    Series of str
        Index-identical, named "programme".

    Raises
    ------
    InputError
        A site that names no programme or an unknown one, a programme that nobody uses, an area in two programmes.
    """
    names = [p.name for p in programmes]
    if column is not None:
        if column not in sites.columns:
            raise InputError("there is no such column in the site list", where=where, value=column,
                             rule=f"columns: {', '.join(map(str, sites.columns[:20]))}",
                             next_step=did_you_mean(column, map(str, sites.columns), "check the heading"))
        given = sites[column].astype("string").fillna("").str.strip().astype(object)
    elif any(p.areas for p in programmes):
        owner: dict[str, str] = {}
        for p in programmes:
            for area in p.areas:
                if owner.setdefault(area, p.name) != p.name:
                    raise InputError(f"area {area!r} has two programmes", where=p.place or where,
                                     value=f"{owner[area]}, {p.name}", rule="one programme for each area",
                                     next_step="take the area out of one of them")
        if "area" in sites:
            for p in programmes:
                for area in p.areas:
                    if not (sites["area"] == area).any():
                        held = [name for name in sites["area"].unique() if name]
                        near = difflib.get_close_matches(area, held, 1, 0.6) or [name for name in held if name.startswith(f"{area} (")]
                        raise InputError("no site lies in this area", where=p.place or where, value=area,
                                         rule="areas are spelled as in the outlines",
                                         next_step=f"did you mean {' or '.join(near[:2])}?" if near else
                                         f"areas with sites: {', '.join(held[:8])}{' ...' if len(held) > 8 else ''}")
        rest = [p.name for p in programmes if not p.areas]
        if len(rest) > 1:
            raise InputError("more than one programme names no areas", where=where, value=", ".join(rest),
                             rule="at most one, for all sites elsewhere")
        given = sites["area"].map(owner).astype(object)
        given = given.where(given.notna(), rest[0] if rest else "")
    elif len(programmes) == 1:
        given = pd.Series(names[0], index=sites.index, dtype=object)
    else:
        raise InputError("it is not said which site runs which programme", where=where, value=", ".join(names),
                         rule='programmes.column = "..." names a column of the site list, or each programme has areas')
    unknown = sites[~given.isin(names)]
    if len(unknown):
        first = unknown.iloc[0]
        value = given.loc[unknown.index[0]]
        near = difflib.get_close_matches(str(value).casefold(), [name.casefold() for name in names], 1, 0.6)
        near = next((name for name in names if near and name.casefold() == near[0]), None)
        raise InputError(f"{len(unknown)} site(s) name no programme" if not value else
                         f"{len(unknown)} site(s) name an unknown programme",
                         where=f"site list, row {first.get('row', '?')} ({first.get('site_id', '')})",
                         value=value, rule=f"programmes: {', '.join(names)}",
                         next_step=f"did you mean {near}?" if near else "name one of them in that row" if column is not None
                         else "give the area a programme, or leave areas out of one programme")
    for p in programmes:
        if not (given == p.name).any():
            raise InputError(f"nobody uses programme {p.name!r}", where=p.place or where,
                             next_step="give it to a site or take it out")
    return given.rename("programme")


def site_hours(sites: pd.DataFrame, programmes, conditions: Conditions, *, programme=None, setting_of=None,
               settings=None, keyed_deg=None) -> pd.DataFrame:
    """Burning hours, energy, cost and drift of every site over the year.

    Parameters
    ----------
    sites : DataFrame or GeoDataFrame
        Points in any coordinate system; load_w [W] where energy is wanted. Legal time is added where it is missing.
    programmes : sequence of Programme
    conditions : Conditions
    programme : Series of str, optional
        Each site's programme; left out: the first for all.
    settings : dict of label to Setting, optional
        What is keyed into the switches; left out: every switch holds its own site's position.
    setting_of : Series, optional
        Each site's label in `settings`; left out with one setting.
    keyed_deg : (2, n) array_like, optional
        Without `settings`: keyed latitudes and longitudes; left out: exact positions.

    Returns
    -------
    DataFrame
        Index-identical. programme; lit_h, meant_h (delivered and intended burning hours); kwh and cost (NaN where
        load_w is); dark_h, excess_h; worst_dark_min/night/edge and the same for excess; nights_beyond;
        lit_01_h .. lit_12_h by month.
    """
    sites = with_legal_time(sites, conditions.year)
    n, bands = len(sites), len(conditions.tariff.prices)
    chosen = np.full(n, programmes[0].name, object) if programme is None else np.asarray(programme, dtype=object)
    if settings is None:
        label = np.full(n, None, object)
    elif setting_of is None:
        label = np.full(n, next(iter(settings)), object)
    else:
        label = np.asarray(setting_of, dtype=object)
    lat, lon = (sites[c].to_numpy(float) for c in ("lat_deg", "solar_lon_deg"))
    zone = sites["legal_zone"].to_numpy(object)
    lit, meant = np.zeros((n, 12, bands)), np.zeros((n, 12, bands))
    drift = {name: np.zeros(n) for name in _DRIFT_NUMBERS}
    text = {name: np.full(n, "", object) for name in ("worst_dark_night", "worst_dark_edge", "worst_excess_night",
                                                      "worst_excess_edge")}
    for p in programmes:
        for key in dict.fromkeys(label[chosen == p.name]):
            rows = np.flatnonzero((chosen == p.name) & (label == key if key is not None else True))
            found = programme_year(lat[rows], lon[rows], zone[rows], p, conditions,
                                   setting=None if settings is None else settings[key],
                                   keyed_deg=None if keyed_deg is None else np.asarray(keyed_deg)[:, rows])
            lit[rows], meant[rows] = found.lit_min, found.intended_min
            for name in _DRIFT_NUMBERS:
                drift[name][rows] = getattr(found.drift, name)
            for side in ("dark", "excess"):
                text[f"worst_{side}_night"][rows] = night_label(getattr(found.drift, f"worst_{side}_night"), conditions.year)
                text[f"worst_{side}_edge"][rows] = getattr(found.drift, f"worst_{side}_edge")
    lit_h = lit.sum((1, 2)) / 60
    load = sites["load_w"].to_numpy(float) if "load_w" in sites else np.full(n, np.nan)
    table = {
        "programme": chosen, "lit_h": lit_h, "meant_h": meant.sum((1, 2)) / 60, "kwh": energy_kwh(load, lit_h),
        "cost": energy_kwh(load, lit.sum(1) @ conditions.tariff.prices / 60),
        "dark_h": drift["dark_year_min"] / 60, "excess_h": drift["excess_year_min"] / 60,
        "worst_dark_min": drift["worst_dark_min"], "worst_dark_night": text["worst_dark_night"],
        "worst_dark_edge": text["worst_dark_edge"], "worst_excess_min": drift["worst_excess_min"],
        "worst_excess_night": text["worst_excess_night"], "worst_excess_edge": text["worst_excess_edge"],
        "nights_beyond": drift["nights_beyond"].astype(int)}
    months = {f"lit_{m + 1:02d}_h": lit[:, m].sum(1) / 60 for m in range(12)}
    return pd.DataFrame({**table, **months}, index=sites.index)


def hours_by(table: pd.DataFrame, keys) -> pd.DataFrame:
    """Sums of a `site_hours` table by a column or a Series of the same index.

    Returns
    -------
    DataFrame
        One row a key in the order of first appearance: sites, lit_h (burning hours of one site, mean), site_h (all
        sites together), sites_with_load, kwh, cost, dark_h, excess_h (all sites together), lit_01_h .. lit_12_h (mean).
    """
    months = [c for c in table.columns if c.startswith("lit_") and c != "lit_h"]
    by = table.groupby(table[keys] if isinstance(keys, str) else keys, sort=False)
    return pd.DataFrame({
        "sites": by.size(), "lit_h": by["lit_h"].mean(), "site_h": by["lit_h"].sum(),
        "sites_with_load": by["kwh"].count(), "kwh": by["kwh"].sum(), "cost": by["cost"].sum(),
        "dark_h": by["dark_h"].sum(), "excess_h": by["excess_h"].sum(), **{m: by[m].mean() for m in months}})


def comparison_of_settings(sites: pd.DataFrame, assigned: Assigned, conditions: Conditions, *, foolish=(), known=None) -> pd.DataFrame:
    """What the same programmes burn under different ways to set the switches.

    `known`: tables of `site_hours` by way that have been made already.

    Rows, as far as they are given: "own setting" (each site's own position, as the keypad holds it, no offsets),
    "groups" (the plan), "one shared setting", and "dusk to dawn" (own setting, that programme everywhere).

    Returns
    -------
    DataFrame
        Index `way`; lit_h (mean of a site), site_h, sites_with_load, kwh, cost (NaN without a known load), dark_h, excess_h,
        worst_dark_min, worst_excess_min, sites_beyond. The last three leave out sites whose programme is named in `foolish`: no setting
        mends those.
    """
    own = _rounded(sites, conditions.keypad)
    ways: dict[str, dict] = {"own setting": {"keyed_deg": own}}
    if assigned.groups:
        ways["groups"] = {"settings": assigned.settings, "setting_of": assigned.setting_of}
    if assigned.shared is not None:
        ways["one shared setting"] = {"settings": {"shared": assigned.shared}}
    rows = {}
    for way, how in ways.items():
        table = (known or {}).get(way)
        if table is None:
            table = site_hours(sites, assigned.programmes, conditions, programme=assigned.programme_of, **how)
        rows[way] = _summed(table, foolish)
    rows["dusk to dawn"] = _summed(site_hours(sites, [DUSK_TO_DAWN], conditions, keyed_deg=own))
    return pd.DataFrame.from_dict(rows, orient="index").rename_axis("way")


def hours_summary(table: pd.DataFrame, comparison: pd.DataFrame | None = None) -> dict:
    """The `hours` part of summary.json.

    `by_programme[name]`: sites, lit_h (burning hours of one site in the year, mean), site_h (of all its sites), kwh,
    cost, sites_with_load. `dark_h`, `excess_h`: hours of the year, all sites together.
    """
    def row(found):
        # Text keys and plain floats only: this goes into JSON.
        return {name: int(v) if name.startswith("sites") else round(float(v), 3) for name, v in found.items()
                if not (name.startswith("lit_") and name != "lit_h")}

    by = hours_by(table, "programme")
    out = {"by_programme": {str(name): row(found) for name, found in by.iterrows()},
           "lit_h": round(float(table["lit_h"].sum()), 3), "kwh": round(float(table["kwh"].sum()), 3),
           "cost": round(float(table["cost"].sum()), 3), "dark_h": round(float(table["dark_h"].sum()), 3),
           "excess_h": round(float(table["excess_h"].sum()), 3)}
    if comparison is not None:
        out["comparison"] = {str(way): row(found) for way, found in comparison.iterrows()}
    return out


def energy_per_area_kwh_m2(kwh: float, area_m2: float) -> float:
    """Yearly energy by lit area, as the annual energy consumption indicator of EN 13201-5:2015 (formula from memory).

    Raises
    ------
    InputError
        If the area is not above 0.
    """
    if not area_m2 > 0:
        raise InputError("the lit area cannot be used", value=area_m2, rule="square metres above 0")
    return kwh / area_m2


def _rounded(sites: pd.DataFrame, keypad: Keypad) -> np.ndarray:
    lat = np.clip(keypad.round_deg(sites["lat_deg"].to_numpy(float)), -90, 90)
    lon = sites["lon_deg"].to_numpy(float) if "lon_deg" in sites else sites["solar_lon_deg"].to_numpy(float)
    turns = sites["solar_lon_deg"].to_numpy(float) - lon
    return np.stack([lat, keypad.round_deg(lon) + turns])


def _summed(table: pd.DataFrame, foolish=()) -> dict:
    sound = table[~table["programme"].isin(foolish)]
    return {"lit_h": table["lit_h"].mean(), "site_h": table["lit_h"].sum(), "sites_with_load": int(table["kwh"].notna().sum()),
            "kwh": table["kwh"].sum(min_count=1), "cost": table["cost"].sum(min_count=1), "dark_h": table["dark_h"].sum(),
            "excess_h": table["excess_h"].sum(),
            "worst_dark_min": sound["worst_dark_min"].max(), "worst_excess_min": sound["worst_excess_min"].max(),
            "sites_beyond": int((sound["nights_beyond"] > 0).sum())}
