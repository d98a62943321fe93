"""The job's programme sections carried out on the sites of a run."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ..errors import InputError
from ..grouping.grouptables import GroupAnswers
from ..places.numerals import as_numbers, find_decimal
from ..switching.assigned import Assigned
from ..switching.conditions import Conditions
from ..switching.foolish import Switch, foolish_nights
from ..switching.hours import assigned_programmes
from ..switching.programmeanswers import ProgrammeAnswers, keyed_clocks, programme_answers, wall_clocks
from ..trade.basis import Basis
from ..trade.programme import DUSK_TO_DAWN, Programme
from ..trade.setting import Setting
from .groupplan import column_meant
from .job import Job
from .switchingjob import SwitchingJob

# Label of the settings where the run has no groups.
SHARED = "shared"


@dataclass(frozen=True, eq=False)
class Switching:
    """The programmes of a job, given to its sites.

    Attributes
    ----------
    asked : SwitchingJob
    programme_of : pandas.Series
        Each site's programme.
    keyed : dict
        As `keyed_clocks`.
    """

    asked: SwitchingJob
    programme_of: pd.Series
    keyed: dict

    def judged(self, foolish: frozenset, basis: Basis) -> dict:
        """What `site_drift` needs to know beside sites and setting. Dusk to dawn everywhere keeps its fast way.

        Sites with a foolish programme are judged from dusk to dawn: the verdict is about the setting, and no setting
        mends a programme.
        """
        sound = tuple(one for one in self.asked.programmes if one.name not in foolish)
        if all(programme.plain for programme in sound):
            return {"basis": basis}
        judged = replace(DUSK_TO_DAWN, name="\0dusk to dawn")  # a name that no job file can hold
        return {"basis": self.conditions(basis), "programmes": (*sound, judged),
                "programme_of": self.programme_of.where(~self.programme_of.isin(foolish), judged.name)}

    def conditions(self, basis: Basis) -> Conditions:
        """The basis with the job's holidays and tariff and with the clocks that its switches really show."""
        return Conditions.of(basis, holidays=self.asked.holidays, tariff=self.asked.tariff, wall_clocks=wall_clocks(self.keyed))


def given_programmes(job: Job, sites, rules) -> Switching | None:
    """The job's programmes and which site runs which; None if the job has none.

    Raises
    ------
    InputError
        If a site names no programme, a programme has no site, or a column is missing.
    """
    asked: SwitchingJob | None = job.switching
    if asked is None:
        return None
    column = column_meant(job, sites, "column", asked.column, "programmes")
    _check_areas(asked, sites)
    programme_of = assigned_programmes(sites, asked.programmes, column, job.called)
    return Switching(asked, programme_of, keyed_clocks(rules, job.basis.year, job.basis.keypad.clocks))


def foolish_programmes(switching: Switching, sites, basis: Basis) -> frozenset:
    """Names of programmes that do something foolish at some of their own sites, each on its own position.

    Asked at the northernmost, southernmost, easternmost, westernmost and middle site of each clock rule.
    """
    found = set()
    conditions = switching.conditions(basis)
    wall = conditions.wall_clocks or {}
    for programme in switching.asked.programmes:
        mine = sites[(switching.programme_of == programme.name).to_numpy()]
        switches = []
        for rule, rows in mine.groupby("clock_rule"):
            lat, lon = rows["lat_deg"], rows["solar_lon_deg"]
            middle = ((lat - lat.median()) ** 2 + (lon - lon.median()) ** 2).idxmin()
            for row in {lat.idxmin(), lat.idxmax(), lon.idxmin(), lon.idxmax(), middle}:
                site = rows.loc[row]
                switches.append(Switch(str(row), Setting(site["lat_deg"], site["lon_deg"], site["legal_zone"]), site["legal_zone"],
                                       (str(row),), wall.get(switching.keyed[int(rule)][0].key)))
        if any(one.wrong_light for one in foolish_nights(programme, switches, conditions)):
            found.add(programme.name)
    return frozenset(found)


def remarks(switching: Switching, foolish: frozenset, year: int) -> tuple[str, ...]:
    """What the user should know about the programme sections as they are."""
    count = {name: int((switching.programme_of == name).sum()) for name in foolish}
    notes = [f"Programme {name!r} has faulty nights, which no setting mends: "
             + (f"its {count[name]:,} sites are" if count[name] > 1 else "its one site is") + " judged from dusk to dawn." for name in sorted(foolish)]
    other = [str(day) for day in switching.asked.holidays.dates if day.year not in (year, year + 1)]
    if other:
        notes.append(f"Holidays of other years than {year} have no effect: {', '.join(other[:5])}{' ...' if len(other) > 5 else ''}.")
    return tuple(notes)


