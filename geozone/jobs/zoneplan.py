"""The job's [zones] section carried out on the outlines of a run."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd

from ..errors import PlanCheckError
from ..grouping.grouptables import GroupAnswers
from ..plurals import counted
from ..switching.programmeanswers import clock_to_key
from ..zoning.outlines import reaches_pole
from ..zoning.zones import ZonePlan, ground_units, zones_of
from ..zoning.zonetables import ZoneAnswers, piece_of_sites, zone_answers
from .job import Job


def planned_zones(job: Job, sites: gpd.GeoDataFrame, pieces: gpd.GeoDataFrame, groups: GroupAnswers | None,
                  find: Callable[..., ZonePlan] = zones_of) -> tuple[ZoneAnswers | None, pd.DataFrame | None, tuple[str, ...]]:
    """The fewest zones for the outlines of a job.

    Parameters
    ----------
    job : Job
        With a [zones] section.
    sites : GeoDataFrame
        With legal_zone and area.
    pieces : GeoDataFrame
        As `cut_areas`.
    groups : GroupAnswers or None
        The fewest settings for the sites, if they were asked for.
    find : callable
        As `zones_of`.

    Returns
    -------
    tuple of (ZoneAnswers, DataFrame, tuple of str)
        The zones, the site table's column `zone`, and notes. Neither of the first two where the plan failed its own check.
    """
    basis = job.basis
    ground = ground_units(pieces, basis.year)
    if any(map(reaches_pole, ground.geometry)):
        return None, None, ("The zones are left out: the ground reaches within 1.1 degrees of a pole, where a longitude says nothing.",)
    try:
        plan = find(ground, basis, time_limit_s=job.zones.time_limit_s)
    except PlanCheckError as error:
        return None, None, (f"The zones are left out: their plan failed its own check ({error}). That is a defect of geozone; please report it.",)
    piece = piece_of_sites(sites, ground, basis.year)
    # Of no piece: the last, which is none.
    zone = np.append(plan.zone_of_piece, "")[piece]
    counted_in = (zone, piece) if job.job.sites else (zone[:0], piece[:0])  # points that stand in for sites are none of a list
    answers = zone_answers(plan, ground, *counted_in, basis.year, lambda legal_zone: clock_to_key(legal_zone, basis))
    return answers, pd.DataFrame({"zone": zone}, index=sites.index), _notes(answers, plan, ground, zone, groups, basis.switch_clock, bool(job.job.sites))


def _notes(answers: ZoneAnswers, plan: ZonePlan, ground, zone_of_site, groups: GroupAnswers | None, switch_clock: str, listed: bool) -> tuple[str, ...]:
    notes = []
    if groups is not None:
        notes.append(f"Groups and zones answer different questions: {counted(groups.plan.count, 'setting')} for the sites of the list "
                     f"({groups.plan.lower_bound} at least), {counted(plan.count, 'zone')} for every point of the outlines that they are made of, so that a "
                     "lamp of next year has its setting too. A site's group and its zone need not have the same setting; key one or the other throughout.")
    if groups is None and listed and plan.zones:
        notes.append("No groups were asked for: the cards and crew.csv are for the one shared setting, not for the zones. What to key in, zone by zone, is in "
                     "zones.csv, on the map and on the sheet.")
    without = int((zone_of_site == "").sum()) if listed else 0
    if without:
        notes.append(f"{counted(without, 'site')} {'lies' if without == 1 else 'lie'} in no zone: outside the outlines, in one that no one setting serves, or "
                     "on another clock than the ground.")
    if plan.zones and not plan.certified:
        names = ", ".join(zone.name for zone in plan.zones if not zone.certified)
        notes.append(f"Not certified: {names} ({plan.undecided_km2:,.0f} km2). On some nights the sun grazes the threshold there, or nights are left out "
                     "([tolerance] shallow_deg): these zones hold at the points of their outlines that were computed, not proved for the ground between.")
    if plan.overlaps:
        pairs = "; ".join(f"{a} and {b}" for a, b in plan.overlaps[:3]) + (f" and {len(plan.overlaps) - 3} more" if len(plan.overlaps) > 3 else "")
        notes.append(f"Outlines lie over each other: {pairs}. Each has its zone, so a point of both may be in two.")
    if switch_clock == "master":
        notes.append("Zones are made for switches on their own legal clocks, whatever clock the shared setting is on.")
    return tuple(notes)
