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
from ..trade.basis import Basis
from ..zoning.freezones import TooMuchGroundError, free_zones_of
from ..zoning.outlines import reaches_pole
from ..zoning.zones import ZonePlan, ground_units, zones_of
from ..zoning.zonetables import ZoneAnswers, piece_of_sites, zone_answers, zone_of_points
from .job import Job

# A search that may take less has no time to look for zones of whole outlines as well [second].
_PRICED_S, _PRICE_SHARE = 5.0, 0.2


def planned_zones(job: Job, sites: gpd.GeoDataFrame, pieces: gpd.GeoDataFrame, groups: GroupAnswers | None,
                  find: Callable[..., ZonePlan] | None = None) -> tuple[ZoneAnswers | None, pd.DataFrame | None, tuple[str, ...]]:
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
        As `zones_of`; left out: what the job's `by` asks for.

    Returns
    -------
    tuple of (ZoneAnswers, DataFrame, tuple of str)
        The zones, the site table's column `zone`, and notes. Neither of the first two where the plan failed its own check.
    """
    basis = job.basis
    ground = ground_units(pieces, basis.year)
    if any(map(reaches_pole, ground.geometry)):
        return None, None, ("The zones are left out: the ground reaches within 1.1 degrees of a pole, where a longitude says nothing.",)
    free = job.zones.by == "free"
    find, seconds = find or (free_zones_of if free else zones_of), job.zones.time_limit_s
    priced = _PRICE_SHARE if free and seconds >= _PRICED_S else 0.0
    try:
        plan = find(ground, basis, time_limit_s=(1 - priced) * seconds)
    except TooMuchGroundError as error:
        return None, None, (f"The zones are left out: {error.what}: {error.value}, {error.rule}. Next: {error.next_step}.",)
    except PlanCheckError as error:
        return None, None, (f"The zones are left out: their plan failed its own check ({error}). That is a defect of geozone; please report it.",)
    piece = piece_of_sites(sites, ground, basis.year)
    # Of no piece: the last, which is none.
    zone = zone_of_points(plan, sites, piece, basis.year) if plan.by == "free" else np.append(plan.zone_of_piece, "")[piece]
    counted_in = (zone, piece) if job.job.sites else (zone[:0], piece[:0])  # points that stand in for sites are none of a list
    answers = zone_answers(plan, ground, *counted_in, basis.year, lambda legal_zone: clock_to_key(legal_zone, basis))
    notes = _notes(answers, plan, ground, zone, groups, basis.switch_clock, bool(job.job.sites))
    if priced:
        notes = (_price(ground, basis, priced * seconds), *notes)
    return answers, pd.DataFrame({"zone": zone}, index=sites.index), notes


def _price(ground: gpd.GeoDataFrame, basis: Basis, seconds: float) -> str:
    """What zones of whole outlines would take, so that a planner can choose borders that are a list of names."""
    try:
        whole = zones_of(ground, basis, time_limit_s=seconds)
    except PlanCheckError:
        return "How many zones of whole outlines it would take is not known: their plan failed its own check. That is a defect of geozone; please report it."
    proof = "proved" if whole.proved else f"at least {whole.lower_bound}"
    left = len({str(ground["area"].iloc[one.piece]) for one in whole.unserved})
    without = f", with {counted(left, 'outline')} in no zone or not wholly in one" if left else ""
    return (f"With by = \"area\" it would be {counted(whole.count, 'zone')} ({proof}){without}: zones of whole outlines can be said as a list of names, those "
            "with free borders need the map or zone_borders.csv.")


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
        unserved = "on ground" if plan.by == "free" else "in one"
        notes.append(f"{counted(without, 'site')} {'lies' if without == 1 else 'lie'} in no zone: outside the outlines, {unserved} that no one setting serves, or "
                     "on another clock than the ground.")
    if plan.zones and not plan.certified:
        names = ", ".join(zone.name for zone in plan.zones if not zone.certified)
        notes.append(f"Not certified: {names} ({plan.undecided_km2:,.0f} km2). On some nights the sun grazes the threshold there, or nights are left out "
                     "([tolerance] shallow_deg): these zones hold at the points of their outlines that were computed, not proved for the ground between.")
    if plan.apart:
        notes.append(f"{', '.join(plan.apart)}: {'lies' if len(plan.apart) == 1 else 'each lies'} in several parts with another zone between them. No setting of a "
                     "zone beside them was found that serves them as well.")
    if plan.overlaps and plan.by == "area":
        pairs = "; ".join(f"{a} and {b}" for a, b in plan.overlaps[:3]) + (f" and {len(plan.overlaps) - 3} more" if len(plan.overlaps) > 3 else "")
        notes.append(f"Outlines lie over each other: {pairs}. Each has its zone, so a point of both may be in two.")
    if switch_clock == "master":
        notes.append("Zones are made for switches on their own legal clocks, whatever clock the shared setting is on.")
    return tuple(notes)
