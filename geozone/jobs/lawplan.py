"""A change of law from top to bottom: the plan, two tz databases, which sites need a visit, from when, and which clock is then right."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from ..answers import Answers
from ..auditing.worklist import days_of_work
from ..errors import InputError, OutputError
from ..files.folder import SUMMARY_NAME, check_target, earlier_summary, whole_folder
from ..files.spreadsheets import write_csv
from ..places.tzdatabases import INSTALLED, TzDatabase, open_database
from ..plurals import counted
from ..schema.law_columns import RULES
from ..schema.tables import check_table
from ..schema.vocabulary import LAW_CHANGE
from ..trade.lawchange import LawChange, joined, law_change
from .auditplan import right_settings
from .job import Job
from .plan import compute

#: What every reader of a change of law is told.
CAUTIONS = (
    "Work at the supply is for qualified people under local rules; isolate and prove dead first.",
    "Dusk and dawn stay right for as long as nobody sets the clock: a switch that is put on the new time, by hand or from outside, without another "
    "clock being keyed turns its lamps on and off wrong by as many minutes.",
    "Events at a clock time are wrong from the date that is given until another clock is keyed.",
    "A tz database is no law: confirm the change with the authority before a crew is sent out.",
)
#: The sun is computed for these years; a neighbour on each side is compared.
_YEARS = (1973, 2096)


@dataclass(frozen=True, eq=False)
class Lawful:
    """The answers of a comparison of two laws.

    Attributes
    ----------
    title : str
    year : int
    rules : pandas.DataFrame
        `RULES`.
    summary : dict
    notes : tuple of str
    """

    title: str
    year: int
    rules: pd.DataFrame
    summary: dict
    notes: tuple[str, ...]


def compare_laws(job: Job, old: str | Path, new: str | Path, out: Path, say: Callable[[str], None] = lambda text: None) -> Lawful:
    """Compare two tz databases for the sites of a job and write one folder, whole or not at all.

    Parameters
    ----------
    job : Job
    old, new : str or path-like
        As `open_database` takes them.
    out : path-like
        A folder of its own; that of another result is refused.
    say : callable
        Told in one line what is being done.

    Raises
    ------
    InputError, OutputError
        Nothing was written then.
    """
    earlier = earlier_summary(check_target(out))
    if earlier and "rules" not in earlier:
        raise OutputError("the folder holds another result of geozone", where=str(out), rule="a change of law is written to a folder of its own",
                          next_step="name another folder with -o")
    if not _YEARS[0] <= job.job.year <= _YEARS[1]:
        raise InputError("the plan's year has no neighbours to compare", where=str(job.path or ""), value=job.job.year, rule=f"a year from {_YEARS[0]} to {_YEARS[1]}")
    if job.file_of("sites") is None:
        raise InputError("a change of law is told for the sites of a list", where=job.called, rule="a job with a site list: its switches have clocks to key",
                         next_step='add sites to [job]: sites = "sites.csv"')
    if str(old) == str(new):
        raise InputError("both tz databases are the same", value=str(old), rule="an earlier one with --from and a later one with --to",
                         next_step="give the earlier release as a tzdata wheel, an archive or a folder; the installed one is meant where one is left out")
    say("reading the tz databases")
    before, after = open_database(old), open_database(new)
    # Neither zones nor paper bear on what should be keyed at a site.
    answers = compute(job.model_copy(update={"zones": None}), say)
    say("comparing the laws")
    done = compared(answers, before, after)
    say("writing")
    with whole_folder(out) as folder:
        check_table("rules", done.rules)
        write_csv(done.rules, folder / "rules.csv", RULES, answers.manner, answers.keypad.coordinate_step_deg)
        (folder / SUMMARY_NAME).write_text(json.dumps(done.summary, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")
    return done


def compared(answers: Answers, old: TzDatabase, new: TzDatabase) -> Lawful:
    """What a change of law means for each site of a plan, without writing anything."""
    settings, _, _ = right_settings(answers)
    sites, year = answers.sites, answers.year
    own = answers.basis.switch_clock == "own"
    zones = sites["legal_zone"].astype(str).tolist() if own else [one.legal_zone for one in settings]
    changes, missing = _changes(sorted(set(zones)), old, new, answers)
    mine = [changes.get(zone) for zone in zones]
    n = len(sites)
    state = [one.state if one else "not known" for one in mine]
    lat, lon = sites["lat_deg"].to_numpy(float), sites["lon_deg"].to_numpy(float)
    visit = np.flatnonzero(np.array(state) == "visit")
    rank = np.argsort(np.lexsort((visit, [mine[i].from_date for i in visit]))) if visit.size else visit
    day, stop = np.full(n, np.nan), np.full(n, np.nan)
    # One switch that commands all is one visit, wherever it stands.
    if visit.size and not answers.one_master:
        day[visit], stop[visit] = days_of_work(lat[visit], lon[visit], rank)
    by_clock = {p.name: any(not event.by_sun for event in p.events) for p in answers.programmes.programmes} if answers.programmes is not None else {}

    def of(name: str, blank):
        return [getattr(one, name) if one is not None and one.state != "same" else blank for one in mine]

    table = pd.DataFrame({
        "site_id": sites["site_id"].astype(str).to_numpy(object), "name": sites["name"].astype(str).to_numpy(object),
        "area": sites["area"].astype(str).to_numpy(object), "lat_deg": lat, "lon_deg": lon,
        "group": sites["group"].astype(str).to_numpy(object) if answers.groups is not None else "", "legal_zone": zones, "change": state,
        "from_date": of("from_date", ""), "right_from": of("right_from", ""), "clock_off_min": of("fast_min", np.nan), "wrong_weeks": of("wrong_weeks", np.nan),
        "clock_events": [by_clock.get(name) for name in sites["programme"]] if by_clock else [None] * n, "work_day": day, "stop": stop,
        "clock_before": [one.before.text() if one else "" for one in mine], "key_clock": [one.after.text() if one else "" for one in mine],
        "key_wrong_weeks": of("after_wrong_weeks", np.nan),
        **{f"key_{name}": [getattr(one, name) for one in settings] for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min")}})
    table = table[list(RULES.names)]
    notes = (*answers.notes, *missing, *_notes(answers, table, old, new))
    return Lawful(answers.title, year, table, _summary(answers, table, changes, old, new, notes), notes)


def _changes(zones: list[str], old: TzDatabase, new: TzDatabase, answers: Answers) -> tuple[dict[str, LawChange], tuple[str, ...]]:
    """What changes in each zone that both databases have, and a sentence on each other one."""
    year, clocks = answers.year, answers.keypad.clocks
    years = range(year - 1, year + 3)
    found: dict[str, LawChange] = {}
    known: dict[tuple, LawChange] = {}
    notes = []
    for zone in zones:
        names = []
        for one, other in ((old, new), (new, old)):
            name = zone if zone in one.zones else _other_name(zone, one, other, years)
            if not name:
                notes.append(f"{one.label} has no zone {zone}: whether the law of its sites changes is not known.")
            elif name != zone:
                notes.append(f"{one.label} has {zone} as {name}.")
            names.append(name)
        if not all(names):
            continue
        earlier, later = (partial(of.offsets, name) for of, name in zip((old, new), names, strict=True))
        key = (joined(earlier, years).key, joined(later, years).key)
        if key not in known:
            known[key] = law_change(earlier, later, year, clocks)
        found[zone] = known[key]
    return found, tuple(dict.fromkeys(notes))


def _other_name(zone: str, one: TzDatabase, other: TzDatabase, years: range) -> str:
    """What a database calls a zone that has got a new name: a name that the other database keeps for the very same zone.

    Where several such names differ in law in the one database, it is not known which is meant.
    """
    if zone not in other.zones:
        return ""
    alike = [name for name, data in other.zones.items() if data == other.zones[zone] and name in one.zones]
    laws = {joined(partial(one.offsets, name), years).key for name in alike}
    return alike[0] if len(laws) == 1 else ""


def _notes(answers: Answers, table: pd.DataFrame, old: TzDatabase, new: TzDatabase) -> tuple[str, ...]:
    notes: tuple[str, ...] = ()
    version = answers.versions["tz database"]
    if new.name != INSTALLED and new.version != version and (table["change"] != "same").any():
        notes += (f"The plan is made with tz database {version}: for minutes off, cards and readings by {new.label} install that release and run again.",)
    if answers.groups is not None:
        clocks = table[(table["group"] != "") & (table["change"] != "not known")].groupby("group")[["clock_before", "key_clock"]].nunique()
        parted = clocks[(clocks["key_clock"] > 1) & (clocks["key_clock"] > clocks["clock_before"])].index.tolist()
        if parted:
            named = f"{', '.join(parted[:6])}{' ...' if len(parted) > 6 else ''}"
            notes += (f"The change parts {counted(len(parted), 'group')} of the plan ({named}): their sites keep different clocks afterwards, so make the plan again "
                      "with the later database.",)
    return notes


def _summary(answers: Answers, table: pd.DataFrame, changes: dict[str, LawChange], old: TzDatabase, new: TzDatabase, notes) -> dict:
    """Figures of the comparison under names that stay."""
    visits = table[table["change"] == "visit"]
    sites = table.groupby("legal_zone", sort=False).size()
    zones = [{"legal_zone": zone, "sites": int(count), "change": changes[zone].state if zone in changes else "not known",
              **({"from_date": one.from_date, "right_from": one.right_from, "since_before": one.since_before, "clock_off_min": one.fast_min,
                  "wrong_weeks": round(one.wrong_weeks, 1), "clock_before": one.before.text(), "key_clock": one.after.text(),
                  "key_wrong_weeks": round(one.after_wrong_weeks, 1)} if (one := changes.get(zone)) is not None and one.state != "same" else {})}
             for zone, count in sites.items()]
    return {
        "rules": {
            "title": answers.title, "year": answers.year, "first_year": answers.year - 1, "last_year": answers.year + 1,
            "from": {"name": old.name, "version": old.version}, "to": {"name": new.name, "version": new.version}, "sites": len(table),
            "changes": {code: int((table["change"] == code).sum()) for code in LAW_CHANGE.codes},
            "visits": {"sites": len(visits), "days": int(visits["work_day"].max()) if len(visits) and not answers.one_master else 0, "one_switch": answers.one_master,
                       "first_date": str(visits["from_date"].min()) if len(visits) else None, "clock_events": int(visits["clock_events"].eq(True).sum())},
            "zones": zones},
        "cautions": list(CAUTIONS), "notes": list(notes), "versions": answers.versions}
