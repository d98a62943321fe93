"""A grouping as tables: what the writers of paper and screens are handed."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd

from ..sharing.drift import drift_at
from ..trade.basis import Basis
from .grouphulls import group_hulls
from .grouprules import GroupRules, headline, kept_apart_by, what_keeps_apart
from .planrecords import Groups

SETTING_COLUMNS = ["group", "sites", "lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min",
                   "clock", "clock_to_key", "within",
                   "worst_dark_min", "worst_dark_site", "worst_dark_night", "worst_dark_edge", "worst_excess_min",
                   "worst_excess_site", "worst_excess_night", "worst_excess_edge", "tolerance_share", "load_w"]


@dataclass(frozen=True, eq=False)
class GroupAnswers:
    """The plan of a run.

    Attributes
    ----------
    plan : Groups
        As `fewest_groups` found it; its `group_of_site` is the site table's column `group`.
    settings : pandas.DataFrame
        A row a group, `SETTING_COLUMNS`: what is keyed, its clock in words, how its sites fare, their load.
    hulls : geopandas.GeoDataFrame
        The same with an outline that holds no other group's site, see `group_hulls`.
    curve : pandas.DataFrame
        k, worst_min, worst_dark_min, worst_excess_min, tolerance_share, at_least_share, proved. No rows if not asked for.
    existing : pandas.DataFrame
        A row a group that exists already (and clock rule): existing, clock, sites, served, settings_needed, lat_deg,
        lon_deg, legal_zone, dusk_offset_min, dawn_offset_min, worst_dark_min, worst_excess_min, tolerance_share.
    unserved : pandas.DataFrame
        unit, sites, dark_min, excess_min (tolerances that would do with the setting, in tenths, rounded up), tolerance_share,
        the setting, and proved: no setting of the keypad serves it (else none was found).
    keep_together, existing_column, within : str
        The columns that were named; "" if none.
    offsets : bool
        Whether offsets could be keyed.
    """

    plan: Groups
    settings: pd.DataFrame
    hulls: gpd.GeoDataFrame
    curve: pd.DataFrame
    existing: pd.DataFrame
    unserved: pd.DataFrame
    keep_together: str = ""
    existing_column: str = ""
    within: str = ""
    offsets: bool = True

    @property
    def headline(self) -> str:
        """How many settings, for how many sites, and whether fewer would do, in one sentence."""
        group = self.plan.group_of_site
        return headline(self.plan.count, self.plan.lower_bound, len(group), int((group == "").sum()), self.rules,
                        all(one.proved for one in self.plan.unserved))

    @property
    def rules(self) -> GroupRules:
        """What the plan had to keep to, by the names of the columns."""
        return GroupRules(self.keep_together, self.within, self.offsets)

    @property
    def reason(self) -> str:
        """What keeps the witnesses apart."""
        return what_keeps_apart(self.plan.witnesses, self.rules)

    @property
    def short_reason(self) -> str:
        """The same on one short line."""
        return kept_apart_by(self.plan.witnesses, self.rules)


def group_answers(plan: Groups, sites: pd.DataFrame, clock_rules: pd.DataFrame, *, clock_to_key=None, keep_together: str = "",
                  existing_column: str = "", within: str = "", offsets: bool = True) -> GroupAnswers:
    """Tables of a plan.

    Parameters
    ----------
    plan : Groups
    sites : DataFrame
        The sites that the plan was made for, in the same order.
    clock_rules : DataFrame
        As `clock_rules` makes it: its index is what `GroupSetting.clock_rule` means.
    clock_to_key : dict of int to str, optional
        For each clock rule the standard time and summer-time rule to key, in words.
    keep_together, existing_column, within : str
        Names of the columns that were used; "" for none.
    offsets : bool
        Whether offsets could be keyed.
    """
    texts = clock_rules["text"]
    load = sites["load_w"].groupby(np.asarray(plan.group_of_site)).sum(min_count=1)
    settings = pd.DataFrame(
        [[one.name, one.sites, *_keyed(one.setting), texts[one.clock_rule], (clock_to_key or {}).get(one.clock_rule, ""), one.within, one.worst_dark_min,
          _text(one.worst_dark_site), one.worst_dark_night, one.worst_dark_edge, one.worst_excess_min,
          _text(one.worst_excess_site), one.worst_excess_night, one.worst_excess_edge, one.tolerance_factor,
          load.get(one.name, np.nan)] for one in plan.settings], columns=SETTING_COLUMNS)
    hulls = group_hulls(sites, plan.group_of_site).merge(settings, on="group", how="left", validate="1:1")
    hulls = gpd.GeoDataFrame(hulls[[*SETTING_COLUMNS, "shared_spots", "geometry"]], geometry="geometry", crs="EPSG:4326")
    curve = pd.DataFrame([[p.k, p.worst_min, p.worst_dark_min, p.worst_excess_min, p.factor, p.bound_factor, p.proved]
                          for p in plan.curve],
                         columns=["k", "worst_min", "worst_dark_min", "worst_excess_min", "tolerance_share", "at_least_share", "proved"])
    keyed = ["lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min"]
    old = pd.DataFrame([[g.name, texts[g.clock_rule], g.sites, g.served, g.settings_needed, *_keyed(g.setting),
                         g.worst_dark_min, g.worst_excess_min, g.tolerance_factor]
                        for g in (plan.existing.groups if plan.existing else ())],
                       columns=["existing", "clock", "sites", "served", "settings_needed", *keyed, "worst_dark_min",
                                "worst_excess_min", "tolerance_share"])
    # Rounded up as the tables show them: a tolerance that is said to do must do.
    unserved = pd.DataFrame([[u.unit, len(u.site_ids), _up(u.dark_min), _up(u.excess_min), u.tolerance_factor, *_keyed(u.setting),
                              u.proved] for u in plan.unserved],
                            columns=["unit", "sites", "dark_min", "excess_min", "tolerance_share", *keyed, "proved"])
    return GroupAnswers(plan, settings, hulls, curve, old, unserved, keep_together, existing_column, within, offsets)


def group_columns(plan: Groups, sites: pd.DataFrame, basis: Basis) -> pd.DataFrame:
    """The plan as columns of the site table.

    Returns
    -------
    DataFrame
        Index-identical: `group` ("" = no setting serves the site), `key_lat_deg`, `key_lon_deg`, `key_legal_zone`,
        `key_dusk_offset_min`, `key_dawn_offset_min` (what is keyed there; NaN, NA or "" without a group), `group_dark_min`, `group_excess_min` (worst minutes
        at any dusk or dawn with the group's setting, as the plan proves them; NaN without one), `proof_site` (bool: the site
        is part of the proof).
    """
    group = np.asarray(plan.group_of_site, dtype=object)
    dark, excess = np.full(len(sites), np.nan), np.full(len(sites), np.nan)
    for one in plan.settings:
        mine = np.flatnonzero(group == one.name)
        found = drift_at(sites["lat_deg"].to_numpy(float)[mine], sites["solar_lon_deg"].to_numpy(float)[mine], one.setting,
                         replace(basis, years=plan.years_searched))
        dark[mine], excess[mine] = found.worst_dark_min, found.worst_excess_min
    proof = sites["site_id"].isin(list(plan.witnesses.site_ids)) if plan.witnesses.kind != "none" else False
    keyed = {one.name: _keyed(one.setting) for one in plan.settings}
    nothing = (np.nan, np.nan, "", np.nan, np.nan)
    columns = zip(*(keyed.get(name, nothing) for name in group), strict=True)
    names = ("key_lat_deg", "key_lon_deg", "key_legal_zone", "key_dusk_offset_min", "key_dawn_offset_min")
    table = pd.DataFrame({"group": group, **dict(zip(names, map(list, columns), strict=True)), "group_dark_min": dark,
                          "group_excess_min": excess, "proof_site": proof}, index=sites.index)
    return table.astype({name: "Int64" for name in names[3:]})


def groups_summary(answers: GroupAnswers) -> dict:
    """The plan's figures under names that stay."""
    plan = answers.plan
    settings = _kept_names(answers.settings.drop(columns="load_w"))
    found = {
        "count": plan.count, "lower_bound": plan.lower_bound, "proved": plan.proved, "gap": plan.gap,
        "worst_dark_min": plan.worst_dark_min, "worst_excess_min": plan.worst_excess_min,
        "settings": settings,
        "witnesses": {"kind": plan.witnesses.kind, "sites": [str(one) for one in plan.witnesses.site_ids],
                      "weights": list(plan.witnesses.weight), "sentence": plan.witnesses.sentence,
                      "apart_by": list(plan.witnesses.apart_by), "reason": answers.reason},
        "curve": _kept_names(answers.curve[["k", "worst_min", "proved", "worst_dark_min", "worst_excess_min", "tolerance_share",
                                            "at_least_share"]]),
        "unserved": _kept_names(answers.unserved),
        "later_years": [asdict(one) for one in plan.later], "years_searched": plan.years_searched,
        "keep_together": answers.keep_together, "within": answers.within,
    }
    if plan.existing is not None:
        found["existing"] = {"column": answers.existing_column, "settings_needed": plan.existing.settings_needed,
                             "settings_saved": plan.existing.settings_saved, "sites_without": plan.existing.without,
                             "not_served": sorted(set(answers.existing.loc[~answers.existing["served"], "existing"])),
                             "groups": _kept_names(answers.existing)}
    return found


def _kept_names(table: pd.DataFrame) -> list[dict]:
    """Rows as records, under the names that summary.json has always had for what tables now call otherwise."""
    return table.rename(columns={"tolerance_share": "tolerance_factor", "at_least_share": "bound_factor"}).to_dict("records")


def _keyed(setting) -> tuple:
    return setting.lat_deg, setting.lon_deg, setting.legal_zone, setting.dusk_offset_min, setting.dawn_offset_min


def _up(minutes: float) -> float:
    return float(np.ceil(minutes * 10 - 1e-6) / 10)


def _text(site_id) -> str:
    return "" if site_id is None else str(site_id)
