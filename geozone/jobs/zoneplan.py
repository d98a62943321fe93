"""The job's [zones] section carried out on the outlines of a run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..errors import PlanCheckError
from ..grouping.grouptables import GroupAnswers
from ..plurals import counted
from ..switching.programmeanswers import clock_to_key
from ..trade.basis import Basis
from ..zoning.freezones import free_zones_of
from ..zoning.gridzones import grid_zones_of
from ..zoning.linezones import line_zones_of
from ..zoning.outlines import reaches_pole
from ..zoning.weighedborders import along_km
from ..zoning.zones import ZonePlan, ZonesRefusedError, ground_units, zones_of
from ..zoning.zonetables import ZoneAnswers, piece_of_sites, zone_answers, zone_of_points
from ..zoning.zoneyears import said_of_years, zones_in_years
from .job import Job

# A search that may take less has no time to look for zones of whole outlines as well [second].
_PRICED_S, _PRICE_SHARE = 5.0, 0.2
# So many zones are named one by one; where a larger share of so many outlines has no zone, zones pay little.
_NAMED, _LEFT_SHARE, _FEWEST_OUTLINES = 12, 0.1, 20
# What zones may be made of, in the order in which they are told of, and what a planner has of it.
_KINDS = {"area": "zones of whole outlines can be said as a list of names",
          "lines": "zones of pieces between outlines and lines can be shown on a street map",
          "grid": "zones on a grid are rectangles between meridians and parallels, which zones.csv lists",
          "free": "those with free borders need the map or zone_borders.csv"}


def planned_zones(job: Job, sites: gpd.GeoDataFrame, pieces: gpd.GeoDataFrame, groups: GroupAnswers | None,
                  find: Callable[..., ZonePlan] | None = None, along: gpd.GeoDataFrame | None = None
                  ) -> tuple[ZoneAnswers | None, pd.DataFrame | None, tuple[str, ...]]:
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
    along : GeoDataFrame or None
        Lines that divide outlines, where the job names a file of them.

    Returns
    -------
    tuple of (ZoneAnswers, DataFrame, tuple of str)
        The zones, the site table's column `zone`, and notes. Neither of the first two where the plan failed its own check.
    """
    basis = job.basis
    ground = ground_units(pieces, basis.year)
    if any(map(reaches_pole, ground.geometry)):
        return None, None, ("The zones are left out: the ground reaches within 1.1 degrees of a pole, where a longitude says nothing.",)
    lines = None if along is None else along.geometry.to_numpy()
    by, seconds = job.zones.by, job.zones.time_limit_s
    priced = _PRICE_SHARE if by == "free" and seconds >= _PRICED_S and not job.zones.compare else 0.0
    lasting: tuple[str, ...] = ()
    try:
        search = partial(find or _ways(lines)[by], ground, time_limit_s=(1 - priced) * seconds)
        plan = search(basis)
        if job.job.years > 1 and plan.zones:
            years = zones_in_years(plan, ground, job.lasting_basis)
            together = any(one.zones_beyond for one in years)
            if together:
                plan = replace(search(job.lasting_basis), years_searched=job.job.years)
                years = zones_in_years(plan, ground, job.lasting_basis)
            lasting = (said_of_years(years, basis.year, together),) if plan.zones else ()
    except ZonesRefusedError as error:
        return None, None, (f"The zones are left out: {error.what}: {error.value}, {error.rule}. Next: {error.next_step}.",)
    except PlanCheckError as error:
        return None, None, (f"The zones are left out: their plan failed its own check ({error}). That is a defect of geozone; please report it.",)
    piece = piece_of_sites(sites, ground, basis.year)
    # Of no piece: the last, which is none.
    zone = np.append(plan.zone_of_piece, "")[piece] if plan.by == "area" else zone_of_points(plan, sites, piece, basis.year)
    counted_in = (zone, piece) if job.job.sites else (zone[:0], piece[:0])  # points that stand in for sites are none of a list
    answers = zone_answers(plan, ground, *counted_in, basis.year, lambda legal_zone: clock_to_key(legal_zone, basis))
    notes = _notes(answers, plan, ground, zone, groups, basis.switch_clock, bool(job.job.sites))
    if plan.by == "lines" and lines is not None and not any(shapely.intersects(shape.buffer(-1e-6), lines).any() for shape in ground.geometry):
        notes = ("No line of the file named as along runs through an outline: the zones are of whole outlines.", *notes)
    notes = (*lasting, *notes)
    if lines is not None and by not in ("lines", "free") and not job.zones.compare:
        notes = (f'The lines of {job.zones.along} are not used: they divide outlines for by = "lines" and draw borders for by = "free".', *notes)
    if by == "free" and plan.count > 1:
        where = "outlines of the areas" if lines is None else f"outlines of the areas or lines of {job.zones.along}"
        notes = (f"Of {plan.border_km:,.0f} km of borders between zones {along_km(plan, ground, lines):,.0f} km run along {where}.", *notes)
    if priced:
        notes = (_price("area", _ways(lines)["area"], ground, basis, priced * seconds), *notes)
    if job.zones.compare:
        others = [one for one in _KINDS if one != by and (one != "lines" or lines is not None)]
        notes = (*(_price(one, _ways(lines)[one], ground, basis, seconds) for one in others), *notes)
    return answers, pd.DataFrame({"zone": zone}, index=sites.index), notes


