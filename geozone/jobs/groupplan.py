"""The job's [groups] section carried out on the sites of a run."""

from __future__ import annotations

import difflib

import pandas as pd

from ..errors import InputError, PlanCheckError
from ..grouping.groups import groups_of
from ..grouping.grouptables import GroupAnswers, group_answers, group_columns
from ..grouping.planrecords import Groups
from ..places.sites import ADDED, RESERVED
from ..switching.programmeanswers import clock_words, keyed_clocks
from .job import Job


def planned_groups(job: Job, sites, rules) -> tuple[GroupAnswers | None, pd.DataFrame | None, tuple[str, ...]]:
    """The fewest settings for the sites of a job.

    Parameters
    ----------
    job : Job
        With a [groups] section.
    sites : GeoDataFrame
        As `add_legal_time` and `site_drift` leave it.
    rules : DataFrame
        As `clock_rules` makes it.

    Returns
    -------
    tuple of (GroupAnswers, DataFrame, tuple of str)
        The plan, its columns for the site table, and notes. Neither of the first two where the plan failed its own check:
        everything else of the run is right and wanted all the same.

    Raises
    ------
    InputError
        If a column that the section names is not in the site list, or a unit that must stay together cannot.
    """
    asked, basis = job.groups, job.basis
    columns = {key: column_meant(job, sites, key, getattr(asked, key), "groups") for key in ("keep_together", "existing", "within")}
    try:
        plan = groups_of(sites, job.lasting_basis, offsets=asked.offsets, curve_to=asked.curve_to, time_limit_s=asked.time_limit_s, **columns)
    except InputError as error:
        raise InputError(error.what, where=f"{job.job.sites}, column {asked.keep_together!r}", value=error.value,
                         rule=error.rule, next_step=error.next_step) from None
    except PlanCheckError as error:
        return None, None, (f"The groups are left out: their plan failed its own check ({error}). That is a defect of geozone; "
                            "please report it.",)
    keyed = keyed_clocks(rules, basis.year, basis.keypad.clocks)
    to_key = {rule: clock_words(keying) for rule, (_, keying) in keyed.items()}
    answers: GroupAnswers = group_answers(
        plan, sites, rules, clock_to_key=to_key, keep_together=asked.keep_together or "", existing_column=asked.existing or "",
        within=asked.within or "", offsets=asked.offsets)
    # The first note says what the headline says, and why where fewer settings are not ruled out.
    return answers, group_columns(plan, sites, basis), plan.notes[1 if plan.proved else 0:]


def counted_settings(job: Job, sites, limit_s: float) -> Groups:
    """The plan of a job's groups alone: without curve, comparison with today's groups and later years.

    Parameters
    ----------
    job : Job
        With a [groups] section.
    sites : GeoDataFrame
        As `add_legal_time`, and `area`.
    limit_s : float [second]
    """
    asked = job.groups
    columns = {key: column_meant(job, sites, key, getattr(asked, key), "groups") for key in ("keep_together", "within")}
    return groups_of(sites, job.lasting_basis, offsets=asked.offsets, time_limit_s=limit_s, count_only=True, **columns)


def column_meant(job: Job, sites, key: str, name: str | None, section: str) -> str | None:
    """The column of the site table that a key of a section means; None if the key is not given.

    Raises
    ------
    InputError
        If the site list has no such column.
    """
    if name is None:
        return None
    # A column of the list whose name a run needs for itself is kept with this ending, see sites.py.
    for there in (f"{name}_given", name):
        if there in sites.columns and (there != name or name == "area" or name not in ADDED):
            return there
    own = [column for column in sites.columns if column not in (*RESERVED, *ADDED, "geometry")] + ["area"]
    near = difflib.get_close_matches(name, own, 1, 0.6)
    raise InputError(f"{section}.{key} names a column that the site list does not have", where=job.called, value=name,
                     rule=f"one of {', '.join(own)}", next_step=f"did you mean {near[0]}?" if near else None)
