"""The job's [groups] section carried out on the sites of a run."""

from __future__ import annotations

import difflib

from ..errors import InputError
from ..grouping.groups import groups_of
from ..grouping.grouptables import GroupAnswers, group_answers, group_columns
from ..numbers import clock
from ..places.sites import ADDED, RESERVED
from ..switching.programmeanswers import keyed_clocks, wrong_text
from ..trade.keypad import Keypad
from ..trade.setting import Tolerance
from ..trade.switchclock import ClockKeypad, Keying, best_keying
from .job import Job
from .programme_sections import clock_keypad_of


def planned_groups(job: Job, sites, rules, *, altitude_deg: float, tolerance: Tolerance, keypad: Keypad):
    """The fewest settings for the sites of a job.

    Parameters
    ----------
    job : Job
        With a [groups] section.
    sites : GeoDataFrame
        As `add_legal_time` and `site_drift` leave it.
    rules : DataFrame
        As `clock_rules` makes it.
    altitude_deg, tolerance, keypad
        As everywhere in the run.

    Returns
    -------
    tuple of (GroupAnswers, DataFrame)
        The plan, and its columns for the site table.

    Raises
    ------
    InputError
        If a column that the section names is not in the site list, or a unit that must stay together cannot.
    """
    asked = job.groups
    year = job.job.year
    columns = {key: column_meant(job, sites, key, getattr(asked, key), "groups") for key in ("keep_together", "existing", "within")}
    try:
        plan = groups_of(sites, year=year, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad,
                         offsets=asked.offsets, curve_to=asked.curve_to, time_limit_s=asked.time_limit_s, **columns)
    except InputError as error:
        raise InputError(error.what, where=f"{job.job.sites}, column {asked.keep_together!r}", value=error.value,
                         rule=error.rule, next_step=error.next_step) from None
    keyed = keyed_clocks(rules, year, clock_keypad(job))
    to_key = {rule: _clock_words(keying) for rule, (_, keying) in keyed.items()}
    answers: GroupAnswers = group_answers(
        plan, sites, rules, clock_to_key=to_key, keep_together=asked.keep_together or "", existing_column=asked.existing or "",
        within=asked.within or "", offsets=asked.offsets)
    return answers, group_columns(plan, sites, year=year, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad)


def clock_to_key(job: Job, legal_zone: str) -> str:
    """Standard time and summer-time rule to key for a legal zone, and when that is not its legal time."""
    return _clock_words(best_keying(clock.offsets(legal_zone, job.job.year), job.job.year, clock_keypad(job)))


def _clock_words(keying: Keying) -> str:
    return keying.switch_clock.text() + ("" if keying.exact else f"; not legal time: {wrong_text(keying)}")


def clock_keypad(job: Job) -> ClockKeypad:
    """The clocks that the job's keypad offers."""
    return clock_keypad_of(job.keypad)


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
