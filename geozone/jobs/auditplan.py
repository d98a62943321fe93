"""The audit from top to bottom: the plan, the as-found list, a diagnosis for each switch, what it delivers, and where to go first."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ..answers import Answers
from ..auditing.candidates import SettingSlips
from ..auditing.delivered import Delivered, Intended
from ..auditing.diagnosis import Diagnosis, diagnose
from ..errors import OutputError
from ..files.auditfiles import write_audit_files
from ..files.folder import SUMMARY_NAME, check_target, earlier_summary, whole_folder
from ..numbers import clock
from ..paper.carddata import keyed_groups, keyed_of, nearest_others
from ..paper.words import words_in
from ..screens.auditpage import draw_audit
from ..sharing.drift import drift_at
from ..trade.programme import Holidays
from ..trade.readings import Keyed
from ..trade.setting import Setting
from ..trade.switchclock import Keying, best_keying
from .asfound import Found, found_at, nothing_found
from .auditcost import Costs
from .auditlists import audit_lists
from .audittables import Fleet, audit_table, fleet_summary, watch_table, work_table
from .job import Job
from .logged import Logged, logged_at
from .logplan import AuditLog
from .logtables import log_table
from .paperwork import check_paper, display_of, write_visit_cards
from .plan import compute

#: Explanations of a reading whose year of light is reckoned; single slips, or pairs where no single one fits.
RECKONED = 12


@dataclass(frozen=True, eq=False)
class Audited:
    """The answers of an audit.

    Attributes
    ----------
    title : str
    year : int
    audit, work, watch, rejects : pandas.DataFrame
    logs : pandas.DataFrame or None
        What the nights of a log say; None where there was none.
    summary : dict
    notes : tuple of str
    """

    title: str
    year: int
    audit: pd.DataFrame
    work: pd.DataFrame
    watch: pd.DataFrame
    rejects: pd.DataFrame
    summary: dict
    notes: tuple[str, ...]
    logs: pd.DataFrame | None = None


def audit(job: Job, as_found: Path | None, out: Path, say: Callable[[str], None] = lambda text: None, log: Path | None = None) -> Audited:
    """Audit the switches of a job and write one folder, whole or not at all.

    Parameters
    ----------
    job : Job
    as_found : path-like or None
        The as-found list. A file that is a log is taken for one.
    out : path-like
        A folder of its own; that of a run is refused.
    say : callable
        Told in one line what is being done.
    log : path-like, optional
        On and off times seen through many nights.

    Raises
    ------
    InputError, OutputError
        Nothing was written then.
    """
    _check_out(out)
    check_paper(job)
    listed, logged = audit_lists(as_found, log, say)
    # Neither zones nor paper bear on what should be keyed at a site.
    answers = compute(job.model_copy(update={"zones": None}), say)
    settings, plain, keyings = right_settings(answers)
    rights = [keyed_of(one, keying, answers.altitude_deg) for one, keying in zip(settings, keyings, strict=True)]
    ids = answers.sites["site_id"].astype(str).tolist()
    found = found_at(listed, ids, rights, answers.keypad, answers.year) if listed is not None else nothing_found()
    seen = logged_at(logged, ids, answers.sites["legal_zone"].astype(str).tolist(), answers.year) if logged is not None else None
    del logged  # a million rows
    done = audited(job, answers, settings, plain, keyings, found, say, seen)
    say("writing")
    write_audit(done, job, answers, out, say)
    return done


def _check_out(out: Path) -> None:
    earlier = earlier_summary(check_target(out))
    if earlier and "audit" not in earlier:
        raise OutputError("the folder holds another result of geozone", where=str(out), rule="an audit is written to a folder of its own",
                          next_step="name another folder with -o")


def right_settings(answers: Answers) -> tuple[list[Setting], list[Setting], list[Keying]]:
    """What each site of a plan should have: its group's setting, else the shared one; one that no setting serves, its own.

    Returns
    -------
    settings, plain : list of Setting
        With the shifts of the site's programme added to the offsets, which is what is keyed; and without.
    keyings : list of Keying
    """
    sites, step = answers.sites, answers.keypad
    zones = sites["legal_zone"].astype(str).tolist()
    found: list[Setting | None] = [None] * len(sites)
    for group in keyed_groups(answers, answers.keypad.clocks, words_in()):
        for row in group.rows:
            found[row] = group.setting
    group_of = sites["group"].astype(str).tolist() if answers.groups is not None else []
    named = {one.name: one.setting for one in answers.groups.plan.settings} if answers.groups is not None else {}
    lat, lon = sites["lat_deg"].tolist(), sites["lon_deg"].tolist()
    settings = [one if one is not None else Setting(step.round_deg(float(lat[i])), step.round_deg(float(lon[i])), zones[i]) for i, one in enumerate(found)]
    # With one switch that commands all, the setting's clock is the only one; else each switch keeps its own.
    of = {zone: best_keying(clock.offsets(zone, answers.year), answers.year, answers.keypad.clocks) for zone in {*zones, *(one.legal_zone for one in settings)}}
    own = answers.basis.switch_clock == "own"
    plain = [named.get(group_of[i], one) for i, one in enumerate(settings)] if named else [one if given is None else answers.setting for one, given in
                                                                                      zip(settings, found, strict=True)]
    return settings, plain, [of[zone if own else setting.legal_zone] for zone, setting in zip(zones, settings, strict=True)]


def audited(job: Job, answers: Answers, settings: list[Setting], plain: list[Setting], keyings: list[Keying], found: Found,
            say: Callable[[str], None], logged: Logged | None = None) -> Audited:
    """Everything that an audit finds out, without writing anything."""
    year, sites, display = answers.year, answers.sites, display_of(job)
    rights = [keyed_of(one, keying, answers.altitude_deg) for one, keying in zip(settings, keyings, strict=True)]
    say("finding slips that explain what was read")
    slips_of_site: list[SettingSlips | None] = [None] * len(sites)
    diagnoses: list[Diagnosis] = [Diagnosis("not read", clock_open=True)] * len(sites)
    light: list[list[Delivered]] = [[] for _ in range(len(sites))]
    lat, lon = sites["lat_deg"].to_numpy(float), sites["solar_lon_deg"].to_numpy(float)
    # What a programme adds at dusk and dawn is meant: it is no minute off.
    meant = np.array([[keyed.dusk_offset_min - bare.dusk_offset_min, keyed.dawn_offset_min - bare.dawn_offset_min]
                      for keyed, bare in zip(settings, plain, strict=True)], dtype=float).reshape(-1, 2)
    costs = Costs(job, answers, plain)
    all_rights = list(dict.fromkeys(rights))
    by_right: dict[Keyed, list[int]] = {}
    for place, site in enumerate(found.site.tolist()):
        by_right.setdefault(rights[site], []).append(place)
    log = None
    if logged is not None:
        log = AuditLog(answers, rights, keyings, logged, job.switching.holidays if job.switching is not None else Holidays())
        for site in log.sites:
            by_right.setdefault(rights[site], [])

    for right, places in by_right.items():
        one = SettingSlips(right, answers.keypad, display, year, _others(right, all_rights, rights, answers))
        mine = found.site[places].tolist()
        told = dict(zip(mine, diagnose(found.read.chosen(places), setting=one), strict=True)) if places else {}
        told = log.joined(one, told) if log is not None else told
        for site, diagnosis in told.items():
            slips_of_site[site], diagnoses[site] = one, diagnosis
        _reckon(one, [both for both in told.items() if both[1].state == "differs"], lat, lon, meant, answers, light, costs)

    if log is not None:
        log.look_at_neighbours()
    say("reckoning what the switches deliver")
    plan_dark_h = _reckon_right(plain, diagnoses, lat, lon, answers, light, costs)
    fleet = Fleet(answers, settings, keyings, found, tuple(diagnoses), tuple(slips_of_site), tuple(map(tuple, light)), words_in(),
                  costs, plan_dark_h, log)
    table = audit_table(fleet)
    work, watch = work_table(fleet, table), watch_table(fleet)
    summary = fleet_summary(fleet, table, work, watch)
    if log is None:
        return Audited(answers.title, year, table, work, watch, found.rejects, summary, (*answers.notes, *found.notes))
    of_log = pd.DataFrame(log.rejects, columns=found.rejects.columns).sort_values("row", kind="stable")
    rejects = pd.concat((found.rejects, of_log), ignore_index=True)
    summary["notes"] += log.notes
    return Audited(answers.title, year, table, work, watch, rejects.astype({"row": "int64"}), summary, (*answers.notes, *found.notes, *log.notes),
                   log_table(log, answers, fleet.words))


def _others(right: Keyed, all_rights: list[Keyed], rights: list[Keyed], answers: Answers) -> list[tuple[str, Keyed]]:
    """The nearest settings of other groups by name, which a crew may have had in its hands."""
    if answers.groups is None:
        return []
    group = answers.sites["group"].astype(str).tolist()
    name = {one: group[i] for i, one in reversed(list(enumerate(rights))) if group[i]}
    return nearest_others("", right, [(name[one], one) for one in all_rights if one != right and one in name])


def _reckon(setting: SettingSlips, wrong: list[tuple[int, Diagnosis]], lat, lon, meant, answers: Answers,
            light: list[list[Delivered]], costs: Costs) -> None:
    """The year of light of each of the likeliest explanations of sites that differ."""
    keyed = list(dict.fromkeys(one.keyed for _, diagnosis in wrong for one in diagnosis.likely[:RECKONED]))
    if not keyed:
        return
    on, off = setting.acts(keyed)
    at = {one: place for place, one in enumerate(keyed)}
    rows = np.array([site for site, _ in wrong])
    intended = Intended(lat[rows], lon[rows], answers.basis)
    for i, (site, diagnosis) in enumerate(wrong):
        light[site] = [intended.held_against(i, on[at[one.keyed]] - meant[site, 0], off[at[one.keyed]] - meant[site, 1])
                       for one in diagnosis.likely[:RECKONED]]
        first = diagnosis.likely[0].keyed
        costs.holds(site, setting, first, on[at[first]] - meant[site, 0], off[at[first]] - meant[site, 1])


def _reckon_right(settings: list[Setting], diagnoses: list[Diagnosis], lat, lon, answers: Answers, light: list[list[Delivered]], costs: Costs) -> np.ndarray:
    """The same for sites whose reading agrees, with the right setting; and the hours unlit that all sites have with it."""
    by_setting: dict[Setting, list[int]] = {}
    for site, setting in enumerate(settings):
        by_setting.setdefault(setting, []).append(site)
    dark_h = np.full(len(settings), np.nan)
    for setting, mine in by_setting.items():
        drift = drift_at(lat[mine], lon[mine], setting, answers.basis)
        dark_h[mine] = drift.dark_year_min / 60
        for place, site in enumerate(mine):
            if diagnoses[site].state == "agrees":
                costs.agrees(site)
                light[site] = [Delivered(float(drift.worst_dark_min[place]), float(drift.worst_excess_min[place]), float(drift.dark_year_min[place]) / 60,
                                         float(drift.excess_year_min[place]) / 60, not drift.nights_beyond[place])]
    return dark_h


def write_audit(done: Audited, job: Job, answers: Answers, out: Path, say: Callable[[str], None]) -> None:
    """Tables, page, cards of the sites to visit and summary.json into one folder, whole or not at all.

    Raises
    ------
    OutputError
    """
    with whole_folder(out) as folder:
        tables = {"audit": done.audit, "work": done.work, "watch": done.watch, "rejects": done.rejects, **({} if done.logs is None else {"logs": done.logs})}
        write_audit_files(tables, answers, folder)
        page = draw_audit(done.title, done.year, done.work, answers.areas, done.summary, answers.keypad.coordinate_step_deg)
        (folder / "audit.html").write_bytes(page.encode("utf-8"))
        write_visit_cards(job, answers, set(done.work["site_id"]), folder, say)
        (folder / SUMMARY_NAME).write_text(json.dumps(done.summary, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")