def planned_programmes(job: Job, switching: Switching, sites, rules, shared: Setting,
                       groups: GroupAnswers | None) -> tuple[ProgrammeAnswers, pd.DataFrame]:
    """Hours, foolish nights, pictures and timetables of a job with programmes.

    Parameters
    ----------
    job, switching
    sites : GeoDataFrame
        As the run has it, with the plan's groups if there are any.
    rules : DataFrame
    shared : Setting
        The shared setting under test: what is keyed where there are no groups.
    groups : GroupAnswers or None

    Returns
    -------
    tuple of (ProgrammeAnswers, DataFrame)
        The answers, and their columns for the site table.
    """
    asked = switching.asked
    # Places in results name the file only: the same job gives the same bytes wherever it lies.
    programmes = tuple(_placed(programme, job) for programme in asked.programmes)
    settings, label = {SHARED: shared}, np.full(len(sites), SHARED, dtype=object)
    if groups is not None:
        settings, label = _group_settings(groups, sites)
    assigned = Assigned(programmes, switching.programme_of, settings, label, shared, groups is not None)
    area = None
    if asked.lit_area_column is not None:
        name = column_meant(job, sites, "lit_area_m2", asked.lit_area_column, "programmes")
        area = as_numbers(sites[name], find_decimal([sites[name]]) or ".")
        if not (area > 0).any():
            raise InputError("no site has a lit area", where=job.called, value=asked.lit_area_column,
                             rule="square metres above 0 in the column that programmes.lit_area_m2 names")
    found = programme_answers(sites, assigned, switching.conditions(job.basis), rules, switching.keyed,
                              lit_area_m2=area, timetable=asked.timetable, title=job.job.title)
    return found, site_columns(found, sites)


def site_columns(found: ProgrammeAnswers, sites) -> pd.DataFrame:
    """What the site table gets of the programmes: programme, key_events, its worst minutes with what is keyed (the group's setting, where
    there are groups), lit_h, kwh, cost, dark_h, excess_h, and the timetable's drift.

    A column "programme" of the site list that already says the same is left as it is.
    """
    wanted = ["programme", "key_events", "worst_dark_min", "worst_excess_min", "lit_h", "kwh", "cost", "dark_h", "excess_h",
              "timetable_dark_min", "timetable_excess_min"]
    table = found.sites[[name for name in wanted if name in found.sites.columns]]
    table = table.rename(columns={"worst_dark_min": "programme_dark_min", "worst_excess_min": "programme_excess_min"})
    if "programme" in sites.columns:
        same = (sites["programme"].astype(str).str.strip() == table["programme"]).all()
        table = table.drop(columns="programme") if same else table.rename(columns={"programme": "programme_run"})
    return table


def _group_settings(groups: GroupAnswers, sites) -> tuple[dict[str, Setting], np.ndarray]:
    """The plan's settings; sites in no group get the best that the keypad holds for them."""
    settings = {one.name: one.setting for one in groups.plan.settings}
    label = sites["group"].to_numpy(object).copy()
    unit_of = {site: one for one in groups.plan.unserved for site in one.site_ids}
    for row in np.flatnonzero(label == ""):
        one = unit_of[sites["site_id"].iloc[row]]
        # A site and a unit may have one name.
        name = f"no group: {one.unit}" + ("" if groups.plan.unserved.index(one) == [u.unit for u in groups.plan.unserved].index(one.unit)
                                          else f" ({one.site_ids[0]})")
        settings[name] = one.setting
        label[row] = name
    return settings, label


def _placed(programme: Programme, job: Job) -> Programme:
    def short(place: str) -> str:
        return place if job.path is None else place.replace(str(job.path), job.path.name)

    return replace(programme, place=short(programme.place),
                   events=tuple(replace(event, place=short(event.place)) for event in programme.events))


def _check_areas(asked: SwitchingJob, sites) -> None:
    for programme in asked.programmes:
        if programme.areas and asked.column is not None:
            raise InputError("a programme names areas although a column gives the programmes", where=programme.place,
                             value=", ".join(programme.areas),
                             next_step="take out areas, or programmes.column")
