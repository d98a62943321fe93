"""The tables of an audit: a row a site, a row a visit, a row a date to watch; and the figures of the whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..answers import Answers
from ..auditing.candidates import SettingSlips
from ..auditing.delivered import Delivered
from ..auditing.diagnosis import STATES, Diagnosis
from ..auditing.worklist import STOPS_A_DAY, days_of_work, ranked
from ..paper.words import Words
from ..schema.audit_columns import AUDIT, WATCH, WORK
from ..schema.vocabulary import AUDIT_RESULT
from ..switching.tariff import energy_kwh
from ..trade.setting import Setting
from ..trade.switchclock import Keying
from .asfound import Found
from .auditcost import Costs
from .auditwords import diagnosis_text, hidden_by_date, hidden_text, mend_text, next_text
from .logplan import AuditLog
from .logtables import CAUTION, ends_text, log_figures, log_text

#: What every reader of an audit is told.
CAUTIONS = (
    "Work at the supply is for qualified people under local rules, which prevail; isolate and prove dead first.",
    "Hours unlit and lit too long are from dusk to dawn: clock-time events of programmes are not in them, and the clock is taken to be kept on legal time.",
    "A reading that agrees does not prove a setting: what fits as well stands beside it.",
    CAUTION,
)


@dataclass(frozen=True, eq=False)
class Fleet:
    """All that the tables are made of; tuples and lists have an entry for each site of the plan.

    Attributes
    ----------
    answers : Answers
    settings : list of Setting
    keyings : list of Keying
    found : Found
    diagnoses : tuple of Diagnosis
    slips : tuple of SettingSlips or None
    light : tuple of tuple of Delivered
        Of the explanations that were reckoned, or of the right setting.
    words : Words
    costs : Costs
    plan_dark_h : (n,) ndarray
        Hours of the year unlit with the plan's setting.
    log : AuditLog or None
    """

    answers: Answers
    settings: list[Setting]
    keyings: list[Keying]
    found: Found
    diagnoses: tuple[Diagnosis, ...]
    slips: tuple[SettingSlips | None, ...]
    light: tuple[tuple[Delivered, ...], ...]
    words: Words
    costs: Costs
    plan_dark_h: np.ndarray
    log: AuditLog | None = None


def _result(diagnosis: Diagnosis, light: tuple[Delivered, ...]) -> str:
    within = {one.within for one in light}
    if not within:
        return "not known"
    # Explanations that were not reckoned may be either.
    if len(within) > 1 or len(diagnosis.likely) > len(light) and diagnosis.state == "differs":
        return "open"
    return "within" if within == {True} else "beyond"


def audit_table(fleet: Fleet) -> pd.DataFrame:
    """`AUDIT`: a row a site of the plan, in its order."""
    sites, words = fleet.answers.sites, fleet.words
    n = len(sites)
    row_of, day_of = np.full(n, np.nan), np.full(n, -1)
    row_of[fleet.found.site], day_of[fleet.found.site] = fleet.found.row, fleet.found.read.day
    start = np.datetime64(f"{fleet.answers.year}-01-01")
    texts: dict[int, tuple[str, str, str]] = {}
    for diagnosis, slips in zip(fleet.diagnoses, fleet.slips, strict=True):
        if id(diagnosis) not in texts:
            texts[id(diagnosis)] = (diagnosis_text(diagnosis, words), hidden_text(hidden_by_date(diagnosis, slips, words)) if slips else "",
                                    next_text(diagnosis, words))

    def first(name: str) -> list[float]:
        return [getattr(one[0], name) if one else np.nan for one in fleet.light]

    logs = fleet.log.found if fleet.log is not None else {}
    ends = [ends_text(logs.get(i)) for i in range(n)]
    # What was logged only was not read.
    by_log = {i for i, one in enumerate(fleet.diagnoses) if i in logs and np.isnan(row_of[i]) and one.state in ("agrees", "no known slip")}
    excess_h = np.array(first("excess_h"))
    load = sites["load_w"].to_numpy(float) if "load_w" in sites else np.full(n, np.nan)
    table = pd.DataFrame({
        "site_id": sites["site_id"].astype(str).to_numpy(object), "name": sites["name"].astype(str).to_numpy(object), "found_row": row_of,
        "read_on": [str(start + day) if day >= 0 else "" for day in day_of.tolist()],
        "log": [logs[i].state if i in logs else "" for i in range(n)], "log_nights": [logs[i].nights if i in logs else np.nan for i in range(n)],
        "reading": [one.state for one in fleet.diagnoses],
        "result": [_result(*one) for one in zip(fleet.diagnoses, fleet.light, strict=True)],
        "diagnosis": [". ".join(filter(None, (log_text(one) if i in by_log else texts[id(one)][0], ends[i]))) for i, one in enumerate(fleet.diagnoses)],
        "alternatives": [len(one.explanations) for one in fleet.diagnoses],
        "fits_as_well": [texts[id(one)][1] for one in fleet.diagnoses],
        "clock_checked": [None if one.state == "not read" else not one.clock_open for one in fleet.diagnoses],
        "next_reading": [texts[id(one)][2] for one in fleet.diagnoses],
        "worst_dark_min": first("worst_dark_min"), "worst_excess_min": first("worst_excess_min"), "dark_h": first("dark_h"),
        "dark_least_h": [min(x.dark_h for x in one) if one else np.nan for one in fleet.light],
        "dark_most_h": [max(x.dark_h for x in one) if one else np.nan for one in fleet.light],
        "excess_h": excess_h, "waste_kwh": energy_kwh(load, excess_h), "plan_dark_h": fleet.plan_dark_h,
        "kwh": energy_kwh(load, fleet.costs.today[0]), "plan_kwh": energy_kwh(load, fleet.costs.planned[0]),
        "cost": load * fleet.costs.today[1], "plan_cost": load * fleet.costs.planned[1]})
    return table[list(AUDIT.names)]


def work_table(fleet: Fleet, table: pd.DataFrame) -> pd.DataFrame:
    """`WORK`: sites whose reading differs, the most unlit hours first, with days of work."""
    sites = fleet.answers.sites
    mine = np.flatnonzero(table["reading"].isin(["differs", "no known slip"]).to_numpy())
    chosen = table.iloc[mine]
    waste = chosen["waste_kwh"].where(chosen["waste_kwh"].notna(), chosen["excess_h"])
    mine = mine[ranked(chosen["dark_h"].to_numpy(float), waste.to_numpy(float))]
    chosen, at = table.iloc[mine].reset_index(drop=True), sites.iloc[mine]
    day, stop = days_of_work(at["lat_deg"].to_numpy(float), at["lon_deg"].to_numpy(float), np.arange(mine.size), STOPS_A_DAY)
    settings = [fleet.settings[i] for i in mine]
    made = chosen.assign(
        rank=np.arange(1, mine.size + 1), work_day=day, stop=stop, area=at["area"].astype(str).to_numpy(object) if "area" in at else "",
        lat_deg=at["lat_deg"].to_numpy(float), lon_deg=at["lon_deg"].to_numpy(float), mend=[mend_text(fleet.diagnoses[i], fleet.words) for i in mine],
        **{f"key_{name}": [getattr(one, name) for one in settings] for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min")},
        key_clock=[fleet.keyings[i].switch_clock.text() for i in mine])
    return made[list(WORK.names)]


def watch_table(fleet: Fleet) -> pd.DataFrame:
    """`WATCH`: switches that read right, by the date from which a slip would show, and clocks that will part from the law."""
    sites = fleet.answers.sites
    ids, names = sites["site_id"].astype(str).tolist(), sites["name"].astype(str).tolist()
    rows = []
    dated: dict[int, list[tuple[str, str]]] = {}
    days = (fleet.log.last_days if fleet.log is not None else {}) | dict(zip(fleet.found.site.tolist(), fleet.found.read.day.tolist(), strict=True))
    start = np.datetime64(f"{fleet.answers.year}-01-01")
    for site, (diagnosis, slips) in enumerate(zip(fleet.diagnoses, fleet.slips, strict=True)):
        if diagnosis.state != "agrees" or slips is None:
            continue
        if id(diagnosis) not in dated:
            dated[id(diagnosis)] = hidden_by_date(diagnosis, slips, fleet.words)
        rows += [(ids[site], names[site], day, "hidden slip", what) for day, what in dated[id(diagnosis)] if day]
        read_on = str(start + days[site])
        rows += [(ids[site], names[site], span.first, "clock rule", span.text()) for span in fleet.keyings[site].wrong if span.first > read_on]
    rows.sort(key=lambda row: (row[2], row[0]))
    return pd.DataFrame(rows, columns=list(WATCH.names))


def fleet_summary(fleet: Fleet, table: pd.DataFrame, work: pd.DataFrame, watch: pd.DataFrame) -> dict:
    """Figures of the audit under names that stay."""
    answers = fleet.answers
    known = table[table["dark_h"].notna()]

    def total(column: str, of: pd.DataFrame) -> float:
        return round(float(of[column].sum()), 1)

    return {
        "audit": {
            "title": answers.title, "year": answers.year, "sites": len(table), "read": int((table["reading"] != "not read").sum()),
            "readings": {state: int((table["reading"] == state).sum()) for state in STATES},
            "results": {code: int((table["result"] == code).sum()) for code in AUDIT_RESULT.codes},
            "clock_checked": int(table["clock_checked"].eq(True).sum()), "rejected_rows": len(fleet.found.rejects),
            "dark_h": total("dark_h", known), "excess_h": total("excess_h", known), "waste_kwh": total("waste_kwh", known),
            "work": {"sites": len(work), "days": int(work["work_day"].max()) if len(work) else 0, "dark_h": total("dark_h", work), "waste_kwh": total("waste_kwh", work)},
            "watch": len(watch), "costs": costs_summary(fleet, known), **({"log": log_figures(fleet.log)} if fleet.log is not None else {})},
        "cautions": list(CAUTIONS), "notes": [*answers.notes, *fleet.found.notes], "versions": answers.versions}


def costs_summary(fleet: Fleet, known: pd.DataFrame) -> dict:
    """What the sites whose light is known cost today and with the plan; energy and money of those with a known load, money where there is a price."""
    loaded = known[known["kwh"].notna()]
    priced = loaded[loaded["cost"].notna()]
    return {"currency": fleet.costs.currency, "sites": len(known), "sites_with_load": len(loaded),
            **{name: round(float(known[name].sum()), 1) for name in ("dark_h", "plan_dark_h")},
            **{name: round(float(loaded[name].sum()), 1) for name in ("kwh", "plan_kwh")},
            **{name: round(float(priced[name].sum()), 2) if len(priced) else None for name in ("cost", "plan_cost")}}