def _ways(lines) -> dict[str, Callable[..., ZonePlan]]:
    """How zones of each kind are found."""
    return {"area": zones_of, "free": partial(free_zones_of, along=lines), "grid": grid_zones_of, "lines": partial(line_zones_of, lines=lines)}


def _price(kind: str, find: Callable[..., ZonePlan], ground: gpd.GeoDataFrame, basis: Basis, seconds: float) -> str:
    """What zones of another kind would take, so that a planner can choose."""
    try:
        plan = find(ground, basis, time_limit_s=seconds)
    except ZonesRefusedError as error:
        return f'How many zones it would be with by = "{kind}" was not found out: {error.what} ({error.value}; {error.rule}).'
    except PlanCheckError:
        return f'How many zones it would be with by = "{kind}" is not known: their plan failed its own check. That is a defect of geozone; please report it.'
    proof = ("proved" if plan.proved else f"at least {plan.lower_bound}") + (", with sides on the same lines" if kind == "grid" else "")
    left = len({str(ground["area"].iloc[one.piece]) for one in plan.unserved})
    without = f", with {counted(left, 'outline')} in no zone or not wholly in one" if left else ""
    return f'With by = "{kind}" it would be {counted(plan.count, "zone")} ({proof}){without}: {_KINDS[kind]}.'


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
        unserved = "in one" if plan.by == "area" else "on ground"
        notes.append(f"{counted(without, 'site')} {'lies' if without == 1 else 'lie'} in no zone: outside the outlines, {unserved} that no one setting serves, or "
                     "on another clock than the ground.")
    if plan.zones and not plan.certified:
        names = [zone.name for zone in plan.zones if not zone.certified]
        told = ", ".join(names) if len(names) <= _NAMED else f"{len(names)} of {counted(plan.count, 'zone')}, see zones.csv"
        notes.append(f"Not certified: {told} ({plan.undecided_km2:,.0f} km2). On some nights the sun grazes the threshold there, or nights are left out "
                     "([tolerance] shallow_deg): these zones hold at the points of their outlines that were computed, not proved for the ground between.")
    outlines, left = ground["area"].nunique(), len({str(ground["area"].iloc[one.piece]) for one in plan.unserved})
    if plan.by == "area" and plan.zones and outlines >= _FEWEST_OUTLINES and left > _LEFT_SHARE * outlines:
        notes.append(f"Zones of whole outlines pay little here: {left} of {counted(outlines, 'outline')} {'lies' if left == 1 else 'lie'} in none or not wholly "
                     f"in one, and the others take {counted(plan.count, 'zone')}. For lamps that stand, the fewest settings of a site list ([groups]) leave out only "
                     "those that no setting of their own serves.")
    if plan.apart:
        notes.append(f"{', '.join(plan.apart)}: {'lies' if len(plan.apart) == 1 else 'each lies'} in several parts with another zone between them. No setting of a "
                     "zone beside them was found that serves them as well.")
    if plan.overlaps and plan.by in ("area", "lines"):
        pairs = "; ".join(f"{a} and {b}" for a, b in plan.overlaps[:3]) + (f" and {len(plan.overlaps) - 3} more" if len(plan.overlaps) > 3 else "")
        notes.append(f"Outlines lie over each other: {pairs}. Each has its zone, so a point of both may be in two.")
    if switch_clock == "master":
        notes.append("Zones are made for switches on their own legal clocks, whatever clock the shared setting is on.")
    return tuple(notes)
